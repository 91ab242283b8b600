"""Rows of a reference base as what it answers."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from trainer.games.base import moments
from trainer.games.base.codes import MOVES, NO_MOVE
from trainer.games.base.figures import GameEntry, MoveTotals, PositionTotals

_RESULTS: Final = ("1-0", "1/2-1/2", "0-1", "*")
GAME_COLUMNS: Final = (
    "games.id, white.name, black.name, white_rating, black_rating, event.name, moment, result, "
    "sources.path, place"
)
GAME_TABLES: Final = (
    "games JOIN names white ON white.id = white JOIN names black ON black.id = black "
    "JOIN names event ON event.id = event JOIN sources ON sources.id = source"
)


def position_of(rows: Sequence[tuple[int, ...]]) -> PositionTotals:
    """Rows as `schema.TOTAL` has them, one a move, as figures; the most frequent move first."""
    if not rows:
        return PositionTotals(0, 0, 0, 0, None, None, None, ())
    _, games, white, draws, black, ratings, rating_sum, last_year, first, moment = rows[0]
    for row in rows[1:]:
        games += row[1]
        white += row[2]
        draws += row[3]
        black += row[4]
        ratings += row[5]
        rating_sum += row[6]
        last_year = max(last_year, row[7])
        if (row[9], row[8]) < (moment, first):
            first, moment = row[8], row[9]
    mean = rating_sum / ratings if ratings else None
    moves = [_move(row) for row in sorted(rows, key=_frequent_first) if row[0] != NO_MOVE]
    return PositionTotals(games, white, draws, black, mean, last_year or None, first, tuple(moves))


def _frequent_first(row: tuple[int, ...]) -> tuple[int, int]:
    return -row[1], row[0]


def _move(row: tuple[int, ...]) -> MoveTotals:
    code, games, white, draws, black, ratings, rating_sum, last_year, first, _ = row
    mean = rating_sum / ratings if ratings else None
    return MoveTotals(MOVES[code], games, white, draws, black, mean, last_year or None, first)


def entry_of(row: Sequence[object]) -> GameEntry:
    """A row of the columns `GAME_COLUMNS`."""
    number, white, black, white_rating, black_rating, event, moment, result, path, place = row
    assert isinstance(number, int)
    assert isinstance(white_rating, int)
    assert isinstance(black_rating, int)
    assert isinstance(moment, int)
    assert isinstance(result, int)
    assert isinstance(place, int)
    return GameEntry(
        number,
        str(white),
        str(black),
        white_rating,
        black_rating,
        str(event),
        moments.date_text(moment),
        _RESULTS[result],
        Path(str(path)),
        place,
    )
