"""Whatever a player types comes back from the file as it was taken."""

from __future__ import annotations

import random
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after
from tests.repertoire_texts import TextMaker, described
from tests.workshop_edits import inside
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.editor import Editor
from trainer.repertoire.workshop.results import Pasted
from trainer.repertoire.workshop.text import clean_paragraphs, split_paragraphs
from trainer.repertoire.writer import repertoire_pgn, save_repertoire

TEXT = '[Event "One"]\n[RepertoireSide "White"]\n\n1. Nf3 d5 (1... c5 2. c4) 2. g3 *\n'
#: Much of what means something in PGN, among other characters.
TYPED = st.text(
    st.sampled_from('{}()[];%$"\\\n\r\t \x00\x85\u2028\ufeff\ud800é♘*1.-Nf3e4!?~')
    | st.characters(),
    max_size=60,
)


@settings(deadline=None, max_examples=200)
@given(st.lists(TYPED, max_size=3), TYPED, TYPED)
@example(['[Event "X"]', "a } b { c", "%"], '"', "\\")
@example(["Crossing: goes on in section 1 after 1. Nf3."], "?", "*")
def test_what_is_typed_comes_back(said: list[str], name: str, value: str) -> None:
    editor = Editor(read_repertoire_text(TEXT))
    repertoire = editor.repertoire
    root = repertoire.roots[0]
    for edit in (
        edits.SetComments(root.key, "g1f3", tuple(said)),
        edits.SetBefore(root.key, "g1f3", tuple(said)),
        edits.SetComments(node_after(repertoire, "Nf3 d5").key, "g2g3", tuple(said)),
        edits.SetBefore(node_after(repertoire, "Nf3").key, "c7c5", tuple(said)),
        edits.SetTitle(0, name),
        edits.SetTags(0, (("Event", name), ("Annotator", value), ("White", value))),
        edits.SetIntro(0, tuple(said)),
    ):
        editor.do(edit)
    written = repertoire_pgn(repertoire)
    again = read_repertoire_text(written)
    assert again.skipped == []
    assert described(again.repertoire) == described(repertoire)
    assert written.encode("utf-8").decode("utf-8") == written
    assert "\0" not in written


def test_paragraphs_are_kept_apart_and_cleaned() -> None:
    assert split_paragraphs("One\nline.\n\n  Two\t\r\n \r\nThree\x07!\n") == (
        "One line.",
        "Two",
        "Three !",
    )
    assert clean_paragraphs(("a", " ", "a", "b\x00c")) == ("a", "b c")


def test_odd_characters_are_saved_as_text(tmp_path: Path) -> None:
    editor = Editor(read_repertoire_text(TEXT))
    root = editor.repertoire.roots[0]
    editor.do(edits.SetComments(root.key, "g1f3", ("a\x00b", "\ud800", "ü♘")))
    path = tmp_path / "rep.pgn"
    save_repertoire(editor.repertoire, path, expected=None)
    again = read_repertoire(path)
    assert again.repertoire.roots[0].edges[0].comments == ("a b", "\ufffd", "ü♘")


WORDS = ["1.", "1", "e4", "Nf3", "d5", "Nf6", "O-O", "(", ")", "{", "}", "$3", "!?", ";x\n"]
HEADERS = ["*", "1-0", '\n[Event "A"]\n', '[FEN "8/8/8/8/8/8/8/8 w - - 0 1"]', "\n\n", "--", "%\n"]
PIECES = st.sampled_from([*WORDS, *HEADERS, "Sf3"])


@settings(deadline=None, max_examples=200)
@given(st.integers(0, 2**32), st.lists(PIECES | TYPED, max_size=25))
def test_any_text_can_be_pasted_and_taken_back(seed: int, pieces: list[str]) -> None:
    rng = random.Random(seed)
    editor = Editor(read_repertoire_text(TextMaker(rng).file()))
    repertoire = editor.repertoire
    before = inside(repertoire)
    node = rng.choice(list(repertoire.nodes.values()))
    text = " ".join(pieces) if rng.random() < 0.8 else TextMaker(rng).file()
    moves = sum(len(one.edges) for one in repertoire.nodes.values())
    result = editor.do(edits.Paste(node.key, text))
    assert isinstance(result, Pasted)
    after = sum(len(one.edges) for one in repertoire.nodes.values())
    assert len(result.added) == after - moves
    lines = text.count("\n") + text.count("\r") + 1
    assert all(1 <= one.line <= lines and one.reason for one in result.skipped)
    again = read_repertoire_text(repertoire_pgn(repertoire), side=repertoire.side)
    assert again.skipped == []
    assert described(again.repertoire) | {"conflicts": 0} == described(repertoire) | {
        "conflicts": 0
    }
    editor.undo()
    assert inside(repertoire) == before
