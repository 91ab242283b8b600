"""Pasting, merging and splitting."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after
from tests.repertoire_texts import TextMaker, described, reachable
from tests.workshop_edits import inside
from trainer.repertoire.graph import Node
from trainer.repertoire.reader import read_repertoire_text
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.editor import Editor
from trainer.repertoire.workshop.merging import extract_sections
from trainer.repertoire.workshop.results import Merged, Pasted
from trainer.repertoire.writer import repertoire_pgn

HEADER = '[Event "One"]\n[RepertoireSide "White"]\n\n'


def editor_of(moves: str) -> Editor:
    return Editor(read_repertoire_text(f"{HEADER}{moves} *"))


def paste(editor: Editor, node: Node, text: str) -> Pasted:
    result = editor.do(edits.Paste(node.key, text))
    assert isinstance(result, Pasted)
    return result


def sans(result: Pasted) -> list[str]:
    return [edge.san for edge in result.added]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 d3 d5 2 Nd2", "d3 d5 Nd2"),
        ("1. d3 d5 2. Nd2 *", "d3 d5 Nd2"),
        ("1.d3 d5 2.Nd2 1-0", "d3 d5 Nd2"),
        ("d3 d5\nNd2", "d3 d5 Nd2"),
        ("1 d3 d5 2 ♘d2!?", "d3 d5 Nd2"),
        ("Nf3 d5 g3 (Nc3 Nf6) Nf6", "Nf3 d5 g3 Nc3 Nf6 Nf6"),
        ("1. d3 1... d5 {a reason} 2. Nd2 $1", "d3 d5 Nd2"),
        ("1 d3 d5 2 Nd2 1 e4 e5", "d3 d5 Nd2 e4 e5"),
        ("1. d3 * 1. e4 *", "d3 e4"),
        ('[Event "A"]\n[White "x"]\n\n1. d3 *\n\n[Event "B"]\n\n1. e4 *', "d3 e4"),
        ("0-0", ""),
    ],
)
def test_texts_as_people_have_them(text: str, expected: str) -> None:
    editor = editor_of("")
    result = paste(editor, editor.repertoire.roots[0], text)
    assert sans(result) == expected.split()
    assert bool(result.skipped) == (not expected)


def test_pasting_in_the_middle_is_one_edit() -> None:
    editor = editor_of("1. Nf3 d5 2. g3")
    before = inside(editor.repertoire)
    node = node_after(editor.repertoire, "Nf3 d5 g3")
    result = paste(editor, node, "{Now} Nf6 {solid} (c5! Bg2) Bg2")
    assert sans(result) == ["Nf6", "c5", "Bg2", "Bg2"]
    first = node.edges[0]
    assert (first.san, first.before, first.comments) == ("Nf6", ("Now",), ("solid",))
    assert node.edges[1].nags == (1,)
    again = read_repertoire_text(repertoire_pgn(editor.repertoire))
    assert described(again.repertoire) == described(editor.repertoire)
    editor.undo()
    assert inside(editor.repertoire) == before


def test_a_game_copied_from_its_first_move_is_added_from_there() -> None:
    editor = editor_of("1. Nf3 d5 2. g3")
    node = node_after(editor.repertoire, "Nf3 d5")
    assert sans(paste(editor, node, "1. Nf3 d5 2. c4 e6")) == ["c4", "e6"]
    # Here the same numbers are those of a fragment.
    assert sans(paste(editor, node, "1. d3 Nf6")) == ["d3", "Nf6"]
    # It cannot begin here, so it begins where it can.
    assert sans(paste(editor, node, "Nf3 c5")) == ["c5"]
    fen = node_after(editor.repertoire, "Nf3").board().fen()
    assert sans(paste(editor, node, f'[FEN "{fen}"]\n\n1... g6 2. e4')) == ["g6", "e4"]
    unknown = '[FEN "4k3/8/8/8/8/8/8/4K2R w - - 0 1"]\n\n1. Rh8+'
    result = paste(editor, node, unknown)
    assert (result.added, len(result.skipped)) == ((), 1)
    assert "not in the repertoire" in result.skipped[0].reason


def test_what_cannot_be_read_is_told_and_the_rest_is_added() -> None:
    editor = editor_of("")
    text = "1. d3 d5\n2. Nd2 (2. Ke3 e5) (2. g3 rubbish) Nf6\n\n1. e4 e5\n2. Qh8 Nc6"
    result = paste(editor, editor.repertoire.roots[0], text)
    assert sans(result) == ["d3", "d5", "Nd2", "g3", "Nf6", "e4", "e5"]
    assert [(one.game, one.line) for one in result.skipped] == [(1, 2), (1, 2), (2, 5)]
    assert "Ke3" in result.skipped[0].reason
    assert "rubbish" in result.skipped[1].reason
    assert "Qh8" in result.skipped[2].reason
    nothing = paste(editor, editor.repertoire.roots[0], "  \n")
    assert [one.reason for one in nothing.skipped] == ["there are no moves in this text"]


def test_pasting_tells_what_joins_known_positions() -> None:
    editor = editor_of("1. d3 d5 2. Nd2 Nf6 3. Ngf3")
    result = paste(editor, editor.repertoire.roots[0], "1. d3 d5 2. Nf3 Nf6 3. Nbd2 g6")
    assert result.known == 2
    ((edge, joined),) = result.joined
    assert edge.san == "Nbd2"
    assert joined.sentence() == "This is the position after 1 d3 d5 2 Nd2 Nf6 3 Ngf3."


@settings(deadline=None, max_examples=60)
@given(seed=st.integers(0, 2**32))
def test_merging_gives_the_moves_of_both(seed: int) -> None:
    rng = random.Random(seed)
    one = read_repertoire_text(TextMaker(rng).file(), side=chess.WHITE)
    other = read_repertoire_text(TextMaker(rng).file(), side=chess.WHITE).repertoire
    both: dict[bytes, dict[str, None]] = {}
    mains: dict[bytes, set[str]] = {}
    for repertoire in (one.repertoire, other):
        for node in repertoire.nodes.values():
            moves = both.setdefault(node.packed, {})
            moves.update(dict.fromkeys(edge.san for edge in node.edges))
            if repertoire.is_decision(node):
                claims = [node.edges[0], *repertoire.claims.get(node, ())]
                mains.setdefault(node.packed, set()).update(edge.san for edge in claims)
    editor = Editor(one)
    sections = len(one.repertoire.sections)
    result = editor.do(edits.Merge.of(other))
    assert isinstance(result, Merged)
    repertoire = editor.repertoire
    assert {
        node.packed: [edge.san for edge in node.edges] for node in repertoire.nodes.values()
    } == {packed: list(moves) for packed, moves in both.items()}
    assert len(repertoire.sections) == sections + len(result.sections)
    assert {node.packed for node in repertoire.conflicts()} == {
        packed for packed, claimed in mains.items() if len(claimed) > 1
    }
    again = read_repertoire_text(repertoire_pgn(repertoire)).repertoire
    # No conflict comes from saving; that all of them last is seen below, on simple files.
    disputed = {node.packed for node in repertoire.conflicts()}
    assert {node.packed for node in again.conflicts()} <= disputed
    assert described(again) | {"conflicts": 0} == described(repertoire) | {"conflicts": 0}
    # A second time, it is all there already.
    result = editor.do(edits.Merge.of(other))
    assert isinstance(result, Merged)
    assert (result.added, result.conflicts) == ((), ())


def test_merged_conflicts_last() -> None:
    editor = editor_of("1. d4 d5 2. c4 e6 (2... c6 3. Nf3)")
    other = read_repertoire_text(
        '[Event "Two"]\n[RepertoireSide "White"]\n\n'
        "1. d4 d5 {why} 2. Nf3 Nf6 (2... c6 3. c4 Nf6 4. e3) *\n\n"
        '[Event "Three"]\n\n1. e4 *'
    ).repertoire
    before = inside(editor.repertoire)
    result = editor.do(edits.Merge.of(other))
    assert isinstance(result, Merged)
    repertoire = editor.repertoire
    assert [section.title for section in result.sections] == ["Two", "Three"]
    assert {
        node: [edge.san for edge in claimed] for node, claimed in repertoire.claims.items()
    } == {
        repertoire.roots[0]: ["d4", "e4"],
        node_after(repertoire, "d4 d5"): ["c4", "Nf3"],
    }
    assert set(result.conflicts) == set(repertoire.claims)
    assert node_after(repertoire, "d4").edges[0].comments == ("why",)
    again = read_repertoire_text(repertoire_pgn(repertoire)).repertoire
    assert described(again) == described(repertoire)
    editor.do(edits.ResolveConflict(node_after(repertoire, "d4 d5").key, "g1f3"))
    again = read_repertoire_text(repertoire_pgn(repertoire)).repertoire
    assert described(again) == described(repertoire)
    editor.undo()
    editor.undo()
    assert inside(editor.repertoire) == before


@settings(deadline=None, max_examples=60)
@given(seed=st.integers(0, 2**32))
def test_splitting_loses_nothing(seed: int) -> None:
    rng = random.Random(seed)
    editor = Editor(read_repertoire_text(TextMaker(rng).file(), side=chess.WHITE))
    repertoire = editor.repertoire
    before = inside(repertoire)
    moves = {(edge.parent.packed, edge.san) for edge in repertoire.edges()}
    numbers = [n for n in range(len(repertoire.sections)) if rng.random() < 0.5]
    split = extract_sections(repertoire, numbers)
    assert inside(repertoire) == before
    titles = [section.title for section in repertoire.sections]
    assert [section.title for section in split.sections] == [titles[n] for n in numbers]
    if len(numbers) < len(titles):
        editor.do(edits.DeleteSections(tuple(numbers)))
        left = {(edge.parent.packed, edge.san) for edge in repertoire.edges()}
    else:
        left = set()
    taken = {(edge.parent.packed, edge.san) for edge in split.edges()}
    assert left | taken == moves
    assert set(reachable(split)) == set(split.nodes.values())
    again = read_repertoire_text(repertoire_pgn(split), side=chess.WHITE)
    after, expected = described(again.repertoire), described(split)
    del after["conflicts"], expected["conflicts"]
    assert after == expected
