"""Merging a repertoire into one that has all of it already."""

from __future__ import annotations

import pytest

from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.workshop.edits import Merge
from trainer.repertoire.workshop.results import Merged
from trainer.repertoire.workshop.transaction import Transaction
from trainer.repertoire.writer import repertoire_pgn
from trainer.resources import repertoire_path

DISPUTED = """[Event "First"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 (2. g3 Nf6) 2... Nf6 *

[Event "Second"]
[RepertoireSide "White"]

1. d3 d5 2. c3 *

[Event "Third"]
[RepertoireSide "White"]

1. d3 d5 2. g3 e5 *
"""


@pytest.mark.parametrize("times", [1, 2])
def test_what_is_here_brings_nothing_disputes_included(times: int) -> None:
    repertoire = read_repertoire_text(DISPUTED).repertoire
    before = repertoire_pgn(repertoire)
    for _ in range(times):
        merged = Merge(DISPUTED).apply(Transaction(repertoire))
        assert (merged.sections, merged.added, merged.conflicts) == ((), (), ())
    assert repertoire_pgn(repertoire) == before


def test_the_demo_brings_nothing_to_itself() -> None:
    repertoire = read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire
    before = repertoire_pgn(repertoire)
    merged = Merge.of(repertoire).apply(Transaction(repertoire))
    assert isinstance(merged, Merged)
    assert (merged.sections, merged.added) == ((), ())
    assert repertoire_pgn(repertoire) == before


def test_a_new_dispute_of_a_known_section_is_kept() -> None:
    repertoire = read_repertoire_text(DISPUTED).repertoire
    other = DISPUTED.replace("2. c3 *", "2. e4 *").replace("Second", "Fourth")
    merged = Merge(other).apply(Transaction(repertoire))
    assert [section.title for section in merged.sections] == ["Fourth"]
    again = read_repertoire_text(repertoire_pgn(repertoire)).repertoire
    (disputed,) = again.conflicts()
    assert {edge.san for edge in again.claims[disputed]} == {"Nf3", "c3", "g3", "e4"}
