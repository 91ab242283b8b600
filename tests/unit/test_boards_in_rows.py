"""Many boards at once against python-chess and the fast board, row by row."""

from __future__ import annotations

import random

import chess
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.test_san import SHARP_POSITIONS, every_word, spellings
from trainer.notation.fastboard import FastBoard
from trainer.notation.many_boards import ManyBoards
from trainer.notation.many_moves import Spellings
from trainer.notation.san import read_spelling
from trainer.position import pack_position, position_key


def rows_of(board: chess.Board, count: int) -> ManyBoards:
    return ManyBoards.of(FastBoard.from_board(board))[np.zeros(count, np.intp)]


def stands_at(boards: ManyBoards, row: int, board: chess.Board) -> None:
    assert boards.packed()[row].tobytes() == pack_position(board)
    assert int(boards.key[row]) == position_key(board)
    assert bool(boards.in_check[row]) == board.is_check()
    assert boards.turn == board.turn
    assert int(boards.king[row]) == board.king(board.turn)
    assert int(boards.other_king[row]) == board.king(not board.turn)


def compare(board: chess.Board, words: list[str]) -> None:
    """All words at once: found exactly where one legal move fits, and made rightly."""
    boards = rows_of(board, len(words))
    rows, moves = boards.find(Spellings.of([read_spelling(word) for word in words]))
    before = boards[rows]
    after = before.make(moves)
    sans, objects = before.sans(moves, after), moves.objects()
    expected = {}
    for number, word in enumerate(words):
        spelling = read_spelling(word)
        try:
            if spelling is not None and spelling.piece:
                expected[number] = FastBoard.from_board(board).resolve(word)
        except ValueError:
            continue
    assert rows.tolist() == list(expected), board.fen()
    for place, move in enumerate(expected.values()):
        assert objects[place] is move
        assert sans[place] == board.san(move)
    # One row for each different move is enough for what follows.
    for move, place in {move: place for place, move in enumerate(objects)}.items():
        board.push(move)
        stands_at(after[np.array([place])], 0, board)
        board.pop()


@pytest.mark.parametrize("fen", SHARP_POSITIONS)
def test_all_spellings_of_all_moves_two_plies_from_sharp_positions(fen: str) -> None:
    board = chess.Board(fen)
    for move in [None, *board.legal_moves]:
        if move is not None:
            board.push(move)
        words = [word for legal in board.legal_moves for word in spellings(board, legal)]
        compare(board, words)
        if move is not None:
            board.pop()


@pytest.mark.parametrize("fen", SHARP_POSITIONS)
def test_every_word_is_refused_or_left_where_the_fast_board_refuses_it(fen: str) -> None:
    compare(chess.Board(fen), [*every_word(), "Nz9", "--", "e2e4", "O-O=Q", "Ke2=Q"])


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 2**32), start=st.sampled_from(SHARP_POSITIONS))
def test_many_games_side_by_side(seed: int, start: str) -> None:
    """Each row goes its own way; rows whose game is over are left out."""
    rng = random.Random(seed)
    games = [chess.Board(start) for _ in range(12)]
    boards = rows_of(games[0], len(games))
    for _ in range(60):
        going = [row for row, game in enumerate(games) if any(game.legal_moves)]
        boards, games = boards[np.array(going, np.intp)], [games[row] for row in going]
        if not games:
            break
        words = []
        for game in games:
            move = rng.choice(list(game.legal_moves))
            words.append(game.san(move))
            game.push(move)
        rows, moves = boards.find(Spellings.of([read_spelling(word) for word in words]))
        assert len(rows) == len(games)
        after = boards.make(moves)
        assert boards.sans(moves, after) == words
        boards = after
        for row, game in enumerate(games):
            stands_at(boards, row, game)


def test_no_rows_at_all() -> None:
    boards = rows_of(chess.Board(), 0)
    rows, moves = boards.find(Spellings.of([]))
    after = boards.make(moves)
    assert not len(rows)
    assert after.packed().tobytes() == b""
    assert boards.sans(moves, after) == moves.objects() == []
