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


def set_up(board: chess.Board, count: int) -> ManyGames:
    """So many games that stand at one position."""
    games = ManyGames(count)
    games.squares[:], games.slots[:] = NONE, -1
    games.pieces[:], games.sides[:] = 0, 0
    games.side = int(not board.turn)
    games.turns[:] = games.side
    used = [0, 16]
    for square, piece in board.piece_map().items():
        side, bit = int(not piece.color), np.uint64(chess.BB_SQUARES[square])
        slot, used[side] = used[side], used[side] + 1
        games.squares[:, slot], games.kinds[:, slot] = square, piece.piece_type
        games.slots[:, square] = slot
        games.pieces[side, piece.piece_type] |= bit
        games.sides[side] |= bit
        if piece.piece_type == chess.KING:
            games.kings[side] = square
    games.rights[:] = board.clean_castling_rights()
    games.passed[:] = NONE if board.ep_square is None else board.ep_square
    games.checked[:] = board.is_check()
    games.keys[:] = 12345
    return games


@pytest.mark.parametrize(
    "fen",
    [
        # Queens that need file and rank; one of several that is pinned.
        "6k1/8/8/8/Q6Q/8/8/Q3K3 w - - 0 1",
        "k3r3/8/8/2N3N1/4N3/8/8/4K3 w - - 0 1",
        # Castling both ways, then through and out of attack.
        "r3k2r/8/8/8/8/8/8/R3K2R b KQkq - 0 1",
        "r3k2r/8/8/5q2/8/8/8/R3K2R w KQkq - 0 1",
        "r3k2r/8/8/4q3/8/8/8/R3K2R w KQkq - 0 1",
        # Taking in passing, and where that would uncover the king.
        "4k3/8/8/1pP5/8/8/8/4K3 w - b6 0 2",
        "8/8/8/8/k2Pp2Q/8/8/3K4 b - d3 0 1",
        # Promotions, with and without taking; a double check.
        "1n2k3/P6P/8/8/8/8/8/4K3 w - - 0 1",
        "4k3/8/5N2/8/8/8/4R3/4K3 b - - 0 1",
    ],
)
def test_every_legal_move_of_a_position_comes_up_and_is_written_right(fen: str) -> None:
    board = chess.Board(fen)
    legal = {
        (move.from_square, move.to_square): board.san(move)
        for move in board.legal_moves
        if move.promotion in (None, chess.QUEEN)
    }
    count = 4000
    games = set_up(board, count)
    whence, to = games.choose(np.arange(count), np.arange(count))
    assert set(zip(whence.tolist(), to.tolist(), strict=True)) == set(legal)
    numbers = games.play(np.arange(count), whence, to)
    for origin, target, number in zip(whence.tolist(), to.tolist(), numbers.tolist(), strict=True):
        assert san(number) == legal[origin, target].replace("#", "+")


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
