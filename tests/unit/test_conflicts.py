"""Conflicts: who claims what, and settling them for good."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after
from tests.repertoire_texts import TextMaker, described
from trainer.repertoire.conflicts import find_conflicts, resolve_conflict
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.writer import repertoire_pgn, save_repertoire

TEXT = """\
[Event "Open games"]
[RepertoireSide "White"]

1. e4 e5 2. Nf3 {The knight first.} Nc6 *

[Event "Gambits"]

1. e4 e5 2. f4 $5 {Sharp.} exf4 3. Nf3 *

[Event "Quiet"]

1. e4 e5 2. d3 *
"""


def test_who_claims_what() -> None:
    repertoire = read_repertoire_text(TEXT).repertoire
    (conflict,) = find_conflicts(repertoire)
    assert conflict.node is node_after(repertoire, "e4 e5")
    assert [
        (claim.edge.san, [section.title for section in claim.sections])
        for claim in conflict.claims
    ] == [("Nf3", ["Open games"]), ("f4", ["Gambits"]), ("d3", ["Quiet"])]


@pytest.mark.parametrize("chosen", ["Nf3", "f4", "d3"])
def test_a_settled_conflict_stays_settled(chosen: str, tmp_path: Path) -> None:
    repertoire = read_repertoire_text(TEXT).repertoire
    (conflict,) = find_conflicts(repertoire)
    node = conflict.node
    edge = next(claim.edge for claim in conflict.claims if claim.edge.san == chosen)
    others = [other.san for other in node.edges if other is not edge]
    resolve_conflict(repertoire, node, edge)
    assert find_conflicts(repertoire) == []
    assert all(section.disputes == [] for section in repertoire.sections)
    assert [move.san for move in node.edges] == [chosen, *others]

    path = tmp_path / "repertoire.pgn"
    save_repertoire(repertoire, path, expected=None)
    again = read_repertoire(path)
    assert again.skipped == []
    assert described(again.repertoire) == described(repertoire)
    assert again.repertoire.conflicts() == []
    after = node_after(again.repertoire, "e4 e5")
    assert [move.san for move in after.edges] == [chosen, *others]
    comments = {move.san: move.comments for move in after.edges}
    assert comments["Nf3"] == ("The knight first.",)
    assert comments["f4"] == ("Sharp.",)


def test_a_move_that_is_not_prepared_cannot_be_chosen() -> None:
    repertoire = read_repertoire_text(TEXT).repertoire
    (conflict,) = find_conflicts(repertoire)
    with pytest.raises(ValueError, match="not prepared"):
        resolve_conflict(repertoire, conflict.node, node_after(repertoire, "").edges[0])
    assert len(find_conflicts(repertoire)) == 1


@settings(max_examples=60)
@given(st.integers(0, 2**32))
def test_any_conflict_of_any_file_can_be_settled(seed: int) -> None:
    rng = random.Random(seed)
    repertoire = read_repertoire_text(TextMaker(rng).file()).repertoire
    found = find_conflicts(repertoire)
    assert [conflict.node for conflict in found] == repertoire.conflicts()
    for conflict in found:
        assert len(conflict.claims) > 1
        assert all(claim.sections for claim in conflict.claims)
        chosen = rng.choice(conflict.claims).edge
        resolve_conflict(repertoire, conflict.node, chosen)
        assert conflict.node.edges[0] is chosen
    again = read_repertoire_text(repertoire_pgn(repertoire)).repertoire
    assert described(again) == described(repertoire)
    assert again.conflicts() == []
