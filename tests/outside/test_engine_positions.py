"""Stockfish with fixed nodes and one thread on positions whose verdict is certain.

The traps are known by name in the literature on the opening; names and moves are from memory
(common practice, no source), and that each ends as it is said to is checked here by playing the
moves out. What the words claim is held to the board: mates are mates, material is counted.
"""

from __future__ import annotations

from collections.abc import Iterator

import chess
import pytest

from tests.engines import STOCKFISH
from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluation import Standing
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.point import PointKind
from trainer.engine.session import Engine, EngineOptions
from trainer.engine.why_not import WhyNot, why_not
from trainer.exchange import material

NODES = 200_000


@pytest.fixture(scope="module")
def evaluate() -> Iterator[CachedEvaluator]:
    with (
        Engine.start(STOCKFISH, EngineOptions(hash_mb=16)) as engine,
        EvaluationCache(None) as cache,
    ):
        yield CachedEvaluator(engine, cache)


def board_after(moves: str, start: str = chess.STARTING_FEN) -> chess.Board:
    board = chess.Board(start)
    for san in moves.split():
        board.push_san(san)
    return board


def asked(evaluate: CachedEvaluator, board: chess.Board, san: str) -> WhyNot:
    said = why_not(board, board.parse_san(san), evaluate, nodes=NODES)
    after = board.copy(stack=False)
    after.push(said.move)
    for move, text in zip(said.line, said.sans, strict=True):
        assert after.parse_san(text) == move
        after.push(move)
    if said.kind in (PointKind.MATE, PointKind.BACK_RANK):
        assert after.is_checkmate()
    elif said.kind is not PointKind.NONE:
        side = board.turn
        lost = material(board, side) - material(after, side)
        won = material(board, not side) - material(after, not side)
        assert lost - won > -3
    return said


def test_the_shortest_mate(evaluate: CachedEvaluator) -> None:
    said = asked(evaluate, board_after("f3 e5"), "g4")
    assert (said.kind, said.sans) == (PointKind.MATE, ("Qh4#",))
    assert said.sentences[0] == "Qh4 is mate at once."
    assert said.score.mate == -1


def test_the_mate_on_f7(evaluate: CachedEvaluator) -> None:
    said = asked(evaluate, board_after("e4 e5 Bc4 Nc6 Qh5"), "Nf6")
    assert (said.kind, said.sans) == (PointKind.MATE, ("Qxf7#",))


def test_legals_mate(evaluate: CachedEvaluator) -> None:
    # Légal's mate: the bishop takes the queen, and three minor pieces mate.
    said = asked(evaluate, board_after("e4 e5 Nf3 d6 Bc4 Bg4 Nc3 g6 Nxe5"), "Bxd1")
    assert said.kind is PointKind.MATE
    assert said.sans == ("Bxf7+", "Ke7", "Nd5#")
    assert said.sentences[0] == "White mates in 2, by Nd5 at the end."


def test_the_noahs_ark_trap(evaluate: CachedEvaluator) -> None:
    # The Noah's Ark trap in the Spanish: the bishop on b3 is shut in by pawns.
    board = board_after("e4 e5 Nf3 Nc6 Bb5 a6 Ba4 d6 d4 b5 Bb3 Nxd4 Nxd4 exd4")
    said = asked(evaluate, board, "Qxd4")
    assert said.kind is PointKind.TRAPPED
    assert "the bishop on b3 is trapped" in said.sentences[0]
    assert said.sans[0] == "c5"
    assert "Black wins a bishop" in said.sentences[1]


def test_the_elephant_trap(evaluate: CachedEvaluator) -> None:
    # The Elephant trap in the Queen's Gambit: the knight on f6 is not pinned at all, since the
    # bishop's check wins the queen back.
    board = board_after("d4 d5 c4 e6 Nc3 Nf6 Bg5 Nbd7 cxd5 exd5")
    said = asked(evaluate, board, "Nxd5")
    assert said.sans[:4] == ("Nxd5", "Bxd8", "Bb4+", "Qd2")
    assert said.kind is PointKind.PIN
    assert "pinned to the king" in said.sentences[0]
    assert said.sentences[1] == "Black wins a knight for a pawn."
    assert said.score.standing <= Standing.WORSE


def test_a_fork_of_king_and_rook(evaluate: CachedEvaluator) -> None:
    board = board_after("d4 d5 Bf4 c5 e3 Nc6 Nf3 Qb6 Nc3 Nf6 Be2")
    said = asked(evaluate, board, "Qxb2")
    assert said.kind is PointKind.DOUBLE_ATTACK
    assert "Nc7+ attacks the king and the rook on a8 at once." in said.sentences
    assert any("White wins a rook" in sentence for sentence in said.sentences)


def test_a_discovered_check_in_the_petroff(evaluate: CachedEvaluator) -> None:
    # The Petroff trap of the manuals of tactics (see the tests of the motifs).
    said = asked(evaluate, board_after("e4 e5 Nf3 Nf6 Nxe5 Nxe4 Qe2"), "Nf6")
    assert said.kind is PointKind.DISCOVERED_ATTACK
    assert said.sans[0] == "Nc6+"
    assert said.sentences[:2] == (
        "Nc6+ uncovers a check by the queen on e2.",
        "White wins the queen for a knight.",
    )


def test_a_discovered_attack_in_the_french(evaluate: CachedEvaluator) -> None:
    moves = "e4 e6 d4 d5 e5 c5 c3 Nc6 Nf3 Qb6 Bd3 cxd4 cxd4 Nxd4 Nxd4"
    said = asked(evaluate, board_after(moves), "Qxd4")
    assert said.kind is PointKind.DISCOVERED_ATTACK
    assert said.sans[0] == "Bb5+"
    assert "the queen on d4" in said.sentences[0]


def test_a_guard_that_is_taken_in_the_spanish(evaluate: CachedEvaluator) -> None:
    # "The Everything Chess Basics Book", chapter "Removing the defender".
    said = asked(evaluate, board_after("e4 e5 Nf3 Nc6 Bb5 Nf6 d3"), "a6")
    assert said.kind is PointKind.REMOVED_GUARD
    assert said.sans[0] == "Bxc6"
    assert said.sans[2] == "Nxe5"
    assert said.sentences[1] == "White wins a pawn."


def test_the_back_rank(evaluate: CachedEvaluator) -> None:
    # The rook leaves the rank on which alone it guarded the king (common practice, no source).
    board = chess.Board("3r2k1/5ppp/8/8/8/8/4RPPP/6K1 w - - 0 1")
    said = asked(evaluate, board, "Ra2")
    assert (said.kind, said.sans) == (PointKind.BACK_RANK, ("Rd1#",))
    assert said.sentences[1] == "The king cannot step off its first rank."


def test_a_pawn_that_promotes(evaluate: CachedEvaluator) -> None:
    # The king steps out of the square of the pawn (common practice, no source).
    board = chess.Board("8/8/8/8/p1K5/8/7P/7k w - - 0 1")
    said = asked(evaluate, board, "Kd5")
    assert said.score.standing is Standing.LOST
    assert said.kind is PointKind.PROMOTION
    assert "promotes on a1" in said.sentences[0]


def test_a_piece_that_nothing_defends(evaluate: CachedEvaluator) -> None:
    board = board_after("e4 e5 Nf3 Nc6 Bc4 Nf6 d3 Be7 Nc3 d6")
    said = asked(evaluate, board, "Ng5")
    assert said.loss < 100, "the knight is guarded by the bishop on c1"
    bare = asked(evaluate, board_after("e4 e5 Nf3 Nc6 Bc4 Nf6 d3 Be7"), "Ng5")
    assert bare.kind in (PointKind.NONE, PointKind.MATERIAL, PointKind.UNDEFENDED)
    lost = asked(evaluate, board_after("e4 d5 exd5 Qxd5 Nc3"), "Qd4")
    assert lost.loss >= 0
    given = asked(evaluate, board_after("e4 d5 exd5 Qxd5 Nc3 Qa5"), "Qg4")
    assert given.kind is PointKind.UNDEFENDED
    assert given.sentences[0] == "Bxg4 takes the queen on g4, which nothing defends."
    assert given.sentences[1] == "Black wins the queen."


def test_nothing_is_said_against_a_sound_move(evaluate: CachedEvaluator) -> None:
    for san in ("e4", "d4", "Nf3", "g3", "c4"):
        said = asked(evaluate, chess.Board(), san)
        assert said.kind is PointKind.NONE
        assert len(said.sentences) == 1
        assert said.loss < 60
    said = asked(evaluate, board_after("f3 e5"), "e4")
    assert said.kind is PointKind.NONE


@pytest.mark.parametrize(
    ("fen", "mate"),
    [
        # A rook and a king against a king in the corner; a ladder of two rooks (common practice).
        ("7k/8/6K1/8/8/8/8/R7 w - - 0 1", 1),
        ("7k/R7/1R6/8/8/8/8/K7 w - - 0 1", 1),
        # The smothered mate that Lucena printed in 1497, from its queen's check on (from memory).
        ("5r1k/6pp/7N/8/8/1Q6/8/6K1 w - - 0 1", 2),
    ],
)
def test_mates_in_a_known_number_of_moves(evaluate: CachedEvaluator, fen: str, mate: int) -> None:
    board = chess.Board(fen)
    found = evaluate(board, nodes=NODES)
    assert found.score.mate == mate
    for move in found.best.moves:
        board.push(move)
    assert board.is_checkmate()
