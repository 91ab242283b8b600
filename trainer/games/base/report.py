"""What a reference base says, as text and as JSON; and what a build did."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import chess

from trainer.errors import UsageError
from trainer.games.base.builder import BuildReport
from trainer.games.base.figures import BaseSummary, MoveFigures, Unused
from trainer.games.base.reader import BROKEN, EMPTY, OTHER_START, VARIANT
from trainer.games.base.store import ReferenceBase
from trainer.position import position_key

#: Kinds of games that are not in the figures, of one and of several.
KIND_WORDS: Final = {
    VARIANT: ("game of another kind of chess", "games of other kinds of chess"),
    OTHER_START: ("game from another starting position", "games from other starting positions"),
    BROKEN: ("broken game", "broken games"),
    EMPTY: ("game without moves", "games without moves"),
}


def board_of_fen(fen: str) -> chess.Board:
    """The position of a FEN, whose counters may be left out. Raises `UsageError`."""
    try:
        board = chess.Board(fen.strip())
    except ValueError as error:
        raise UsageError(f"“{fen}” is not a FEN: {error}.") from error
    return board


def show_values(base: ReferenceBase, board: chess.Board) -> dict[str, object]:
    """The object that `stemline base show --json` prints."""
    found = base.position(board)
    return {
        "games": found.games,
        "white": found.white,
        "draws": found.draws,
        "black": found.black,
        "mean_rating": _rounded(found.mean_rating),
        "last_year": found.last_year,
        "first_game": None if found.first is None else base.game(found.first).title(),
        "undated": base.undated(position_key(board)),
        "moves": [
            {
                "san": move.san,
                "games": move.games,
                "white": move.white,
                "draws": move.draws,
                "black": move.black,
                "mean_rating": _rounded(move.mean_rating),
                "last_year": move.last_year,
                "first_game": move.first_game,
            }
            for move in base.moves(board)
        ],
    }


def show_text(base: ReferenceBase, board: chess.Board) -> str:
    """A position for the eye: a line a move."""
    found = base.position(board)
    if not found.games:
        return f"No game of the base reached this position within {base.plies} half-moves."
    lines = [
        f"{counted(found.games, 'game', 'games')}: "
        f"White won {found.white:,}, {found.draws:,} drawn, Black won {found.black:,}."
    ]
    undated = base.undated(position_key(board))
    if undated:
        lines.append(f"The year of {counted(undated, 'of them is', 'of them are')} not known.")
    moves = base.moves(board)
    if moves:
        lines += ["", f"{'move':8}{'games':>10}{'white':>7}{'draws':>7}{'black':>7}  rating  last"]
        lines += [_line(move) for move in moves]
    else:
        lines.append("No move is known from here.")
    if found.first is not None:
        lines += ["", f"First reached in {base.game(found.first).title()}."]
    return "\n".join(lines)


def _line(move: MoveFigures) -> str:
    shares = "".join(
        f"{100 * part / move.games:6.0f}%" for part in (move.white, move.draws, move.black)
    )
    rating = "–" if move.mean_rating is None else f"{move.mean_rating:.0f}"
    return f"{move.san:8}{move.games:>10,}{shares}  {rating:>6}  {move.last_year or '–'}"


def build_values(report: BuildReport) -> dict[str, object]:
    """The object that `stemline base build --json` prints."""
    return {
        "games": report.total,
        "added": report.added,
        "duplicates": report.duplicates,
        "unchanged": [str(path) for path in report.unchanged],
        "left_out": {kind: report.tallies.get(kind, 0) for kind in KIND_WORDS},
        "unused": [_unused_value(one) for one in report.unused],
    }


def unused_values(base: ReferenceBase) -> dict[str, object]:
    """The object that `stemline base show --unused --json` prints."""
    summary = base.summary()
    return {
        "games": summary.games,
        "positions": summary.positions,
        "plies": summary.plies,
        "files": [str(path) for path in summary.files],
        "left_out": {kind: summary.tallies.get(kind, 0) for kind in KIND_WORDS},
        "unused": [_unused_value(one) for one in base.unused()],
    }


def _unused_value(one: Unused) -> dict[str, object]:
    return {
        "file": str(one.path),
        "game": one.game,
        "line": one.line,
        "kind": one.kind,
        "reason": one.reason,
    }


def build_text(report: BuildReport) -> str:
    """What a build did, in sentences."""
    sentences = [
        f"{counted(report.added, 'game', 'games')} added; the base has {report.total:,} now."
    ]
    if report.duplicates:
        sentences.append(
            f"{counted(report.duplicates, 'game was', 'games were')} there already, or twice."
        )
    if report.unchanged:
        sentences.append(
            f"{counted(len(report.unchanged), 'file has', 'files have')} not changed since."
        )
    left_out = left_out_text(report.tallies)
    if left_out:
        sentences.append(f"Not in the figures: {left_out}.")
    return "\n".join(sentences)


def left_out_text(tallies: dict[str, int]) -> str:
    """How many games are not in the figures, by kind; nothing where all are."""
    return ", ".join(
        counted(tallies[kind], *words) for kind, words in KIND_WORDS.items() if tallies.get(kind)
    )


def summary_text(summary: BaseSummary) -> str:
    """What a base holds, in sentences."""
    lines = [
        f"{counted(summary.games, 'game', 'games')}, "
        f"{counted(summary.positions, 'position', 'positions')} "
        f"within {summary.plies} half-moves, from "
        f"{counted(len(summary.files), 'file', 'files')}."
    ]
    left_out = left_out_text(summary.tallies)
    if left_out:
        lines.append(f"Not in the figures: {left_out}.")
    return "\n".join(lines)


def unused_lines(unused: Iterable[Unused]) -> list[str]:
    """A line for each game that is not in the figures: file, game, line, reason."""
    return [f"{one.path}: game {one.game}, line {one.line}: {one.reason}" for one in unused]


def counted(number: int, one: str, several: str) -> str:
    """`1 game`, `2,000 games`."""
    return f"{number:,} {one if number == 1 else several}"


def _rounded(rating: float | None) -> int | None:
    return None if rating is None else round(rating)
