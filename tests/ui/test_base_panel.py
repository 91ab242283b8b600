"""The reference base in the window: the panel of a position, its tables, building, one game."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from tests.base_games import GameMaker, game_text
from tests.ui.conftest import MakeWindow
from trainer.games.base.builder import build_base, building_folder
from trainer.games.base.faults import BaseFileError
from trainer.games.base.store import ReferenceBase
from trainer.position import position_key
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.base.desk import BaseDesk
from trainer.ui.base.game_dialog import replay
from trainer.ui.base.panel import PositionPanel
from trainer.ui.base.result_bar import paint_strip
from trainer.ui.base.rows import look_up, shares
from trainer.ui.base.tables import BLACK, DATE, FIRST, GAMES, MOVE, RATING, RESULTS, WHITE
from trainer.ui.look import Look
from trainer.ui.theme import DARK, LIGHT

TIMEOUT = 20_000


@pytest.fixture(scope="module")
def games(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("games") / "games.pgn"
    path.write_text(GameMaker(seed=51).text(300))
    return path


@pytest.fixture(scope="module")
def base_file(games: Path) -> Path:
    path = games.with_name("some.base")
    build_base(path, [games])
    return path


@pytest.fixture
def desk(qtbot: QtBot, tmp_path: Path) -> Iterator[BaseDesk]:
    from PySide6.QtWidgets import QWidget

    window = QWidget()
    qtbot.addWidget(window)
    made = BaseDesk(window, BugLog(tmp_path / "log"), tmp_path / "data")
    (tmp_path / "data").mkdir()
    yield made
    made.close()


@pytest.fixture
def panel(qtbot: QtBot, desk: BaseDesk, base_file: Path) -> PositionPanel:
    made = PositionPanel(desk)
    qtbot.addWidget(made)
    made.resize(700, 600)
    made.show()
    desk.choose(base_file)
    show(qtbot, made, chess.Board())
    return made


def show(qtbot: QtBot, panel: PositionPanel, board: chess.Board) -> None:
    panel.show_position(board)
    qtbot.waitUntil(lambda: panel.found is not None and panel._task is None, timeout=TIMEOUT)


def column(table, number: int) -> list[str]:
    rows = table.rows
    return [rows.data(rows.index(row, number)) for row in range(rows.rowCount())]


def test_what_stands_there(panel: PositionPanel, base_file: Path) -> None:
    with ReferenceBase(base_file) as base:
        expected = base.moves(chess.Board())
        undated = base.undated(position_key(chess.Board()))
    assert panel.status.text().startswith(
        f"300 games reached this position. The year of {undated} are not known."
    )
    assert column(panel.moves, MOVE) == [one.san for one in expected]
    assert column(panel.moves, GAMES) == [str(one.games) for one in expected]
    assert column(panel.moves, RATING) == [
        "–" if one.mean_rating is None else f"{one.mean_rating:.0f}" for one in expected
    ]
    row = panel.moves.rows.row(0)
    assert (row.white, row.draws, row.black) == (
        expected[0].white,
        expected[0].draws,
        expected[0].black,
    )
    assert column(panel.moves, RESULTS)[0] == "{} · {} · {}".format(*row.shares())
    assert f"{expected[0].games:,} games" in row.spoken()
    assert panel.games.rows.rowCount() == 200
    assert panel.listed.text().startswith("200 of the games, the newest first")
    assert not panel.choose.isVisible()


def test_sorting(panel: PositionPanel) -> None:
    moves, games = panel.moves, panel.games
    for number, key in ((MOVE, str.casefold), (GAMES, int)):
        for order in (Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder):
            moves.sortByColumn(number, order)
            values = [key(text) for text in column(moves, number)]
            assert values == sorted(values, reverse=order == Qt.SortOrder.DescendingOrder)
    moves.sortByColumn(FIRST, Qt.SortOrder.AscendingOrder)
    years = [0 if text == "–" else int(text) for text in column(moves, FIRST)]
    assert years == sorted(years)
    moves.sortByColumn(RESULTS, Qt.SortOrder.DescendingOrder)
    rows = [moves.rows.row(number) for number in range(moves.rows.rowCount())]
    scores = [(r.white + r.draws / 2) / max(1, r.white + r.draws + r.black) for r in rows]
    assert scores == sorted(scores, reverse=True)
    for number in (WHITE, BLACK):
        games.sortByColumn(number, Qt.SortOrder.AscendingOrder)
        names = [text.rsplit(" ", 1)[0].casefold() for text in column(games, number)]
        assert names[0] <= names[-1]
    games.sortByColumn(DATE, Qt.SortOrder.DescendingOrder)
    dates = [text for text in column(games, DATE) if text != "–" and "?" not in text]
    assert dates == sorted(dates, reverse=True)


def test_another_position_and_none(qtbot: QtBot, panel: PositionPanel) -> None:
    board = chess.Board()
    board.push_san("e4")
    show(qtbot, panel, board)
    assert "e5" in column(panel.moves, MOVE)
    show(qtbot, panel, chess.Board("4k3/8/8/8/8/8/8/4K3 w - - 0 1"))
    assert panel.status.text() == "No game of the base reached this position within 40 half-moves."
    assert not panel.moves.isVisible()
    assert not panel.games.isVisible()
    panel.show_position(None)
    assert panel.status.text() == ""


def test_a_base_that_cannot_be_read(qtbot: QtBot, panel: PositionPanel, desk: BaseDesk) -> None:
    desk.choose(Path("/nowhere/some.base"))
    qtbot.waitUntil(lambda: "There is no reference base" in panel.status.text(), timeout=TIMEOUT)
    assert panel.choose.isVisible()
    desk.choose(None)
    assert panel.status.text().startswith("No reference base is chosen")
    assert not panel.moves.isVisible()


def test_opening_a_game_shows_it_at_the_position(
    qtbot: QtBot, panel: PositionPanel, desk: BaseDesk
) -> None:
    board = chess.Board()
    board.push_san("e4")
    show(qtbot, panel, board)
    with qtbot.waitSignal(panel.game_chosen, timeout=TIMEOUT) as signal:
        panel.games.setFocus()
        qtbot.keyClick(panel.games, Qt.Key.Key_Return)
    entry = signal.args[0]
    qtbot.waitUntil(lambda: desk.game is not None and desk.game.isVisible(), timeout=TIMEOUT)
    dialog = desk.game
    assert dialog is not None
    qtbot.addWidget(dialog)
    assert entry.white in dialog._title.text()
    assert (dialog.ply, dialog.where.text()) == (1, "After 1 e4")
    qtbot.keyClick(dialog, Qt.Key.Key_Right)
    assert dialog.ply == 2
    qtbot.keyClick(dialog, Qt.Key.Key_Home)
    assert dialog.where.text() == "Before the first move"
    assert not dialog._before.isEnabled()
    qtbot.keyClick(dialog, Qt.Key.Key_End)
    assert not dialog._after.isEnabled()
    assert dialog.ply == len(dialog._game.sans)
    desk.set_look(Settings(base_file=str(desk.path)), Look(DARK, "figurines", 1.0, flipped=False))
    assert any(figurine in dialog.text.text() for figurine in "♔♕♖♗♘")
    assert any(text[0] in "♔♕♖♗♘" for text in column(panel.moves, MOVE))


def test_a_game_whose_file_is_gone(
    qtbot: QtBot, desk: BaseDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "one.pgn"
    file.write_text(game_text({"White": "A", "Black": "B", "Result": "1-0"}, ["e4", "e5"]))
    build_base(tmp_path / "one.base", [file])
    file.unlink()
    desk.choose(tmp_path / "one.base")
    told: list[str] = []
    monkeypatch.setattr("trainer.ui.message.tell", lambda _parent, _title, text: told.append(text))
    with ReferenceBase(tmp_path / "one.base") as base:
        desk.show_game(base.game(1))
    qtbot.waitUntil(lambda: bool(told), timeout=TIMEOUT)
    assert "There is no file" in told[0]
    assert desk.game is None


def test_moves_are_opened_too(qtbot: QtBot, panel: PositionPanel) -> None:
    with qtbot.waitSignal(panel.move_chosen, timeout=TIMEOUT) as signal:
        qtbot.keyClick(panel.moves, Qt.Key.Key_Return)
    assert signal.args == [panel.moves.rows.row(0).move]
    qtbot.keyClick(panel.moves, Qt.Key.Key_End)
    assert panel.moves.currentIndex().row() == panel.moves.rows.rowCount() - 1


@pytest.mark.parametrize("width", [260, 400, 900])
def test_no_column_is_cut(qtbot: QtBot, panel: PositionPanel, width: int) -> None:
    panel.resize(width, 600)
    for table in (panel.moves, panel.games):
        shown = [one for one in range(table.rows.columnCount()) if not table.isColumnHidden(one)]
        assert sum(map(table.columnWidth, shown)) <= max(table.viewport().width(), 260)
        assert shown[0] == 0
    assert panel.moves.isColumnHidden(FIRST) == (width < 600)


# -- choosing and building -----------------------------------------------------------------------


def test_a_build_from_the_dialog(
    qtbot: QtBot, desk: BaseDesk, games: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chosen: list[str] = []
    desk.chosen.connect(chosen.append)
    desk.show_dialog()
    dialog = desk.dialog
    assert dialog is not None
    qtbot.addWidget(dialog)
    assert dialog.which.text() == "No base is chosen."
    assert not dialog.bar.isVisible()
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(games)], ""))
    with qtbot.waitSignal(desk.built, timeout=TIMEOUT) as signal:
        dialog.add.click()
        assert desk.is_building
        assert dialog.bar.isVisible()
        assert not dialog.add.isEnabled()
    assert signal.args[1]
    path = desk.folder / "reference.base"
    assert "300 games added" in dialog.told.text()
    assert chosen == [str(path)]
    qtbot.waitUntil(lambda: dialog.holds.text().startswith("300 games"), timeout=TIMEOUT)
    assert dialog.add.isEnabled()
    dialog.none.click()
    assert chosen[-1] == ""
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    dialog.open.click()
    assert chosen[-1] == str(path)


def test_a_build_is_stopped_and_gone_on_with(
    qtbot: QtBot, desk: BaseDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = GameMaker(seed=52).text(300)
    many = tmp_path / "many.pgn"
    many.write_text("".join(text.replace("Alder", f"Alder{n}") for n in range(120)))
    desk.show_dialog()
    dialog = desk.dialog
    assert dialog is not None
    qtbot.addWidget(dialog)
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(many)], ""))
    with qtbot.waitSignal(desk.built, timeout=120_000) as signal:
        dialog.add.click()
        qtbot.waitUntil(lambda: dialog.bar.value() > 0, timeout=60_000)
        dialog.stop.click()
    assert not signal.args[1]
    assert "will go on from here" in dialog.told.text()
    path = desk.folder / "reference.base"
    assert not path.exists()
    assert building_folder(path).exists()
    assert dialog.go_on.isVisible()
    with qtbot.waitSignal(desk.built, timeout=120_000) as signal:
        dialog.go_on.click()
    assert signal.args[1]
    assert not dialog.go_on.isVisible()
    assert desk.path == path


def test_a_build_that_fails(
    qtbot: QtBot, desk: BaseDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.show_dialog()
    dialog = desk.dialog
    assert dialog is not None
    qtbot.addWidget(dialog)
    monkeypatch.setattr(
        QFileDialog, "getOpenFileNames", lambda *_: ([str(tmp_path / "none.pgn")], "")
    )
    with qtbot.waitSignal(desk.built, timeout=TIMEOUT):
        dialog.add.click()
    assert "There is no file" in dialog.told.text()
    assert desk.path is None


def test_what_was_left_out_is_listed(
    qtbot: QtBot, desk: BaseDesk, base_file: Path, tmp_path: Path
) -> None:
    bad = tmp_path / "bad.pgn"
    bad.write_text('[Event "x"]\n\n1. e4 e5\n2. Ke3 <b>bold</b> *\n')
    build_base(tmp_path / "bad.base", [bad])
    desk.choose(tmp_path / "bad.base")
    desk.show_dialog()
    dialog = desk.dialog
    assert dialog is not None
    qtbot.addWidget(dialog)
    dialog.left.click()
    line = f"{bad}: game 1, line 4: “Ke3” is not a legal move after e5"
    qtbot.waitUntil(lambda: dialog.told.text() == line, timeout=TIMEOUT)
    desk.choose(base_file)
    dialog.left.click()
    qtbot.waitUntil(lambda: dialog.told.text() == "Every game is in the figures.", timeout=TIMEOUT)


def test_a_new_base_replaces_a_file_only_when_told(
    qtbot: QtBot, desk: BaseDesk, games: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.show_dialog()
    dialog = desk.dialog
    assert dialog is not None
    qtbot.addWidget(dialog)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(desk.folder / "mine"), ""))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(games)], ""))
    with qtbot.waitSignal(desk.built, timeout=TIMEOUT):
        dialog.new.click()
    assert desk.path == desk.folder / "mine.base"


# -- in the real window --------------------------------------------------------------------------


def test_a_base_to_be_replaced_stays_where_no_games_are_chosen(
    qtbot: QtBot, desk: BaseDesk, base_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = desk.folder / "mine.base"
    shutil.copy(base_file, old)
    desk.show_dialog()
    dialog = desk.dialog
    assert dialog is not None
    qtbot.addWidget(dialog)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(old), ""))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([], ""))
    qtbot.mouseClick(dialog.new, Qt.MouseButton.LeftButton)
    assert old.read_bytes() == base_file.read_bytes()
    assert not desk.is_building


def test_in_the_window(
    qtbot: QtBot, make_window: MakeWindow, small: Path, base_file: Path, games: Path
) -> None:
    window = make_window(small, base_file=str(base_file), games_files=(str(games),))
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(lambda: place.gathered is not None, timeout=TIMEOUT)
    place._open(place.gathered.entries[0])
    (panel,) = place.page.findChildren(PositionPanel)
    place.page.go(0)
    qtbot.waitUntil(lambda: panel.found is not None and panel._task is None, timeout=TIMEOUT)
    assert panel.found.games == 300
    qtbot.waitUntil(lambda: place.page.novelty.count() > 0, timeout=TIMEOUT)
    place.page.go(2)
    qtbot.waitUntil(lambda: panel.found.games < 300 and panel._task is None, timeout=TIMEOUT)
    window.rooms.base_desk().choose(None)
    assert window.settings.base_file is None
    assert panel.choose.isVisible()


# -- what it is made of --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("counts", "expected"),
    [((1, 1, 1), (34, 33, 33)), ((0, 0, 0), (0, 0, 0)), ((2, 0, 1), (67, 0, 33))],
)
def test_shares(counts: tuple[int, int, int], expected: tuple[int, int, int]) -> None:
    assert shares(*counts) == expected


def test_the_strip_tells_its_parts_apart_without_colour(qtbot: QtBot) -> None:
    for theme in (LIGHT, DARK):
        picture = QImage(300, 20, QImage.Format.Format_RGB32)
        ground, ink = QColor(theme.surface), QColor(theme.ink)
        picture.fill(ground)
        painter = QPainter(picture)
        paint_strip(painter, picture.rect().adjusted(0, 0, -1, -1), (1, 1, 1), ink, ground)
        painter.end()
        inked = [
            sum(picture.pixelColor(x, y) == ink for x in range(left, left + 80) for y in range(19))
            / (80 * 19)
            for left in (10, 110, 210)
        ]
        assert inked[0] < 0.1 < inked[1] < 0.6
        assert inked[2] > 0.95


def test_looking_up_stops_when_nobody_waits(base_file: Path) -> None:
    with ReferenceBase(base_file) as base:
        assert look_up(base, chess.Board(), lambda: True) is None


def test_replay() -> None:
    played = replay("1. e4 e5 2. Nf3 *")
    assert played.sans == ("e4", "e5", "Nf3")
    assert len(played.boards) == 4
    assert replay("").sans == ()


def test_a_base_that_was_just_left_is_closed_with_the_window(
    qtbot: QtBot, panel: PositionPanel, desk: BaseDesk
) -> None:
    left: list[ReferenceBase] = []
    desk.ask(lambda base: base, left.append, pytest.fail)  # type: ignore[arg-type]
    qtbot.waitUntil(lambda: bool(left), timeout=TIMEOUT)
    desk.choose(None)
    desk.close()
    with pytest.raises(BaseFileError):
        left[0].summary()
