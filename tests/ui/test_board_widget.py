from __future__ import annotations

import chess
import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QWidget

from trainer.diagram import BoardStyle
from trainer.ui.board.widget import BoardWidget
from trainer.ui.theme import DARK, LIGHT

LEFT = Qt.MouseButton.LeftButton
PROMOTION = chess.Board("1n5k/P7/8/8/8/8/6p1/K6R w - - 0 1")
CASTLING = chess.Board("r3k2r/pppppppp/8/8/8/8/PPPPPPPP/R3K2R w KQkq - 0 1")


class Log:
    """What the board has emitted."""

    def __init__(self, board: BoardWidget) -> None:
        self.moves: list[str] = []
        self.illegal: list[tuple[int, int]] = []
        self.squares: list[str] = []
        board.move_made.connect(lambda move: self.moves.append(move.uci()))
        board.illegal_attempt.connect(lambda start, end: self.illegal.append((start, end)))
        board.square_chosen.connect(lambda square: self.squares.append(chess.square_name(square)))


@pytest.fixture
def board(qtbot) -> BoardWidget:
    widget = BoardWidget()
    qtbot.addWidget(widget)
    widget.resize(400, 400)
    widget.set_interactive(interactive=True, color=None)
    with qtbot.waitActive(widget):
        widget.show()
        widget.activateWindow()
    widget.setFocus()
    qtbot.waitUntil(widget.hasFocus)
    return widget


@pytest.fixture
def log(board: BoardWidget) -> Log:
    return Log(board)


def point(board: BoardWidget, square: chess.Square) -> QPoint:
    geometry = board.geometry_now()
    x, y = geometry.centre(square)
    return QPoint(round(x / geometry.ratio), round(y / geometry.ratio))


def click(board: BoardWidget, *squares: chess.Square) -> None:
    for square in squares:
        QTest.mouseClick(board, LEFT, pos=point(board, square))


def drag(board: BoardWidget, start: chess.Square, end: QPoint, drop: bool = True) -> None:
    first = point(board, start)
    QTest.mousePress(board, LEFT, pos=first)
    for part in (0.1, 0.5, 1.0):
        QTest.mouseMove(board, first + (end - first) * part)
    if drop:
        QTest.mouseRelease(board, LEFT, pos=end)


def keys(board: BoardWidget, *pressed: Qt.Key) -> None:
    for key in pressed:
        QTest.keyClick(board, key)


def picture(board: BoardWidget) -> np.ndarray:
    """What the board looks like: rows of pixels of red, green, blue."""
    image = board.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8)
    rows = rows.reshape(image.height(), image.bytesPerLine())[:, : 3 * image.width()]
    return rows.reshape(image.height(), image.width(), 3).astype(int)


def changed(board: BoardWidget, one: np.ndarray, other: np.ndarray) -> set[str]:
    """The squares on which two pictures differ; `outside` for the rest."""
    names = set()
    geometry = board.geometry_now()
    for y, x in (np.argwhere((one != other).any(axis=2)) + 0.5) / geometry.ratio:
        square = geometry.square_at(x, y)
        names.add("outside" if square is None else chess.square_name(square))
    return names


# Moves by the mouse


def test_a_move_is_dragged(board: BoardWidget, log: Log) -> None:
    drag(board, chess.E2, point(board, chess.E4))
    assert log.moves == ["e2e4"]
    assert board.board == chess.Board()  # a view: the listener answers with a position


def test_a_dragged_piece_hangs_at_the_mouse(board: BoardWidget, log: Log) -> None:
    before = picture(board)
    drag(board, chess.E2, point(board, chess.E5), drop=False)
    assert {"e2", "e5"} <= changed(board, before, picture(board))
    keys(board, Qt.Key.Key_Escape)
    assert changed(board, before, picture(board)) == set()
    QTest.mouseRelease(board, LEFT, pos=point(board, chess.E4))
    assert log.moves == []


def test_a_piece_dropped_beside_the_board_goes_back(board: BoardWidget, log: Log) -> None:
    before = picture(board)
    drag(board, chess.E2, QPoint(2, 2))
    assert (log.moves, log.illegal) == ([], [])
    assert changed(board, before, picture(board)) == set()


def test_the_right_button_lets_go(board: BoardWidget, log: Log) -> None:
    drag(board, chess.E2, point(board, chess.E4), drop=False)
    QTest.mousePress(board, Qt.MouseButton.RightButton, pos=point(board, chess.E4))
    QTest.mouseRelease(board, LEFT, pos=point(board, chess.E4))
    assert log.moves == []


def test_a_move_is_made_by_two_clicks(board: BoardWidget, log: Log) -> None:
    click(board, chess.G1, chess.F3)
    assert log.moves == ["g1f3"]
    assert log.squares == ["g1", "f3"]


def test_a_second_click_on_the_piece_puts_it_back(board: BoardWidget, log: Log) -> None:
    before = picture(board)
    click(board, chess.G1)
    assert changed(board, before, picture(board)) == {"g1"}
    click(board, chess.G1)
    assert changed(board, before, picture(board)) == set()
    click(board, chess.F3)
    assert (log.moves, log.illegal) == ([], [])


def test_a_click_on_another_own_piece_takes_that_one(board: BoardWidget, log: Log) -> None:
    click(board, chess.G1, chess.E2, chess.E3)
    assert log.moves == ["e2e3"]
    assert log.illegal == []


def test_a_piece_is_clicked_and_then_dragged(board: BoardWidget, log: Log) -> None:
    click(board, chess.E2)
    drag(board, chess.E2, point(board, chess.E3))
    assert log.moves == ["e2e3"]


@pytest.mark.parametrize(
    ("end", "move"),
    [
        (chess.G1, "e1g1"),
        (chess.H1, "e1g1"),
        (chess.C1, "e1c1"),
        (chess.A1, "e1c1"),
    ],
)
def test_castling(board: BoardWidget, log: Log, end: chess.Square, move: str) -> None:
    board.set_position(CASTLING)
    click(board, chess.E1, end)
    drag(board, chess.E1, point(board, end))
    assert log.moves == [move, move]


def test_an_illegal_attempt_names_both_squares(board: BoardWidget, log: Log) -> None:
    drag(board, chess.E2, point(board, chess.E5))
    click(board, chess.B1, chess.B5)
    assert log.illegal == [(chess.E2, chess.E5), (chess.B1, chess.B5)]
    assert log.moves == []


def test_only_the_own_pieces_of_the_side_to_move_are_lifted(board: BoardWidget, log: Log) -> None:
    board.set_interactive(interactive=True, color=chess.BLACK)
    drag(board, chess.E2, point(board, chess.E4))
    drag(board, chess.E7, point(board, chess.E5))
    board.set_interactive(interactive=True, color=chess.WHITE)
    drag(board, chess.E7, point(board, chess.E5))
    board.set_interactive(interactive=False, color=None)
    drag(board, chess.E2, point(board, chess.E4))
    assert (log.moves, log.illegal) == ([], [])
    assert log.squares == ["e2", "e7", "e7", "e2"]
    board.set_interactive(interactive=True, color=chess.WHITE)
    drag(board, chess.E2, point(board, chess.E4))
    assert log.moves == ["e2e4"]


def test_a_flipped_board_takes_moves_where_they_are_seen(board: BoardWidget, log: Log) -> None:
    upright = point(board, chess.E2)
    board.set_flipped(True)
    assert point(board, chess.E2) != upright
    click(board, chess.E2, chess.E4)
    assert log.moves == ["e2e4"]


# Moves by the keyboard


def test_a_move_is_made_with_arrow_keys_and_enter(board: BoardWidget, log: Log) -> None:
    click(board, chess.D2, chess.D2)  # the cursor follows the mouse
    keys(board, Qt.Key.Key_Up)  # the first key shows it
    keys(board, Qt.Key.Key_Return, Qt.Key.Key_Up, Qt.Key.Key_Up, Qt.Key.Key_Space)
    assert log.moves == ["d2d4"]


def test_arrow_keys_follow_the_eye_on_a_flipped_board(board: BoardWidget, log: Log) -> None:
    board.set_flipped(True)
    click(board, chess.D2, chess.D2)
    keys(board, Qt.Key.Key_Up, Qt.Key.Key_Left, Qt.Key.Key_Return)
    keys(board, Qt.Key.Key_Down, Qt.Key.Key_Return)
    assert log.moves == ["e2e3"]


def test_the_cursor_stops_at_the_edge_and_is_seen(board: BoardWidget) -> None:
    before = picture(board)
    keys(board, *[Qt.Key.Key_Down] * 5, *[Qt.Key.Key_Right] * 9)
    assert changed(board, before, picture(board)) == {"h1"}
    assert board.accessibleDescription().startswith("h1, white rook.")


def test_tab_shows_the_cursor(qtbot) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    field, widget = QLineEdit(window), BoardWidget(window)
    window.resize(300, 340)
    field.setGeometry(0, 300, 300, 40)
    widget.resize(300, 300)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    field.setFocus()
    before = picture(widget)
    QTest.keyClick(field, Qt.Key.Key_Tab)
    qtbot.waitUntil(widget.hasFocus)
    assert changed(widget, before, picture(widget)) == {"e2"}


def test_escape_puts_the_piece_back(board: BoardWidget, log: Log) -> None:
    keys(board, Qt.Key.Key_Up, Qt.Key.Key_Return, Qt.Key.Key_Escape)
    keys(board, Qt.Key.Key_Up, Qt.Key.Key_Up, Qt.Key.Key_Return)
    assert (log.moves, log.illegal) == ([], [])


class Parent(QWidget):
    """Notes the keys that the board leaves to the window."""

    def __init__(self) -> None:
        super().__init__()
        self.left_over: list[int] = []

    def keyPressEvent(self, event) -> None:  # noqa: N802 - Qt's name
        self.left_over.append(event.key())


def test_keys_that_mean_nothing_to_the_board_reach_the_window(qtbot) -> None:
    window = Parent()
    qtbot.addWidget(window)
    widget = BoardWidget(window)
    window.resize(300, 300)
    widget.resize(300, 300)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    widget.setFocus()
    keys(widget, Qt.Key.Key_Space, Qt.Key.Key_Escape, Qt.Key.Key_H)
    QTest.keyClick(widget, Qt.Key.Key_Left, Qt.KeyboardModifier.ControlModifier)
    keys(widget, Qt.Key.Key_Left, Qt.Key.Key_Return)  # not interactive: shown, not chosen
    assert window.left_over == [
        Qt.Key.Key_Space,
        Qt.Key.Key_Escape,
        Qt.Key.Key_H,
        Qt.Key.Key_Control,
        Qt.Key.Key_Left,
        Qt.Key.Key_Return,
    ]


# Promotion


def test_a_promotion_waits_for_its_piece(board: BoardWidget, log: Log) -> None:
    board.set_position(PROMOTION)
    before = picture(board)
    click(board, chess.A7, chess.A8)
    assert log.moves == []
    shown = changed(board, before, picture(board))
    assert {"a8", "a7", "b7", "c7", "d7"} <= shown


@pytest.mark.parametrize("letter", "qrbn")
def test_a_promotion_is_chosen_by_letter(board: BoardWidget, log: Log, letter: str) -> None:
    board.set_position(PROMOTION)
    drag(board, chess.A7, point(board, chess.B8))
    QTest.keyClicks(board, letter)
    assert log.moves == [f"a7b8{letter}"]


@pytest.mark.parametrize(("square", "letter"), [(chess.A7, "q"), (chess.D7, "n")])
def test_a_promotion_is_chosen_by_click(
    board: BoardWidget, log: Log, square: chess.Square, letter: str
) -> None:
    board.set_position(PROMOTION)
    click(board, chess.A7, chess.A8, square)
    assert log.moves == [f"a7a8{letter}"]


def test_a_promotion_is_chosen_with_arrows_and_enter(board: BoardWidget, log: Log) -> None:
    board.set_position(PROMOTION)
    click(board, chess.A7, chess.A8)
    keys(board, Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Enter)
    assert log.moves == ["a7a8b"]


def test_black_promotes_at_the_lower_edge(board: BoardWidget, log: Log) -> None:
    position = PROMOTION.copy()
    position.turn = chess.BLACK
    board.set_position(position)
    click(board, chess.G2, chess.H1)
    promotion_row = chess.E2, chess.F2, chess.G2, chess.H2
    click(board, promotion_row[1])
    assert log.moves == ["g2h1r"]


def test_a_promotion_is_given_up(board: BoardWidget, log: Log) -> None:
    board.set_position(PROMOTION)
    before = picture(board)
    click(board, chess.A7, chess.A8)
    keys(board, Qt.Key.Key_Escape)
    assert changed(board, before, picture(board)) == set()
    click(board, chess.A7, chess.A8, chess.H4)  # a click beside the strip
    assert changed(board, before, picture(board)) == set()
    assert (log.moves, log.illegal) == ([], [])


# Motion


def test_a_move_glides_and_arrives(board: BoardWidget, qtbot) -> None:
    after = chess.Board()
    move = after.push_san("e4")
    board.set_position(after, move)
    still = picture(board)
    board.set_position(chess.Board())
    board.set_position(after, move, animate=True)
    assert changed(board, still, picture(board)) >= {"e4"}
    qtbot.waitUntil(lambda: not board._motion.running)
    assert changed(board, still, picture(board)) == set()


def test_a_new_position_ends_the_motion_at_once(board: BoardWidget) -> None:
    first, second = chess.Board(), chess.Board()
    one = first.push_san("e4")
    second.push_san("e4")
    two = second.push_san("c5")
    board.set_position(second, two)
    still = picture(board)
    board.set_position(chess.Board())
    board.set_position(first, one, animate=True)
    assert board._motion.running
    board.set_position(second, two)
    assert not board._motion.running
    assert changed(board, still, picture(board)) == set()


def test_reduced_motion_jumps(board: BoardWidget) -> None:
    after = chess.Board()
    move = after.push_san("e4")
    board.set_reduced_motion(True)
    board.set_position(after, move, animate=True)
    assert not board._motion.running


def test_a_dropped_piece_does_not_glide_again(board: BoardWidget) -> None:
    def answer(move: chess.Move) -> None:
        after = board.board
        after.push(move)
        board.set_position(after, move, animate=True)
        running.append([glide.end for glide in board._motion.transition.glides])

    running: list[list[int]] = []
    board.move_made.connect(answer)
    board.set_position(CASTLING)
    drag(board, chess.E1, point(board, chess.G1))  # only the rook has a way to go
    board.set_position(CASTLING)
    click(board, chess.E1, chess.G1)
    assert running == [[chess.F1], [chess.F1, chess.G1]]


# What is drawn


def test_the_last_move_marks_its_two_squares_only(board: BoardWidget) -> None:
    before = picture(board)
    board.set_position(chess.Board(), chess.Move.from_uci("g8f6"))
    assert changed(board, before, picture(board)) == {"g8", "f6"}
    board.set_position(chess.Board(), chess.Move.null())
    assert changed(board, before, picture(board)) == set()


def test_hints_come_in_two_steps(board: BoardWidget) -> None:
    before = picture(board)
    board.set_hint(chess.G1, None)
    first = picture(board)
    assert changed(board, before, first) == {"g1"}
    board.set_hint(chess.G1, chess.F3)
    assert changed(board, first, picture(board)) == {"f3"}
    board.set_hint(None, None)
    assert changed(board, before, picture(board)) == set()


def test_targets_are_shown_only_on_request(board: BoardWidget) -> None:
    before = picture(board)
    click(board, chess.B1)
    assert changed(board, before, picture(board)) == {"b1"}
    board.set_show_targets(True)
    assert changed(board, before, picture(board)) == {"b1", "a3", "c3"}


def test_arrows_lie_on_their_way(board: BoardWidget) -> None:
    before = picture(board)
    board.set_arrows([(chess.E4, chess.E6)])
    assert {"e4", "e5", "e6"} == changed(board, before, picture(board))
    single = picture(board)
    board.set_arrows([(chess.E4, chess.E6), (chess.A4, chess.C4)])
    # Two arrows are numbered, so the first has changed as well.
    assert {"e4", "a4", "b4", "c4"} <= changed(board, single, picture(board))


@pytest.mark.parametrize("style", list(BoardStyle))
def test_the_board_is_paper_and_ink_only(board: BoardWidget, style: BoardStyle) -> None:
    board.set_style(style)
    board.set_position(chess.Board(), chess.Move.from_uci("e2e4"))
    board.set_hint(chess.G1, chess.F3)
    board.set_arrows([(chess.D2, chess.D4), (chess.D7, chess.D5)])
    left, top, width, height = board.geometry_now().field
    pixels = picture(board)[top : top + height, left : left + width]
    red, green, blue = pixels[..., 0], pixels[..., 1], pixels[..., 2]
    # Every mixture of the paper and ink colours is a warm grey.
    assert (red >= green).all()
    assert (green >= blue).all()
    assert (red - blue).max() <= 16


def test_styles_and_themes_look_different(board: BoardWidget) -> None:
    pictures = []
    for theme in (LIGHT, DARK):
        for style in BoardStyle:
            board.set_theme(theme)
            board.set_style(style)
            pictures.append(picture(board))
    hatched, plain, dark, _ = pictures
    differing = changed(board, hatched, plain)
    # Dark squares only; h1 is light (FIDE Laws of Chess 2023, article 2.1).
    assert differing == {
        chess.square_name(square) for square in chess.SquareSet(chess.BB_DARK_SQUARES)
    }
    assert dark[0, 0].max() < 64
    assert hatched[0, 0].min() > 192


def test_plain_squares_are_flat(board: BoardWidget) -> None:
    board.set_style(BoardStyle.PLAIN)
    board.set_position(chess.Board(None))
    x, y, side, _ = board.geometry_now().rect(chess.D4)
    cell = picture(board)[y : y + side, x : x + side]
    assert len(np.unique(cell.reshape(-1, 3), axis=0)) == 1


def test_coordinates_can_be_hidden_and_the_squares_grow(board: BoardWidget) -> None:
    with_figures = board.geometry_now().square
    board.set_coordinates(False)
    assert board.geometry_now().square > with_figures


@pytest.mark.parametrize("size", [(200, 200), (700, 300), (300, 700), (641, 643)])
def test_the_board_stays_square_at_any_size(
    board: BoardWidget, log: Log, size: tuple[int, int]
) -> None:
    board.resize(*size)
    _, _, width, height = board.geometry_now().field
    assert width == height
    click(board, chess.H2, chess.H4)
    assert log.moves == ["h2h4"]


def test_the_widget_asks_for_a_square(board: BoardWidget) -> None:
    assert board.sizeHint().width() == board.sizeHint().height()
    assert board.hasHeightForWidth()
    assert board.heightForWidth(517) == 517
    assert board.minimumWidth() == board.minimumHeight() == 200


def on_screen(board: BoardWidget) -> np.ndarray:
    """What partial repaints have left on the screen, without painting anew."""
    QApplication.processEvents()
    shot = board.screen().grabWindow(board.winId()).toImage()
    image = shot.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8)
    rows = rows.reshape(image.height(), image.bytesPerLine())[:, : 3 * image.width()]
    return rows.reshape(image.height(), image.width(), 3).astype(int)


def test_partial_repaints_leave_nothing_behind(board: BoardWidget, qtbot) -> None:
    position = chess.Board()
    # With an en-passant capture, which takes on a square that no piece glides over.
    for san in ["e4", "Nf6", "e5", "d5", "exd6", "Nc6", "dxc7", "Qxc7", "Nf3", "Bg4", "Be2"]:
        move = position.push_san(san)
        board.set_position(position, move, animate=True)
        qtbot.wait(30)
        if san in {"exd6", "Be2"}:
            qtbot.waitUntil(lambda: not board._motion.running)
            assert changed(board, on_screen(board), picture(board)) == set()
    click(board, chess.G4)
    drag(board, chess.C7, point(board, chess.H2))
    drag(board, chess.C7, point(board, chess.D2), drop=False)
    keys(board, Qt.Key.Key_Escape)
    screen = on_screen(board)
    assert changed(board, screen, picture(board)) == set()
    board.set_flipped(True)
    assert (on_screen(board) != screen).any()


def test_a_first_motion_that_jumps_ahead_leaves_nothing_behind(board: BoardWidget) -> None:
    after = chess.Board()
    move = after.push_san("e4")
    on_screen(board)
    board.set_position(after, move, animate=True)
    board.repaint(board._square_rect(chess.E2))  # a busy machine: one frame at the start
    board._motion._step(0.8)  # and the next near the end
    QApplication.processEvents()
    board._motion.finish()
    assert changed(board, on_screen(board), picture(board)) == set()


# Other readers


def test_a_screen_reader_gets_the_position(board: BoardWidget) -> None:
    after = chess.Board()
    move = after.push_san("Nf3")
    board.set_position(after, move)
    assert board.accessibleName() == "Chess board"
    text = board.accessibleDescription()
    assert text.startswith("Black to move. Last move: knight g1 to f3.")
    assert "White: king e1, queen d1, rooks a1 h1" in text


def test_the_position_is_copied(board: BoardWidget) -> None:
    position = chess.Board()
    board.set_position(position)
    position.push_san("e4")
    assert board.board == chess.Board()
