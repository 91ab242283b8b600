"""Reach measured in games: counting replies, weighing them, keeping the counts."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import chess
import numpy as np
import pytest

from tests import games_reference as reference
from tests.memory_graphs import node_after
from trainer.errors import ProgressError
from trainer.games.base.builder import build_base
from trainer.games.base.store import ReferenceBase
from trainer.games.replies import base_replies, own_replies, partings
from trainer.games.survey import survey
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.measured import measured_weights
from trainer.repertoire.reach import edge_shares, reach
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.storage.reply_counts import ReplyCounts, load_reply_counts, save_reply_counts

FOLDER = Path(__file__).resolve().parents[2] / "repertoires"
DEMO, DEMO_GAMES = FOLDER / "kings-indian-attack.pgn", FOLDER / "demo-games.pgn"
OWNER = "Linden, Mara"
TEXT = '[RepertoireSide "White"]\n\n1. d3 d5 (1... e5 2. g3) (1... c5 2. g3) 2. Nf3 *\n'


def shares_after_d3(counts: ReplyCounts, base_counts_as: float) -> dict[str, float]:
    repertoire = read_repertoire_text(TEXT).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    weights = measured_weights(arrays, counts, base_counts_as)
    shares = edge_shares(arrays, weights)
    node = node_after(repertoire, "d3")
    return {arrays.edges[e].san: shares[e] for e in arrays.edges_of(arrays.number(node))}


def counts(own: dict[str, int], base: dict[str, int]) -> ReplyCounts:
    key = node_after(read_repertoire_text(TEXT).repertoire, "d3").key
    return ReplyCounts({key: own} if own else {}, {key: base} if base else {})


def test_the_formula_of_the_documentation() -> None:
    """n + K · (b + 1) / (B + k), worked out by hand."""
    found = shares_after_d3(counts({"d7d5": 6, "e7e5": 2}, {"d7d5": 40, "c7c5": 57}), 10.0)
    # B = 97 and k = 3: the base says 41, 1 and 58 in a hundred.
    assert found == pytest.approx({"d5": (6 + 4.1) / 18, "e5": (2 + 0.1) / 18, "c5": 5.8 / 18})
    # Without games of one's own the base decides, without a base all replies are alike in it.
    found = shares_after_d3(counts({}, {"d7d5": 40, "c7c5": 57}), 10.0)
    assert found == pytest.approx({"d5": 0.41, "e5": 0.01, "c5": 0.58})
    found = shares_after_d3(counts({"d7d5": 3}, {}), 3.0)
    assert found == pytest.approx({"d5": 4 / 6, "e5": 1 / 6, "c5": 1 / 6})
    # Counting for nothing, the base leaves the word to own games, and without them to chance.
    found = shares_after_d3(counts({"d7d5": 3, "e7e5": 1}, {"c7c5": 99}), 0.0)
    assert found == pytest.approx({"d5": 0.75, "e5": 0.25, "c5": 0.0})
    found = shares_after_d3(counts({}, {"c7c5": 99}), 0.0)
    assert found == pytest.approx({"d5": 1 / 3, "e5": 1 / 3, "c5": 1 / 3})


def test_the_more_own_games_the_less_the_base_says() -> None:
    base = {"c7c5": 10_000}
    own = [shares_after_d3(counts({"d7d5": n}, base), 10.0)["d5"] for n in (0, 1, 10, 1000)]
    assert own == sorted(own)
    assert own[1] == pytest.approx(1 / 11, abs=1e-3)
    assert own[3] > 0.98


def test_nothing_counted_means_no_weights() -> None:
    repertoire = read_repertoire_text(TEXT).repertoire
    assert measured_weights(RepertoireArrays.compile(repertoire), ReplyCounts()) is None


def brute_replies(owner: str) -> dict[tuple[str, str], int]:
    """(position before, position after) of Black's moves in games, each once a game."""
    found: Counter[tuple[str, str]] = Counter()
    for game in reference.games_of(DEMO_GAMES.read_text(encoding="utf-8")):
        if owner and game.headers["White"] != owner:
            continue
        board = game.board()
        steps = set()
        for move in game.mainline_moves():
            before = reference.epd(board)
            mover = board.turn
            board.push(move)
            if mover == chess.BLACK:
                steps.add((before, reference.epd(board)))
        found.update(steps)
    return dict(found)


def test_replies_of_own_games_and_of_a_base_are_counted(tmp_path: Path) -> None:
    repertoire = read_repertoire(DEMO).repertoire
    own = own_replies(repertoire, survey(repertoire, [DEMO_GAMES], OWNER).walks)
    build_base(tmp_path / "base.sqlite", [DEMO_GAMES])
    with ReferenceBase(tmp_path / "base.sqlite") as base:
        all_of_them = base_replies(partings(repertoire), base)
    mine, everybody = brute_replies(OWNER), brute_replies("")
    for edge in repertoire.replies():
        step = reference.epd(edge.parent.board()), reference.epd(edge.child.board())
        assert own.get(edge.parent.key, {}).get(edge.move.uci(), 0) == mine.get(step, 0)
        if len(edge.parent.edges) > 1:
            counted = all_of_them.get(edge.parent.key, {}).get(edge.move.uci(), 0)
            assert counted == everybody.get(step, 0)
    assert sum(sum(moves.values()) for moves in own.values()) > 500


def test_measured_reach_goes_where_the_games_go() -> None:
    repertoire = read_repertoire(DEMO).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    own = own_replies(repertoire, survey(repertoire, [DEMO_GAMES], OWNER).walks)
    measured = reach(arrays, measured_weights(arrays, ReplyCounts(own)))
    equal = reach(arrays)
    assert not np.allclose(measured, equal)
    # At each position what is reached there is what is reached behind its replies.
    root = arrays.number(node_after(repertoire, "Nf3"))
    behind = [int(arrays.child[edge]) for edge in arrays.edges_of(root)]
    assert measured[behind].sum() >= measured[root] - 1e-9


def test_counts_are_kept_and_a_damaged_file_is_no_file(tmp_path: Path) -> None:
    path = tmp_path / "replies" / "one.json"
    assert load_reply_counts(path) == ReplyCounts()
    kept = ReplyCounts({1 << 63: {"d7d5": 3}}, {5: {"e7e8q": 1, "c7c5": 2}})
    save_reply_counts(path, kept)
    assert load_reply_counts(path) == kept
    for text in ("", "[]", "{}", '{"version": 9}', path.read_text()[:-5]):
        path.write_text(text)
        assert load_reply_counts(path) == ReplyCounts()
    path.write_text(json.dumps({"version": 1, "own": {"xyz": {"d7d5": -1}}, "base": {}}))
    assert load_reply_counts(path) == ReplyCounts()
    path.unlink()
    path.mkdir()
    with pytest.raises(ProgressError):
        save_reply_counts(path, kept)
