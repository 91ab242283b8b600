"""The terminal drill as a process, fed with lines as a player would type them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.memory_graphs import node_after
from tests.process import RunStemline
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import utc_now

#: As in the tests of the window, whose grades these are compared with.
SMALL = """[Event "The quiet system"]
[RepertoireSide "White"]
[Result "*"]

1. d3 {The modest start.} d5 2. Nf3 {Develops; g3 is fine as well.} (2. g3 {Also.} 2... Nf6)
2... Nf6 3. g3 {The bishop goes to g2.} *
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "quiet-system.pgn"
    path.write_text(SMALL)
    return path


def logged() -> list[tuple[str, str, str | None]]:
    """What stands in the progress file: kind, prepared move, grade."""
    connection = sqlite3.connect(find_locations().progress_file)
    rows = connection.execute("SELECT kind, move, grade FROM answers ORDER BY id").fetchall()
    connection.close()
    return rows


def lines(*typed: str) -> str:
    return "".join(f"{line}\n" for line in typed)


def drill(stemline: RunStemline, path: Path, *typed: str) -> str:
    done = stemline("drill", path, "--terminal", input=lines(*typed))
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_a_whole_drill(stemline: RunStemline, small: Path) -> None:
    said = drill(stemline, small, "d3", "nf3", "g2g3")
    assert said.startswith("Quiet System\n")
    assert "a few minutes a day" in said
    assert "The modest start." in said
    assert "2 of 3. 1 d3 d5" in said
    assert "3 positions asked, 3 right at once" in said
    assert logged() == [
        ("drill", "d2d3", "clean"),
        ("drill", "g1f3", "clean"),
        ("drill", "g2g3", "clean"),
    ]
    again = drill(stemline, small)
    assert "a few minutes a day" not in again
    assert "Nothing is worth asking now" in again


def test_wrong_corrected_and_back_again(stemline: RunStemline, small: Path) -> None:
    said = drill(stemline, small, "e4", "a3", "d3", "Nf3", "g3", "d3")
    assert "Not e4: the prepared move is d3. Play it now." in said
    assert "The prepared move is d3. Play it now." in said
    assert "White to move, once more" in said
    assert "missed: d3 after the starting position" in said
    assert logged() == [
        ("drill", "d2d3", "missed"),
        ("drill", "g1f3", "clean"),
        ("drill", "g2g3", "clean"),
        ("repeat", "d2d3", "clean"),
    ]


def test_a_miss_recalls_what_tells_look_alikes_apart(
    stemline: RunStemline, tmp_path: Path
) -> None:
    path = tmp_path / "alike.pgn"
    path.write_text(
        '[Event "?"]\n[RepertoireSide "White"]\n\n1. Nf3 d5 2. g3 a6 (2... a5 3. c4) 3. Bg2 *\n'
    )
    drill(stemline, path, "q")
    repertoire = read_repertoire(path).repertoire
    first, second = (node_after(repertoire, f"Nf3 d5 g3 {move}").key for move in ("a6", "a5"))
    with ProgressStore.open(find_locations().progress_file, clock=utc_now) as store:
        store.tell_apart(1, first, second, "With a5 there is no b5.")
    said = drill(stemline, path, "nf3", "g3", "a3", "q")
    assert "With a5 there is no b5." in said
    assert "Not to be taken for the position after 1 Nf3 d5 2 g3 a" in said


def test_hints_and_an_alternative(stemline: RunStemline, small: Path) -> None:
    said = drill(stemline, small, "?", "?", "d3", "g3", "Nf3", "g3", "d3", "Nf3")
    assert "The piece on d2 moves." in said
    assert "From d2 to d3." in said
    assert "g3 is prepared as well; today's main move is Nf3: play it." in said
    assert logged() == [
        ("drill", "d2d3", "hinted"),
        ("drill", "g2g3", "clean"),
        ("repeat", "d2d3", "clean"),
        ("repeat", "g1f3", "clean"),
    ]


def test_skip_flag_false_alarm_and_slip(stemline: RunStemline, small: Path) -> None:
    said = drill(stemline, small, "m", "l", "s", "e4", "u", "Nf3", "q")
    assert "Flagged for later." in said
    assert "This reply is known: find the prepared move." in said
    assert "Skipped: left for another day." in said
    assert "Taken back: play your move." in said
    kinds = [(kind, move, grade) for kind, move, grade in logged()]
    assert kinds == [
        ("false_alarm", "d2d3", None),
        ("skipped", "d2d3", None),
        ("drill", "g1f3", "missed"),
        ("retraction", "g1f3", None),
        ("drill", "g1f3", "clean"),
    ]
    with ProgressStore.open(find_locations().progress_file, clock=utc_now) as store:
        assert len(store.flags(1)) == 1
        assert len(store.answers(1)) == 3


@pytest.mark.parametrize("typed", [["q"], ["quit"], ["end"], []])
def test_the_end_at_once(stemline: RunStemline, small: Path, typed: list[str]) -> None:
    assert "Nothing was asked this time." in drill(stemline, small, *typed)
    assert logged() == []


def test_what_is_no_move(stemline: RunStemline, small: Path) -> None:
    said = drill(stemline, small, "Qh5", "e9", "", "é", "d3", "q")
    assert "“Qh5” is not a legal move here." in said
    assert "1 position asked, 1 right at once" in said
    assert logged() == [("drill", "d2d3", "clean")]


def test_black_sees_his_own_side_at_the_bottom(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "black.pgn"
    path.write_text('[Event "B"]\n[RepertoireSide "Black"]\n\n1. e4 c5 2. Nf3 d6 *\n')
    said = drill(stemline, path, "c5", "q")
    rows = [line for line in said.splitlines() if line[2:3].isdigit() and line[5:6].strip()]
    assert rows[0] == "  1  R N B K Q B N R"
    assert rows[7] == "  8  r n b k q b n r"


def test_the_side_is_asked_once(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "mine.pgn"
    path.write_text('[Event "?"]\n\n1. e4 c5 2. Nf3 d6 3. d4 *\n')
    said = drill(stemline, path, "b", "c5", "q")
    assert "does not say for which side it is prepared. It looks like White." in said
    assert logged() == [("drill", "c7c5", "clean")]
    assert "does not say" not in drill(stemline, path, "d6", "q")


def test_minutes_and_side_on_the_command_line(stemline: RunStemline, small: Path) -> None:
    done = stemline(
        "drill", small, "--terminal", "--minutes", "7", "--side", "black", input=lines("d5", "q")
    )
    assert done.returncode == 0
    assert logged() == [("drill", "d7d5", "clean")]
    connection = sqlite3.connect(find_locations().progress_file)
    assert connection.execute("SELECT minutes FROM sessions").fetchall() == [(7,)]
    connection.close()


def test_what_could_not_be_read_is_told(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "broken.pgn"
    path.write_text('[Event "x"]\n[RepertoireSide "White"]\n\n1. d3 d5 2. Qh7 *\n')
    done = stemline("drill", path, "--terminal", input=lines("d3"))
    assert done.returncode == 0
    assert done.stderr.startswith(f"stemline: {path}: game 1, line 4: ")
    assert "1 position asked" in done.stdout


def test_another_window_keeps_the_answers(stemline: RunStemline, small: Path) -> None:
    drill(stemline, small, "d3", "q")
    with ProgressStore.open(find_locations().progress_file, clock=utc_now):
        done = stemline("drill", small, "--terminal", input=lines("Nf3", "m", "q"))
    assert done.returncode == 0
    assert "to read only: answers given here are forgotten." in done.stderr
    assert "a few minutes a day" not in done.stdout
    assert "Nothing is kept in this window, so a flag would be lost." in done.stdout
    assert logged() == [("drill", "d2d3", "clean")]


def test_a_progress_folder_that_cannot_be_made(
    stemline: RunStemline, small: Path, stemline_home: Path
) -> None:
    stemline_home.mkdir(exist_ok=True)
    (stemline_home / "data").write_text("in the way")
    done = stemline("drill", small, "--terminal", input=lines("d3", "q"))
    assert done.returncode == 0
    assert done.stderr.count("\n") == 1
    assert "Answers given here are forgotten." in done.stderr
    assert "1 position asked, 1 right at once" in done.stdout


def test_a_damaged_progress_file_is_kept_aside(stemline: RunStemline, small: Path) -> None:
    path = find_locations().progress_file
    path.parent.mkdir(parents=True)
    path.write_bytes(b"no database " * 1000)
    done = stemline("drill", small, "--terminal", input=lines("d3", "q"))
    assert done.returncode == 0
    assert "was damaged" in done.stderr
    assert logged() == [("drill", "d2d3", "clean")]


def test_an_own_plan_is_told_where_its_structure_occurs(
    stemline: RunStemline, tmp_path: Path
) -> None:
    path = tmp_path / "chain.pgn"
    path.write_text('[RepertoireSide "Black"]\n\n1. e4 e6 2. d4 d5 3. e5 c5 {The base.} *\n')
    plans = find_locations().data / "plans.json"
    plans.parent.mkdir(parents=True, exist_ok=True)
    plans.write_text('{"french-advance": "First c5, then f6."}')
    said = drill(stemline, path, "e6", "d5", "c5")
    assert said.count("Plan: First c5, then f6.") == 1
    assert said.index("The base.") < said.index("Plan: First c5")
    plans.write_text("{")
    done = stemline("drill", path, "--terminal", input="")
    assert "plans.json cannot be read" in done.stderr
    assert done.returncode == 0
