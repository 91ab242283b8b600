"""The place Games: what is made ready beforehand, so that nothing waits for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow
from trainer.resources import repertoire_path
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.games.columns import Column
from trainer.ui.games.entries import GameEntry
from trainer.ui.games.page import GamePage
from trainer.ui.games.place import GamesPlace
from trainer.ui.look import Look
from trainer.ui.main_window import MainWindow
from trainer.ui.tasks import TaskRunner
from trainer.ui.theme import DARK

DEMO, GAMES = "kings-indian-attack.pgn", "demo-games.pgn"
PLAYER = "Linden, Mara"


@pytest.fixture
def shown(qtbot: QtBot, make_window: MakeWindow) -> tuple[MainWindow, GamesPlace]:
    """The window at Games with the games of the demo."""
    games = (str(repertoire_path(GAMES)),)
    window = make_window(repertoire_path(DEMO), games_files=games, player=PLAYER)
    qtbot.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(
        lambda: place.gathered is not None and not window._runner.busy(), timeout=30_000
    )
    return window, place


def listed(place: GamesPlace) -> list[GameEntry]:
    model = place.list.table.games
    return [model.entry(row) for row in range(model.rowCount())]


#: What each column is to be sorted by, asked of the game itself.
ASKED: dict[Column, Callable[[GameEntry], object]] = {
    Column.DATE: lambda entry: entry.game.when.sort_key,
    Column.WHITE: lambda entry: entry.game.white.casefold(),
    Column.BLACK: lambda entry: entry.game.black.casefold(),
    Column.OPPONENT: lambda entry: entry.opponent.casefold(),
    Column.RESULT: lambda entry: entry.game.result,
    Column.KNOWN: lambda entry: entry.walk.plies_known,
    Column.LEFT: lambda entry: (
        (
            "line" if entry.walk.departure.at_line_end else entry.walk.departure.by.value,
            entry.walk.departure.ply,
        )
        if entry.walk.departure
        else ("", 0)
    ),
}


def test_every_column_sorts_both_ways(shown: tuple[MainWindow, GamesPlace]) -> None:
    place = shown[1]
    assert set(ASKED) == set(Column)
    first = listed(place)
    assert len(first) > 50
    for column, asked in ASKED.items():
        for order in (Qt.SortOrder.DescendingOrder, Qt.SortOrder.AscendingOrder):
            place.list.table.sortByColumn(column, order)
            down = order == Qt.SortOrder.DescendingOrder
            # Equal ones stay in the order of the list, the newest first.
            assert listed(place) == sorted(first, key=asked, reverse=down), (column, order)  # type: ignore[arg-type]


def test_a_column_is_sorted_once(shown: tuple[MainWindow, GamesPlace]) -> None:
    table = shown[1].list.table
    resets: list[bool] = []
    table.games.modelReset.connect(lambda: resets.append(True))
    table.sortByColumn(Column.OPPONENT, Qt.SortOrder.AscendingOrder)
    assert len(resets) == 1
    table.sortByColumn(Column.OPPONENT, Qt.SortOrder.AscendingOrder)
    assert len(resets) == 1
    table.sortByColumn(Column.OPPONENT, Qt.SortOrder.DescendingOrder)
    assert len(resets) == 2


def test_the_board_of_a_game_is_drawn_before_the_first_is_opened(
    qtbot: QtBot, shown: tuple[MainWindow, GamesPlace]
) -> None:
    place = shown[1]
    board = place.page.board
    qtbot.waitUntil(lambda: place._prepared and not place._turns.active)
    assert not place.page.isVisible()
    size = board.size()
    assert list(board.prepare()) == []
    place._open(listed(place)[0])
    qtbot.waitUntil(board.isVisible)
    qtbot.wait(50)  # what wraps anew has been laid out
    # As large as was thought; else all would be drawn once more.
    assert board.size() == size


@pytest.mark.parametrize("steps", [0, 1, 2, 3])
def test_the_page_is_whole_where_it_is_wanted_before_it_is_made(qtbot: QtBot, steps: int) -> None:
    furnished: list[GamePage] = []

    def furnish(page: GamePage) -> Iterator[None]:
        furnished.append(page)
        yield
        furnished.append(page)

    place = GamesPlace(TaskRunner(BugLog(find_locations().log_file)), furnish=furnish)
    qtbot.addWidget(place)
    assert place._page is None
    place.set_look(Settings(), Look(DARK, "letters", 1.0, flipped=False))
    for _ in range(steps):
        next(place._making)
    page = place.page
    assert furnished == [page, page]
    assert place.page is page
    assert page.board._theme == DARK
    assert place._stack.indexOf(page) >= 0
    place._runner.close()


def test_a_game_can_be_opened_before_its_page_is_made(
    qtbot: QtBot, shown: tuple[MainWindow, GamesPlace]
) -> None:
    place = shown[1]
    place._turns.cancel()
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    assert place.page_shown is place.page
    assert place.page.entry is listed(place)[0]
    assert place.page.base_slot.count() == 2
    qtbot.keyClick(place.page.ribbon, Qt.Key.Key_Escape)
    assert place.page_shown is None


def test_evaluations_are_opened_before_the_first_game_asks_for_them(
    shown: tuple[MainWindow, GamesPlace],
) -> None:
    adviser = shown[0].rooms._means.engine.adviser
    assert adviser._cache is not None


def test_evaluations_are_not_opened_behind_the_end(
    shown: tuple[MainWindow, GamesPlace],
) -> None:
    window = shown[0]
    adviser = window.rooms._means.engine.adviser
    window.close()
    adviser.get_ready()
    assert adviser._cache is None
