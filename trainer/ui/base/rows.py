"""What the panel shows of a position, looked up off the window's thread. No Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import chess

from trainer.games.base.figures import GameEntry
from trainer.games.base.store import ReferenceBase
from trainer.notation.numbers import count
from trainer.position import position_key

#: Games of a position that are listed; all are counted.
MOST_GAMES: Final = 200


@dataclass(frozen=True)
class MoveRow:
    """One move with its figures; `first_year` is that of its stem game, None if unknown."""

    move: chess.Move
    san: str
    games: int
    white: int
    draws: int
    black: int
    rating: float | None
    first_year: int | None
    last_year: int | None

    def shares(self) -> tuple[int, int, int]:
        """White's wins, draws and Black's wins in per cent of the games with a result."""
        return shares(self.white, self.draws, self.black)

    def spoken(self) -> str:
        """The row as it is read aloud."""
        white, draws, black = self.shares()
        games = count(self.games, "game")
        rating = "" if self.rating is None else f", mean rating {self.rating:.0f}"
        years = f", last played in {self.last_year}" if self.last_year else ""
        return (
            f"{self.san}, {games}, White {white} %, drawn {draws} %, Black {black} %"
            f"{rating}{years}"
        )


@dataclass(frozen=True)
class Found:
    """A position in the base: counts, moves, and the games through it, the newest first."""

    games: int
    undated: int
    plies: int
    moves: tuple[MoveRow, ...]
    listed: tuple[GameEntry, ...]


def shares(white: int, draws: int, black: int) -> tuple[int, int, int]:
    """Three counts in per cent that add up to 100; all 0 where there is nothing to share."""
    total = white + draws + black
    if not total:
        return 0, 0, 0
    exact = [100 * part / total for part in (white, draws, black)]
    rounded = [int(part) for part in exact]
    # The largest remainders are rounded up, so that the sum holds.
    for place in sorted(range(3), key=lambda one: rounded[one] - exact[one])[: 100 - sum(rounded)]:
        rounded[place] += 1
    return rounded[0], rounded[1], rounded[2]


def look_up(
    base: ReferenceBase, board: chess.Board, cancelled: Callable[[], bool] = lambda: False
) -> Found | None:
    """What the base knows of the position on `board`; None where nobody waits any more."""
    totals = base.position(board)
    moves = []
    for one in totals.moves:
        if cancelled():
            return None
        move = one.move
        assert move is not None
        year = base.game(one.first).date[:4]
        moves.append(
            MoveRow(
                move,
                board.san(move) if move else "--",
                one.games,
                one.white,
                one.draws,
                one.black,
                one.mean_rating,
                int(year) if year.isdecimal() else None,
                one.last_year,
            )
        )
    key = position_key(board)
    return Found(
        totals.games,
        base.undated(key) if totals.games else 0,
        base.plies,
        tuple(moves),
        base.games_through(key, MOST_GAMES) if totals.games else (),
    )
