"""What several commands share: options, values typed there, and how results are told."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.errors import UsageError

if TYPE_CHECKING:
    import argparse
    import datetime

    import chess

    from trainer.games.survey import Fault
    from trainer.repertoire.measured import Measured
    from trainer.repertoire.reader import LoadedRepertoire
    from trainer.storage.reply_counts import MoveCounts, ReplyCounts

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


def add_reach(parser: argparse.ArgumentParser) -> None:
    """How likely replies are, for what goes by reach; `weigh_replies` reads these options."""
    group = parser.add_argument_group(
        "how likely replies are",
        "By default as often as the window has counted them for this file; what is named here "
        "takes the place of that.",
    )
    group.add_argument(
        "--base", type=Path, metavar="BASE", help="a reference base: as often as played there"
    )
    group.add_argument(
        "--games", type=Path, metavar="GAMES", nargs="+", help="games of your own in PGN"
    )
    group.add_argument("--player", default="", metavar="NAME", help="your name in them")
    group.add_argument("--equal", action="store_true", help="all replies equally likely")


@dataclass(frozen=True)
class Weighing:
    """How likely replies are.

    `sentence` tells the user where the counts are from; `status` is not 0 where games that were
    to be counted have errors.
    """

    measured: Measured
    sentence: str
    status: int = DONE


def weigh_replies(options: argparse.Namespace, loaded: LoadedRepertoire) -> Weighing:
    """What `add_reach` let the user say about replies to a repertoire.

    Games that cannot be read to their end are told on standard error. Raises `UsageError`,
    `RepertoireFileError` and `BaseFileError`.
    """
    from trainer.repertoire.measured import Measured
    from trainer.storage.locations import find_locations
    from trainer.storage.reply_counts import ReplyCounts, load_reply_counts
    from trainer.storage.settings import load_settings

    named = options.base is not None or options.games is not None
    if options.equal and named:
        raise UsageError("Replies are either equal or weighed: leave --equal out, or the games.")
    if options.player.strip() and options.games is None:
        raise UsageError("--player says who you are in the games of --games; name those too.")
    if options.equal:
        return Weighing(Measured(), "Reach: all replies count as equally likely.")
    locations = find_locations()
    settings, notice = load_settings(locations.settings_file)
    if notice:
        print(f"stemline: {notice}", file=sys.stderr)
    status = DONE
    if named:
        own, status = _own_counts(options, loaded)
        counts = ReplyCounts(own, base_counts(options.base, loaded))
    else:
        counts = load_reply_counts(locations.replies_file(options.repertoire))
    sentence = _weighing_sentence(counts, "" if named else ", as the window counted them")
    return Weighing(Measured(counts, settings.base_counts_as), sentence, status)


def tell_weighing(weighing: Weighing, *, machines: bool = False) -> None:
    """Say by what reach was weighed: under the text, or beside an object for machines.

    There it is said on standard error, and only where replies are not all alike.
    """
    if not machines:
        print(f"\n{weighing.sentence}")
    elif weighing.measured.counts:
        print(f"stemline: {weighing.sentence}", file=sys.stderr)


def _own_counts(options: argparse.Namespace, loaded: LoadedRepertoire) -> tuple[MoveCounts, int]:
    """Replies in the games of the player, and the exit status that goes with those games."""
    if options.games is None:
        return {}, DONE
    from trainer.games.replies import own_replies
    from trainer.games.survey import survey

    found = survey(loaded.repertoire, options.games, options.player.strip())
    return own_replies(loaded.repertoire, found.walks), tell_faults(found.faults)


def base_counts(path: Path | None, loaded: LoadedRepertoire) -> MoveCounts:
    """Replies in the games of a base, none without one. Raises `BaseFileError`."""
    if path is None:
        return {}
    from trainer.games.base.store import ReferenceBase
    from trainer.games.replies import base_replies, partings

    with ReferenceBase(path) as base:
        return base_replies(partings(loaded.repertoire), base)


def _weighing_sentence(counts: ReplyCounts, counted: str) -> str:
    kinds = [
        words
        for has, words in (
            (counts.own, "your own games"),
            (counts.base, "the reference base"),
        )
        if has
    ]
    if not kinds:
        return "Reach: all replies count as equally likely, since none was counted in games."
    return f"Reach: replies by how often they were played in {' and '.join(kinds)}{counted}."


def chosen_side(options: argparse.Namespace) -> chess.Color | None:
    """The side that was asked for, None where the file decides."""
    return None if options.side is None else options.side == "white"


def minutes(text: str) -> int:
    """Reads the minutes of a day, 1 to 240."""
    import argparse

    if not text.isdecimal() or not 1 <= int(text) <= 240:
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 to 240")
    return int(text)


def seconds(text: str) -> float:
    """Reads seconds, 0 to 60."""
    import argparse

    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0 <= number <= 60:
        raise argparse.ArgumentTypeError(f"“{text}” is no number from 0 to 60")
    return number


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


def tell_faults(faults: Iterable[Fault]) -> int:
    """Name on standard error the games that were read in part; the exit status of that."""
    status = DONE
    for fault in faults:
        status = INPUT_ERRORS
        print(
            f"stemline: {fault.path}: game {fault.game}, line {fault.line}: {fault.reason}",
            file=sys.stderr,
        )
    return status


def tell_skipped(path: Path, loaded: LoadedRepertoire) -> int:
    """Name on standard error what could not be read; the exit status that goes with it."""
    for skipped in loaded.skipped:
        print(
            f"stemline: {path}: game {skipped.game}, line {skipped.line}: {skipped.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if loaded.skipped else DONE
