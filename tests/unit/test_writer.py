"""Writing: what is written reads back as the same graph, here and in python-chess."""

from __future__ import annotations

import io
import itertools
import random
from pathlib import Path

import chess
import chess.pgn
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.repertoire_texts import TextMaker, described, reachable
from trainer.errors import FileChangedError, RepertoireFileError
from trainer.position import pack_position
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.writer import repertoire_pgn, save_repertoire

SEEDS = st.integers(0, 2**32)


def _positions_of_python_chess(text: str) -> tuple[set[bytes], list[Exception]]:
    """The distinct positions and the errors that python-chess finds in a PGN text."""
    stream = io.StringIO(text)
    positions: set[bytes] = set()
    errors: list[Exception] = []
    while (game := chess.pgn.read_game(stream)) is not None:
        errors += game.errors
        stack: list[tuple[chess.pgn.GameNode, chess.Board]] = [(game, game.board())]
        while stack:
            node, board = stack.pop()
            positions.add(pack_position(board))
            for variation in node.variations:
                after = board.copy(stack=False)
                after.push(variation.move)
                stack.append((variation, after))
    return positions, errors


def _check_round_trip(repertoire: Repertoire) -> None:
    written = repertoire_pgn(repertoire)
    again = read_repertoire_text(written)
    assert again.skipped == []
    assert described(again.repertoire) == described(repertoire)
    assert repertoire_pgn(again.repertoire) == written
    positions, errors = _positions_of_python_chess(written)
    assert errors == []
    assert positions == {node.packed for node in reachable(repertoire)}


@settings(deadline=None, max_examples=100)
@given(seed=SEEDS)
def test_writing_and_reading_gives_the_same_graph(seed: int) -> None:
    text = TextMaker(random.Random(seed)).file()
    loaded = read_repertoire_text(text)
    assert [entry for entry in loaded.skipped if "marked for" not in entry.reason] == []
    assert set(reachable(loaded.repertoire)) == set(loaded.repertoire.nodes.values())
    _check_round_trip(loaded.repertoire)


@settings(deadline=None, max_examples=40)
@given(seed=SEEDS)
def test_untidy_files_survive_as_well(seed: int) -> None:
    # Here a variation may repeat the main move beside it.
    text = TextMaker(random.Random(seed), tidy=False).file()
    _check_round_trip(read_repertoire_text(text).repertoire)


def _edit(repertoire: Repertoire, rng: random.Random) -> None:
    """A few changes as an editor makes them, with no care for where moves stand."""
    for _ in range(rng.randrange(1, 8)):
        node = rng.choice(list(repertoire.nodes.values()))
        kind = rng.randrange(3)
        if kind == 0:
            rng.shuffle(node.edges)
        elif kind == 1 and node.edges:
            edge = node.edges.pop(rng.randrange(len(node.edges)))
            edge.child.entries.remove(edge)
        else:
            board = node.board()
            moves = [move for move in board.legal_moves if node.edge_for(move) is None]
            if moves:
                move = rng.choice(moves)
                san = board.san(move)
                board.push(move)
                repertoire.add_edge(node, move, repertoire.add_position(board), san)


@settings(deadline=None, max_examples=80)
@given(seed=SEEDS)
def test_an_edited_graph_is_written_in_full(seed: int) -> None:
    rng = random.Random(seed)
    repertoire = read_repertoire_text(TextMaker(rng).file()).repertoire
    repertoire.side = chess.WHITE
    _edit(repertoire, rng)
    written = repertoire_pgn(repertoire)
    again = read_repertoire_text(written)
    assert again.skipped == []
    before, after = described(repertoire), described(again.repertoire)
    # Reordered or shortened decisions may settle a conflict; none may appear.
    open_before = {node.packed for node in repertoire.conflicts()}
    assert {node.packed for node in again.repertoire.conflicts()} <= open_before
    del before["conflicts"], after["conflicts"]
    assert after == before
    assert repertoire_pgn(again.repertoire) == written


def test_depth_and_width_are_no_matter() -> None:
    words = []
    for ply in range(5000):
        move = ("Nf3", "Nf6", "Ng1", "Ng8")[ply % 4]
        words.append(f"{move} ({'a3' if ply == 0 else 'h3'}" if ply % 2 == 0 else move)
    text = "1. e4 " + "( d4 " * 5000 + ")" * 5000 + " *"
    _check_round_trip_of_big_text(text)
    _check_round_trip_of_big_text(" ".join(words) + ")" * 2500 + " *")


def _check_round_trip_of_big_text(text: str) -> None:
    loaded = read_repertoire_text(text)
    written = repertoire_pgn(loaded.repertoire)
    again = read_repertoire_text(written)
    assert described(again.repertoire) == described(loaded.repertoire)


# -- the form of the text ------------------------------------------------------------------------


def _written(text: str) -> str:
    return repertoire_pgn(read_repertoire_text(text).repertoire)


def test_an_empty_repertoire_is_an_empty_file() -> None:
    assert repertoire_pgn(Repertoire()) == ""


def test_lines_are_filled_and_no_line_looks_like_something_else() -> None:
    comment = "[%clk 0:01] %x ;y [Event word " * 40
    text = _written(f'[RepertoireSide "White"]\n\n{{{comment}}} 1. e4 {{{comment}}} e5 *')
    movetext = text.split("\n\n")[1].rstrip().split("\n")
    assert all(len(line) < 80 for line in movetext)
    assert not any(line.startswith(("%", "[", ";")) for line in movetext)
    for line, following in itertools.pairwise(movetext):
        word = following.split(" ")[0]
        if not following.split(" ")[1:2] or following.split(" ")[1][0] not in "[%;":
            assert len(line) + 1 + len(word) >= 80


def test_a_closing_brace_makes_a_comment_to_the_end_of_the_line() -> None:
    text = _written("1. e4 ; so } it is\n e5 *")
    assert "1. e4 ; so } it is\n1... e5 *" in text
    assert _written(text) == text


def test_the_result_tag_is_the_end_mark() -> None:
    assert _written('[Result "1-0"]\n\n1. e4 *').rstrip().endswith("1. e4 1-0")
    assert '[Result "0-1"]' in _written("1. e4 0-1")


def test_a_crossing_is_named_where_the_other_order_ends() -> None:
    text = _written(
        '[Event "One"]\n[RepertoireSide "White"]\n\n1. Nf3 d5 2. g3 Nf6 3. Bg2 *\n\n'
        '[Event "Two"]\n\n1. g3 d5 2. Nf3 Nf6 3. Bg2 *\n'
    )
    assert "2. Nf3 {Crossing: goes on in section 1 after 1. Nf3 d5 2. g3.} *" in text
    assert text.count("Bg2") == 1
    assert _written(text) == text


def test_a_comment_of_the_user_that_looks_like_ours_is_kept() -> None:
    text = _written("1. Nf3 {Crossing: goes on in section 3 after 1. e4.} 1... d5 *")
    assert "{Crossing: goes on in section 3 after 1. e4.}" in " ".join(text.split())


def test_a_conflict_survives_saving_and_no_other_appears() -> None:
    text = (
        '[Event "One"]\n[RepertoireSide "White"]\n\n1. Nf3 d5 2. g3 Nf6 3. Bg2 *\n\n'
        '[Event "Two"]\n\n1. Nf3 d5 2. d4 *\n\n[Event "Three"]\n\n1. Nf3 d5 2. g3 c6 3. Bg2 *'
    )
    repertoire = read_repertoire_text(text).repertoire
    (conflict,) = repertoire.conflicts()
    assert [edge.san for edge in repertoire.claims[conflict]] == ["g3", "d4"]
    _check_round_trip(repertoire)


def test_a_settled_conflict_stays_settled() -> None:
    text = '[RepertoireSide "White"]\n\n1. Nf3 d5 2. g3 *\n\n1. Nf3 d5 2. d4 Nf6 3. c4 *'
    repertoire = read_repertoire_text(text).repertoire
    repertoire.claims.clear()
    again = read_repertoire_text(repertoire_pgn(repertoire)).repertoire
    assert again.conflicts() == []
    assert len(again.nodes) == len(repertoire.nodes)


def test_a_section_of_known_moves_keeps_its_first_line() -> None:
    text = _written('[Event "A"]\n\n1. e4 e5 2. Nf3 *\n\n[Event "B"]\n\n1. e4 e5 *')
    assert '[Event "B"]' in text
    assert "1. e4 e5 {Crossing: goes on in section 1 after 1. e4 e5.} *" in text


# -- saving -------------------------------------------------------------------------------------


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.pgn"
    path.write_bytes(b'[Event "A"]\r\n\r\n1. e4 {caf\xe9} e5 *\r\n')
    return path


def test_saving_keeps_a_backup_and_the_line_ends(file: Path) -> None:
    before = file.read_bytes()
    loaded = read_repertoire(file)
    assert (loaded.encoding, loaded.newline) == ("cp1252", "\r\n")
    fingerprint = save_repertoire(loaded, file, expected=loaded.fingerprint)
    assert file.with_name("mine.pgn.bak").read_bytes() == before
    again = read_repertoire(file)
    assert again.fingerprint == fingerprint
    assert again.newline == "\r\n"
    assert b"caf\xc3\xa9" in file.read_bytes()
    assert described(again.repertoire) == described(loaded.repertoire)
    assert sorted(path.name for path in file.parent.iterdir()) == ["mine.pgn", "mine.pgn.bak"]


def test_a_file_that_another_program_changed_is_not_overwritten(file: Path) -> None:
    loaded = read_repertoire(file)
    file.write_text("1. d4 *")
    with pytest.raises(FileChangedError, match=r"changed by another program.*\.$"):
        save_repertoire(loaded, file, expected=loaded.fingerprint)
    assert file.read_text() == "1. d4 *"
    save_repertoire(loaded, file, expected=None)
    assert "1. e4" in file.read_text()


def test_a_file_that_was_only_touched_counts_as_unchanged(file: Path) -> None:
    loaded = read_repertoire(file)
    file.touch()
    save_repertoire(loaded, file, expected=loaded.fingerprint)


def test_a_place_that_cannot_be_written_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(RepertoireFileError, match=r"could not be saved .*\.$"):
        save_repertoire(Repertoire(), tmp_path / "missing" / "a.pgn", expected=None)


def test_a_full_disk_leaves_the_old_file(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = file.read_bytes()
    loaded = read_repertoire(file)

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(RepertoireFileError, match="No space left"):
        save_repertoire(loaded, file, expected=loaded.fingerprint)
    assert file.read_bytes() == before
    assert [path.name for path in file.parent.iterdir()] == ["mine.pgn"]
