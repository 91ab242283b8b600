"""The reference base: games to compare with."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import DONE, INPUT_ERRORS, add_json, print_json, up_to

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The commands `base build` and `base show`."""
    base = commands.add_parser("base", help="the reference base: games to compare with")
    actions = base.add_subparsers(title="actions", metavar="ACTION", required=True)
    building = actions.add_parser("build", help="make a base of games, or add games to it")
    building.add_argument("base", type=Path, metavar="BASE", help="the file of the base")
    building.add_argument("games", type=Path, metavar="GAMES", nargs="+", help="games in PGN")
    building.add_argument(
        "--plies", type=up_to(200), metavar="N", help="half-moves of each game (default 40)"
    )
    building.add_argument(
        "--jobs", type=up_to(64), metavar="N", help="processes that read (default: the cores)"
    )
    add_json(building)
    building.set_defaults(run=_build)
    show = actions.add_parser("show", help="what was played in a position")
    show.add_argument("base", type=Path, metavar="BASE", help="the file of the base")
    what = show.add_mutually_exclusive_group()
    what.add_argument("--fen", help="the position as FEN (default: the starting position)")
    what.add_argument(
        "--unused", action="store_true", help="what it holds, and the games left out, with reasons"
    )
    add_json(show)
    show.set_defaults(run=_show)


def _build(options: argparse.Namespace) -> int:
    from trainer.games.base.command import build_with_progress
    from trainer.games.base.reader import BROKEN
    from trainer.games.base.report import build_text, build_values, unused_lines

    report = build_with_progress(
        options.base, options.games, plies=options.plies, jobs=options.jobs
    )
    if options.json:
        print_json(build_values(report))
    else:
        print(build_text(report))
    broken = [one for one in report.unused if one.kind == BROKEN]
    for line in unused_lines(broken):
        print(f"stemline: {line}", file=sys.stderr)
    return INPUT_ERRORS if broken else DONE


def _show(options: argparse.Namespace) -> int:
    import chess

    from trainer.games.base import report
    from trainer.games.base.store import ReferenceBase

    board = chess.Board() if options.fen is None else report.board_of_fen(options.fen)
    with ReferenceBase(options.base) as base:
        if options.unused:
            if options.json:
                print_json(report.unused_values(base))
            else:
                print(report.summary_text(base.summary()))
                for line in report.unused_lines(base.unused()):
                    print(line)
        elif options.json:
            print_json(report.show_values(base, board))
        else:
            print(report.show_text(base, board))
    return DONE
