"""The import of whole games: files, choices, what comes out, and what becomes of it."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path

import chess
import chess.pgn
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.boxes import interpreted_texts
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.ui.importing.dialog import ImportDialog, OpenRepertoire
from trainer.ui.look import Look
from trainer.ui.tasks import TaskRunner
from trainer.ui.theme import DARK, LIGHT, application_stylesheet

LEFT = Qt.MouseButton.LeftButton


def game(moves: str, white: str = "Ada", black: str = "Bo", result: str = "1-0") -> str:
    return f'[White "{white}"]\n[Black "{black}"]\n[Result "{result}"]\n\n{moves} {result}\n\n'


GAMES = (
    game("1. Nf3 d5 2. g3 Nf6 3. Bg2 e6 4. O-O") * 4
    + game("1. Nf3 d5 2. d4 Nf6 3. c4", result="0-1") * 5
    + game("1. Nf3 c5 2. g3 Nc6 3. Bg2", result="1/2-1/2")
    + game("1. e4 e5 2. Nf3 Nc6", white="Cy", black="Ada", result="0-1") * 3
)

MakeDialog = Callable[..., ImportDialog]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "games.pgn"
    path.write_text(GAMES, encoding="utf-8")
    return path


@pytest.fixture
def runner(qapp: QApplication) -> Iterator[TaskRunner]:
    made = TaskRunner(BugLog(find_locations().log_file))
    yield made
    made.close()


@pytest.fixture
def make(qtbot: QtBot, runner: TaskRunner) -> MakeDialog:
    def build(*paths: Path, opened: OpenRepertoire | None = None) -> ImportDialog:
        look = Look(LIGHT, "letters", 1.0, flipped=False)
        dialog = ImportDialog(runner, look, opened=opened)
        qtbot.addWidget(dialog)
        dialog.show()
        dialog.add_files(paths)
        if paths:
            settle(qtbot, dialog)
        return dialog

    return build


def settle(qtbot: QtBot, dialog: ImportDialog) -> None:
    """Wait until what is wanted was counted."""
    qtbot.waitUntil(lambda: not dialog._pause.isActive() and dialog._task is None, timeout=10_000)


def words(dialog: ImportDialog) -> str:
    return dialog.preview.words.toPlainText()


def saved(qtbot: QtBot, dialog: ImportDialog, path: Path) -> list[Path]:
    dialog.save_as(path)
    qtbot.waitUntil(lambda: not dialog.isVisible(), timeout=10_000)
    return dialog.saved


def test_the_report_stands_there_before_anything_is_saved(make: MakeDialog, file: Path) -> None:
    dialog = make(file)
    assert words(dialog).startswith("13 of 13 games count")
    assert "Main line: 1 Nf3 d5 2 d4" in words(dialog)
    assert "repertoire for White" in words(dialog)
    assert dialog.save.isEnabled()
    assert not dialog.merge_button.isVisible()
    assert not dialog.preview._counting.isVisible()


def test_without_files_it_says_what_to_do(make: MakeDialog) -> None:
    dialog = make()
    assert words(dialog).startswith("Add files of whole games")
    assert not dialog.save.isEnabled()
    dialog._count()
    assert dialog._task is None


def test_a_player_is_picked_and_his_side_follows(
    make: MakeDialog, file: Path, qtbot: QtBot
) -> None:
    dialog = make(file)
    offered = [dialog.choices.player.itemText(n) for n in range(dialog.choices.player.count())]
    assert offered[:2] == ["everybody", "Ada (10 as White, 3 as Black)"]
    dialog.choices.player.setCurrentIndex(offered.index("Bo (0 as White, 10 as Black)"))
    settle(qtbot, dialog)
    assert dialog.choices.wanted_side() == "black"
    assert words(dialog).startswith("10 of 13 games count")
    assert "3 games are not the player's with this colour." in words(dialog)


def test_a_side_that_was_chosen_stays_when_the_name_changes(
    make: MakeDialog, file: Path, qtbot: QtBot
) -> None:
    dialog = make(file)
    side = dialog.choices.side
    side.setFocus()
    qtbot.keyClick(side, Qt.Key.Key_Down)
    assert dialog.choices.wanted_side() == "black"
    dialog.choices._choose_side()
    dialog.choices.player.setCurrentIndex(1)
    settle(qtbot, dialog)
    assert dialog.choices.wanted_side() == "black"
    assert "Main line: 1 e4 e5" in words(dialog)


def test_choices_change_what_comes_out(make: MakeDialog, file: Path, qtbot: QtBot) -> None:
    dialog = make(file)
    choices = dialog.choices
    choices.choice.setCurrentIndex(1)
    settle(qtbot, dialog)
    # 2 g3 won all four games in which it met 1…d5, 2 d4 none of five.
    assert "Main line: 1 Nf3 d5 2 g3 Nf6 3 Bg2 e6 4 O-O" in words(dialog)
    choices.plies.setValue(3)
    settle(qtbot, dialog)
    assert words(dialog).endswith("Main line: 1 Nf3 d5 2 g3")
    choices.plies.setValue(24)
    choices.share.setValue(50)
    settle(qtbot, dialog)
    assert "1 reply was left out: played too seldom." in words(dialog)
    choices.share.setValue(0)
    choices.lines.setValue(1)
    settle(qtbot, dialog)
    assert "giving 1 line." in words(dialog)
    assert "because of the limit of lines" in words(dialog)


def test_a_typed_name_that_nobody_has_is_told(make: MakeDialog, file: Path, qtbot: QtBot) -> None:
    dialog = make(file)
    dialog.choices.player.setEditText("Nobody <b>here</b>")
    settle(qtbot, dialog)
    assert words(dialog) == (
        "No game in these files is one of Nobody <b>here</b>; check the name."
    )
    assert not interpreted_texts(dialog)
    assert not dialog.save.isEnabled()
    dialog.choices.player.setEditText("ADA")
    settle(qtbot, dialog)
    assert dialog.save.isEnabled()
    assert words(dialog).startswith("10 of 13")


def test_both_colours_need_a_player_and_give_two_files(
    make: MakeDialog, file: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    dialog = make(file)
    dialog.choices.side.setCurrentIndex(2)
    settle(qtbot, dialog)
    assert words(dialog).startswith("Choose the player")
    dialog.choices.player.setCurrentIndex(1)
    dialog.choices.side.setCurrentIndex(2)
    settle(qtbot, dialog)
    assert words(dialog).startswith("With White\n10 of 13")
    assert "With Black\n3 of 13" in words(dialog)
    taken = tmp_path / "mine-black.pgn"
    taken.write_text("kept", encoding="utf-8")
    dialog.save_as(tmp_path / "mine.pgn")
    assert dialog.said.text() == "There is a file mine-black.pgn already; choose another name."
    assert taken.read_text(encoding="utf-8") == "kept"
    taken.unlink()
    paths = saved(qtbot, dialog, tmp_path / "mine.pgn")
    assert [path.name for path in paths] == ["mine-white.pgn", "mine-black.pgn"]
    sides = [read_repertoire(path).repertoire.side for path in paths]
    assert sides == [chess.WHITE, chess.BLACK]


def test_what_is_saved_is_read_by_python_chess_and_says_its_side(
    make: MakeDialog, file: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    dialog = make(file)
    dialog.choices.title.setText("From my games")
    dialog.choices.title.editingFinished.emit()
    settle(qtbot, dialog)
    (path,) = saved(qtbot, dialog, tmp_path / "new.pgn")
    with path.open(encoding="utf-8") as stream:
        first = chess.pgn.read_game(stream)
    assert first is not None
    assert first.errors == []
    assert first.headers["RepertoireSide"] == "White"
    assert first.headers["Event"] == "From my games"
    assert [first.board().san(move) for move in list(first.mainline_moves())[:1]] == ["Nf3"]
    loaded = read_repertoire(path)
    assert not loaded.side_guessed
    assert loaded.skipped == []


def test_several_files_count_together(make: MakeDialog, file: Path, tmp_path: Path) -> None:
    other = tmp_path / "more.pgn"
    other.write_text(game("1. c4 e5 2. g3") * 30, encoding="utf-16")
    dialog = make(file, other, file)
    assert dialog.files.paths == (file, other)
    assert words(dialog).startswith("43 of 43 games count")
    assert "Main line: 1 c4 e5 2 g3" in words(dialog)


def test_files_are_dropped_and_taken_off(make: MakeDialog, file: Path, qtbot: QtBot) -> None:
    dialog = make()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(file)), QUrl("https://example.org/x.pgn")])
    action, none = Qt.DropAction.CopyAction, Qt.KeyboardModifier.NoModifier
    event = QDropEvent(QPointF(5, 5), action, data, LEFT, none)
    dialog.files.dropEvent(event)
    settle(qtbot, dialog)
    assert dialog.save.isEnabled()
    dialog.files.list.setFocus()
    dialog.files.list.setCurrentRow(0)
    qtbot.keyClick(dialog.files.list, Qt.Key.Key_Delete)
    assert dialog.files.paths == ()
    assert words(dialog).startswith("Add files")
    assert not dialog.save.isEnabled()


def test_all_of_it_from_the_keyboard(
    make: MakeDialog, file: Path, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The system's own file dialogs cannot be driven offscreen; they are asked as always.
    target = tmp_path / "by-keys"
    asked = "trainer.ui.importing.{}.QFileDialog.{}"
    monkeypatch.setattr(
        asked.format("files", "getOpenFileNames"), lambda *_args: ([str(file)], "")
    )
    monkeypatch.setattr(
        asked.format("dialog", "getSaveFileName"), lambda *_args: (str(target), "")
    )
    dialog = make()
    qtbot.waitUntil(dialog.files.add.hasFocus)
    qtbot.keyClick(dialog.files.add, Qt.Key.Key_Space)
    settle(qtbot, dialog)
    chain, here = [], dialog.files.add
    for _ in range(80):
        chain.append(here)
        here = here.nextInFocusChain()
    choices = dialog.choices
    for widget in (choices.player, choices.side, choices.plies, choices.share, choices.lines):
        assert widget in chain
        assert widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    choices.plies.setFocus()
    choices.plies.selectAll()
    qtbot.keyClicks(choices.plies, "4")
    qtbot.keyClick(choices.plies, Qt.Key.Key_Return)
    assert dialog.isVisible()
    settle(qtbot, dialog)
    assert words(dialog).endswith("Main line: 1 Nf3 d5 2 d4")
    qtbot.keyClick(dialog.save, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not dialog.isVisible())
    assert dialog.saved == [tmp_path / "by-keys.pgn"]
    assert read_repertoire(dialog.saved[0]).repertoire.side == chess.WHITE


def test_games_for_the_open_side_can_be_merged(make: MakeDialog, file: Path, qtbot: QtBot) -> None:
    dialog = make(file, opened=OpenRepertoire("My system", chess.WHITE, None))
    assert dialog.merge_button.isVisible()
    assert dialog.merge_button.isEnabled()
    assert "My system" in dialog.merge_button.toolTip()
    dialog.choices.side.setCurrentIndex(1)
    settle(qtbot, dialog)
    assert not dialog.merge_button.isEnabled()
    dialog.choices.side.setCurrentIndex(0)
    settle(qtbot, dialog)
    qtbot.mouseClick(dialog.merge_button, LEFT)
    qtbot.waitUntil(lambda: not dialog.isVisible())
    assert dialog.saved == []
    assert dialog.merge is not None
    read = chess.pgn.read_game(io.StringIO(dialog.merge.pgn))
    assert read is not None
    assert read.errors == []


# -- bad input --------------------------------------------------------------------------------


def test_unreadable_games_are_named_by_file_game_and_line(
    make: MakeDialog, file: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.pgn"
    broken.write_text(
        game("1. Nf3 d5") + game("1. Nf3 d5 2. Ke4 d4") + game("1. Nf3 {never closed"),
        encoding="utf-8",
    )
    dialog = make(file, broken)
    assert "2 games could not be read in full." in words(dialog)
    assert "broken.pgn, game 2, line 11: “Ke4” is not a legal move after d5" in words(dialog)
    assert "broken.pgn, game 3, line 17: a comment is not closed" in words(dialog)
    assert dialog.save.isEnabled()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "There is no game with moves"),
        (b"dear diary,\nno chess today\n", "There is no game with moves"),
        (b"\x00\x01\x02\xff" * 50, "is not a text file"),
        (game("1. e4 e5").encode("utf-16"), "1 of 1 games count"),
        (game("1. e4 e5", white="Jos\xe9").encode("cp1252"), "1 of 1 games count"),
        (b'[FEN "4k3/8/8/8/8/8/8/4K3 w - - 0 1"]\n\n1. Kd2 *\n', "There is no game with moves"),
    ],
)
def test_whatever_the_file_is_one_sentence_says_it(
    make: MakeDialog, tmp_path: Path, data: bytes, said: str
) -> None:
    path = tmp_path / "odd.pgn"
    path.write_bytes(data)
    dialog = make(path)
    assert said in words(dialog)
    assert dialog.save.isEnabled() == said.startswith("1 of")


def test_a_file_that_has_gone_is_named(make: MakeDialog, tmp_path: Path, file: Path) -> None:
    dialog = make(tmp_path / "gone.pgn", file)
    assert "There is no file" in words(dialog)
    assert "gone.pgn" in words(dialog)
    assert not dialog.save.isEnabled()


def test_a_target_that_cannot_be_written_is_told_and_nothing_is_lost(
    make: MakeDialog, file: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    dialog = make(file)
    dialog.save_as(tmp_path / "no-such-folder" / "new.pgn")
    qtbot.waitUntil(lambda: dialog._task is None)
    assert "could not be saved" in dialog.said.text()
    assert dialog.isVisible()
    assert dialog.save.isEnabled()
    assert dialog.choices.isEnabled()
    assert saved(qtbot, dialog, tmp_path / "new.pgn") == [tmp_path / "new.pgn"]


def test_a_folder_is_no_target(make: MakeDialog, file: Path, tmp_path: Path, qtbot: QtBot) -> None:
    dialog = make(file)
    dialog.save_as(tmp_path)
    qtbot.waitUntil(lambda: dialog._task is None)
    assert "could not be saved" in dialog.said.text()
    assert dialog.isVisible()


def test_neither_the_games_nor_the_open_file_are_written_over(
    make: MakeDialog, file: Path, tmp_path: Path
) -> None:
    opened = tmp_path / "open.pgn"
    opened.write_text("*\n", encoding="utf-8")
    link = tmp_path / "link.pgn"
    link.symlink_to(file)
    dialog = make(file, opened=OpenRepertoire("Open", chess.WHITE, opened))
    for path, part in ((opened, "that is open"), (file, "files of games"), (link, "files of")):
        dialog.save_as(path)
        assert part in dialog.said.text()
        assert dialog.isVisible()
    assert file.read_text(encoding="utf-8") == GAMES
    assert opened.read_text(encoding="utf-8") == "*\n"


def test_counting_can_be_stopped_and_begun_again(
    make: MakeDialog, tmp_path: Path, qtbot: QtBot
) -> None:
    big = tmp_path / "big.pgn"
    big.write_text(GAMES * 400, encoding="utf-8")
    dialog = make()
    dialog.add_files([big])
    qtbot.waitUntil(lambda: dialog.preview.bar.value() > 0, timeout=10_000)
    assert dialog.preview.stop.isVisible()
    qtbot.mouseClick(dialog.preview.stop, LEFT)
    assert words(dialog).startswith("Stopped.")
    assert not dialog.save.isEnabled()
    qtbot.mouseClick(dialog.again, LEFT)
    settle(qtbot, dialog)
    assert words(dialog).startswith("5,200 of 5,200 games count")


def test_closing_stops_the_counting(
    make: MakeDialog, tmp_path: Path, qtbot: QtBot, runner: TaskRunner
) -> None:
    big = tmp_path / "big.pgn"
    big.write_text(GAMES * 400, encoding="utf-8")
    dialog = make()
    dialog.add_files([big])
    qtbot.waitUntil(lambda: dialog.preview.bar.value() > 0, timeout=10_000)
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
    qtbot.waitUntil(lambda: not runner.busy(), timeout=10_000)
    assert words(dialog).startswith("Add files")


@pytest.mark.parametrize(
    ("theme", "scale", "size"),
    [(LIGHT, 1.0, (560, 700)), (DARK, 1.5, (1000, 760)), (LIGHT, 2.0, (660, 740))],
)
def test_it_fits_small_windows_and_large_type(
    qapp: QApplication, qtbot: QtBot, runner: TaskRunner, theme, scale: float, size: tuple
) -> None:
    qapp.setStyle("Fusion")
    qapp.setStyleSheet(application_stylesheet(theme, scale))
    try:
        dialog = ImportDialog(runner, Look(theme, "letters", scale, flipped=False))
        qtbot.addWidget(dialog)
        dialog.resize(*size)
        dialog.show()
        qapp.processEvents()
        assert dialog.width() == size[0]
        for button in (dialog.save, dialog.again, dialog.cancel):
            assert button.width() >= button.sizeHint().width()
        for box in (dialog.choices.share, dialog.choices.player, dialog.choices.title):
            right = box.mapTo(dialog, box.rect().topRight()).x()
            assert right <= dialog.width()
    finally:
        qapp.setStyleSheet("")
