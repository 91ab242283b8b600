"""What of the games is taken: whose they are, how far, which replies, which own move."""

from __future__ import annotations

from collections.abc import Sequence

import chess
from PySide6.QtCore import QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QFormLayout,
    QLineEdit,
    QSizePolicy,
    QSpinBox,
    QWidget,
)

from trainer.repertoire.workshop.importing import ImportOptions
from trainer.ui.importing.wish import Player, Side

_EVERYBODY = "everybody"
_MOST = 1_000_000
_ROLES = (QFormLayout.ItemRole.LabelRole, QFormLayout.ItemRole.FieldRole)


class Choices(QWidget):
    """A form; `changed` whenever something else is wanted."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        usual = ImportOptions(chess.WHITE)
        self._players: list[Player] = []
        #: The player chose the side himself, so that another name does not change it.
        self._side_chosen = False
        self.player = QComboBox()
        self.player.setEditable(True)
        self.player.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.player.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        completer = self.player.completer()
        if completer is not None:
            completer.setFilterMode(Qt.MatchFlag.MatchContains)
            completer.setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
        self.side = QComboBox()
        for words, side in (("White", "white"), ("Black", "black"), ("both, one each", "both")):
            self.side.addItem(words, side)
        self.plies = _number(1, 400, usual.plies, " half-moves")
        self.share = _number(0, 100, round(usual.reply_share * 100), " % of the games")
        self.or_games = _number(0, _MOST, usual.reply_games, " games", "the share decides")
        self.least = _number(1, _MOST, usual.least_reply_games, " games", "one game will do")
        self.choice = QComboBox()
        self.choice.addItem("the one played most", "most played")
        self.choice.addItem("the one that scored best", "best score")
        self.least_own = _number(1, _MOST, usual.least_games, " games", "one game will do")
        self.lines = _number(0, _MOST, 0, " lines", "no limit")
        self.title = QLineEdit(usual.title)
        form = self._form = QFormLayout(self)
        form.setContentsMargins(0, 0, 6, 0)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.addRow("The games of &player", self.player)
        form.addRow("Repertoire &for", self.side)
        form.addRow("Of &each game the first", self.plies)
        form.addRow("Keep &replies played in", self.share)
        form.addRow("or in at &least", self.or_games)
        form.addRow("but never in fewer t&han", self.least)
        form.addRow("&Own move", self.choice)
        form.addRow("score&d in at least", self.least_own)
        form.addRow("A&t most", self.lines)
        form.addRow("Title of the sectio&n", self.title)
        self._connect()
        self._enable()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        form = self._form
        rows = [(form.itemAt(row, role)) for row in range(form.rowCount()) for role in _ROLES]
        labels = max(item.sizeHint().width() for item in rows[::2])
        fields = max(item.sizeHint().width() for item in rows[1::2])
        beside = labels + fields + form.horizontalSpacing() + 8 <= self.width()
        form.setRowWrapPolicy(
            QFormLayout.RowWrapPolicy.DontWrapRows
            if beside
            else QFormLayout.RowWrapPolicy.WrapAllRows
        )

    def minimumSizeHint(self) -> QSize:
        # As narrow as with the names above the fields, whichever way they stand now.
        fields = [self._form.itemAt(row, _ROLES[1]) for row in range(self._form.rowCount())]
        widest = max(item.minimumSize().width() for item in fields)
        return QSize(widest + 8, super().minimumSizeHint().height())

    def _connect(self) -> None:
        self.player.currentTextChanged.connect(lambda _text: self._name_changed())
        self.side.activated.connect(lambda _number: self._choose_side())
        self.side.currentIndexChanged.connect(lambda _number: self.changed.emit())
        for box in (self.plies, self.share, self.or_games, self.least, self.least_own, self.lines):
            box.valueChanged.connect(lambda _value: self.changed.emit())
        self.choice.currentIndexChanged.connect(lambda _number: self._enable())
        self.choice.currentIndexChanged.connect(lambda _number: self.changed.emit())
        self.title.editingFinished.connect(self.changed)

    # -- players -----------------------------------------------------------------------------

    def set_players(self, players: Sequence[Player]) -> None:
        """Offer these players; a name that is typed already stays."""
        self._players = list(players)
        before = self.name()
        blocked = QSignalBlocker(self.player)
        self.player.clear()
        self.player.addItem(_EVERYBODY, "")
        for name, white, black in players:
            self.player.addItem(f"{name} ({white:,} as White, {black:,} as Black)", name)
        number = self.player.findData(before) if before else 0
        self.player.setCurrentIndex(max(number, 0))
        if before and number < 0:
            self.player.setEditText(before)
        del blocked
        self._enable()

    def name(self) -> str:
        """The player whose games count; empty for everybody."""
        text = self.player.currentText().strip()
        number = self.player.findText(text, Qt.MatchFlag.MatchFixedString)
        if number >= 0:
            return str(self.player.itemData(number))
        return "" if text.casefold() == _EVERYBODY else text

    def _name_changed(self) -> None:
        name = self.name()
        games = next((both for who, *both in self._players if who == name), None)
        if games is not None and not self._side_chosen:
            blocked = QSignalBlocker(self.side)
            self.side.setCurrentIndex(0 if games[0] >= games[1] else 1)
            del blocked
        self._enable()
        self.changed.emit()

    def _choose_side(self) -> None:
        self._side_chosen = True

    def _enable(self) -> None:
        self.least_own.setEnabled(self.choice.currentData() == "best score")

    # -- what it gives -----------------------------------------------------------------------

    def wanted_side(self) -> Side:
        """Whose repertoire it is to be."""
        side: Side = self.side.currentData()
        return side

    def options(self) -> ImportOptions:
        """All that is chosen; for both sides, the options of each."""
        return ImportOptions(
            side=self.side.currentData() != "black",
            plies=self.plies.value(),
            reply_share=self.share.value() / 100,
            reply_games=self.or_games.value(),
            least_reply_games=self.least.value(),
            most_lines=self.lines.value(),
            player=self.name(),
            choice=self.choice.currentData(),
            least_games=self.least_own.value(),
            title=self.title.text(),
        )


def _number(least: int, most: int, value: int, unit: str, at_least: str = "") -> QSpinBox:
    box = QSpinBox()
    box.setRange(least, most)
    box.setValue(value)
    box.setSuffix(unit)
    box.setSpecialValueText(at_least)
    box.setGroupSeparatorShown(True)
    box.setKeyboardTracking(False)
    box.setAlignment(Qt.AlignmentFlag.AlignHCenter)
    return box
