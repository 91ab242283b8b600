"""The daily drill, in the window or in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import add_repertoire, chosen_side, minutes

if TYPE_CHECKING:
    import argparse

    import chess

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The command `drill`."""
    drill = commands.add_parser("drill", help="the daily drill")
    add_repertoire(drill)
    drill.add_argument("--terminal", action="store_true", help="ask in the terminal")
    drill.add_argument("--minutes", type=minutes, metavar="N", help="how long, 1 to 240")
    drill.set_defaults(run=_run)


def open_window(
    path: Path | None, minutes: int | None = None, side: chess.Color | None = None
) -> int:
    """Open the window, on a repertoire and in its drill where they are given."""
    from trainer.ui.app import run

    return run(path, drill_minutes=minutes, side=side)


def _run(options: argparse.Namespace) -> int:
    if not options.terminal:
        return open_window(options.repertoire, options.minutes or 0, chosen_side(options))
    from trainer.terminal import drill_in_terminal

    return drill_in_terminal(
        options.repertoire, side=chosen_side(options), minutes=options.minutes
    )
