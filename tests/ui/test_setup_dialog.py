"""Setting up a position: by mouse, by keys, from a text, and what the rules say of it."""

from __future__ import annotations

from collections.abc import Callable

import chess
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.boxes import interpreted_texts
from trainer.storage.settings import Settings
from trainer.ui.look import Look
from trainer.ui.setup.arrangement import Arrangement, PositionTextError, read_position
from trainer.ui.setup.dialog import SetupDialog
from trainer.ui.theme import DARK, LIGHT, application_stylesheet

LEFT, RIGHT = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton
KINGS = "4k3/8/8/8/8/8/8/4K3 w - - 0 1"

MakeDialog = Callable[..., SetupDialog]


@pytest.fixture
def make(qtbot: QtBot) -> MakeDialog:
    def build(fen: str | None = None, *, flipped: bool = False) -> SetupDialog:
        look = Look(LIGHT, "letters", 1.0, flipped=flipped)
        dialog = SetupDialog(Settings(), look, None if fen is None else chess.Board(fen))
        qtbot.addWidget(dialog)
        dialog.show()
        return dialog

    return build


def middle(dialog: SetupDialog, square: chess.Square) -> QPoint:
    geometry = dialog.board_view.geometry_now()
    x, y = geometry.centre(square)
    return QPoint(round(x / geometry.ratio), round(y / geometry.ratio))


def drag(qtbot: QtBot, dialog: SetupDialog, start: chess.Square, end: QPoint) -> None:
    board, at = dialog.board_view, middle(dialog, start)
    qtbot.mousePress(board, LEFT, pos=at)
    qtbot.mouseMove(board, at + QPoint(20, 20))
    qtbot.mouseMove(board, end)
    assert dialog._held.isVisible()
    qtbot.mouseRelease(board, LEFT, pos=end)
    assert not dialog._held.isVisible()


def test_it_begins_where_it_is_told_and_gives_that_back(make: MakeDialog) -> None:
    assert make().board() == chess.Board()
    fen = "r1bqk2r/pp3ppp/2n1pn2/2pp4/8/5NP1/PPP1PPBP/RNBQ1RK1 b kq - 0 1"
    dialog = make(fen)
    assert dialog.board() == chess.Board(fen)
    assert dialog.fen.text() == fen
    assert dialog.turns[1].isChecked()


def test_pieces_are_dragged_and_dragged_off(make: MakeDialog, qtbot: QtBot) -> None:
    dialog = make()
    drag(qtbot, dialog, chess.G1, middle(dialog, chess.F3))
    assert dialog.board().piece_at(chess.F3) == chess.Piece.from_symbol("N")
    assert dialog.board().piece_at(chess.G1) is None
    drag(qtbot, dialog, chess.A2, QPoint(dialog.board_view.width() + 30, 40))
    assert dialog.board().piece_at(chess.A2) is None
    qtbot.mouseClick(dialog.board_view, RIGHT, pos=middle(dialog, chess.B2))
    assert dialog.board().piece_at(chess.B2) is None
    drag(qtbot, dialog, chess.D1, middle(dialog, chess.D7))
    assert dialog.board().piece_at(chess.D7) == chess.Piece.from_symbol("Q")


def test_a_piece_comes_from_the_box_by_dragging_and_by_clicks(
    make: MakeDialog, qtbot: QtBot
) -> None:
    dialog = make(KINGS)
    button = dialog.box.buttons[chess.Piece.from_symbol("q")]
    target = dialog.board_view.mapToGlobal(middle(dialog, chess.D5))
    qtbot.mousePress(button, LEFT, pos=QPoint(5, 5))
    qtbot.mouseMove(button, QPoint(40, 40))
    assert dialog._held.isVisible()
    qtbot.mouseRelease(button, LEFT, pos=button.mapFromGlobal(target))
    assert dialog.board().piece_at(chess.D5) == chess.Piece.from_symbol("q")
    assert not button.isChecked()
    qtbot.mouseClick(dialog.box.buttons[chess.Piece.from_symbol("P")], LEFT)
    for square in (chess.C4, chess.E4):
        qtbot.mouseClick(dialog.board_view, LEFT, pos=middle(dialog, square))
    assert dialog.board().pieces(chess.PAWN, chess.WHITE) == chess.SquareSet([chess.C4, chess.E4])
    qtbot.mouseClick(dialog.box.buttons[chess.Piece.from_symbol("P")], LEFT)
    qtbot.mouseClick(dialog.board_view, LEFT, pos=middle(dialog, chess.A4))
    assert dialog.board().piece_at(chess.A4) is None


def test_a_turned_board_puts_pieces_where_they_are_seen(make: MakeDialog, qtbot: QtBot) -> None:
    dialog = make(KINGS, flipped=True)
    lower_right = middle(dialog, chess.A8)
    assert lower_right.x() > dialog.board_view.width() / 2
    qtbot.mouseClick(dialog.box.buttons[chess.Piece.from_symbol("r")], LEFT)
    qtbot.mouseClick(dialog.board_view, LEFT, pos=lower_right)
    assert dialog.board().piece_at(chess.A8) == chess.Piece.from_symbol("r")
    qtbot.mouseClick(dialog.turn_board, LEFT)
    assert middle(dialog, chess.A8).x() < dialog.board_view.width() / 2


def test_the_whole_position_from_the_keyboard(make: MakeDialog, qtbot: QtBot) -> None:
    dialog = make()
    qtbot.keyClick(dialog.clear, Qt.Key.Key_Space)
    assert dialog.board().occupied == 0
    board = dialog.board_view
    board.setFocus(Qt.FocusReason.TabFocusReason)
    # The cursor begins on e4: three down to e1, seven up to e8.
    for key in [Qt.Key.Key_Down] * 3:
        qtbot.keyClick(board, key)
    qtbot.keyClicks(board, "K")
    for key in [Qt.Key.Key_Up] * 7:
        qtbot.keyClick(board, key)
    qtbot.keyClicks(board, "k")
    qtbot.keyClick(board, Qt.Key.Key_Left)
    qtbot.keyClicks(board, "q")
    assert board.accessibleDescription().startswith("d8, black queen.")
    assert dialog.board().board_fen() == "3qk3/8/8/8/8/8/8/4K3"
    qtbot.keyClick(board, Qt.Key.Key_Delete)
    pawn = dialog.box.buttons[chess.Piece.from_symbol("p")]
    qtbot.keyClick(pawn, Qt.Key.Key_Space)
    qtbot.keyClick(board, Qt.Key.Key_Down)
    qtbot.keyClick(board, Qt.Key.Key_Return)
    assert dialog.isVisible()
    qtbot.keyClick(dialog.turns[1], Qt.Key.Key_Space)
    assert dialog.board().fen() == "4k3/3p4/8/8/8/8/8/4K3 b - - 0 1"
    qtbot.keyClick(dialog.use, Qt.Key.Key_Return)
    assert dialog.result() == dialog.DialogCode.Accepted


def test_every_control_is_reached_with_tab(make: MakeDialog, qtbot: QtBot) -> None:
    dialog = make()
    dialog.activateWindow()
    seen, here = [], dialog.board_view
    for _ in range(60):
        seen.append(here)
        here = here.nextInFocusChain()
        if here is dialog.board_view:
            break
    wanted = [*dialog.box.buttons.values(), *dialog.turns, *dialog.rights.values(), dialog.fen]
    wanted += [dialog.clear, dialog.start, dialog.turn_board, dialog.paste, dialog.use]
    assert set(wanted) <= set(seen)
    assert all(widget.focusPolicy() & Qt.FocusPolicy.TabFocus for widget in wanted)


def test_castling_is_offered_where_king_and_rook_are_at_home(
    make: MakeDialog, qtbot: QtBot
) -> None:
    dialog = make()
    assert all(box.isChecked() for box in dialog.rights.values())
    drag(qtbot, dialog, chess.H1, middle(dialog, chess.H4))
    assert not dialog.rights[chess.H1].isEnabled()
    assert dialog.board().castling_xfen() == "Qkq"
    drag(qtbot, dialog, chess.H4, middle(dialog, chess.H1))
    assert dialog.board().castling_xfen() == "KQkq"
    dialog.rights[chess.A8].click()
    assert dialog.board().castling_xfen() == "KQk"
    drag(qtbot, dialog, chess.E8, middle(dialog, chess.E6))
    assert dialog.board().castling_xfen() == "KQ"


def test_a_capture_in_passing_is_offered_only_where_it_is_legal(make: MakeDialog) -> None:
    # FIDE Laws 3.7.3.1: the pawn has just come two squares past a square that is attacked.
    dialog = make("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1")
    assert dialog.en_passant.currentData() == chess.D6
    assert dialog.board().ep_square == chess.D6
    dialog.turns[1].click()
    assert not dialog.en_passant.isEnabled()
    assert dialog.board().ep_square is None
    dialog.turns[0].click()
    assert dialog.board().ep_square == chess.D6
    # Common practice, no source: the capture would open the fifth rank to the king.
    pinned = make("8/8/8/K2pP2r/8/8/8/4k3 w - d6 0 1")
    assert pinned.en_passant.count() == 1
    assert pinned.board().ep_square is None


@pytest.mark.parametrize(
    ("fen", "words"),
    [
        ("8/8/8/8/8/8/8/8 w - - 0 1", "The board is empty"),
        ("8/8/8/8/8/8/8/4K3 w - - 0 1", "black king is missing"),
        ("4k3/8/8/8/8/8/8/8 w - - 0 1", "white king is missing"),
        ("4k3/8/8/8/8/8/8/K3K3 w - - 0 1", "more than one king"),
        ("4k2P/8/8/8/8/8/8/4K3 w - - 0 1", "first or the eighth rank"),
        ("4k3/8/8/8/P7/P7/PPPPPPPP/4K3 w - - 0 1", "White has more than eight pawns"),
        ("4k3/4R3/8/8/8/8/8/4K3 w - - 0 1", "White is to move and could take the king"),
        ("4k3/8/3N1N2/8/8/8/4R3/4K3 b - - 0 1", "No move can have given this check"),
    ],
)
def test_what_is_not_legal_is_said_in_a_sentence(make: MakeDialog, fen: str, words: str) -> None:
    dialog = make(fen)
    assert words in dialog.fault.text()
    assert dialog.fault.text().endswith(".")
    assert not dialog.use.isEnabled()
    dialog._accept()
    assert dialog.isVisible()
    dialog.start.click()
    assert dialog.use.isEnabled()


def test_a_text_is_pasted_and_typed(make: MakeDialog, qtbot: QtBot) -> None:
    dialog = make()
    fen = "rnbqkb1r/ppp1pp1p/5np1/3p4/3P1B2/2N2N2/PPP1PPPP/R2QKB1R b KQkq - 0 1"
    QApplication.clipboard().setText(f"  {fen.removesuffix(' 0 1')}\n")
    qtbot.mouseClick(dialog.paste, LEFT)
    assert dialog.board().fen() == fen
    QApplication.clipboard().setText("<b>no position</b>")
    qtbot.mouseClick(dialog.paste, LEFT)
    assert "<b>no position</b>" in dialog.fault.text()
    assert not interpreted_texts(dialog)
    assert dialog.board().fen() == fen
    assert not dialog.use.isEnabled()
    dialog.fen.selectAll()
    qtbot.keyClicks(dialog.fen, KINGS)
    qtbot.keyClick(dialog.fen, Qt.Key.Key_Return)
    assert dialog.board().fen() == KINGS
    assert dialog.result() == dialog.DialogCode.Accepted


def test_a_wrong_text_does_not_close_the_dialog(make: MakeDialog, qtbot: QtBot) -> None:
    dialog = make()
    dialog.fen.selectAll()
    qtbot.keyClicks(dialog.fen, "rnbqkbnr/8")
    qtbot.keyClick(dialog.fen, Qt.Key.Key_Return)
    assert dialog.isVisible()
    assert "is not a position in FEN" in dialog.fault.text()
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert dialog.result() == dialog.DialogCode.Rejected


def test_texts_are_read_as_the_standard_writes_them() -> None:
    # PGN standard 16.1.4: the positions after 1 e4 and 1 e4 c5.
    fen = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1"
    assert read_position(fen) == chess.Board(fen)
    epd = 'rnbqkbnr/pp1ppppp/8/2p5/4P3/8/PPPP1PPP/RNBQKBNR w KQkq c6 id "x y";'
    assert read_position(epd).board_fen() == "rnbqkbnr/pp1ppppp/8/2p5/4P3/8/PPPP1PPP/RNBQKBNR"
    assert read_position("4k3/8/8/8/8/8/8/4K3").turn == chess.WHITE
    assert read_position("4k3/8/8/8/8/8/8/4K3 b").turn == chess.BLACK
    for text in ("", "e4", "9/8/8/8/8/8/8/8 w - - 0 1", "x" * 5_000):
        with pytest.raises(PositionTextError) as error:
            read_position(text)
        assert len(str(error.value)) < 200


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False), st.integers(0, 60))
def test_every_position_of_a_game_comes_back_the_same(rng, plies: int) -> None:
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
    found = Arrangement.of(board)
    assert not found.fault()
    assert found.board().epd(en_passant="legal") == board.epd(en_passant="legal")
    # Lifting a piece and putting it back changes nothing.
    square = rng.choice(list(board.piece_map()))
    piece = board.piece_at(square)
    assert found.put(square, None)
    assert found.put(square, piece)
    assert found.board().epd(en_passant="legal") == board.epd(en_passant="legal")


@pytest.mark.parametrize(
    ("theme", "scale", "size"),
    [(LIGHT, 1.0, (560, 560)), (DARK, 1.5, (900, 700)), (LIGHT, 2.0, (600, 740))],
)
def test_it_fits_small_windows_and_large_type(
    qapp: QApplication, qtbot: QtBot, theme, scale: float, size: tuple[int, int]
) -> None:
    qapp.setStyle("Fusion")
    qapp.setStyleSheet(application_stylesheet(theme, scale))
    try:
        dialog = SetupDialog(Settings(scale=scale), Look(theme, "letters", scale, flipped=False))
        qtbot.addWidget(dialog)
        dialog.resize(*size)
        dialog.show()
        qapp.processEvents()
        assert dialog.width() == size[0]
        board, box = dialog.board_view.geometry(), dialog.box.geometry()
        assert not board.intersects(box)
        assert dialog.rect().contains(dialog.use.geometry())
        assert min(board.width(), board.height()) >= 220
    finally:
        qapp.setStyleSheet("")
