"""Sections of the open repertoire in the real window: each step done, undone, written, read."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path

import chess
import chess.pgn
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QDialog, QWidget
from pytestqt.qtbot import QtBot

from tests.ui.boxes import BoxPresser, interpreted_texts
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.writer import repertoire_pgn
from trainer.ui.main_window import MainWindow
from trainer.ui.sections.dialog import SectionsDialog
from trainer.ui.setup.dialog import SetupDialog

LEFT = Qt.MouseButton.LeftButton
TEXT = """[Event "The quiet system"]
[RepertoireSide "White"]

{How it begins.} 1. d3 d5 2. Nf3 Nf6 3. g3 c5 4. Bg2 *

[Event "The <b>other</b> door"]
[RepertoireSide "White"]

1. Nf3 d5 2. d3 {Crossing: the position after 1 d3 d5 2 Nf3} *

[Event "Against the Dutch"]
[RepertoireSide "White"]

1. d3 f5 2. e4 (2. Nf3 Nf6) 2... fxe4 3. dxe4 *
"""
OTHER = """[Event "New ideas"]
[RepertoireSide "White"]

1. d3 d5 2. g3 e5 3. Bg2 *

[Event "One more"]
[RepertoireSide "White"]

1. d3 g6 2. e4 Bg7 3. Ke3 *
"""

Open = Callable[..., SectionsDialog]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "system.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.fixture
def window(
    make_window: Callable[..., MainWindow], file: Path, qtbot: QtBot
) -> Iterator[MainWindow]:
    opened: list[MainWindow] = []
    # Closed before the window, which would else ask about what is not saved.
    first = QWidget()
    qtbot.addWidget(first, before_close_func=lambda _widget: forget(opened[0]))
    opened.append(make_window(file))
    yield opened[0]
    del first


def forget(window: MainWindow) -> None:
    if window.desk is not None:
        window.desk.clear()


@pytest.fixture
def dialog(window: MainWindow, qtbot: QtBot) -> SectionsDialog:
    assert window.desk is not None
    assert window.desk.bench is not None
    made = SectionsDialog(
        window.desk.bench, window._runner, window.settings, window._look(), window
    )
    made.show()
    settle(qtbot, window)
    return made


@pytest.fixture
def presser(qapp: QApplication) -> Iterator[BoxPresser]:
    made = BoxPresser()
    yield made
    made._timer.stop()
    assert made.unexpected == []
    assert made.interpreted == []


def settle(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=10_000)


def titles(dialog: SectionsDialog) -> list[str]:
    return [dialog.list.topLevelItem(n).text(0) for n in range(dialog.list.topLevelItemCount())]


def pgn(window: MainWindow) -> str:
    assert window.desk is not None
    assert window.desk.bench is not None
    return repertoire_pgn(window.desk.bench.repertoire)


def stand_on(dialog: SectionsDialog, row: int) -> None:
    dialog.list.setCurrentItem(dialog.list.topLevelItem(row))


def test_the_list_shows_titles_and_numbers_of_moves(dialog: SectionsDialog) -> None:
    rows = [
        tuple(dialog.list.topLevelItem(number).text(column) for column in range(3))
        for number in range(3)
    ]
    assert rows == [
        ("The quiet system", "7 moves, 4 own", "at the start"),
        ("The <b>other</b> door", "3 moves, 2 own", "at the start"),
        ("Against the Dutch", "7 moves, 4 own", "at the start"),
    ]
    assert dialog.title.text() == "The quiet system"
    assert dialog.intro.toPlainText() == "How it begins."
    assert not interpreted_texts(dialog)


def test_renaming_and_its_undo(dialog: SectionsDialog, window: MainWindow, qtbot: QtBot) -> None:
    before = pgn(window)
    dialog.title.setFocus()
    dialog.title.selectAll()
    qtbot.keyClicks(dialog.title, "The slow system")
    qtbot.keyClick(dialog.title, Qt.Key.Key_Return)
    settle(qtbot, window)
    assert dialog.isVisible()
    assert titles(dialog)[0] == "The slow system"
    assert window.desk.unsaved
    assert "renaming a section" in dialog.undo.toolTip()
    dialog.undo.click()
    settle(qtbot, window)
    assert titles(dialog)[0] == "The quiet system"
    assert dialog.title.text() == "The quiet system"
    assert "Taken back" in dialog.said.text()
    assert pgn(window) == before
    dialog.redo.click()
    settle(qtbot, window)
    assert dialog.title.text() == "The slow system"


def test_an_introduction_of_two_paragraphs_is_one_step(
    dialog: SectionsDialog, window: MainWindow, qtbot: QtBot
) -> None:
    before = pgn(window)
    stand_on(dialog, 2)
    dialog.intro.setFocus()
    qtbot.keyClicks(dialog.intro, "First.")
    dialog.intro.keep()
    settle(qtbot, window)
    for key in (Qt.Key.Key_Return, Qt.Key.Key_Return):
        qtbot.keyClick(dialog.intro, key)
    qtbot.keyClicks(dialog.intro, "Second {braces}.")
    dialog.intro.keep()
    settle(qtbot, window)
    sections = window.desk.bench.repertoire.sections
    assert sections[2].intro == ("First.", "Second {braces}.")
    assert dialog.intro.toPlainText() == "First.\n\nSecond {braces}."
    dialog.undo.click()
    settle(qtbot, window)
    assert pgn(window) == before
    assert dialog.intro.toPlainText() == ""


def test_sections_move_with_keys_and_stay_chosen(
    dialog: SectionsDialog, window: MainWindow, qtbot: QtBot
) -> None:
    before = pgn(window)
    stand_on(dialog, 2)
    dialog.list.setFocus()
    dialog.activateWindow()
    qtbot.waitUntil(dialog.list.hasFocus)
    for _ in range(3):
        qtbot.keyClick(dialog.list, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
        settle(qtbot, window)
    assert titles(dialog)[0] == "Against the Dutch"
    assert dialog.list.current == 0
    assert not dialog.up.isEnabled()
    dialog.down.click()
    settle(qtbot, window)
    assert dialog.list.current == 1
    for _ in range(3):
        dialog.undo.click()
        settle(qtbot, window)
    assert pgn(window) == before


def test_deleting_tells_what_goes_and_is_undone(
    dialog: SectionsDialog, window: MainWindow, qtbot: QtBot, presser: BoxPresser
) -> None:
    before = pgn(window)
    stand_on(dialog, 2)
    presser.press("Keep")
    qtbot.mouseClick(dialog.delete, LEFT)
    qtbot.waitUntil(lambda: len(presser.said) == 1)
    assert "Delete “Against the Dutch”?" in presser.said[0]
    assert "6 moves and 6 positions go with it" in presser.said[0]
    assert pgn(window) == before
    presser.press("Delete")
    dialog.activateWindow()
    dialog.list.setFocus()
    qtbot.waitUntil(dialog.list.hasFocus)
    qtbot.keyClick(dialog.list, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: len(titles(dialog)) == 2, timeout=10_000)
    assert "Gone: 6 positions." in dialog.said.text()
    settle(qtbot, window)
    dialog.undo.click()
    settle(qtbot, window)
    assert pgn(window) == before
    assert len(titles(dialog)) == 3


def test_what_others_cross_into_stays(
    dialog: SectionsDialog, window: MainWindow, qtbot: QtBot, presser: BoxPresser
) -> None:
    # The other door leads into the quiet system, which goes on from there.
    stand_on(dialog, 0)
    presser.press("Delete")
    qtbot.mouseClick(dialog.delete, LEFT)
    qtbot.waitUntil(lambda: len(titles(dialog)) == 2, timeout=10_000)
    settle(qtbot, window)
    board = chess.Board()
    for san in ("Nf3", "d5", "d3", "Nf6", "g3"):
        board.push_san(san)
    assert window.desk.bench.repertoire.node_at(board) is not None


def test_a_new_section_at_the_start_and_at_a_position(
    dialog: SectionsDialog, window: MainWindow, qtbot: QtBot
) -> None:
    before = pgn(window)
    qtbot.mouseClick(dialog.new, LEFT)
    settle(qtbot, window)
    assert titles(dialog)[3] == "New section"
    assert dialog.list.current == 3
    fen = "r1bqkbnr/pppp1ppp/2n5/4p3/4P3/5N2/PPPP1PPP/RNBQKB1R w KQkq - 0 1"

    def answer() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, SetupDialog)
        box.fen.selectAll()
        qtbot.keyClicks(box.fen, fen)
        qtbot.keyClick(box.fen, Qt.Key.Key_Return)

    QTimer.singleShot(0, answer)
    qtbot.mouseClick(dialog.new_here, LEFT)
    settle(qtbot, window)
    assert dialog.list.current == 4
    assert dialog.list.topLevelItem(4).text(2) == "at a position"
    qtbot.keyClicks(dialog.title, "From there")
    qtbot.keyClick(dialog.title, Qt.Key.Key_Return)
    settle(qtbot, window)
    games = io.StringIO(pgn(window))
    read = [chess.pgn.read_game(games) for _ in range(5)]
    assert read[4] is not None
    assert read[4].headers["Event"] == "From there"
    assert read[4].board().fen() == fen
    for _ in range(3):
        dialog.undo.click()
        settle(qtbot, window)
    assert pgn(window) == before


def test_chosen_sections_go_to_a_new_file(
    dialog: SectionsDialog,
    window: MainWindow,
    qtbot: QtBot,
    presser: BoxPresser,
    tmp_path: Path,
) -> None:
    before, target = pgn(window), tmp_path / "dutch.pgn"
    stand_on(dialog, 2)
    presser.press("Delete here")
    dialog.splitter.begin(dialog.list.chosen, target)
    qtbot.waitUntil(lambda: len(titles(dialog)) == 2, timeout=10_000)
    settle(qtbot, window)
    assert "1 section written to dutch.pgn" in presser.said[0]
    part = read_repertoire(target)
    assert [section.title for section in part.repertoire.sections] == ["Against the Dutch"]
    assert part.repertoire.side == chess.WHITE
    assert not part.side_guessed
    assert part.skipped == []
    dialog.undo.click()
    settle(qtbot, window)
    assert pgn(window) == before


def test_a_split_that_cannot_be_written_changes_nothing(
    dialog: SectionsDialog, window: MainWindow, qtbot: QtBot, file: Path, tmp_path: Path
) -> None:
    before = pgn(window)
    dialog.splitter.begin((0,), tmp_path / "none" / "x.pgn")
    settle(qtbot, window)
    assert "could not be saved" in dialog.said.text()
    dialog.splitter.begin((0,), file)
    assert "is the repertoire that is open" in dialog.said.text()
    assert pgn(window) == before
    assert file.read_text(encoding="utf-8") == TEXT


def test_a_merge_tells_first_and_is_one_step(
    dialog: SectionsDialog,
    window: MainWindow,
    qtbot: QtBot,
    presser: BoxPresser,
    tmp_path: Path,
) -> None:
    before, other = pgn(window), tmp_path / "other.pgn"
    assert len(window.desk.bench.repertoire.conflicts()) == 1
    other.write_text(OTHER, encoding="utf-8")
    presser.press("Cancel")
    dialog.merger.begin(other)
    qtbot.waitUntil(lambda: len(presser.said) == 1, timeout=10_000)
    told = presser.said[0]
    # 2 g3, 2…e5, 3 Bg2 and 1…g6, 2 e4, 2…Bg7; twice 1 d3 and once 1…d5 are known.
    assert "It brings 6 new moves in 2 sections" in told
    assert "After 1 d3 d5: Nf3 here, g3 there." in told
    assert "Not read: game 2, line 9" in told
    assert pgn(window) == before
    presser.press("Merge")
    dialog.merger.begin(other)
    qtbot.waitUntil(lambda: len(titles(dialog)) == 5, timeout=10_000)
    settle(qtbot, window)
    assert "Merged: 6 new moves" in dialog.said.text()
    assert len(window.desk.bench.repertoire.conflicts()) == 2
    dialog.undo.click()
    settle(qtbot, window)
    assert pgn(window) == before


def test_what_cannot_be_merged_is_said(
    dialog: SectionsDialog,
    window: MainWindow,
    qtbot: QtBot,
    presser: BoxPresser,
    tmp_path: Path,
    file: Path,
) -> None:
    black = tmp_path / "black.pgn"
    black.write_text('[RepertoireSide "Black"]\n\n1. e4 e5 *\n', encoding="utf-8")
    empty = tmp_path / "empty.pgn"
    empty.write_bytes(b"")
    binary = tmp_path / "binary.pgn"
    binary.write_bytes(b"\x00\xff" * 30)
    for path, part in (
        (black, "black.pgn: It is a repertoire for Black, and the open one is for White"),
        (empty, "empty.pgn has no game"),
        (binary, "is not a text file"),
        (tmp_path / "gone.pgn", "There is no file"),
    ):
        dialog.merger.begin(path)
        settle(qtbot, window)
        assert part in dialog.said.text()
    presser.press("Close")
    dialog.merger.begin(file)
    qtbot.waitUntil(lambda: len(presser.said) == 1, timeout=10_000)
    assert "All that is in it is here already." in presser.said[0]


def test_everything_is_reached_with_tab(dialog: SectionsDialog) -> None:
    chain, here = [], dialog.list
    for _ in range(60):
        chain.append(here)
        here = here.nextInFocusChain()
    for widget in (
        *(dialog.list, dialog.title, dialog.intro, dialog.up, dialog.down, dialog.new),
        *(dialog.new_here, dialog.delete, dialog.split, dialog.merge, dialog.undo),
        *(dialog.redo, dialog.close_button),
    ):
        assert widget in chain
        assert widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        assert widget.accessibleName() or widget.text()


def test_the_menu_opens_it_and_what_is_typed_is_kept_on_closing(
    window: MainWindow, qtbot: QtBot
) -> None:
    seen: list[QDialog] = []

    def answer() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, SectionsDialog)
        seen.append(box)
        stand_on(box, 1)
        box.title.selectAll()
        qtbot.keyClicks(box.title, "Through the knight")
        qtbot.keyClick(box, Qt.Key.Key_Escape)

    QTimer.singleShot(0, answer)
    window._workshop.actions["sections"].trigger()
    assert seen
    settle(qtbot, window)
    assert window.desk.bench.repertoire.sections[1].title == "Through the knight"
    assert window.desk.undoable == "renaming a section"
    window.desk.undo()
    settle(qtbot, window)
    assert window.desk.bench.repertoire.sections[1].title == "The <b>other</b> door"


def test_games_are_imported_from_the_menu_and_merged_or_opened(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    from trainer.ui.importing.dialog import ImportDialog

    games = tmp_path / "games.pgn"
    games.write_text('[White "A"]\n[Black "B"]\n\n1. d3 e6 2. e4 d5 3. Nd2 *\n', encoding="utf-8")

    def answer(*, merge: bool) -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, ImportDialog)
        box.add_files([games])
        qtbot.waitUntil(box.save.isEnabled, timeout=10_000)
        if merge:
            qtbot.mouseClick(box.merge_button, LEFT)
        else:
            box.save_as(tmp_path / "fresh.pgn")
        qtbot.waitUntil(lambda: not box.isVisible(), timeout=10_000)

    QTimer.singleShot(0, lambda: answer(merge=True))
    window.import_games()
    settle(qtbot, window)
    assert [section.title for section in window.desk.bench.repertoire.sections][-1] == "Imported"
    assert "Merged: 4 new moves, 1 known already" in window.statusBar().currentMessage()
    window.desk.undo()
    settle(qtbot, window)
    assert len(window.desk.bench.repertoire.sections) == 3
    QTimer.singleShot(0, lambda: answer(merge=False))
    with qtbot.waitSignal(window.ready, timeout=20_000):
        window.import_games()
    settle(qtbot, window)
    assert window.course is not None
    assert window.course.path == tmp_path / "fresh.pgn"
    assert window.course.side == chess.WHITE


@pytest.mark.parametrize(
    ("appearance", "scale", "size"),
    [("light", 1.0, (560, 640)), ("dark", 1.5, (1000, 700)), ("light", 2.0, (700, 760))],
)
def test_it_fits_small_windows_and_large_type(
    make_window: Callable[..., MainWindow],
    file: Path,
    qapp: QApplication,
    appearance: str,
    scale: float,
    size: tuple[int, int],
) -> None:
    window = make_window(file, appearance=appearance, scale=scale)
    dialog = SectionsDialog(
        window.desk.bench, window._runner, window.settings, window._look(), window
    )
    dialog.resize(*size)
    dialog.show()
    qapp.processEvents()
    assert dialog.width() == size[0]
    for button in (dialog.up, dialog.delete, dialog.split, dialog.close_button):
        assert button.width() >= button.sizeHint().width()
    dialog.reject()
