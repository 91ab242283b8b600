"""The dialog in which a position is set up on a board."""

from __future__ import annotations

import chess
from PySide6.QtCore import QPoint, QSize, Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QButtonGroup,
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.errors import StemlineError
from trainer.storage.settings import Settings
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.setup.arrangement import CASTLINGS, Arrangement, read_position
from trainer.ui.setup.board import SetupBoard
from trainer.ui.setup.box import PieceBox
from trainer.ui.setup.held import HeldPiece, PieceDrawer

_READ_AFTER_MS = 400
#: How wide the board must be for the words to stand beside it, in pixels.
_LEAST_BOARD = 330
_HELP = (
    "Drag pieces to the board, or choose one and click. A right click, or dragging it off, takes "
    "a piece away. Keys on the board: arrows, a letter (K a white king, k a black one), Delete."
)


def ask_for_position(
    parent: QWidget,
    settings: Settings,
    look: Look,
    board: chess.Board | None = None,
    *,
    title: str = "Set up a position",
    button: str = "&Use",
) -> chess.Board | None:
    """Let the player set up a position, beginning at `board`; None where he gave it up."""
    dialog = SetupDialog(settings, look, board, title=title, button=button, parent=parent)
    chosen = dialog.board() if dialog.exec() else None
    dialog.deleteLater()
    return chosen


class SetupDialog(QDialog):
    """A board, a box of pieces, and what else belongs to a position (FIDE Laws 9.2)."""

    def __init__(
        self,
        settings: Settings,
        look: Look,
        board: chess.Board | None = None,
        *,
        title: str = "Set up a position",
        button: str = "&Use",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._arrangement = Arrangement.of(board or chess.Board())
        self._refused = ""
        self._drawer = PieceDrawer(look.theme)
        self.board_view = SetupBoard(settings, look)
        self.box = PieceBox(self._drawer, look.scale, look.theme)
        self.turns = (QRadioButton("&White to move"), QRadioButton("&Black to move"))
        self.rights = {rook: QCheckBox(words) for rook, words in CASTLINGS}
        self.en_passant = QComboBox()
        self.en_passant.setAccessibleName("Capture in passing")
        self.fen = QLineEdit()
        self.fen.setAccessibleName("FEN")
        self.fen.setPlaceholderText("FEN")
        self.clear = QPushButton("&Empty")
        self.start = QPushButton("&Start")
        self.turn_board = QPushButton("&Turn")
        self.paste = QPushButton("&Paste")
        self.paste.setToolTip("Take the position whose FEN was copied")
        self.fault = text_label("")
        self.buttons = QDialogButtonBox()
        self.buttons.addButton("&Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        self.use = QPushButton(button)
        self.use.setProperty("primary", True)
        self.buttons.addButton(self.use, QDialogButtonBox.ButtonRole.AcceptRole)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_READ_AFTER_MS)
        self._lay_out(look.scale)
        self._held = HeldPiece(self)
        self._connect()
        self._show()
        self.board_view.setFocus()

    # -- building ----------------------------------------------------------------------------

    def _lay_out(self, scale: float) -> None:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 6, 0)
        for turn in self.turns:
            column.addWidget(turn)
        group = QButtonGroup(self)
        for turn in self.turns:
            group.addButton(turn)
        rights = QGridLayout()
        for number, box in enumerate(self.rights.values()):
            rights.addWidget(box, number % 2, number // 2)
        column.addWidget(text_label("May still castle", "muted"))
        column.addLayout(rights)
        column.addWidget(text_label("Capture in passing", "muted"))
        column.addWidget(self.en_passant)
        tools = QGridLayout()
        for number, button in enumerate((self.start, self.clear, self.turn_board, self.paste)):
            button.setAutoDefault(False)
            tools.addWidget(button, number // 2, number % 2)
        column.addLayout(tools)
        column.addWidget(text_label(_HELP, "muted"))
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(page)
        self._words_width = page.minimumSizeHint().width() + 20
        scroll.setMinimumWidth(self._words_width)
        board = QHBoxLayout()
        board.addWidget(self.board_view, 1)
        board.addWidget(self.box)
        self._top = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._top.addLayout(board, 3)
        self._top.addWidget(scroll, 2)
        outer = QVBoxLayout(self)
        outer.setSizeConstraint(QVBoxLayout.SizeConstraint.SetNoConstraint)
        outer.addLayout(self._top, 1)
        outer.addWidget(self.fen)
        outer.addWidget(self.fault)
        outer.addWidget(self.buttons)
        screen = QApplication.primaryScreen().availableSize()
        self.resize(min(round(820 * scale), screen.width()), min(600, screen.height()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        beside = self.width() - self._words_width - self.box.sizeHint().width() >= _LEAST_BOARD
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._top.setDirection(across if beside else down)

    def minimumSizeHint(self) -> QSize:
        # As narrow as with the words below the board, whichever way they stand now.
        hint = super().minimumSizeHint()
        board = self.board_view.minimumWidth() + self.box.sizeHint().width()
        return QSize(min(hint.width(), max(self._words_width, board) + 40), hint.height())

    def _connect(self) -> None:
        self.board_view.put.connect(self._put)
        self.board_view.moved.connect(self._move)
        self.board_view.chosen.connect(self._put_hand)
        self.board_view.carried.connect(self._carry)
        self.box.carried.connect(self._carry)
        self.box.dropped.connect(self._drop)
        for turn, color in zip(self.turns, (chess.WHITE, chess.BLACK), strict=True):
            turn.clicked.connect(lambda _on, color=color: self._set_turn(color))
        for rook, box in self.rights.items():
            box.clicked.connect(lambda on, rook=rook: self._want(rook, on))
        self.en_passant.activated.connect(lambda _number: self._choose_ep())
        self.clear.clicked.connect(lambda: self._begin(Arrangement.empty()))
        self.start.clicked.connect(lambda: self._begin(Arrangement.of(chess.Board())))
        self.turn_board.clicked.connect(
            lambda: self.board_view.set_flipped(not self.board_view.flipped)
        )
        self.paste.clicked.connect(self._paste)
        self.fen.textEdited.connect(lambda _text: self._pause.start())
        self.fen.editingFinished.connect(self._read_now)
        self._pause.timeout.connect(self._read)
        self.buttons.accepted.connect(self._accept)
        self.buttons.rejected.connect(self.reject)

    # -- what it gives -----------------------------------------------------------------------

    def board(self) -> chess.Board:
        """The position that stands there, counters 0 and 1."""
        return self._arrangement.board()

    def _accept(self) -> None:
        self._read_now()
        if not self._refused and not self._arrangement.fault():
            self.accept()

    # -- changing it -------------------------------------------------------------------------

    def _begin(self, arrangement: Arrangement) -> None:
        self._arrangement = arrangement
        self._show()

    def _put(self, square: chess.Square, piece: chess.Piece | None) -> None:
        if self._arrangement.put(square, piece):
            self._show()

    def _put_hand(self, square: chess.Square) -> None:
        piece = self.box.in_hand
        if piece is not None:
            self._put(square, piece)

    def _move(self, start: chess.Square, end: chess.Square) -> None:
        if self._arrangement.move(start, end):
            self._show()

    def _carry(self, piece: chess.Piece | None, where: QPoint) -> None:
        if piece is None:
            self._held.hide()
            return
        side = self.board_view.square_side()
        self._held.carry(self._drawer.pixmap(piece, side, self.devicePixelRatioF()), where)

    def _drop(self, piece: chess.Piece, where: QPoint) -> None:
        self._held.hide()
        square = self.board_view.square_under(where)
        if square is not None:
            self._put(square, piece)

    def _set_turn(self, color: chess.Color) -> None:
        self._arrangement.set_turn(color)
        self._show()

    def _want(self, rook: chess.Square, wanted: bool) -> None:
        self._arrangement.want_right(rook, wanted)
        self._show()

    def _choose_ep(self) -> None:
        self._arrangement.ep_square = self.en_passant.currentData()
        self._show()

    def _paste(self) -> None:
        self._take_text(QApplication.clipboard().text())

    def _read_now(self) -> None:
        if self._pause.isActive():
            self._pause.stop()
            self._read()

    def _read(self) -> None:
        self._take_text(self.fen.text(), keep=True)

    def _take_text(self, text: str, *, keep: bool = False) -> None:
        """Set up what a text says; with `keep` the words in the field stay as they are typed."""
        try:
            board = read_position(text)
        except StemlineError as error:
            self._refuse(str(error))
            return
        self._arrangement = Arrangement.of(board)
        self._show(keep=keep)

    def _refuse(self, sentence: str) -> None:
        self._refused = sentence
        self.fault.setText(sentence)
        self.use.setEnabled(False)

    # -- showing it --------------------------------------------------------------------------

    def _show(self, *, keep: bool = False) -> None:
        arrangement = self._arrangement
        board = arrangement.board()
        self._pause.stop()
        self._refused = ""
        self.board_view.set_position(board)
        self.turns[0 if board.turn else 1].setChecked(True)
        possible = arrangement.possible_rights()
        for rook, box in self.rights.items():
            box.setEnabled(bool(possible & chess.BB_SQUARES[rook]))
            box.setChecked(bool(board.castling_rights & chess.BB_SQUARES[rook]))
        self._show_ep(board)
        if not keep:
            self.fen.setText(board.fen(en_passant="legal"))
            self.fen.setCursorPosition(0)
        fault = arrangement.fault()
        self.fault.setText(fault or "A game can go on from here.")
        self.use.setEnabled(not fault)

    def _show_ep(self, board: chess.Board) -> None:
        squares = self._arrangement.possible_ep_squares()
        self.en_passant.clear()
        self.en_passant.addItem("none" if squares else "not possible here", None)
        for square in squares:
            self.en_passant.addItem(f"on {chess.square_name(square)}", square)
        self.en_passant.setCurrentIndex(
            squares.index(board.ep_square) + 1 if board.ep_square in squares else 0
        )
        self.en_passant.setEnabled(bool(squares))
