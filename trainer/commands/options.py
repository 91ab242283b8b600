"""What several commands share: options, values typed there, and how results are told."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.errors import UsageError

if TYPE_CHECKING:
    import argparse
    import datetime

    import chess

    from trainer.repertoire.reader import LoadedRepertoire

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

DONE, INPUT_ERRORS, WRONG_USAGE = 0, 1, 2


def add_repertoire(parser: argparse.ArgumentParser) -> None:
    """The repertoire that a command works on, and whose it is."""
    parser.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    add_side(parser)


def add_side(parser: argparse.ArgumentParser) -> None:
    """Let the player say whose the repertoire is."""
    parser.add_argument(
        "--side",
        choices=("white", "black"),
        type=str.lower,
        metavar="S",
        help="white or black, instead of what the file says",
    )


def add_json(parser: argparse.ArgumentParser) -> None:
    """Let machines read the result."""
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def chosen_side(options: argparse.Namespace) -> chess.Color | None:
    """The side that was asked for, None where the file decides."""
    return None if options.side is None else options.side == "white"


def minutes(text: str) -> int:
    """Reads the minutes of a day, 1 to 240."""
    import argparse

    if not text.isdecimal() or not 1 <= int(text) <= 240:
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 to 240")
    return int(text)


def positive(text: str) -> int:
    """Reads a whole number from 1 on."""
    import argparse

    if not text.isdecimal() or not 1 <= int(text) <= 10**12:
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 on")
    return int(text)


def up_to(most: int) -> Callable[[str], int]:
    """Reads a whole number from 1 to `most`."""
    import argparse

    def read(text: str) -> int:
        if not text.isdecimal() or not 1 <= int(text) <= most:
            raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 to {most}")
        return int(text)

    return read


def date(text: str) -> datetime.date:
    """Reads a date as ISO 8601 writes it."""
    import argparse
    import datetime

    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no date, such as 2026-11-25") from None


def board_of(fen: str) -> chess.Board:
    """The board of a FEN. Raises `UsageError`."""
    import chess

    try:
        return chess.Board(fen)
    except ValueError as error:
        raise UsageError(f"“{fen}” is not a FEN: {error}.") from error


def print_json(values: Any) -> None:
    """Print one object for machines."""
    print(json.dumps(values, ensure_ascii=False, indent=2))


def tell_skipped(path: Path, loaded: LoadedRepertoire) -> int:
    """Name on standard error what could not be read; the exit status that goes with it."""
    for skipped in loaded.skipped:
        print(
            f"stemline: {path}: game {skipped.game}, line {skipped.line}: {skipped.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if loaded.skipped else DONE
