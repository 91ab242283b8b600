"""Strangers from the engine's near-best moves: plausible, and never a blunder."""

from __future__ import annotations

import random
from pathlib import Path

import chess

from tests.engines import STOCKFISH
from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.plausible import NEAR_BEST, joined, near_best, prepare
from trainer.engine.session import Engine, EngineOptions
from trainer.memory.strangers import Strangers
from trainer.repertoire.reader import read_repertoire

TEXT = '[RepertoireSide "White"]\n\n1. d3 d5 2. Nf3 Nf6 3. g3 *\n'


def test_strangers_are_taken_from_near_best_moves(tmp_path: Path) -> None:
    path = tmp_path / "quiet.pgn"
    path.write_text(TEXT, encoding="utf-8")
    repertoire = read_repertoire(path).repertoire
    node = next(edge.child for edge in repertoire.edges() if edge.san == "Nf3")
    board = node.board()
    with Engine.start(STOCKFISH, EngineOptions(16)) as engine, EvaluationCache(None) as cache:
        assert near_best(cache, board) == ()
        evaluate = CachedEvaluator(engine, cache)
        prepare(board, evaluate, nodes=30_000)
        replies = near_best(cache, board)
        assert replies
        best = evaluate(board, nodes=30_000).score.value
        plain = Strangers(repertoire)
        told = Strangers(repertoire, lambda asked: near_best(cache, asked))
        plausible = {move for move, _weight in replies} - {edge.move for edge in node.edges}
        assert plausible
        for seed in range(30):
            move = told.choose(node, random.Random(seed))
            assert move in plausible
            loss = best - evaluate(board, nodes=30_000, moves=[move]).score.value
            assert loss <= 2 * NEAR_BEST
        # Where nothing is known, the rules choose as they did.
        empty = Strangers(repertoire, lambda _asked: ())
        for seed in range(30):
            chosen = plain.choose(node, random.Random(seed))
            assert empty.choose(node, random.Random(seed)) == chosen


def test_a_source_cannot_bring_in_what_is_prepared_or_a_blunder(tmp_path: Path) -> None:
    path = tmp_path / "quiet.pgn"
    path.write_text(TEXT, encoding="utf-8")
    repertoire = read_repertoire(path).repertoire
    node = next(edge.child for edge in repertoire.edges() if edge.san == "Nf3")
    prepared = node.edges[0].move
    blunder = chess.Move.from_uci("c8h3")
    told = Strangers(repertoire, lambda _asked: ((prepared, 1.0), (blunder, 100.0)))
    for seed in range(30):
        assert told.choose(node, random.Random(seed)) not in (prepared, blunder)


def test_sources_are_joined_in_equal_parts() -> None:
    one, two = chess.Move.from_uci("e7e5"), chess.Move.from_uci("c7c5")
    both = joined(
        lambda _board: ((one, 300.0), (two, 100.0)), lambda _board: ((two, 1.0),), lambda _b: ()
    )
    assert dict(both(chess.Board())) == {one: 0.75, two: 1.25}
