"""Games played by the thousand, held to python-chess move by move."""

from __future__ import annotations

import chess
import numpy as np
import pytest

from tests.base_games import GameMaker
from tests.many_games import NONE, ManyGames, san


@pytest.fixture(scope="module")
def games() -> list[list[str]]:
    # Long ones from bare beginnings: all kinds of moves come up.
    return GameMaker(seed=71, shortest=250, longest=320, openings=[["e4"], ["d4"]])._games(80)


def test_every_move_is_legal_and_written_as_python_chess_writes_it(
    games: list[list[str]],
) -> None:
    for game in games:
        board = chess.Board()
        for word in game:
            move = board.parse_san(word)
            assert board.san(move) == word
            board.push(move)


def test_all_kinds_of_moves_come_up(games: list[list[str]]) -> None:
    words = {word for game in games for word in game}
    assert {"O-O", "O-O-O"} <= {word.rstrip("+#") for word in words}
    assert any("=Q" in word for word in words)
    assert any(word.endswith("#") for word in words)
    assert any(word[1:2] in "12345678" and word[0] in "NRQ" for word in words)
    assert any(len(word.rstrip("+#")) == 5 and word[0] == "Q" for word in words)
    assert any(_takes_in_passing(game) for game in games)


def _takes_in_passing(game: list[str]) -> bool:
    board = chess.Board()
    for word in game:
        move = board.parse_san(word)
        if board.is_en_passant(move):
            return True
        board.push(move)
    return False


def test_a_game_that_ends_early_has_no_legal_move_left(games: list[list[str]]) -> None:
    short = [game for game in games if len(game) < 250]
    assert short
    for game in short:
        board = chess.Board()
        for word in game:
            board.push_san(word)
        assert not any(board.legal_moves)


def test_boards_agree_with_python_chess() -> None:
    boards, count = ManyGames(60), 60
    plain = [chess.Board() for _ in range(count)]
    rng = np.random.default_rng(3)
    games = np.arange(count)
    for _ in range(140):
        whence, to = boards.choose(games, rng.integers(0, 9, len(games)))
        fits = whence != NONE
        games, whence, to = games[fits], whence[fits], to[fits]
        boards.play(games, whence, to)
        for game, origin, target in zip(games.tolist(), whence.tolist(), to.tolist(), strict=True):
            plain[game].push(plain[game].find_move(origin, target))
            assert boards.board(game).epd() == plain[game].epd()
            assert boards.checked[game] == plain[game].is_check()


def test_what_is_played_depends_on_the_position_alone() -> None:
    """Whatever order the moves came in, and whatever other games are played beside it."""
    orders = (["d4", "d5", "c4"], ["c4", "d5", "d4"], ["a3", "a6", "b3"])
    boards = ManyGames(3)
    for ply in range(3):
        plain = chess.Board()
        moves = []
        for order in orders:
            plain = chess.Board()
            for word in order[:ply]:
                plain.push_san(word)
            moves.append(plain.parse_san(order[ply]))
        boards.play(
            np.arange(3),
            np.array([move.from_square for move in moves]),
            np.array([move.to_square for move in moves]),
        )
    for number in range(20):
        whence, to = boards.choose(np.arange(3), np.full(3, number))
        assert (whence[0], to[0]) == (whence[1], to[1])
        alone, there = boards.choose(np.array([0]), np.array([number]))
        assert (alone[0], there[0]) == (whence[0], to[0])


def test_the_same_seed_makes_the_same_file() -> None:
    assert GameMaker(seed=72).text(50) == GameMaker(seed=72).text(50)
    assert GameMaker(seed=72).text(50) != GameMaker(seed=73).text(50)


def test_texts_of_moves() -> None:
    assert san(6 * 2) == "O-O"
    assert san(((3 * 81 * 2 + 1) * 64 + chess.E5) * 2 + 1) == "Bxe5+"
