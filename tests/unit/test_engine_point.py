"""The point of a line, without an engine: where it is cut, and what is said."""

from __future__ import annotations

import random

import chess
import pytest

from trainer.engine.point import Point, PointKind, find_point


def point_of(fen: str, played: str, line: str) -> Point:
    board = chess.Board(fen)
    move = board.parse_san(played)
    after = board.copy()
    after.push(move)
    moves = [after.push_san(san) for san in line.split()]
    before = board.copy()
    found = find_point(board, move, moves)
    assert board == before
    assert list(found.moves) == moves[: len(found.moves)]
    return found


def test_a_line_is_cut_where_the_piece_is_won_and_stays_won() -> None:
    # The Noah's Ark trap (common practice, no source): the moves after the capture are no more
    # part of the point.
    found = point_of(
        "r1bqkbnr/2p2ppp/p2p4/1p6/3pP3/1B6/PPP2PPP/RNBQK2R w KQkq - 0 8",
        "Qxd4",
        "c5 Qd5 Be6 Qc6+ Bd7 Qd5 c4 Bxc4 bxc4 Qxc4 Nf6 O-O Be7",
    )
    assert found.kind is PointKind.TRAPPED
    assert found.moves[-1] == chess.Move.from_uci("b5c4")
    assert found.pawns >= 1
    assert "Black wins a bishop" in found.sentences[-1]


def test_a_passing_gain_is_no_point() -> None:
    # The queen is taken and taken back: nothing is won.
    found = point_of(
        "rnbqkbnr/ppp2ppp/8/3pp3/3PP3/8/PPP2PPP/RNBQKBNR w KQkq - 0 3",
        "dxe5",
        "dxe4 Qxd8+ Kxd8 Nc3 Bb4 Bd2 Bxc3 Bxc3 Ne7",
    )
    assert found.kind is PointKind.NONE
    assert found.sentences == ()
    assert found.pawns == 0


def test_the_exchange_has_its_name() -> None:
    found = point_of(
        "r3k3/ppp5/8/3N4/8/8/5PPP/4K3 b q - 0 1", "Kf8", "Nxc7 Rd8 Ne6+ Ke7 Nxd8 Kxd8 Kd2"
    )
    assert "White wins" in found.sentences[-1]


def point_after(moves: str, played: str, line: str) -> Point:
    board = chess.Board()
    for san in moves.split():
        board.push_san(san)
    return point_of(board.fen(), played, line)


def test_a_guard_that_is_taken_is_named_where_the_line_takes_what_it_guarded() -> None:
    # "The Everything Chess Basics Book", chapter "Removing the defender".
    before = "e4 e5 Nf3 Nc6 Bb5 Nf6 d3"
    found = point_after(before, "a6", "Bxc6 dxc6 Nxe5 Bd6 Nf3 O-O O-O Re8")
    assert found.kind is PointKind.REMOVED_GUARD
    assert found.sentences == (
        "Bxc6 takes the knight on c6, a guard of the pawn on e5.",
        "White wins a pawn.",
    )
    # Up to the pawn: the bishop took a knight before, and was taken for it.
    assert len(found.moves) == 3
    # Without d3 the pawn is won back, which every book on the Spanish says; nothing is claimed.
    line = "Bxc6 dxc6 Nxe5 Qd4 Nf3 Qxe4+ Qe2 Qxe2+ Kxe2 Bg4"
    back = point_after("e4 e5 Nf3 Nc6 Bb5", "a6", line)
    assert (back.kind, back.sentences) == (PointKind.NONE, ())


def test_a_discovery_is_named_where_the_line_makes_use_of_it() -> None:
    # The Petroff trap, as in the tests of the motif.
    before = "e4 e5 Nf3 Nf6 Nxe5 Nxe4 Qe2"
    found = point_after(before, "Nf6", "Nc6+ Qe7 Nxe7 Bxe7 Nc3 O-O")
    assert found.kind is PointKind.DISCOVERED_ATTACK
    assert found.sentences == (
        "Nc6+ uncovers a check by the queen on e2.",
        "White wins the queen for a knight.",
    )
    before = "e4 e6 d4 d5 e5 c5 c3 Nc6 Nf3 Qb6 Bd3 cxd4 cxd4 Nxd4 Nxd4"
    found = point_after(before, "Qxd4", "Bb5+ Bd7 Bxd7+ Kxd7 Qxd4 Ne7 O-O")
    assert found.kind is PointKind.DISCOVERED_ATTACK
    assert found.sentences[0] == ("Bb5+ uncovers an attack by the queen on d1 on the queen on d4.")
    # The same check, and the queen is not taken: no discovery is claimed.
    unused = point_after(before, "Qxd4", "Bb5+ Bd7 Bxd7+ Kxd7 O-O Qxd1 Rxd1 Ne7")
    assert unused.kind is not PointKind.DISCOVERED_ATTACK


@pytest.mark.parametrize(
    ("fen", "played", "line", "kind", "sentence"),
    [
        (
            "rnbqkbnr/pppp1ppp/8/4p3/8/5P2/PPPPP1PP/RNBQKBNR w KQkq - 0 2",
            "g4",
            "Qh4#",
            PointKind.MATE,
            "Qh4 is mate at once.",
        ),
        (
            "3r2k1/5ppp/8/8/8/8/4RPPP/6K1 w - - 0 1",
            "Ra2",
            "Rd1#",
            PointKind.BACK_RANK,
            "The king cannot step off its first rank.",
        ),
        (
            "8/8/8/8/p1K5/8/7P/7k w - - 0 1",
            "Kd5",
            "a3 Kd4 a2 Kd3 a1=Q h4 Qd1+",
            PointKind.PROMOTION,
            "The pawn promotes on a1 and the new piece stays.",
        ),
        (
            "rnb1kbnr/ppp1pppp/8/q7/8/2N5/PPPP1PPP/R1BQKBNR w KQkq - 2 4",
            "Qg4",
            "Bxg4 Nf3 Nf6 Be2 Nc6",
            PointKind.UNDEFENDED,
            "Bxg4 takes the queen on g4, which nothing defends.",
        ),
    ],
)
def test_kinds(fen: str, played: str, line: str, kind: PointKind, sentence: str) -> None:
    found = point_of(fen, played, line)
    assert found.kind is kind
    assert sentence in found.sentences


def test_any_line_gives_a_point_that_keeps_to_it() -> None:
    rng = random.Random(3)
    for _ in range(150):
        board = chess.Board()
        for _ in range(rng.randrange(40)):
            moves = list(board.legal_moves)
            if not moves:
                break
            board.push(rng.choice(moves))
        if not any(board.legal_moves):
            continue
        board = board.copy(stack=False)
        played = rng.choice(list(board.legal_moves))
        after = board.copy()
        after.push(played)
        line: list[chess.Move] = []
        while len(line) < 12 and any(after.legal_moves):
            line.append(rng.choice(list(after.legal_moves)))
            after.push(line[-1])
        found = find_point(board, played, line)
        assert list(found.moves) == line[: len(found.moves)]
        assert (found.kind is PointKind.NONE) == (not found.sentences) or found.pawns >= 1
        for text in found.sentences:
            assert text.endswith(".")
