"""The list of games: sorted by any column, filtered by words and by kind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from trainer.ui.games.columns import Column
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.games.departures import Walk
    from trainer.notation.display import Notation
    from trainer.ui.games.entries import GameEntry, Kind

_Index = QModelIndex | QPersistentModelIndex

_TOOL_TIP = Qt.ItemDataRole.ToolTipRole
_ACCESSIBLE = Qt.ItemDataRole.AccessibleTextRole
_ROLES: Final = frozenset({Qt.ItemDataRole.DisplayRole, _TOOL_TIP, _ACCESSIBLE})
SHOWN_RESULTS: Final = {"1/2-1/2": "½–½", "1-0": "1–0", "0-1": "0–1"}


class GameModel(QAbstractTableModel):
    """The games that a filter lets through, in an order."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._entries: Sequence[GameEntry] = ()
        self._shown: list[GameEntry] = []
        self._needle = ""
        self._kind: Kind | None = None
        self._only: frozenset[int] | None = None
        self._column: int = Column.DATE
        self._down = True
        self._notation: Notation = "letters"

    # -- what is shown -------------------------------------------------------------------------

    def set_entries(self, entries: Sequence[GameEntry]) -> None:
        """Show these games instead, the newest first."""
        self._entries = entries
        self._only = None
        self._refill()

    def set_filter(self, text: str, kind: Kind | None) -> None:
        """Show only games with all these words in them, and of this kind."""
        self._needle, self._kind = text.casefold(), kind
        self._refill()

    def show_only(self, walks: Sequence[Walk] | None) -> None:
        """Show only the games of these walks, or all again."""
        self._only = None if walks is None else frozenset(id(walk) for walk in walks)
        self._refill()

    @property
    def narrowed(self) -> bool:
        """Whether only chosen games are shown."""
        return self._only is not None

    def set_notation(self, notation: Notation) -> None:
        """Write moves in another notation."""
        self.beginResetModel()
        self._notation = notation
        self.endResetModel()

    def entry(self, row: int) -> GameEntry:
        """The game in a row."""
        return self._shown[row]

    def row_of(self, entry: GameEntry | None) -> int:
        """The row of a game by what it is, -1 where it is not shown."""
        if entry is None:
            return -1
        mark = (entry.game.identity, entry.game.sans)
        return next(
            (n for n, e in enumerate(self._shown) if (e.game.identity, e.game.sans) == mark), -1
        )

    def _refill(self) -> None:
        self.beginResetModel()
        self._shown = self._let_through()
        # The list comes sorted by date already, and is long: the window would stand still.
        if (self._column, self._down) != (Column.DATE, True):
            # Equal ones stay in the order of the list, the newest first.
            column = self._column
            self._shown.sort(key=lambda entry: entry.order[column], reverse=self._down)
        self.endResetModel()

    def _let_through(self) -> list[GameEntry]:
        only, kind, words = self._only, self._kind, self._needle.split()
        shown = list(self._entries)
        if only is not None:
            shown = [entry for entry in shown if id(entry.walk) in only]
        if kind is not None:
            shown = [entry for entry in shown if entry.is_kind(kind)]
        for word in words:
            shown = [entry for entry in shown if word in entry.spoken]
        return shown

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        wanted = column, order == Qt.SortOrder.DescendingOrder
        # `sortByColumn` tells the model twice.
        if wanted != (self._column, self._down):
            self._column, self._down = wanted
            self._refill()

    # -- as Qt asks ----------------------------------------------------------------------------

    def rowCount(self, parent: _Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self._shown)

    def columnCount(self, parent: _Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(Column)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return Column(section).title
        return None

    def data(self, index: _Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        # Each cell is asked for seven roles whenever it is painted.
        if role not in _ROLES or not index.isValid() or index.row() >= len(self._shown):
            return None
        entry = self._shown[index.row()]
        if role == _ACCESSIBLE:
            return ", ".join(self._text(entry, column) for column in Column)
        text = self._text(entry, index.column())
        # A tooltip that looks like markup would be read as such.
        return text.replace("<", "‹") if role == _TOOL_TIP else text

    def _text(self, entry: GameEntry, column: int) -> str:
        game = entry.game
        if column == Column.KNOWN:
            return entry.known_text(self._notation)
        if column == Column.LEFT:
            return entry.left_text(self._notation)
        return (
            game.date.replace(".", "-"),
            game.white,
            game.black,
            entry.opponent,
            SHOWN_RESULTS.get(game.result, game.result),
        )[column]


class GameTable(QTableView):
    """The list; arrows choose, Enter or a double press opens."""

    opened = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.games = GameModel(self)
        self.setModel(self.games)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSortingEnabled(True)
        self.sortByColumn(Column.DATE, Qt.SortOrder.DescendingOrder)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.verticalHeader().hide()
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setStretchLastSection(True)
        self.horizontalHeader().setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        )
        self.setAccessibleName("Games")
        self.setMinimumSize(60, 60)
        self.doubleClicked.connect(self._open)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self.games.set_notation(look.notation)
        row = round(self.fontMetrics().height() * 1.6)
        header = self.verticalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setMinimumSectionSize(row)
        header.setDefaultSectionSize(row)
        self._widths()

    def choose(self, row: int) -> None:
        """Choose a row as the player would."""
        if self.games.rowCount():
            self.setCurrentIndex(self.games.index(max(0, row), 0))

    def current(self) -> GameEntry | None:
        """The chosen game."""
        index = self.currentIndex()
        return self.games.entry(index.row()) if index.isValid() else None

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        self._widths()

    def _widths(self) -> None:
        """Share out the room; where it is scarce, only the opponent is named."""
        metrics, room = self.fontMetrics(), self.viewport().width()
        letter = metrics.averageCharWidth()
        pad = 3 * letter
        wanted = {
            Column.DATE: metrics.horizontalAdvance("0000-00-00") + pad,
            Column.WHITE: 20 * letter,
            Column.BLACK: 20 * letter,
            Column.OPPONENT: 20 * letter,
            Column.RESULT: metrics.horizontalAdvance(Column.RESULT.title) + pad,
            Column.KNOWN: metrics.horizontalAdvance(Column.KNOWN.title) + pad,
            Column.LEFT: 26 * letter,
        }
        narrow = room < sum(wanted.values()) - wanted[Column.OPPONENT]
        scarce = room < sum(wanted.values()) - wanted[Column.WHITE] - wanted[Column.BLACK]
        hidden = {
            Column.DATE: False,
            Column.WHITE: narrow,
            Column.BLACK: narrow,
            Column.OPPONENT: not narrow,
            Column.RESULT: scarce,
            Column.KNOWN: False,
            Column.LEFT: False,
        }
        for column, hide in hidden.items():
            self.setColumnHidden(column, hide)
        shown = [column for column, hide in hidden.items() if not hide]
        names = [
            column for column in (Column.WHITE, Column.BLACK, Column.OPPONENT) if column in shown
        ]
        spare = room - sum(wanted[column] for column in shown)
        for column in shown[:-1]:
            width = wanted[column]
            if column in names:
                width = max(8 * letter, width + spare // (len(names) + 1))
            self.setColumnWidth(column, width)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open(self.currentIndex())
        elif event.key() in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.choose(0 if event.key() == Qt.Key.Key_Home else self.games.rowCount() - 1)
        else:
            super().keyPressEvent(event)

    def _open(self, index: _Index) -> None:
        if index.isValid():
            self.opened.emit(self.games.entry(index.row()))
