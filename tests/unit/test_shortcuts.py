"""Shortcuts, held to a search that makes all moves and compares positions as EPD."""

from __future__ import annotations

import random
from pathlib import Path

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import add_lines, node_after, random_repertoire, repertoire_of
from trainer.position import position_epd
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.shortcuts import Shortcut, find_shortcuts
from trainer.repertoire.signatures import SearchCancelledError

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"

Found = set[tuple[str, str, str | None, str]]

#: Castling, en passant and promotion are near in all of them.
SPECIAL = [
    "r3k3/8/8/2p5/1P6/8/8/4K2R w Kq - 0 1",
    "4k2r/8/8/8/1p6/8/P1P5/R3K3 b Qk - 0 1",
    "4k3/P5p1/8/5pP1/8/8/p6P/1N2K3 w - f6 0 1",
    "1n2k3/P6p/8/8/6p1/8/p4P2/4K3 w - - 0 1",
    # One step and two steps of a pawn that is then taken give the same position.
    "4k3/5p2/8/6P1/3p4/8/2P5/4K3 w - - 0 1",
    "4k3/5p2/8/6P1/3p4/8/2P5/4K3 b - - 0 1",
]


def by_force(repertoire: Repertoire, nodes: list[Node] | None = None) -> Found:
    known = {position_epd(node.board()) for node in repertoire.nodes.values()}
    found: Found = set()
    for node in repertoire.nodes.values() if nodes is None else nodes:
        board = node.board()
        if board.turn == repertoire.side:
            continue
        here = position_epd(board)
        listed = {edge.move for edge in node.edges}
        for move in set(board.legal_moves) - listed:
            board.push(move)
            there = position_epd(board)
            if there in known:
                found.add((here, move.uci(), None, there))
            else:
                for via in list(board.legal_moves):
                    board.push(via)
                    beyond = position_epd(board)
                    board.pop()
                    if beyond in known:
                        found.add((here, move.uci(), via.uci(), beyond))
            board.pop()
    return found


def plain(found: list[Shortcut]) -> Found:
    return {
        (
            position_epd(one.node.board()),
            one.move.uci(),
            None if one.via is None else one.via.uci(),
            position_epd(one.target.board()),
        )
        for one in found
    }


def special_repertoire(rng: random.Random) -> Repertoire:
    """Random lines from one endgame, for a random side."""
    fen = rng.choice(SPECIAL)
    repertoire = Repertoire(rng.choice(chess.COLORS))
    lines = []
    for _ in range(rng.randrange(2, 9)):
        board = chess.Board(fen)
        line = []
        for _ in range(rng.randrange(1, 7)):
            moves = list(board.legal_moves)
            if not moves:
                break
            rare = [
                move
                for move in moves
                if board.is_castling(move) or board.is_capture(move) or move.promotion
            ]
            move = rng.choice(rare if rare and rng.random() < 0.5 else moves)
            line.append(board.san(move))
            board.push(move)
        lines.append(" ".join(line))
    add_lines(repertoire, lines, fen)
    return repertoire


@settings(max_examples=60)
@given(st.integers(0, 2**32))
def test_shortcuts_among_special_moves_equal_brute_force(seed: int) -> None:
    repertoire = special_repertoire(random.Random(seed))
    found = find_shortcuts(OrderGraph(repertoire))
    assert plain(found) == by_force(repertoire)
    assert len(found) == len(plain(found))


@settings(max_examples=15)
@given(st.integers(0, 2**32), st.booleans())
def test_shortcuts_in_openings_equal_brute_force(seed: int, side: chess.Color) -> None:
    repertoire = random_repertoire(seed, lines=5, plies=5, side=side)
    assert plain(find_shortcuts(OrderGraph(repertoire))) == by_force(repertoire)


def test_a_part_of_the_demo_equals_brute_force() -> None:
    repertoire = read_repertoire(DEMO).repertoire
    nodes = [node for node in repertoire.nodes.values() if node.turn != repertoire.side]
    some = random.Random(1).sample(nodes, 60)
    found = find_shortcuts(OrderGraph(repertoire), some)
    assert len(found) > 5
    assert plain(found) == by_force(repertoire, some)


def kinds(shortcut: Shortcut) -> set[str]:
    """What is special about the moves of a shortcut."""
    found: set[str] = set()
    board = shortcut.node.board()
    for number, move in enumerate(shortcut.moves):
        who = "reply" if number == 0 else "via"
        special = {
            "castles": board.is_castling(move),
            "takes": board.is_capture(move),
            "takes in passing": board.is_en_passant(move),
            "promotes": move.promotion is not None,
        }
        found |= {f"{who} {name}" for name, holds in special.items() if holds}
        board.push(move)
    return found


def test_the_random_endgames_hold_all_special_moves() -> None:
    # Else the comparison with brute force above would say little about them.
    seen: set[str] = set()
    for seed in range(400):
        for shortcut in find_shortcuts(OrderGraph(special_repertoire(random.Random(seed)))):
            seen |= kinds(shortcut)
    for name in ("castles", "takes", "takes in passing", "promotes"):
        assert f"reply {name}" in seen
        assert f"via {name}" in seen


def one(found: list[Shortcut], san: str, node: Node) -> Shortcut:
    (shortcut,) = (entry for entry in found if entry.san == san and entry.node is node)
    return shortcut


def test_a_shortcut_at_once() -> None:
    repertoire = repertoire_of(["d4 d5 c4 e6 Nc3", "d4 Nf6 c4 e6", "d4 e6 c4 c5"])
    found = find_shortcuts(OrderGraph(repertoire))
    before = node_after(repertoire, "d4 e6 c4")
    shortcut = one(found, "d5", before)
    assert shortcut.via is None
    assert shortcut.target is node_after(repertoire, "d4 d5 c4 e6")
    assert shortcut.moves == (chess.Move.from_uci("d7d5"),)
    assert shortcut.reach == pytest.approx(1 / 3)
    assert not shortcut.goes_back
    assert one(found, "Nf6", before).target is node_after(repertoire, "d4 Nf6 c4 e6")


def test_only_taking_moves_back_is_told_apart_and_comes_last() -> None:
    repertoire = repertoire_of(["Nf3 Nf6 g3 d5", "g3 d5 Nf3 c6"])
    found = find_shortcuts(OrderGraph(repertoire))
    back = [entry.goes_back for entry in found]
    assert back == sorted(back)
    # 1 Nf3 Nf6 2 g3 Ng8 3 Ng1 is the position after 1 g3.
    entry = one(found, "Ng8", node_after(repertoire, "Nf3 Nf6 g3"))
    assert entry.via_san == "Ng1"
    assert entry.target is node_after(repertoire, "g3")
    assert entry.goes_back


def test_a_shortcut_after_a_move_of_the_player() -> None:
    # After 1 d4 the reply 1…d5 is unlisted, but 2 Nf3, prepared elsewhere, is 1 Nf3 d5 2 d4.
    repertoire = repertoire_of(["d4 Nf6 Nf3", "Nf3 d5 d4"])
    found = find_shortcuts(OrderGraph(repertoire))
    entry = one(found, "d5", node_after(repertoire, "d4"))
    assert entry.via_san == "Nf3"
    assert entry.is_usual
    assert entry.moves == (chess.Move.from_uci("d7d5"), chess.Move.from_uci("g1f3"))


def test_no_positions_no_shortcuts() -> None:
    assert find_shortcuts(OrderGraph(Repertoire())) == []
    assert find_shortcuts(OrderGraph(repertoire_of(["e4"]))) == []


def test_progress_and_cancelling() -> None:
    graph = OrderGraph(repertoire_of(["d4 d5 c4 e6 Nc3", "d4 e6 c4 Nf6"]))
    shares: list[float] = []
    find_shortcuts(graph, progress=shares.append)
    assert shares[-1] == 1.0
    with pytest.raises(SearchCancelledError, match="cancelled"):
        find_shortcuts(graph, cancelled=lambda: True)
