"""Facts about move orders that every player knows (common practice, no source)."""

from __future__ import annotations

import chess
import pytest

from tests.memory_graphs import node_after, repertoire_of
from trainer.position import position_key
from trainer.repertoire.crossings import find_crossings, orders_of_crossing
from trainer.repertoire.doors import entry_doors
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.shortcuts import find_shortcuts

#: The same system through two doors: with 2 Nf3 and with 2 Nc3.
FIRST = "d4 Nf6 Nf3 g6 Nc3 d5 Bf4"
SECOND = "d4 Nf6 Nc3 d5 Bf4 g6 Nf3"


def board_after(line: str) -> chess.Board:
    board = chess.Board()
    for san in line.split():
        board.push_san(san)
    return board


def test_two_doors_into_one_position() -> None:
    assert position_key(board_after(FIRST)) == position_key(board_after(SECOND))
    repertoire = repertoire_of([FIRST, SECOND])
    graph = OrderGraph(repertoire)
    (crossing,) = find_crossings(graph)
    assert crossing.node is node_after(repertoire, FIRST)
    assert crossing.order_count == 2
    assert crossing.parting is node_after(repertoire, "d4 Nf6")
    found = orders_of_crossing(graph, crossing.node)
    assert {" ".join(order.sans) for order in found.orders} == {FIRST, SECOND}


def test_the_two_doors_go_by_two_names() -> None:
    repertoire = repertoire_of([FIRST, SECOND])
    orders = OrderGraph(repertoire).orders(node_after(repertoire, FIRST))
    names = OpeningBook.load().names_of_orders([order.edges for order in orders])
    assert None not in names
    assert len(set(names)) == 2
    assert OpeningBook.load().is_another_opening([order.edges for order in orders])


def test_the_doors_of_the_system_say_what_each_is_called() -> None:
    """Each door has the ECO name of its last named position (table under resources, CC0)."""
    repertoire = repertoire_of([f"{FIRST} Bg7 e3", SECOND])
    graph, book = OrderGraph(repertoire), OpeningBook.load()
    system = node_after(repertoire, FIRST)
    doors = entry_doors(graph, system, book)
    called = {" ".join(door.order.sans): door.called for door in doors.doors}
    assert set(called) == {FIRST, SECOND}
    for line, opening in called.items():
        moves = line.split()[:-1]
        named = [
            book.name_of(board_after(" ".join(moves[:ply]))) for ply in range(1, len(moves) + 1)
        ]
        assert opening == [name for name in named if name is not None][-1]
    first, second = called[FIRST], called[SECOND]
    assert first is not None
    assert second is not None
    # By 2 Nf3 an Indian Defence (A48), by 2 Nc3 a queen's knight's game (D00 or D01).
    assert first.eco.startswith("A")
    assert second.eco.startswith("D")
    assert first.family != second.family


def test_the_window_says_technically_another_opening() -> None:
    from trainer.ui.orders.words import OrderWords

    repertoire = repertoire_of([FIRST, SECOND])
    graph, book = OrderGraph(repertoire), OpeningBook.load()
    orders = graph.orders(node_after(repertoire, FIRST))
    said = OrderWords(graph, book, "letters").technically(orders)
    assert all(text.startswith("technically a") for text in said)
    assert len(set(said)) == 2


def test_the_other_door_is_found_as_a_shortcut() -> None:
    # The player who knows the first order only, and 2 Nc3 d5 3 Bf4 for another purpose, meets
    # 3…g6 with 4 Nf3 and is at home.
    repertoire = repertoire_of([FIRST, "d4 Nf6 Nc3 d5 Bf4 c5"])
    (shortcut,) = (
        found
        for found in find_shortcuts(OrderGraph(repertoire))
        if found.node is node_after(repertoire, "d4 Nf6 Nc3 d5 Bf4") and not found.goes_back
    )
    assert (shortcut.san, shortcut.via_san) == ("g6", "Nf3")
    assert shortcut.target is node_after(repertoire, FIRST)
    assert shortcut.is_usual


@pytest.mark.parametrize(
    ("first", "second"),
    [
        # A Queen's Gambit Declined from the English and from the Réti order.
        ("d4 d5 c4 e6 Nc3 Nf6 Nf3", "c4 e6 Nc3 Nf6 Nf3 d5 d4"),
        ("d4 d5 c4 e6 Nc3 Nf6 Nf3", "Nf3 d5 d4 Nf6 c4 e6 Nc3"),
        # The French from a queen's pawn order.
        ("e4 e6 d4 d5", "d4 e6 e4 d5"),
        # The Caro-Kann from 1 d4.
        ("e4 c6 d4 d5 Nc3", "d4 c6 Nc3 d5 e4"),
    ],
)
def test_well_known_transpositions(first: str, second: str) -> None:
    repertoire = repertoire_of([first, second])
    end = node_after(repertoire, first)
    assert end is node_after(repertoire, second)
    assert OrderGraph(repertoire).count(end) >= 2


def test_no_transposition_where_castling_rights_were_lost() -> None:
    # FIDE Laws of Chess (2023), article 9.2: a king that has moved and come back has lost them.
    assert position_key(board_after("e4 e5 Ke2 Ke7 Ke1 Ke8")) != position_key(board_after("e4 e5"))
