"""Novelties against a reference base, held to brute force: FEN strings, dates and lists."""

from __future__ import annotations

import random
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests import games_reference as reference
from trainer.games.base.builder import build_base
from trainer.games.base.store import ReferenceBase
from trainer.games.novelty import find_novelty, look_for_novelty
from trainer.games.reading import read_games
from trainer.games.sentences import novelty_sentences

DEMO_GAMES = Path(__file__).resolve().parents[2] / "repertoires" / "demo-games.pgn"
PLIES = 40
DATES = ("2020.01.05", "2020.02.05", "2020.02.??", "2020.??.??", "2021.03.04", "????.??.??")


def bounds(date: str) -> tuple[str, str] | None:
    """The first and the last day that a date may mean, as texts that compare."""
    year, month, day = date.split(".")
    if year == "????":
        return None
    first = f"{year}.{month.replace('??', '01')}.{day.replace('??', '01')}"
    last = f"{year}.{month.replace('??', '12')}.{day.replace('??', '31')}"
    return first, last


def surely_earlier(one: str, other: str) -> bool:
    mine, theirs = bounds(one), bounds(other)
    return mine is not None and theirs is not None and mine[1] < theirs[0]


def line_of(game: chess.pgn.Game) -> list[tuple[str, str]]:
    board = game.board()
    line = [(reference.epd(board), "")]
    for move in game.mainline_moves():
        san = board.san_and_push(move)
        line.append((reference.epd(board), san))
    return line


def brute_novelty(games: list[chess.pgn.Game], number: int) -> tuple[int, str, int] | None:
    game = games[number]
    date = game.headers["Date"]
    if bounds(date) is None:
        return None
    earlier = [
        [position for position, _ in line_of(other)[: PLIES + 1]]
        for other in games
        if other is not game
        and other.board().fen() == chess.STARTING_FEN
        and next(iter(other.mainline_moves()), None) is not None
        and surely_earlier(other.headers["Date"], date)
    ]
    line = line_of(game)
    for ply in range(1, min(len(line) - 1, PLIES) + 1):
        if not any(line[ply][0] in other for other in earlier):
            before = sum(line[ply - 1][0] in other for other in earlier)
            return ply, line[ply][1], before
    return None


def random_games(rng: random.Random, count: int) -> str:
    parts = []
    for number in range(count):
        game = chess.pgn.Game()
        board = chess.Board()
        fen = rng.choice(reference.STARTS)
        if fen != chess.STARTING_FEN:
            board = chess.Board(fen)
        game.setup(board)
        game.headers["Date"] = rng.choice(DATES)
        game.headers["White"], game.headers["Black"] = f"White {number}", f"Black {number}"
        game.headers["Result"] = rng.choice(["1-0", "0-1", "1/2-1/2"])
        node: chess.pgn.GameNode = game
        for san in reference.random_line(rng, board.copy(), rng.randrange(1, 50)):
            node = node.add_variation(node.board().parse_san(san))
        parts.append(str(game))
    return "\n\n".join(parts) + "\n"


@pytest.mark.parametrize("seed", range(6))
def test_random_games_against_brute_force(tmp_path: Path, seed: int) -> None:
    text = random_games(random.Random(seed), 40)
    path = tmp_path / "games.pgn"
    path.write_text(text, encoding="utf-8")
    build_base(tmp_path / "base.sqlite", [path], plies=PLIES)
    games = reference.games_of(text)
    with ReferenceBase(tmp_path / "base.sqlite") as base:
        for number, game in enumerate(read_games([path])):
            found = find_novelty(base, game)
            told = None if found is None else (found.ply, found.move, found.earlier_games)
            assert told == brute_novelty(games, number)


def test_every_novelty_of_the_demo_is_found(tmp_path: Path) -> None:
    build_base(tmp_path / "base.sqlite", [DEMO_GAMES], plies=PLIES)
    games = reference.games_of(DEMO_GAMES.read_text(encoding="utf-8"))
    lines = [line_of(game) for game in games]
    dates = [game.headers["Date"] for game in games]
    with ReferenceBase(tmp_path / "base.sqlite") as base:
        for number, game in enumerate(read_games([DEMO_GAMES])):
            earlier = [
                {position for position, _ in lines[other][: PLIES + 1]}
                for other in range(len(games))
                if dates[other] < dates[number]
            ]
            line = lines[number]
            ply = next(
                ply
                for ply in range(1, PLIES + 1)
                if not any(line[ply][0] in other for other in earlier)
            )
            found = look_for_novelty(base, game)
            assert found.novelty is not None
            assert (found.novelty.ply, found.novelty.move) == (ply, line[ply][1])
            before = [other for other in earlier if line[ply - 1][0] in other]
            assert found.novelty.earlier_games == len(before)
            assert sum(one.games for one in found.alternatives) == len(before)
            assert found.novelty.move not in [one.san for one in found.alternatives]


def test_a_departure_and_a_novelty_are_told_apart_in_words(tmp_path: Path) -> None:
    path = tmp_path / "games.pgn"
    heads = '[Date "{}"]\n[White "{}"]\n[Black "Ash, Bo"]\n[Result "{}"]\n\n'
    path.write_text(
        heads.format("2020.01.01", "Elm, Fay", "1-0")
        + "1. e4 e5 2. Nf3 Nc6 1-0\n\n"
        + heads.format("2020.01.02", "Fir, Gus", "0-1")
        + "1. e4 e5 2. f4 exf4 0-1\n\n"
        + heads.format("????.??.??", "Oak, Hal", "0-1")
        + "1. e4 e5 2. d4 exd4 0-1\n\n"
        + heads.format("2020.01.03", "Yew, Ida", "1-0")
        + "1. e4 e5 2. Bc4 Nf6 1-0\n\n",
        encoding="utf-8",
    )
    build_base(tmp_path / "base.sqlite", [path])
    with ReferenceBase(tmp_path / "base.sqlite") as base:
        told = [novelty_sentences(look_for_novelty(base, game)) for game in read_games([path])]
    assert told[0] == [
        "1 e4 is new, and so was the position before it.",
        "1 game with that position has no year and counts for nothing.",
    ]
    assert told[1][0] == "2 f4 is new; the position before it had been reached once."
    assert told[2] == ["The year of this game is not known, so no game counts as earlier."]
    assert told[3][0] == "2 Bc4 is new; the position before it had been reached 2 times."
    assert sorted(line.partition(",")[0] for line in told[3][1:3]) == [
        "2 Nf3 in 1 game (+1 =0 −0)",
        "2 f4 in 1 game (+0 =0 −1)",
    ]
    assert any("first in Fir, Gus" in line for line in told[3])
