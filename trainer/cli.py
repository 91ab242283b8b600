"""The command line; each command is a module of `trainer.commands`.

Exit status 0 done, 1 the input has errors, 2 wrong usage. Errors go to standard error as one
clear sentence each, never a traceback.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import __version__
from trainer.commands.options import DONE, INPUT_ERRORS, WRONG_USAGE
from trainer.errors import StemlineError, UsageError

if TYPE_CHECKING:
    import argparse


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    # A terminal or a pipe that knows few characters gets the others spelt out.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        return _flushed(_run(arguments))
    except UsageError as error:
        print(f"stemline: {error}", file=sys.stderr)
        return WRONG_USAGE
    except StemlineError as error:
        print(f"stemline: {error}", file=sys.stderr)
        return INPUT_ERRORS
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return INPUT_ERRORS
    except BrokenPipeError:
        # The reader of our output has gone; what is left for it goes nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as error:  # a bug: logged with its traceback, told in one sentence
        from trainer.storage.locations import find_locations
        from trainer.storage.log import BugLog

        print(f"stemline: {BugLog(find_locations().log_file).report(error)}", file=sys.stderr)
        return INPUT_ERRORS


def _flushed(status: int) -> int:
    """What the reader of our output does not take comes up here, not after the end."""
    if sys.stdout is not None:
        sys.stdout.flush()
    return status


def _run(arguments: list[str]) -> int:
    if not arguments or _names_a_file(arguments):
        from trainer.commands.drill import open_window

        return open_window(Path(arguments[0]) if arguments else None)
    options = _parser().parse_args(arguments)
    result: int = options.run(options)
    return result


def _names_a_file(arguments: list[str]) -> bool:
    """Whether the only argument is a file to open, as a file manager passes it."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        return False
    return arguments[0].lower().endswith(".pgn") or "/" in arguments[0]


def _parser() -> argparse.ArgumentParser:
    # Imported where it is needed: every start of the window would pay for it.
    import argparse

    from trainer.commands import (
        base,
        drill,
        engine,
        games,
        importing,
        lesson,
        picture,
        repertoire,
        simulation,
    )

    parser = argparse.ArgumentParser(
        prog="stemline",
        description="A trainer for a chess player or coach who lives in one opening system. "
        "Without a command it opens the window; a PGN file alone is opened in it.",
    )
    parser.add_argument("--version", action="version", version=f"stemline {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    for command in (
        drill,
        repertoire,
        games,
        base,
        importing,
        engine,
        simulation,
        lesson,
        picture,
    ):
        command.add(commands)
    return parser
