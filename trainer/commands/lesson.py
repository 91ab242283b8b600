"""Handouts, and what a position is called."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import (
    DONE,
    INPUT_ERRORS,
    add_json,
    add_side,
    board_of,
    chosen_side,
    date,
    positive,
    print_json,
)

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The commands `handout` and `structure`."""
    giving = commands.add_parser("handout", help="a lesson to hand out")
    giving.add_argument(
        "source",
        type=Path,
        metavar="REP|GAMES",
        help="a repertoire, or with --game a file of games",
    )
    giving.add_argument(
        "--out", required=True, type=Path, help=".pdf, .html, .pgn, .epd, .png or .svg"
    )
    giving.add_argument(
        "--section", default="", metavar="S", help="only this one: number or title"
    )
    giving.add_argument("--structure", default="", metavar="S", help="a structure: key or name")
    giving.add_argument("--game", type=positive, metavar="N", help="game N with a draft of notes")
    giving.add_argument(
        "--moments", default="", metavar="MOVES", help="questions from that game, as 12w,15b"
    )
    giving.add_argument("--questions", action="store_true", help="the moments and nothing else")
    giving.add_argument("--against", type=Path, metavar="REP", help="tell where the game left it")
    giving.add_argument("--coach", default="", metavar="NAME", help="who gives the lesson")
    giving.add_argument("--date", type=date, metavar="YYYY-MM-DD", help="instead of today")
    giving.add_argument("--paper", choices=("a4", "letter"), default="a4", type=str.lower)
    add_side(giving)
    giving.set_defaults(run=_hand_out)

    naming = commands.add_parser("structure", help="structure, breaks and tricks of a position")
    naming.add_argument("--fen", required=True, help="the position as FEN")
    add_json(naming)
    naming.set_defaults(run=_name_structure)


def _hand_out(options: argparse.Namespace) -> int:
    import datetime

    from trainer.lesson.command import HandoutRequest, make_handout
    from trainer.lesson.handout.model import Paper

    result = make_handout(
        HandoutRequest(
            source=options.source,
            out=options.out,
            section=options.section,
            structure=options.structure,
            game=options.game,
            moments=options.moments,
            only_moments=options.questions,
            against=options.against,
            coach=options.coach,
            date=options.date or datetime.date.today(),
            paper=Paper.LETTER if options.paper == "letter" else Paper.A4,
            side=chosen_side(options),
        )
    )
    for path in result.written:
        print(path)
    if result.fault:
        print(f"stemline: {result.fault}", file=sys.stderr)
    for skipped in result.skipped:
        print(
            f"stemline: {options.source}: game {skipped.game}, line {skipped.line}: "
            f"{skipped.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if result.fault or result.skipped else DONE


def _name_structure(options: argparse.Namespace) -> int:
    from trainer.lesson.report import structure_report, structure_text
    from trainer.lesson.structure_file import load_structures

    board = board_of(options.fen)
    book = load_structures()
    if options.json:
        print_json(structure_report(board, book))
    else:
        print(structure_text(board, book))
    return DONE
