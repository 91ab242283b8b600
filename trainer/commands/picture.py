"""A diagram of a position."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import DONE, board_of

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The command `picture`."""
    picture = commands.add_parser("picture", help="a diagram of a position")
    picture.add_argument("--fen", required=True, help="the position as FEN")
    picture.add_argument("--out", required=True, type=Path, help=".svg, .png or .pdf")
    picture.add_argument("--flip", action="store_true", help="with Black at the bottom")
    picture.add_argument("--size", type=int, default=480, help="side in pixels (default 480)")
    picture.add_argument("--plain", action="store_true", help="two tones instead of hatching")
    picture.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from trainer.diagram import write_diagram

    write_diagram(
        options.out,
        board_of(options.fen),
        size=options.size,
        flipped=options.flip,
        style="plain" if options.plain else "hatched",
    )
    return DONE
