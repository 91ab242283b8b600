"""The two tables of the panel, sorted by any column: moves with their results, and games."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final, Generic, TypeVar

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from trainer.notation.display import shown_san
from trainer.ui.base.result_bar import WIDEST_SHARES, ResultDelegate
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.games.base.figures import GameEntry
    from trainer.ui.base.rows import MoveRow

_Index = QModelIndex | QPersistentModelIndex
_Row = TypeVar("_Row")

MOVE, GAMES, RESULTS, RATING, FIRST, LAST = range(6)
DATE, WHITE, BLACK, RESULT, EVENT = range(5)
_SHOWN_RESULTS: Final = {"1/2-1/2": "½–½", "1-0": "1–0", "0-1": "0–1", "*": "–"}
_NOTHING: Final = "–"
#: What a column is sorted by where a value is not known: below all that are.
_LOWEST: Final = -1


class RowsModel(QAbstractTableModel, Generic[_Row]):
    """Rows in an order; what a column shows, and is sorted by, is told by functions."""

    def __init__(
        self,
        titles: Sequence[str],
        keys: Sequence[Callable[[_Row], Any]],
        text: Callable[[_Row, int], str],
        spoken: Callable[[_Row], str],
        sorted_by: tuple[int, bool],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._titles, self._keys, self._text, self._spoken = titles, keys, text, spoken
        self._given: Sequence[_Row] = ()
        self._rows: list[_Row] = []
        self._column, self._down = sorted_by

    def set_rows(self, rows: Sequence[_Row]) -> None:
        """Show these rows instead."""
        self._given = rows
        self._refill()

    def row(self, number: int) -> _Row:
        """The row that stands there now."""
        return self._rows[number]

    def _refill(self) -> None:
        self.beginResetModel()
        # Equal ones stay in the order in which they were given.
        self._rows = sorted(self._given, key=self._keys[self._column], reverse=self._down)
        self.endResetModel()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        self._column, self._down = column, order == Qt.SortOrder.DescendingOrder
        self._refill()

    def rowCount(self, parent: _Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self._rows)

    def columnCount(self, parent: _Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self._titles)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return self._titles[section]
        return None

    def data(self, index: _Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._rows):
            return None
        row = self._rows[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            text = self._text(row, index.column())
            # A tooltip that looks like markup would be read as such.
            return text if role == Qt.ItemDataRole.DisplayRole else text.replace("<", "‹")
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._spoken(row)
        if role == Qt.ItemDataRole.UserRole:
            return row
        return None


class RowTable(QTableView):
    """A plain list of rows; arrows choose, Enter or a double press opens."""

    opened = Signal(object)
    #: Rows have another height than before.
    measured = Signal()

    def __init__(self, model: RowsModel, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = model
        self.setModel(model)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setMinimumSectionSize(10)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.setAccessibleName(name)
        self.setMinimumSize(60, 60)
        self.doubleClicked.connect(self._open)

    def set_look(self, _look: Look) -> None:
        """Draw in another look."""
        self._measure()

    def _measure(self) -> None:
        row = round(self.fontMetrics().height() * 1.6)
        header = self.verticalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setMinimumSectionSize(row)
        header.setDefaultSectionSize(row)
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            # The style sheet sets the type after the look was set.
            self._measure()
            self.measured.emit()

    def set_rows(self, rows: Sequence[Any]) -> None:
        """Show these rows instead, the first chosen."""
        self.rows.set_rows(rows)
        if rows:
            self.setCurrentIndex(self.rows.index(0, 0))

    def current(self) -> Any:
        """The chosen row, None without one."""
        index = self.currentIndex()
        return self.rows.row(index.row()) if index.isValid() else None

    def height_of(self, rows: int) -> int:
        """How high so many rows are with their header."""
        row = self.verticalHeader().defaultSectionSize()
        return self.horizontalHeader().sizeHint().height() + rows * row + 2 * self.frameWidth() + 2

    def sizeHint(self) -> QSize:
        return QSize(200, self.height_of(4))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open(self.currentIndex())
        elif event.key() in (Qt.Key.Key_Home, Qt.Key.Key_End):
            last = self.rows.rowCount() - 1
            self.setCurrentIndex(self.rows.index(0 if event.key() == Qt.Key.Key_Home else last, 0))
        else:
            super().keyPressEvent(event)

    def _open(self, index: _Index) -> None:
        if index.isValid():
            self.opened.emit(self.rows.row(index.row()))

    def _wanted(self) -> dict[int, int]:
        raise NotImplementedError

    def _dropped(self) -> Sequence[int]:
        """The columns that go first where room is scarce."""
        raise NotImplementedError

    def _growing(self) -> Sequence[int]:
        """The columns that share the room left over."""
        raise NotImplementedError

    def _width_of(self, *texts: str) -> int:
        metrics = self.fontMetrics()
        pad = 2 * metrics.averageCharWidth() + 6
        return max(metrics.horizontalAdvance(text) for text in texts) + pad

    def _fit(self) -> None:
        """Share out the room, and hide columns where it is scarce."""
        room, wanted = self.viewport().width(), self._wanted()
        hidden: set[int] = set()
        for column in self._dropped():
            if sum(width for one, width in wanted.items() if one not in hidden) > room:
                hidden.add(column)
        shown = [column for column in wanted if column not in hidden]
        growing = [column for column in self._growing() if column in shown]
        spare = room - sum(wanted[column] for column in shown)
        for column in wanted:
            self.setColumnHidden(column, column in hidden)
        for column in shown:
            width = wanted[column]
            if column in growing:
                width = max(40, width + spare // len(growing))
            self.setColumnWidth(column, width)


class MoveTable(RowTable):
    """The moves that were played in a position."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        self._notation = look.notation
        model: RowsModel[MoveRow] = RowsModel(
            ("Move", "Games", "Results %", "Rating", "First", "Last"),
            (
                lambda row: row.san.casefold(),
                lambda row: row.games,
                lambda row: (
                    (2 * row.white + row.draws) / max(1, 2 * (row.white + row.draws + row.black))
                ),
                lambda row: row.rating or _LOWEST,
                lambda row: row.first_year or _LOWEST,
                lambda row: row.last_year or _LOWEST,
            ),
            self._text,
            lambda row: row.spoken(),
            (GAMES, True),
        )
        super().__init__(model, "Moves played in this position", parent)
        model.setParent(self)
        self._delegate = ResultDelegate(look.theme, self)
        self.setItemDelegateForColumn(RESULTS, self._delegate)
        self.setSortingEnabled(True)
        self.sortByColumn(GAMES, Qt.SortOrder.DescendingOrder)
        self.set_look(look)

    def set_look(self, look: Look) -> None:
        self._notation = look.notation
        self._delegate.theme = look.theme
        super().set_look(look)
        self.viewport().update()

    def _text(self, row: MoveRow, column: int) -> str:
        if column == RESULTS:
            return "{} · {} · {}".format(*row.shares())
        return (
            shown_san(row.san, self._notation),
            f"{row.games:,}",
            "",
            _NOTHING if row.rating is None else f"{row.rating:.0f}",
            str(row.first_year or _NOTHING),
            str(row.last_year or _NOTHING),
        )[column]

    def _wanted(self) -> dict[int, int]:
        arrow = "  ▾"
        return {
            MOVE: self._width_of("Move" + arrow, "Nb1xd2+"),
            GAMES: self._width_of("Games" + arrow, "999,999"),
            RESULTS: self._width_of(WIDEST_SHARES) + 56,
            RATING: self._width_of("Rating" + arrow),
            FIRST: self._width_of("First" + arrow),
            LAST: self._width_of("Last" + arrow),
        }

    def _dropped(self) -> Sequence[int]:
        return FIRST, RATING, LAST

    def _growing(self) -> Sequence[int]:
        return (RESULTS,)


class GamesTable(RowTable):
    """Games of the base that reached a position."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        model: RowsModel[GameEntry] = RowsModel(
            ("Date", "White", "Black", "Result", "Event"),
            (
                lambda game: "" if game.date.startswith("?") else game.date.replace("?", "9"),
                lambda game: game.white.casefold(),
                lambda game: game.black.casefold(),
                lambda game: game.result,
                lambda game: game.event.casefold(),
            ),
            self._text,
            lambda game: f"{game.title()}, {game.result}",
            (DATE, True),
        )
        super().__init__(model, "Games that reached this position", parent)
        model.setParent(self)
        self.setSortingEnabled(True)
        self.sortByColumn(DATE, Qt.SortOrder.DescendingOrder)
        self.set_look(look)

    @staticmethod
    def _text(game: GameEntry, column: int) -> str:
        return (
            _NOTHING if game.date.startswith("?") else game.date.replace(".", "-"),
            _player(game.white, game.white_rating),
            _player(game.black, game.black_rating),
            _SHOWN_RESULTS[game.result],
            game.event,
        )[column]

    def _wanted(self) -> dict[int, int]:
        letter = self.fontMetrics().averageCharWidth()
        return {
            DATE: self._width_of("0000-00-00"),
            WHITE: 18 * letter,
            BLACK: 18 * letter,
            RESULT: self._width_of("Result  ▾"),
            EVENT: 16 * letter,
        }

    def _dropped(self) -> Sequence[int]:
        return EVENT, RESULT

    def _growing(self) -> Sequence[int]:
        return WHITE, BLACK, EVENT


def _player(name: str, rating: int) -> str:
    return f"{name or _NOTHING} {rating}" if rating else name or _NOTHING
