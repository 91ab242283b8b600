"""Any sequence of edits, undone, gives back the same graph, file and progress keys."""

from __future__ import annotations

import io
import random

import chess
import chess.pgn
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after
from tests.repertoire_texts import TextMaker, described, reachable
from tests.workshop_edits import inside, random_edit
from trainer.position import pack_position
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reader import read_repertoire_text
from trainer.repertoire.workshop import codec, edits
from trainer.repertoire.workshop.editor import Editor
from trainer.repertoire.workshop.merging import copy_repertoire
from trainer.repertoire.writer import repertoire_pgn

SEEDS = st.integers(0, 2**32)


def editor_of(rng: random.Random) -> Editor:
    return Editor(read_repertoire_text(TextMaker(rng).file()))


def progress_keys(repertoire: Repertoire) -> list[tuple[int, str]]:
    return [(node.key, node.edges[0].move.uci()) for node in repertoire.decisions()]


def positions_of_python_chess(text: str) -> set[bytes]:
    """The distinct positions that python-chess finds in a PGN text, which has to be sound."""
    stream = io.StringIO(text)
    positions = set()
    while (game := chess.pgn.read_game(stream)) is not None:
        assert game.errors == []
        stack: list[chess.pgn.GameNode] = [game]
        while stack:
            node = stack.pop()
            positions.add(pack_position(node.board()))
            stack += node.variations
    return positions


def check_links(repertoire: Repertoire) -> None:
    """Nodes, edges, entries and sections fit each other, and all can be reached."""
    nodes = set(repertoire.nodes.values())
    assert set(reachable(repertoire)) == nodes
    for node in nodes:
        for edge in node.edges:
            assert edge.parent is node
            assert edge.child in nodes
            assert edge.child.entries.count(edge) == 1
        for edge in node.entries:
            assert edge in edge.parent.edges
            assert edge.child is node
    living = set(repertoire.edges())
    for section in repertoire.sections:
        assert section.stands.keys() <= living
        for place in section.disputes:
            assert living.issuperset(place.path())
    for node, claimed in repertoire.claims.items():
        assert node in nodes
        assert len(claimed) > 1
        assert claimed[0] is node.edges[0]
        assert claimed == [edge for edge in node.edges if edge in claimed]


@settings(deadline=None, max_examples=150)
@given(seed=SEEDS)
def test_undoing_all_gives_back_the_same(seed: int) -> None:
    rng = random.Random(seed)
    editor = editor_of(rng)
    repertoire = editor.repertoire
    first = inside(repertoire), repertoire_pgn(repertoire), progress_keys(repertoire)
    for _ in range(rng.randrange(1, 12)):
        edit = random_edit(repertoire, rng)
        if edit is not None:
            editor.do(edit)
            check_links(repertoire)
    last = inside(repertoire), repertoire_pgn(repertoire), progress_keys(repertoire)
    while editor.undo() is not None:
        check_links(repertoire)
    assert (inside(repertoire), repertoire_pgn(repertoire), progress_keys(repertoire)) == first
    assert not editor.changed
    while editor.redo() is not None:
        pass
    assert (inside(repertoire), repertoire_pgn(repertoire), progress_keys(repertoire)) == last


@settings(deadline=None, max_examples=100)
@given(seed=SEEDS)
def test_every_state_comes_back_however_undo_and_redo_alternate(seed: int) -> None:
    rng = random.Random(seed)
    editor = editor_of(rng)
    states = [inside(editor.repertoire)]
    at = 0
    for _ in range(40):
        choice = rng.random()
        if choice < 0.4:
            edit = random_edit(editor.repertoire, rng)
            before = editor.undoable
            if edit is not None:
                editor.do(edit)
            if editor.undoable is not before:
                at += 1
                del states[at:]
                states.append(inside(editor.repertoire))
        elif choice < 0.75:
            if editor.undo() is None:
                assert at == 0
            else:
                at -= 1
        elif editor.redo() is None:
            assert at == len(states) - 1
        else:
            at += 1
        assert inside(editor.repertoire) == states[at]


@settings(deadline=None, max_examples=100)
@given(seed=SEEDS)
def test_what_was_edited_is_saved_and_read_again(seed: int) -> None:
    rng = random.Random(seed)
    editor = editor_of(rng)
    for _ in range(rng.randrange(1, 8)):
        edit = random_edit(editor.repertoire, rng)
        if edit is not None:
            editor.do(edit)
    written = repertoire_pgn(editor.repertoire)
    again = read_repertoire_text(written, side=editor.repertoire.side)
    before, after = described(editor.repertoire), described(again.repertoire)
    open_before = {node.packed for node in editor.repertoire.conflicts()}
    assert {node.packed for node in again.repertoire.conflicts()} <= open_before
    del before["conflicts"], after["conflicts"]
    assert again.skipped == []
    assert after == before
    assert repertoire_pgn(again.repertoire) == written
    assert positions_of_python_chess(written) == {
        node.packed for node in editor.repertoire.nodes.values()
    }


@settings(deadline=None, max_examples=60)
@given(seed=SEEDS)
def test_an_edit_made_again_elsewhere_does_the_same(seed: int) -> None:
    rng = random.Random(seed)
    editor = editor_of(rng)
    other = copy_repertoire(editor.repertoire)
    assert inside(other) == inside(editor.repertoire)
    twin = Editor(Editor(editor.loaded).loaded.__class__(other, [], side_guessed=False))
    for _ in range(8):
        edit = random_edit(editor.repertoire, rng)
        if edit is not None:
            editor.do(edit)
            twin.do(codec.decode(codec.encode(edit)))
    assert inside(twin.repertoire) == inside(editor.repertoire)


@settings(deadline=None, max_examples=100)
@given(seed=SEEDS)
def test_deleting_takes_exactly_what_no_root_reaches(seed: int) -> None:
    rng = random.Random(seed)
    editor = editor_of(rng)
    repertoire = editor.repertoire
    found = list(repertoire.edges())
    if not found:
        return
    edge = rng.choice(found)
    # By brute force: everything that can be reached without the move.
    expected = dict.fromkeys(repertoire.roots)
    stack = list(expected)
    while stack:
        for other in stack.pop().edges:
            if other is not edge and other.child not in expected:
                expected[other.child] = None
                stack.append(other.child)
    editor.do(edits.DeleteMove(edge.parent.key, edge.move.uci()))
    assert set(repertoire.nodes.values()) == set(expected)


def test_an_edit_that_does_not_fit_changes_nothing() -> None:
    editor = Editor(read_repertoire_text("1. Nf3 d5 2. g3 *"))
    before = inside(editor.repertoire)
    root = editor.repertoire.roots[0].key
    for wrong in (
        edits.AddMove(root, "e2e5"),
        edits.AddMove(root, "rubbish"),
        edits.AddMove(5, "e2e4"),
        edits.AddMove(root, "e2e4", section=9),
        edits.DeleteMove(root, "e2e4"),
        edits.SetOrder(root, ("e2e4",)),
        edits.SetNags(root, "g1f3", (256,)),
        edits.SetTags(0, (("a b", "c"),)),
        edits.SetTags(0, (("Result", "won"),)),
        edits.AddSection("x", "8/8/8/8/8/8/8/8 w - - 0 1"),
        edits.AddSection("x", "rubbish"),
        edits.MoveSection(0, 1),
        edits.ResolveConflict(root, "g1f3"),
        edits.Merge('[RepertoireSide "Black"]\n\n1. e4 *'),
    ):
        with pytest.raises(edits.EditError, match=r"^[^\n]*[.]$"):
            editor.do(wrong)
        assert inside(editor.repertoire) == before
    assert editor.undoable is None


def test_a_move_that_joins_says_which_position_it_is() -> None:
    text = '[RepertoireSide "White"]\n\n1. d3 d5 2. Nd2 Nf6 3. Ngf3 (3. e4 e5) *'
    editor = Editor(read_repertoire_text(text))
    repertoire = editor.repertoire
    for line, move in (("", "Nf3"), ("Nf3", "d5"), ("Nf3 d5", "d3"), ("Nf3 d5 d3", "nf6")):
        done = editor.do(edits.AddMove.at(node_after(repertoire, line), move))
        assert isinstance(done, edits.Added)
        assert (done.joined, done.existed) == (None, False)
    done = editor.do(edits.AddMove.at(node_after(repertoire, "Nf3 d5 d3 Nf6"), "Nbd2"))
    assert isinstance(done, edits.Added)
    assert done.joined is not None
    assert done.joined.node is node_after(repertoire, "d3 d5 Nd2 Nf6 Ngf3")
    assert done.joined.sentence() == "This is the position after 1 d3 d5 2 Nd2 Nf6 3 Ngf3."
    again = editor.do(
        edits.AddMove.at(node_after(repertoire, "Nf3 d5 d3 Nf6"), chess.Move.from_uci("b1d2"))
    )
    assert isinstance(again, edits.Added)
    assert again.existed
    # Deleting one order leaves what the other one reaches.
    editor.do(edits.DeleteMove(node_after(repertoire, "d3 d5 Nd2 Nf6").key, "g1f3"))
    assert repertoire.node_at(node_after(repertoire, "Nf3 d5 d3 Nf6 Nbd2").board()) is not None
    editor.do(edits.DeleteMove(node_after(repertoire, "Nf3 d5").key, "d2d3"))
    assert [edge.san for edge in node_after(repertoire, "d3 d5 Nd2 Nf6").edges] == ["e4"]


def test_deleting_a_section_keeps_what_others_cross_into() -> None:
    text = """[Event "One"]
[RepertoireSide "White"]

1. d4 d5 2. c4 e6 3. Nc3 Nf6 4. Bg5 (4. Nf3 Be7) *

[Event "Two"]

1. d4 Nf6 2. c4 e6 3. Nc3 d5 *

[Event "Three"]

1. d4 d5 2. Nf3 *
"""
    editor = Editor(read_repertoire_text(text, side=chess.WHITE))
    repertoire = editor.repertoire
    done = editor.do(edits.DeleteSections((0,)))
    assert [section.title for section in repertoire.sections] == ["Two", "Three"]
    assert [edge.san for edge in node_after(repertoire, "d4 d5").edges] == ["Nf3"]
    crossing = node_after(repertoire, "d4 Nf6 c4 e6 Nc3 d5")
    assert [edge.san for edge in crossing.edges] == ["Bg5", "Nf3"]
    # 2 c4, 2…e6, 3 Nc3 and 3…Nf6 of the first section only.
    assert done == edits.Removed(positions=3, moves=4)
    again = read_repertoire_text(repertoire_pgn(repertoire))
    assert described(again.repertoire) == described(repertoire)


def test_making_a_move_the_main_one_settles_a_conflict() -> None:
    text = '[RepertoireSide "White"]\n\n1. d4 d5 2. c4 *\n\n[Event "B"]\n\n1. d4 d5 2. Nf3 *'
    for edit in (edits.MakeMain, edits.ResolveConflict):
        editor = Editor(read_repertoire_text(text))
        node = node_after(editor.repertoire, "d4 d5")
        assert editor.repertoire.conflicts() == [node]
        editor.do(edit(node.key, "g1f3"))
        assert editor.repertoire.conflicts() == []
        again = read_repertoire_text(repertoire_pgn(editor.repertoire)).repertoire
        assert again.conflicts() == []
        assert [edge.san for edge in node_after(again, "d4 d5").edges] == ["Nf3", "c4"]
        editor.undo()
        assert editor.repertoire.conflicts() == [node]


def test_a_repertoire_can_be_emptied_and_begun_anew() -> None:
    text = '[Event "A"]\n[RepertoireSide "White"]\n\n1. Nf3 d5 *\n\n[Event "B"]\n\n1. Nf3 c5 *'
    editor = Editor(read_repertoire_text(text))
    repertoire = editor.repertoire
    before = inside(repertoire)
    editor.do(edits.DeleteSections((0, 1)))
    assert (repertoire.nodes, repertoire.sections, repertoire_pgn(repertoire)) == ({}, [], "")
    editor.do(edits.AddSection("New", "4k3/8/8/8/8/8/4P3/4K3 w - - 0 9"))
    editor.do(edits.AddMove.at(repertoire.roots[0], "e4"))
    again = read_repertoire_text(repertoire_pgn(repertoire))
    assert described(again.repertoire) == described(repertoire)
    assert "9. e4" in repertoire_pgn(repertoire)
    while editor.undo() is not None:
        pass
    assert inside(repertoire) == before
