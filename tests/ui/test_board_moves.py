import chess
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.ui.board.moves import (
    STILL,
    Glide,
    changed_squares,
    matching_moves,
    spoken_position,
    spoken_square,
    targets,
    transition,
)

CASTLING = chess.Board("r3k2r/pppppppp/8/8/8/8/PPPPPPPP/R3K2R w KQkq - 0 1")


@st.composite
def played(draw: st.DrawFn) -> chess.Board:
    """A board after some random legal moves, with its last move on the stack."""
    board = chess.Board()
    for _ in range(draw(st.integers(1, 60))):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(draw(st.sampled_from(moves)))
    return board


@settings(deadline=None)
@given(played())
def test_every_legal_move_is_found_by_its_squares(board: chess.Board) -> None:
    # Reference library: the legal moves of python-chess.
    for move in board.legal_moves:
        assert move in matching_moves(board, move.from_square, move.to_square)
    for square in chess.SQUARES:
        wanted = {move.to_square for move in board.legal_moves if move.from_square == square}
        assert targets(board, square) == wanted


def _arrived(old: chess.Board, new: chess.Board) -> dict[chess.Square, chess.Piece]:
    """The pieces of `old` after the transition, each as the kind that it is in `new`."""
    change = transition(old, new)
    pieces = old.piece_map()
    for square, _ in change.taken:
        del pieces[square]
    for glide in change.glides:
        del pieces[glide.start]
    for glide in change.glides:
        arrived = new.piece_at(glide.end)
        assert arrived is not None
        assert glide.piece in (arrived, chess.Piece(chess.PAWN, arrived.color))
        pieces[glide.end] = arrived
    return pieces


@settings(deadline=None)
@given(played())
def test_a_transition_takes_the_old_position_to_the_new(board: chess.Board) -> None:
    # Reference library: the moves of python-chess.
    new = board.copy()
    move = board.pop()
    assert _arrived(board, new) == new.piece_map()
    if move.promotion is None:
        # Backwards a taken piece stands up again where it was and travels nowhere.
        missing = board.piece_map().items() - _arrived(new, board).items()
        assert len(missing) == board.is_capture(move)


def test_castling_is_two_squares_of_the_king_or_onto_his_rook() -> None:
    castles = (chess.Move.from_uci("e1g1"),)
    assert matching_moves(CASTLING, chess.E1, chess.G1) == castles
    assert matching_moves(CASTLING, chess.E1, chess.H1) == castles
    assert matching_moves(CASTLING, chess.E1, chess.A1) == (chess.Move.from_uci("e1c1"),)
    assert matching_moves(CASTLING, chess.H1, chess.E1) == ()


def test_castling_by_the_rook_is_found_from_any_start_square() -> None:
    board = chess.Board("6k1/8/8/8/8/8/8/1R3K1R w BH - 0 1", chess960=True)
    assert chess.Move.from_uci("f1h1") in matching_moves(board, chess.F1, chess.H1)
    assert matching_moves(board, chess.F1, chess.C1) == (chess.Move.from_uci("f1b1"),)


def test_a_promotion_offers_four_moves() -> None:
    board = chess.Board("8/P6k/8/8/8/8/8/K7 w - - 0 1")
    moves = matching_moves(board, chess.A7, chess.A8)
    assert {move.promotion for move in moves} == set(range(chess.KNIGHT, chess.KING))


def test_castling_moves_king_and_rook() -> None:
    after = CASTLING.copy()
    after.push_san("O-O")
    king, rook = chess.Piece.from_symbol("K"), chess.Piece.from_symbol("R")
    assert set(transition(CASTLING, after).glides) == {
        Glide(king, chess.E1, chess.G1),
        Glide(rook, chess.H1, chess.F1),
    }


def test_en_passant_takes_the_pawn_beside() -> None:
    board = chess.Board("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1")
    after = board.copy()
    after.push_san("exd6")
    change = transition(board, after)
    assert change.taken == ((chess.D5, chess.Piece.from_symbol("p")),)
    assert [(glide.start, glide.end) for glide in change.glides] == [(chess.E5, chess.D6)]


def test_a_jump_to_another_position_does_not_travel() -> None:
    assert transition(chess.Board(), CASTLING) == STILL
    assert transition(CASTLING, CASTLING) == STILL


def test_changed_squares_are_those_with_other_pieces() -> None:
    after = CASTLING.copy()
    after.push_san("O-O-O")
    assert set(changed_squares(CASTLING, after)) == {chess.A1, chess.C1, chess.D1, chess.E1}


def test_a_position_is_read_aloud() -> None:
    board = chess.Board("4k3/8/8/8/4P3/8/8/R3K2R b - - 0 1")
    assert spoken_position(board, chess.Move.from_uci("e2e4")) == (
        "Black to move. Last move: pawn e2 to e4. "
        "White: king e1, rooks a1 h1, pawn e4. Black: king e8."
    )
    assert spoken_square(board, chess.H1) == "h1, white rook"
    assert spoken_square(board, chess.H2) == "h2, empty"
