"""Names of openings by position."""

from __future__ import annotations

from pathlib import Path

import chess
import pytest

from tests.memory_graphs import repertoire_of
from trainer.errors import ResourceMissingError
from trainer.repertoire.graph import Edge, Repertoire
from trainer.repertoire.openings import Opening, OpeningBook
from trainer.resources import resource_path

ROWS = "eco\tname\tpgn\n"


@pytest.fixture(scope="module")
def book() -> OpeningBook:
    return OpeningBook.load()


def order(line: str) -> list[Edge]:
    repertoire = repertoire_of([line])
    edges: list[Edge] = []
    node = repertoire.roots[0]
    while node.edges:
        edges.append(node.edges[0])
        node = node.edges[0].child
    return edges


def board_after(line: str) -> chess.Board:
    board = chess.Board()
    for san in line.split():
        board.push_san(san)
    return board


def test_a_position_is_named_by_whatever_order(book: OpeningBook) -> None:
    wanted = Opening("D37", "Queen's Gambit Declined")
    named = book.name_of(board_after("d4 d5 c4 e6 Nc3 Nf6 Nf3"))
    assert named is not None
    assert named.family == wanted.family
    assert book.name_of(board_after("Nf3 Nf6 c4 e6 Nc3 d5 d4")) == named
    board = board_after("d4 d5 c4 e6 Nc3 Nf6 Nf3")
    assert book.name_of(repertoire_of(["d4"]).add_position(board).key) == named
    assert book.name_of(chess.Board()) is None
    assert book.name_of(chess.Board("4k3/8/8/8/8/8/8/4K3 w - - 0 1")) is None


def test_names_along_an_order(book: OpeningBook) -> None:
    moves = order("e4 e6 d4 d5 e5 a6")
    names = book.names_along(moves)
    assert [ply for ply, _ in names] == sorted(ply for ply, _ in names)
    board = chess.Board()
    expected = []
    for ply, edge in enumerate(moves, start=1):
        board.push(edge.move)
        opening = book.name_of(board)
        if opening is not None:
            expected.append((ply, opening))
    assert names == expected
    assert book.last_named(moves) == expected[-1][1]
    assert book.last_named(moves[:2]) == Opening("C00", "French Defense")
    assert book.last_named([]) is None
    assert book.names_along([]) == []


def test_an_order_that_begins_in_a_named_position(book: OpeningBook) -> None:
    board = board_after("e4 e6")
    repertoire = Repertoire()
    node = repertoire.add_position(board)
    move = chess.Move.from_uci("a2a3")
    board.push(move)
    edge = repertoire.add_edge(node, move, repertoire.add_position(board), "a3")
    assert book.names_along([edge])[0] == (0, Opening("C00", "French Defense"))
    assert book.last_named([edge]) == Opening("C00", "French Defense")


def test_orders_that_go_by_other_names(book: OpeningBook) -> None:
    french, sicilian = order("e4 e6 Nf3 c5"), order("e4 c5 Nf3 e6")
    names = book.names_of_orders([french, sicilian])
    assert [opening.family for opening in names if opening] == [
        "French Defense",
        "Sicilian Defense",
    ]
    assert book.is_another_opening([french, sicilian])
    assert not book.is_another_opening([french])
    assert not book.is_another_opening([])


def test_what_an_opening_says_of_itself() -> None:
    opening = Opening("C00", "French Defense: Alapin Gambit")
    assert str(opening) == "French Defense: Alapin Gambit (C00)"
    assert opening.family == "French Defense"


def test_the_licence_is_shipped_and_stated() -> None:
    folder = resource_path("openings")
    assert "CC0 1.0 Universal" in (folder / "COPYING.txt").read_text(encoding="utf-8")
    note = (folder / "README.md").read_text(encoding="utf-8")
    assert "51b8862" in note
    assert "CC0" in note


@pytest.mark.parametrize(
    "text",
    [
        "",
        "name\teco\tpgn\nA00\tX\t1. e4\n",
        ROWS + "A00\tno moves\n",
        ROWS + "A00\tillegal\t1. e5\n",
        ROWS,
    ],
)
def test_a_damaged_table_is_one_clear_sentence(text: str, tmp_path: Path) -> None:
    (tmp_path / "a.tsv").write_text(text, encoding="utf-8")
    with pytest.raises(ResourceMissingError, match="install Stemline again"):
        OpeningBook.load(tmp_path)


def test_a_table_of_ones_own(tmp_path: Path) -> None:
    rows = "A00\tOne\t1. e4\nA01\tTwo\t1. e4 e5 2. Nf3\nA02\tThree\t1. d4\n"
    (tmp_path / "a.tsv").write_text(ROWS + rows, encoding="utf-8")
    book = OpeningBook.load(tmp_path)
    assert len(book) == 3
    assert book.name_of(board_after("Nf3 e5 e4")) == Opening("A01", "Two")
    assert book.name_of(board_after("d4")) == Opening("A02", "Three")
