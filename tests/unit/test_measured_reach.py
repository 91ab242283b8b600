"""Reach measured in games: counting replies, weighing them, keeping the counts."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from dataclasses import dataclass
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
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.measured import WORTH_MEETING, Measured, measured_shares
from trainer.repertoire.reach import depth_in_hand, edge_shares, reach
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.storage.reply_counts import ReplyCounts, load_reply_counts, save_reply_counts

FOLDER = Path(__file__).resolve().parents[2] / "repertoires"
DEMO, DEMO_GAMES = FOLDER / "kings-indian-attack.pgn", FOLDER / "demo-games.pgn"
OWNER = "Linden, Mara"
TEXT = '[RepertoireSide "White"]\n\n1. d3 d5 (1... e5 2. g3) (1... c5 2. g3) 2. Nf3 *\n'


def shares_after_d3(counts: ReplyCounts, base_counts_as: float) -> dict[str, float]:
    repertoire = read_repertoire_text(TEXT).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    shares = edge_shares(arrays, measured_shares(arrays, counts, base_counts_as))
    node = node_after(repertoire, "d3")
    return {arrays.edges[e].san: shares[e] for e in arrays.edges_of(arrays.number(node))}


def behind(node: Node) -> list[Node]:
    return [edge.child for edge in node.edges]


@dataclass(frozen=True)
class PlayedMove:
    move: chess.Move | None
    games: int


@dataclass(frozen=True)
class PlayedPosition:
    moves: list[PlayedMove]


@dataclass(frozen=True)
class PlayedBase:
    """A base of these counts."""

    counts: dict[int, dict[str, int]]

    def totals(self, key: int) -> PlayedPosition:
        found = self.counts.get(key, {})
        return PlayedPosition([PlayedMove(chess.Move.from_uci(u), n) for u, n in found.items()])


def counts(own: dict[str, int], base: dict[str, int]) -> ReplyCounts:
    key = node_after(read_repertoire_text(TEXT).repertoire, "d3").key
    return ReplyCounts({key: own} if own else {}, {key: base} if base else {})


def test_the_formula_of_the_documentation() -> None:
    """(n + K · (b + 1) / (B + k)) / (N + K), worked out by hand."""
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
    # What was played and is not prepared takes its part of both, and leaves less than 1.
    own, base = {"d7d5": 6, "g8f6": 2}, {"d7d5": 40, "c7c5": 47, "g7g6": 10}
    found = shares_after_d3(counts(own, base), 10.0)
    assert found == pytest.approx({"d5": (6 + 4.1) / 18, "e5": 0.1 / 18, "c5": 4.8 / 18})
    assert sum(found.values()) == pytest.approx(15 / 18)
    # An imagined game for each known reply and none for the others: no reply is impossible.
    found = shares_after_d3(counts({}, {"g8f6": 97}), 10.0)
    assert found == pytest.approx({"d5": 0.01, "e5": 0.01, "c5": 0.01})


def test_the_more_own_games_the_less_the_base_says() -> None:
    base = {"c7c5": 10_000}
    own = [shares_after_d3(counts({"d7d5": n}, base), 10.0)["d5"] for n in (0, 1, 10, 1000)]
    assert own == sorted(own)
    assert own[1] == pytest.approx(1 / 11, abs=1e-3)
    assert own[3] > 0.98


def test_nothing_counted_means_no_shares() -> None:
    repertoire = read_repertoire_text(TEXT).repertoire
    assert measured_shares(RepertoireArrays.compile(repertoire), ReplyCounts()) is None


def brute_replies(repertoire: Repertoire, owner: str) -> dict[int, dict[str, int]]:
    """Black's moves where the repertoire knows replies, each once a game, by python-chess.

    A move that is not listed there but leads to a known position is left out.
    """
    known = {reference.epd(node.board()): node for node in repertoire.nodes.values()}
    found: dict[int, Counter[str]] = defaultdict(Counter)
    for game in reference.games_of(DEMO_GAMES.read_text(encoding="utf-8")):
        if owner and game.headers["White"] != owner:
            continue
        board = game.board()
        steps = set()
        for move in game.mainline_moves():
            node = known.get(reference.epd(board))
            board.push(move)
            if node is None or node.turn == chess.WHITE or not node.edges:
                continue
            listed = {edge.move for edge in node.edges}
            if move in listed or reference.epd(board) not in known:
                steps.add((node.key, move.uci()))
        for key, uci in steps:
            found[key][uci] += 1
    return {key: dict(moves) for key, moves in found.items()}


def test_replies_of_own_games_and_of_a_base_are_counted(tmp_path: Path) -> None:
    repertoire = read_repertoire(DEMO).repertoire
    own = own_replies(repertoire, survey(repertoire, [DEMO_GAMES], OWNER).walks)
    build_base(tmp_path / "base.sqlite", [DEMO_GAMES])
    wanted = partings(repertoire)
    with ReferenceBase(tmp_path / "base.sqlite") as base:
        all_of_them = base_replies(wanted, base)
        # In pieces it is the same.
        assert base_replies(wanted.part(3, 5), base) == {
            one.key: all_of_them[one.key]
            for one in wanted.positions[3:5]
            if one.key in all_of_them
        }
    assert own == brute_replies(repertoire, OWNER)
    assert all_of_them == brute_replies(repertoire, "")
    listed = {(edge.parent.key, edge.move.uci()) for edge in repertoire.replies()}
    unprepared = [
        (key, uci) for key, moves in own.items() for uci in moves if (key, uci) not in listed
    ]
    assert unprepared
    assert sum(sum(moves.values()) for moves in own.values()) > 500


def test_a_move_by_an_unlisted_order_is_neither_known_nor_unprepared() -> None:
    """1 ... Nf6 2 g3 d5 and 1 ... d5 2 g3 Nf6 meet, though only one order is listed."""
    text = '[RepertoireSide "White"]\n\n1. d3 Nf6 (1... d5 2. g3 c6 3. Bg2) 2. g3 d5 3. Bg2 *\n'
    repertoire = read_repertoire_text(text).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    node = node_after(repertoire, "d3 d5 g3")
    played = {"g8f6": 5, "c7c6": 2, "e7e5": 2}
    found = base_replies(partings(repertoire), PlayedBase({node.key: played}))
    assert found == {node.key: {"c7c6": 2, "e7e5": 2}}
    shares = measured_shares(arrays, ReplyCounts({}, found))
    assert shares is not None
    assert shares[list(arrays.edges_of(arrays.number(node)))] == pytest.approx([3 / 5])


def test_measured_reach_goes_where_the_games_go() -> None:
    repertoire = read_repertoire(DEMO).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    own = own_replies(repertoire, survey(repertoire, [DEMO_GAMES], OWNER).walks)
    counts = ReplyCounts(own)
    measured = reach(arrays, measured_shares(arrays, counts))
    assert not np.allclose(measured, reach(arrays))
    # By own games alone: what goes on behind a position is what was not left there.
    alone = measured_shares(arrays, counts, 0.0)
    assert alone is not None
    kept = []
    for key, played in own.items():
        number = arrays.number_of[key]
        listed = {edge.move.uci() for edge in repertoire.nodes[key].edges}
        kept.append(sum(n for uci, n in played.items() if uci in listed) / sum(played.values()))
        assert alone[list(arrays.edges_of(number))].sum() == pytest.approx(kept[-1])
    assert min(kept) < max(kept) == 1


def test_what_is_unprepared_ends_the_depth_in_hand() -> None:
    """With perfect memory: 1 Nf3, and one more move in the half of games that are prepared."""
    repertoire = read_repertoire_text(TEXT).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    node = node_after(repertoire, "d3")
    half = ReplyCounts({node.key: {"d7d5": 3, "e7e5": 1, "b8c6": 4}})
    shares = measured_shares(arrays, half, 0.0)
    perfect = np.ones(len(arrays.nodes))
    assert depth_in_hand(arrays, perfect) == pytest.approx(2.0)
    assert depth_in_hand(arrays, perfect, shares) == pytest.approx(1.5)
    assert reach(arrays, shares)[[arrays.number(n) for n in behind(node)]] == pytest.approx(
        [3 / 8, 1 / 8, 0]
    )


def test_what_is_worth_meeting_equals_a_count_of_all_games() -> None:
    """Every unlisted reply, weighed by hand, with the probability of getting to its position."""
    repertoire = read_repertoire(DEMO).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    own = own_replies(repertoire, survey(repertoire, [DEMO_GAMES], OWNER).walks)
    base = brute_replies(repertoire, "")
    measured = Measured(ReplyCounts(own, base), 10.0)
    reached = reach(arrays, measured.shares(arrays))
    expected = {}
    for key, node in repertoire.nodes.items():
        mine, others = own.get(key, {}), base.get(key, {})
        for uci in {*mine, *others} - {edge.move.uci() for edge in node.edges}:
            n, b = mine.get(uci, 0), others.get(uci, 0)
            by_base = 10 * b / (sum(others.values()) + len(node.edges))
            share = (n + by_base) / (sum(mine.values()) + 10)
            if max(n, b) >= 2 and reached[arrays.number(node)] * share >= WORTH_MEETING:
                expected[key, uci] = (share, n, sum(mine.values()), b, sum(others.values()))
    found = {
        (arrays.nodes[one.number].key, one.move.uci()): (
            one.share,
            one.own,
            one.own_games,
            one.base,
            one.base_games,
        )
        for one in measured.worth_meeting(arrays, reached)
    }
    assert found.keys() == expected.keys()
    assert len(found) >= 3
    for place, values in found.items():
        assert values == pytest.approx(expected[place])


def test_what_leads_to_a_known_position_by_now_is_not_worth_meeting() -> None:
    """Counted before the other order was added."""
    text = '[RepertoireSide "White"]\n\n1. d3 Nf6 (1... d5 2. g3 c6 3. Bg2) 2. g3 d5 3. Bg2 *\n'
    repertoire = read_repertoire_text(text).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    node = node_after(repertoire, "d3 d5 g3")
    counts = ReplyCounts({node.key: {"g8f6": 5, "c7c6": 2, "e7e5": 2, "h7h5": 1}})
    measured = Measured(counts, 0.0)
    found = measured.worth_meeting(arrays, reach(arrays, measured.shares(arrays)))
    assert [(one.move.uci(), one.own, one.own_games) for one in found] == [("e7e5", 2, 10)]
    # Counting for nothing, the base leaves nothing to go by.
    alone = Measured(ReplyCounts({}, counts.own), 0.0)
    assert alone.worth_meeting(arrays, reach(arrays)) == []
    assert Measured().worth_meeting(arrays, reach(arrays)) == []


def test_counts_are_kept_and_a_damaged_file_is_no_file(tmp_path: Path) -> None:
    path = tmp_path / "replies" / "one.json"
    assert load_reply_counts(path) == ReplyCounts()
    kept = ReplyCounts({1 << 63: {"d7d5": 3}}, {5: {"e7e8q": 1, "c7c5": 2}})
    save_reply_counts(path, kept)
    assert load_reply_counts(path) == kept
    for text in ("", "[]", "{}", '{"version": 9}', path.read_text()[:-5]):
        path.write_text(text)
        assert load_reply_counts(path) == ReplyCounts()
    path.write_text(json.dumps({"version": 2, "own": {"xyz": {"d7d5": -1}}, "base": {}}))
    assert load_reply_counts(path) == ReplyCounts()
    path.unlink()
    path.mkdir()
    with pytest.raises(ProgressError):
        save_reply_counts(path, kept)
