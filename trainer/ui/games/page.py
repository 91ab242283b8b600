"""One game: the board, the ribbon beside it, and in words where it left the repertoire."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.games.departures import By, Departure
from trainer.games.sentences import (
    departure_sentence,
    known_sentence,
    move_text,
    players_text,
    reentry_sentence,
)
from trainer.games.verdicts import Verdict
from trainer.storage.settings import Settings
from trainer.ui.games.ribbon import Line, Ribbon
from trainer.ui.games.table import SHOWN_RESULTS
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.still_board import StillBoard
from trainer.ui.position_row import clear_layout

if TYPE_CHECKING:
    import chess

    from trainer.repertoire.graph import Node, Repertoire
    from trainer.ui.games.entries import GameEntry

#: Below this width (at 100 %) the words stand under the board.
_BESIDE = 660
_RIBBON = 175
_GAP = 14
_NO_LIMIT = 16_777_215
_STEPS = {
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_Home: -10_000,
    Qt.Key.Key_End: 10_000,
}


class GamePage(QWidget):
    """Walks through a game with the arrow keys, N goes to the next place where it left or came."""

    back_wanted = Signal()
    #: Positions to drill now, a list of `Node`.
    drill_wanted = Signal(list)
    #: A position to ask in today's drill: a `Node`.
    today_wanted = Signal(object)
    #: A move to add to the repertoire, and the position to add it to: `Node`, `chess.Move`.
    answer_wanted = Signal(object, object)
    #: The board shows another position: a `chess.Board` and the game's `GameEntry`.
    stepped = Signal(object, object)

    def __init__(
        self, settings: Settings, look: Look, *, editable: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._settings, self._look = settings, look
        self._editable = editable
        self._repertoire: Repertoire | None = None
        self.entry: GameEntry | None = None
        self._boards: list[tuple[chess.Board, chess.Move | None]] = []
        self.ply = 0
        self.board = StillBoard(look)
        self.ribbon = Ribbon(look)
        self.back = QPushButton("‹ Back to the &list")
        self._title = text_label("", "heading")
        self._subtitle = text_label("", "muted")
        self._where = text_label("", "muted")
        self._before = self._step_button("‹", "Back one move", -1)
        self._after = self._step_button("›", "On one move", 1)
        self.next = QPushButton("&Next junction")
        self.next.setToolTip("Where the game leaves the repertoire or comes back (N)")
        self._words = QWidget()
        self._column = QVBoxLayout(self._words)
        self._column.setContentsMargins(0, 0, 8, 0)
        self._told = QVBoxLayout()
        self.novelty = QVBoxLayout()
        #: Where what the reference base holds of the position is shown.
        self.base_slot = QVBoxLayout()
        self._build()
        self.back.clicked.connect(lambda _checked=False: self.back_wanted.emit())
        self.next.clicked.connect(lambda _checked=False: self.go_to_next())
        self.ribbon.wanted.connect(self.go)

    def _step_button(self, text: str, name: str, step: int) -> QToolButton:
        button = QToolButton()
        button.setText(text)
        button.setAccessibleName(name)
        button.setToolTip(name)
        button.clicked.connect(lambda _checked=False: self.go(self.ply + step))
        return button

    def _build(self) -> None:
        head = QVBoxLayout()
        head.setSpacing(2)
        head.addWidget(self._title)
        head.addWidget(self._subtitle)
        top = QHBoxLayout()
        top.addLayout(head, 1)
        top.addWidget(self.back, 0, Qt.AlignmentFlag.AlignTop)
        self._steps = steps = QHBoxLayout()
        for widget in (self._before, self._after, self.next):
            steps.addWidget(widget)
        steps.addStretch(1)
        left = QVBoxLayout()
        left.setSpacing(6)
        left.addWidget(self.board)
        left.addLayout(steps)
        left.addWidget(self._where)
        left.addStretch(1)
        self._sides = QHBoxLayout()
        self._sides.setSpacing(_GAP)
        self._sides.addLayout(left)
        self._sides.addWidget(self.ribbon)
        for layout in (self._told, self.novelty, self.base_slot):
            layout.setContentsMargins(0, 0, 0, 0)
            self._column.addLayout(layout)
        self._column.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setWidget(self._words)
        self._scroll.setMinimumWidth(60)
        self.ribbon.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self._body = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._body.setSpacing(_GAP)
        self._body.addLayout(self._sides)
        self._body.addWidget(self._scroll, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addLayout(self._body, 1)

    # -- what is shown -------------------------------------------------------------------------

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._settings, self._look = settings, look
        self.board.set_look(settings, look)
        self.ribbon.set_look(look)
        if self.entry is not None and self._repertoire is not None:
            ply = self.ply
            self.show_game(self._repertoire, self.entry)
            self.go(ply)
        self._fit()

    def show_game(self, repertoire: Repertoire, entry: GameEntry) -> None:
        """Show a game at the place where it left the repertoire first."""
        self._repertoire, self.entry = repertoire, entry
        game, walk, notation = entry.game, entry.walk, self._look.notation
        self._boards = [(board.board(), move) for board, move in game.boards()]
        sans = game.moves()
        words = tuple(
            move_text(game, ply, notation, san=san) for ply, san in enumerate(sans, start=1)
        )
        self.ribbon.show_line(Line.of(walk, words))
        self._title.setText(players_text(game))
        result = SHOWN_RESULTS.get(game.result, game.result)
        facts = [result, game.date.replace(".", "-"), game.event]
        self._subtitle.setText(" · ".join(fact for fact in facts if fact and fact != "*"))
        self.board.set_flipped(not walk.player_side)
        self._tell()
        self._fit()
        departure = walk.departure
        self.go(departure.ply if departure is not None else 0)

    def prepare(self, size: QSize) -> Iterator[None]:
        """Draw the board for a page of that size, before there is a game, in small steps."""
        if not self.isVisible():
            self.resize(size)
            self._fit()
        return self.board.prepare()

    def clear(self) -> None:
        """Show nothing."""
        self._repertoire = self.entry = None
        self._boards = []
        self.ribbon.show_line(None)
        clear_layout(self._told)
        clear_layout(self.novelty)

    def show_novelty(self, entry: GameEntry, sentence: str) -> None:
        """Say what was new in a game against the reference base, apart from the repertoire."""
        if entry is not self.entry:
            return
        clear_layout(self.novelty)
        self.novelty.addWidget(text_label("Against the reference base", "heading"))
        self.novelty.addWidget(text_label(sentence))

    def _tell(self) -> None:
        entry, notation = self.entry, self._look.notation
        assert entry is not None
        walk = entry.walk
        clear_layout(self._told)
        clear_layout(self.novelty)
        add = self._told.addWidget
        add(text_label("Against your repertoire", "heading"))
        add(text_label(known_sentence(walk, notation)))
        if entry.game.fault:
            add(text_label(f"Line {entry.game.fault_line}: {entry.game.fault}.", "muted"))
        if not entry.own_colour:
            colour = "White" if self._repertoire.side else "Black"
            add(text_label(f"This repertoire is for {colour}, and you had the other.", "muted"))
        told: list[tuple[int, Callable[[], None]]] = [
            (departure.ply, lambda d=departure, v=judged: self._tell_departure(d, v))
            for departure, judged in zip(walk.departures, entry.verdicts, strict=True)
        ]
        told += [
            (back.ply, lambda b=back: add(text_label(reentry_sentence(walk, b, notation))))
            for back in walk.reentries[0 if walk.known_start else 1 :]
        ]
        for _, tell in sorted(told, key=lambda one: one[0]):
            tell()

    def _tell_departure(self, departure: Departure, judged: Verdict | None) -> None:
        entry, repertoire, notation = self.entry, self._repertoire, self._look.notation
        assert entry is not None
        assert repertoire is not None
        walk = entry.walk
        self._told.addWidget(text_label(departure_sentence(walk, departure, judged, notation)))
        node = repertoire.nodes.get(departure.key)
        if node is None or not entry.own_colour:
            return
        move = move_text(entry.game, departure.ply, notation, san=departure.move)
        played = node.board().parse_san(departure.move)
        if departure.by is By.PLAYER and not departure.at_line_end:
            if node.turn == repertoire.side:
                drill = self._button("&Drill it now", f"Drill the decision before {move} now")
                drill.clicked.connect(lambda _checked=False: self.drill_wanted.emit([node]))
                later = self._button("Ask it &today", f"Ask the decision before {move} today")
                later.clicked.connect(lambda _checked=False: self._ask_today(node, later))
        elif self._editable:
            then = " and choose the answer" if node.turn != repertoire.side else ""
            add = self._button(f"&Add {move}", f"Add {move} to the repertoire{then}")
            add.clicked.connect(lambda _checked=False: self.answer_wanted.emit(node, played))

    def _ask_today(self, node: Node, button: QPushButton) -> None:
        button.setText("Asked first in today’s drill")
        button.setEnabled(False)
        self.today_wanted.emit(node)

    def _button(self, text: str, meaning: str) -> QPushButton:
        button = QPushButton(text)
        button.setToolTip(meaning)
        button.setAccessibleName(meaning)
        self._told.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        return button

    # -- walking -------------------------------------------------------------------------------

    def go(self, ply: int) -> None:
        """Show the position after so many half-moves."""
        if self.entry is None:
            return
        ply = max(0, min(ply, len(self._boards) - 1))
        self.ply = ply
        board, move = self._boards[ply]
        self.board.set_position(board, move, animate=True)
        self.ribbon.show_ply(ply)
        self._before.setEnabled(ply > 0)
        self._after.setEnabled(ply < len(self._boards) - 1)
        self.next.setEnabled(bool(self._junctions()))
        self._where.setText(self._where_text())
        self.stepped.emit(board, self.entry)

    @property
    def where(self) -> str:
        """What is said about the position on the board."""
        return self._where.text()

    def _where_text(self) -> str:
        assert self.entry is not None
        walk = self.entry.walk
        known = "known" if walk.known_at(self.ply) else "not in the repertoire"
        if not self.ply:
            return f"Before the first move, {known}"
        return f"After {move_text(walk.game, self.ply, self._look.notation)}, {known}"

    def known_node(self) -> Node | None:
        """The position on the board, or the last one before it that the repertoire knows."""
        if self.entry is None or self._repertoire is None or not self.isVisible():
            return None
        keys = self.entry.game.keys[: self.ply + 1]
        nodes = (self._repertoire.nodes.get(key) for key in reversed(keys))
        return next((node for node in nodes if node is not None), None)

    def _junctions(self) -> list[int]:
        """The half-moves that left or came back, as the ribbon marks them."""
        assert self.entry is not None
        walk = self.entry.walk
        return sorted(
            {departure.ply for departure in walk.departures}
            | {entry.ply for entry in walk.reentries}
        )

    def go_to_next(self) -> None:
        """Go to the next junction, after the last one to the first."""
        if self.entry is None:
            return
        junctions = self._junctions()
        if junctions:
            self.go(next((ply for ply in junctions if ply > self.ply), junctions[0]))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        plain = not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        step = _STEPS.get(Qt.Key(event.key()))
        if plain and step is not None:
            self.go(self.ply + step)
        elif plain and event.key() == Qt.Key.Key_N:
            self.go_to_next()
        elif event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_Back):
            self.back_wanted.emit()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()
        # A row of words that wraps anew changes what is left for the board.
        QTimer.singleShot(0, self, self._fit)

    def _fit(self) -> None:
        """Words beside the board, or below it where there is no room."""
        scale = self._look.scale
        wanted = max(round(_RIBBON * scale), self.ribbon.wanted_width())
        ribbon = min(wanted, max(110, round(0.28 * self.width())))
        narrow = self.width() < _BESIDE * scale
        rows = round(2.2 * self.next.sizeHint().height() + self._where.fontMetrics().height())
        head = self._title.sizeHint().height() + self._subtitle.sizeHint().height() + 12
        room = self.height() - head - rows
        # The steps below the board may need more room than the board.
        steps = self._steps.minimumSize().width()
        if narrow:
            side = min(self.width() - ribbon - _GAP, round(0.6 * room))
            ribbon = max(60, self.width() - max(side, steps) - _GAP)
        else:
            side = min(round(0.42 * self.width()), room)
        side = max(120, side)
        self.board.setFixedSize(side, side)
        self.ribbon.setFixedWidth(ribbon)
        self.ribbon.setMaximumHeight(side + rows if narrow else _NO_LIMIT)
        self._body.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )

    def minimumSizeHint(self) -> QSize:
        # The parts are given fixed sizes by the room there is, which must not keep it.
        return QSize(60, 60)
