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
