"""The fast board against python-chess, move by move."""

from __future__ import annotations

import random
from collections.abc import Iterator

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.notation.fastboard import FastBoard
from trainer.notation.san import is_null_move, read_spelling
from trainer.position import pack_position, position_key

#: Positions rich in what goes wrong: castling, promotions, pins, en passant, double checks.
SHARP_POSITIONS = [
    chess.STARTING_FEN,
    "r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1",
    "8/2p5/3p4/KP5r/1R3p1k/8/4P1P1/8 w - - 0 1",
    "r3k2r/Pppp1ppp/1b3nbN/nP6/BBP1P3/q4N2/Pp1P2PP/R2Q1RK1 w kq - 0 1",
    "rnbq1k1r/pp1Pbppp/2p5/8/2B5/8/PPP1NnPP/RNBQK2R w KQ - 1 8",
    "n1n5/PPPk4/8/8/8/8/4Kppp/5N1N b - - 0 1",
    "4k3/8/8/8/1b6/2N5/8/4K1N1 w - - 0 1",
    "Q3Q3/8/7k/8/8/8/8/Q3Q2K w - - 0 1",
    "7k/8/8/K1Pp3r/8/8/8/8 w - d6 0 1",
    "r3k2r/8/8/8/4r3/8/8/R3K2R w KQkq - 0 1",
    "8/8/8/8/k2Pp2Q/8/8/3K4 b - d3 0 1",
]


_NO_MOVE = (chess.InvalidMoveError, chess.IllegalMoveError, chess.AmbiguousMoveError)


def _same(fast: FastBoard, board: chess.Board) -> None:
    assert fast.pack() == pack_position(board)
    assert fast.key == position_key(board)
    assert fast.in_check == board.is_check()
    assert fast.turn == board.turn
    assert fast.occupied == board.occupied


def _after(fast: FastBoard, move: chess.Move) -> FastBoard:
    copy = FastBoard(fast.pack(), fast.key)
    copy.push(move)
    return copy


def spellings(board: chess.Board, move: chess.Move) -> Iterator[str]:
    san = board.san(move)
    yield san
    yield san.rstrip("+#")
    if board.is_castling(move):
        yield san.replace("O", "0")
        yield san.replace("O", "o")
    else:
        yield san.replace("x", "")
        letter = san[0] if san[0] in "KQRBN" else ""
        promotion = f"={san.rstrip('+#')[-1]}" if move.promotion else ""
        long = chess.square_name(move.from_square), chess.square_name(move.to_square)
        yield f"{letter}{long[0]}-{long[1]}{promotion}"
        yield f"{letter}{long[0]}x{long[1]}{promotion}"
        if promotion:
            yield san.replace("=", "")
            yield san.replace(promotion, f"({promotion[1]})")
            yield san.replace("=", "/")
    yield f"{chess.square_name(move.from_square)}{chess.square_name(move.to_square)}" + (
        chess.piece_symbol(move.promotion) if move.promotion else ""
    )


def _compare_all_moves(board: chess.Board) -> None:
    fast = FastBoard.from_board(board)
    _same(fast, board)
    for move in board.legal_moves:
        for spelling in spellings(board, move):
            assert fast.resolve(spelling) == move, (board.fen(), spelling)
        after = _after(fast, move)
        assert fast.san(move) + after.check_sign() == board.san(move)
        board.push(move)
        _same(after, board)
        board.pop()


def _compare_refusals(board: chess.Board, words: list[str]) -> None:
    fast = FastBoard.from_board(board)
    for word in words:
        try:
            expected: chess.Move | type[Exception] = board.parse_san(word)
        except ValueError as error:
            expected = type(error)
        if isinstance(expected, chess.Move):
            assert fast.resolve(word) == expected, (board.fen(), word)
        else:
            with pytest.raises(_NO_MOVE):
                fast.resolve(word)


@pytest.mark.parametrize("fen", SHARP_POSITIONS)
def test_two_plies_from_sharp_positions(fen: str) -> None:
    board = chess.Board(fen)
    _compare_all_moves(board)
    for move in list(board.legal_moves):
        board.push(move)
        _compare_all_moves(board)
        board.pop()


@settings(deadline=None)
@given(seed=st.integers(0, 2**32), start=st.sampled_from(SHARP_POSITIONS))
def test_random_play(seed: int, start: str) -> None:
    rng = random.Random(seed)
    board = chess.Board(start)
    fast = FastBoard.from_board(board)
    for ply in range(120):
        moves = list(board.legal_moves)
        if not moves:
            break
        if ply % 12 == 0:
            _compare_all_moves(board)
        move = rng.choice(moves)
        san = board.san(move)
        assert fast.resolve(san) == move
        body = fast.san(move)
        fast.push(move)
        assert body + fast.check_sign() == san
        board.push(move)
        _same(fast, board)


def every_word() -> list[str]:
    squares = chess.SQUARE_NAMES
    words = [letter + square for letter in ("", "K", "Q", "R", "B", "N") for square in squares]
    words += [f"{file}x{square}" for file in "abcdefgh" for square in squares]
    words += [f"{square}=Q" for square in squares] + [f"N{file}f3" for file in "abcdefgh"]
    words += [f"R{rank}{square}" for rank in "12345678" for square in squares[:16]]
    return [*words, "O-O", "O-O-O"]


@settings(deadline=None)
@given(seed=st.integers(0, 2**32), start=st.sampled_from(SHARP_POSITIONS))
def test_what_python_chess_refuses_is_refused(seed: int, start: str) -> None:
    rng = random.Random(seed)
    board = chess.Board(start)
    for _ in range(rng.randrange(30)):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
    _compare_refusals(board, rng.sample(every_word(), 120))


@pytest.mark.parametrize(
    "word", ["Sf3", "Lb5", "", "e9", "i4", "Nf3f", "nf3", "e8=K", "e4e5e6", "O-O-O-O", "Qh9"]
)
def test_what_is_no_move_has_no_spelling(word: str) -> None:
    assert read_spelling(word) is None
    with pytest.raises(chess.InvalidMoveError):
        FastBoard.from_board(chess.Board()).resolve(word)


def test_figurines_are_the_letters_of_the_standard() -> None:
    fast = FastBoard.from_board(chess.Board())
    assert fast.resolve("♘f3") == chess.Move.from_uci("g1f3")
    assert fast.resolve("♞f3") == chess.Move.from_uci("g1f3")
    assert fast.resolve("♙e4") == chess.Move.from_uci("e2e4")


@pytest.mark.parametrize("word", ["exd6", "exd6e.p.", "exd6ep", "ed6", "e5d6", "e5xd6"])
def test_en_passant_spellings(word: str) -> None:
    fast = FastBoard.from_board(chess.Board("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1"))
    assert fast.resolve(word) == chess.Move.from_uci("e5d6")


def test_ambiguity_is_told_apart_from_illegality() -> None:
    fast = FastBoard.from_board(chess.Board("4k3/8/8/8/8/8/8/N3K1N1 w - - 0 1"))
    with pytest.raises(chess.IllegalMoveError):
        fast.resolve("Ne5")
    fast = FastBoard.from_board(chess.Board("4k3/8/8/8/8/2N5/8/4K1N1 w - - 0 1"))
    with pytest.raises(chess.AmbiguousMoveError):
        fast.resolve("Ne2")


@pytest.mark.parametrize("word", ["--", "Z0", "@@@@", "0000"])
def test_null_moves(word: str) -> None:
    assert is_null_move(word)
    with pytest.raises(_NO_MOVE):
        FastBoard.from_board(chess.Board()).resolve(word)
