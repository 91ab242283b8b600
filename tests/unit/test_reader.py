"""Reading: what a file may hold, and what is told about what cannot be read."""

from __future__ import annotations

import contextlib
import gc
from pathlib import Path

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import RepertoireFileError
from trainer.repertoire.graph import Edge, Repertoire
from trainer.repertoire.reader import (
    LoadedRepertoire,
    ReadingCancelledError,
    read_repertoire,
    read_repertoire_text,
)


def _line(repertoire: Repertoire, *sans: str) -> list[Edge]:
    """The edges of a line from the usual starting position."""
    node = repertoire.nodes[repertoire.roots[0].key]
    edges = []
    for san in sans:
        edge = next(edge for edge in node.edges if edge.san == san)
        edges.append(edge)
        node = edge.child
    return edges


def _sans(loaded: LoadedRepertoire) -> list[str]:
    return [edge.san for edge in loaded.repertoire.edges()]


def _reasons(loaded: LoadedRepertoire) -> list[tuple[int, int, str]]:
    return [(entry.game, entry.line, entry.reason) for entry in loaded.skipped]


def test_orders_that_cross_are_one_position() -> None:
    loaded = read_repertoire_text("1. Nf3 d5 2. g3 Nf6 *\n\n1. g3 d5 2. Nf3 Nf6 3. Bg2 *")
    repertoire = loaded.repertoire
    assert len(repertoire.sections) == 2
    (crossing,) = repertoire.crossings()
    assert crossing is _line(repertoire, "Nf3", "d5", "g3")[-1].child
    assert _sans(loaded).count("Nf6") == 1


def test_comments_nags_and_order_belong_to_the_move() -> None:
    text = (
        "{Opening words.} 1. e4 {after} $1 e5?! ({before} 1... c5 ; to the end\n $14 $1) "
        "2. Nf3 {one\n \n two   words} {three} *\n\n1. e4 {again} {after} $2 *"
    )
    repertoire = read_repertoire_text(text).repertoire
    e4, c5 = _line(repertoire, "e4", "c5")
    assert repertoire.sections[0].intro == ("Opening words.",)
    assert (e4.comments, e4.nags) == (("after", "again"), (1, 2))
    assert (c5.before, c5.comments, c5.nags) == (("before",), ("to the end",), (14, 1))
    (nf3,) = _line(repertoire, "e4", "e5", "Nf3")[2:]
    assert nf3.comments == ("one", "two words", "three")
    assert [edge.san for edge in e4.child.edges] == ["e5", "c5"]
    assert _line(repertoire, "e4", "e5")[-1].nags == (6,)


def test_stands_follow_the_text() -> None:
    repertoire = read_repertoire_text(
        "1. e4 e5 (1... c5 2. Nf3) 2. Nf3 *\n\n1. d4 *\n\n1. e4 e5 2. Nf3 Nc6 *\n\n1. e4 c5 *"
    ).repertoire
    written = [
        [(edge.san, before and before.san) for edge, before in section.stands.items()]
        for section in repertoire.sections
    ]
    assert written[0] == [
        ("e4", None), ("e5", "e4"), ("c5", "e4"), ("Nf3", "c5"), ("Nf3", "e5"),
    ]  # fmt: skip
    assert written[2] == [("e4", None), ("e5", "e4"), ("Nf3", "e5"), ("Nc6", "Nf3")]
    assert written[3] == [("e4", None), ("c5", "e4")]


@pytest.mark.parametrize(
    ("fen", "word", "san"),
    [
        ("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1", "0-0", "O-O"),
        ("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1", "o-o-o", "O-O-O"),
        ("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1", "0-0-0+", "O-O-O"),
        ("8/P6k/8/8/8/8/8/K7 w - - 0 1", "a8Q", "a8=Q"),
        ("8/P6k/8/8/8/8/8/K7 w - - 0 1", "a8(Q)", "a8=Q"),
        ("8/P6k/8/8/8/8/8/K7 w - - 0 1", "a8/N", "a8=N"),
        ("8/P6k/8/8/8/8/8/K7 w - - 0 1", "a7-a8=R", "a8=R"),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "exd6 e.p.", "exd6"),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "exd6e.p.", "exd6"),
        ("4k3/8/8/3p4/4P3/8/8/4K3 w - - 0 1", "ed5", "exd5"),
        (chess.STARTING_FEN, "Ng1f3", "Nf3"),
        (chess.STARTING_FEN, "g1f3", "Nf3"),
        (chess.STARTING_FEN, "e2-e4", "e4"),
        (chess.STARTING_FEN, "♘f3", "Nf3"),
        ("4k3/8/8/8/8/8/8/R3K3 w Q - 0 1", "Ra8", "Ra8+"),
    ],
)
def test_old_and_odd_spellings(fen: str, word: str, san: str) -> None:
    loaded = read_repertoire_text(f'[FEN "{fen}"]\n\n1. {word} *')
    assert loaded.skipped == []
    assert _sans(loaded) == [san]


def test_a_bad_move_loses_only_what_hangs_on_it() -> None:
    text = "1. e4 e5\n2. Qh9 {lost} (2. Nf3 Nc6) 2... a6 (2... b6) 3. a3 (3. b3)\n*"
    loaded = read_repertoire_text(text)
    assert _sans(loaded) == ["e4", "e5", "Nf3", "Nc6"]
    assert _reasons(loaded) == [
        (1, 2, "“Qh9” cannot be read as a move after e5; it and what hangs on it are left out")
    ]


def test_the_siblings_of_a_bad_first_move_are_read() -> None:
    loaded = read_repertoire_text("1. e4 (1. e5 d4) (1. d4 d5) 1... e5 *")
    assert _sans(loaded) == ["e4", "d4", "e5", "d5"]
    assert "“e5” is not a legal move at the start" in loaded.skipped[0].reason


@pytest.mark.parametrize("word", ["--", "Z0", "@@@@"])
def test_null_moves_are_told(word: str) -> None:
    loaded = read_repertoire_text(f"1. e4 {word} 2. d4 (2. c4) *")
    assert _sans(loaded) == ["e4"]
    assert "passes the turn" in loaded.skipped[0].reason


@pytest.mark.parametrize("word", ["Sf3", "Lb5", "Cf3", "nf3", "Pe4x", "xyz"])
def test_letters_of_other_languages_are_told_and_never_read_as_pawns(word: str) -> None:
    loaded = read_repertoire_text(f"1. {word} d5 *")
    assert _sans(loaded) == []
    assert len(loaded.skipped) == 1


def test_an_ambiguous_move_is_told() -> None:
    loaded = read_repertoire_text('[FEN "4k3/8/8/8/8/2N5/8/4K1N1 w - - 0 1"]\n\n1. Ne2 *')
    assert "fits more than one move" in loaded.skipped[0].reason


def test_games_without_a_blank_line_between_them() -> None:
    loaded = read_repertoire_text(
        '[Event "A"]\n1. e4 e5 *\n[Event "B"]\n1. d4\n[Event "C"]\n1. c4 *'
    )
    assert [section.title for section in loaded.repertoire.sections] == ["A", "B", "C"]
    assert loaded.skipped == []


def test_a_second_first_move_begins_a_second_game() -> None:
    loaded = read_repertoire_text("1. e4 e5 2. Nf3\n\n1. d4 d5")
    assert [edge.san for edge in loaded.repertoire.roots[0].edges] == ["e4", "d4"]
    assert len(loaded.repertoire.sections) == 2


def test_bad_roots_are_refused_and_the_rest_is_read() -> None:
    text = (
        '[Event "A"]\n[FEN "nonsense"]\n\n1. e4 *\n\n'
        '[Event "B"]\n[FEN "8/8/8/8/8/8/8/8 w - - 0 1"]\n\n1. e4 *\n\n'
        '[Event "C"]\n[Variant "Atomic"]\n\n1. e4 *\n\n'
        '[Event "D"]\n[FEN "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"]\n\n1. e4 *\n\n'
        '[Event "E"]\n[Variant "Standard"]\n\n1. d4 *\n'
    )
    loaded = read_repertoire_text(text)
    assert [section.title for section in loaded.repertoire.sections] == ["D", "E"]
    assert [(entry.game, entry.line) for entry in loaded.skipped] == [(1, 2), (2, 7), (3, 12)]
    assert len(loaded.repertoire.roots) == 2


def test_a_comment_that_is_not_closed_does_not_swallow_the_next_game() -> None:
    text = '[Event "A"]\n\n1. e4 {never closed\n2. d4\n\n[Event "B"]\n\n1. c4 {fine} e5 *'
    loaded = read_repertoire_text(text)
    assert [section.title for section in loaded.repertoire.sections] == ["A", "B"]
    assert [(entry.game, entry.line) for entry in loaded.skipped] == [(1, 3)]
    assert _line(loaded.repertoire, "c4")[0].comments == ("fine",)


def test_a_closed_comment_may_quote_a_header() -> None:
    loaded = read_repertoire_text('1. e4 {see\n[Event "X"]\n1. d4} e5 *')
    assert loaded.skipped == []
    assert len(loaded.repertoire.sections) == 1
    assert _sans(loaded) == ["e4", "e5"]


def test_escaped_lines_and_braces() -> None:
    loaded = read_repertoire_text("% {\n1. e4 {a { b\n% kept} e5 ; } (\n%( \n2. Nf3 *")
    assert loaded.skipped == []
    assert _sans(loaded) == ["e4", "e5", "Nf3"]
    e4, e5 = _line(loaded.repertoire, "e4", "e5")
    assert (e4.comments, e5.comments) == (("a { b % kept",), ("} (",))


def test_unknown_signs_are_told_and_cost_nothing() -> None:
    loaded = read_repertoire_text("1. e4 $300 $x e5 +- 2. Nf3!!! (2. d4 *")
    assert sorted(_sans(loaded)) == ["Nf3", "d4", "e4", "e5"]
    assert [entry.reason.split(" ")[0] for entry in loaded.skipped] == [
        "“$300”", "“$x”", "“+-”", "“!!!”", "a",
    ]  # fmt: skip


def test_commands_in_brackets_are_text_like_any_other() -> None:
    loaded = read_repertoire_text("1. e4 {[%abc 1,2] look} e5 *")
    assert _line(loaded.repertoire, "e4")[0].comments == ("[%abc 1,2] look",)


# -- the side ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "side", "guessed"),
    [
        ('[RepertoireSide "black"]\n\n1. e4 e5 *', chess.BLACK, False),
        ('[RepertoireSide "WHITE"]\n\n1. e4 e5 *', chess.WHITE, False),
        ("1. e4 e5 (1... c5) (1... e6) 2. Nf3 *", chess.WHITE, True),
        ("1. e4 (1. d4 d5) e5 *", chess.BLACK, True),
        ("1. e4 e5 *", chess.BLACK, True),
        ("1. e4 *", chess.WHITE, True),
        ("", chess.WHITE, True),
    ],
)
def test_the_side(text: str, side: chess.Color, guessed: bool) -> None:
    loaded = read_repertoire_text(text)
    assert (loaded.repertoire.side, loaded.side_guessed) == (side, guessed)
    assert read_repertoire_text(text, side=not side).repertoire.side is not side


def test_a_section_for_the_other_side_is_told() -> None:
    text = '[RepertoireSide "White"]\n\n1. e4 *\n\n[RepertoireSide "Black"]\n\n1. d4 d5 *'
    loaded = read_repertoire_text(text)
    assert loaded.repertoire.side == chess.WHITE
    assert _sans(loaded) == ["e4", "d4", "d5"]
    assert [(entry.game, entry.line) for entry in loaded.skipped] == [(2, 5)]
    assert read_repertoire_text(text, side=chess.BLACK).skipped == []


# -- files -------------------------------------------------------------------------------------

TEXT = '[Event "Ä"]\r\n\r\n1. e4 {Grüße} e5 *\r\n'


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, newline: str) -> None:
    path = tmp_path / "a.pgn"
    path.write_bytes(TEXT.replace("\r\n", newline).encode(encoding))
    loaded = read_repertoire(path)
    assert loaded.repertoire.sections[0].title == "Ä"
    assert _line(loaded.repertoire, "e4")[0].comments == ("Grüße",)
    assert loaded.newline == newline
    assert loaded.skipped == []


def test_an_empty_file_is_a_repertoire_without_sections(tmp_path: Path) -> None:
    path = tmp_path / "empty.pgn"
    path.write_bytes(b"")
    loaded = read_repertoire(path)
    assert loaded.repertoire.nodes == {}
    assert (loaded.repertoire.sections, loaded.skipped) == ([], [])


def test_what_is_no_readable_file_is_told_in_a_sentence(tmp_path: Path) -> None:
    binary = tmp_path / "binary.pgn"
    binary.write_bytes(b"\x00\x01\x02")
    for path in (tmp_path / "missing.pgn", tmp_path, binary, tmp_path / "x\0y"):
        with pytest.raises(RepertoireFileError, match=r"^[^\n]*\.$"):
            read_repertoire(path)


def test_progress_and_cancel() -> None:
    text = "1. Nf3 Nf6 2. Ng1 Ng8 " * 2000
    shares: list[float] = []
    read_repertoire_text(text, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(shares) > 10
    with pytest.raises(ReadingCancelledError):
        read_repertoire_text(text, cancelled=lambda: True)
    assert gc.isenabled()


SCRAPS = [
    *("e4", "e5", "Nf3", "Qh9", "(", ")", "{", "}", ";", "\n", "%", "[Event", '"', "]", "$", "$1"),
    *("!", "?!", "*", "1-0", "1.", "1...", "12.", "--", "O-O", "<x>", "½-½", "\n\n", "{a}"),
    *('[Event "a"]\n', '\n[FEN "x"]\n', "\n%x"),
]


@settings(deadline=None, max_examples=300)
@given(
    words=st.lists(
        st.sampled_from(SCRAPS),
        max_size=60,
    )
)
def test_any_text_is_read_to_its_end(words: list[str]) -> None:
    loaded = read_repertoire_text(" ".join(words))
    for entry in loaded.skipped:
        assert entry.game >= 1
        assert entry.line >= 1
        assert entry.reason


@settings(deadline=None, max_examples=200)
@given(data=st.binary(max_size=300))
def test_any_bytes_are_a_repertoire_or_a_known_error(
    data: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "any.pgn"
    path.write_bytes(data)
    with contextlib.suppress(RepertoireFileError):
        read_repertoire(path)
