"""A repertoire from whole games."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import DONE, INPUT_ERRORS, add_json, print_json
from trainer.errors import StemlineError

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The command `import`."""
    importing = commands.add_parser("import", help="a repertoire from whole games")
    importing.add_argument("games", type=Path, metavar="GAMES", nargs="+", help="games in PGN")
    importing.add_argument(
        "--side",
        choices=("white", "black", "both"),
        type=str.lower,
        metavar="S",
        required=True,
        help="white, black, or both: two repertoires of one player",
    )
    importing.add_argument("--out", required=True, type=Path, metavar="FILE", help="the new file")
    importing.add_argument("--replace", action="store_true", help="write over FILE if it is there")
    importing.add_argument("--player", default="", metavar="NAME", help="only his games count")
    importing.add_argument(
        "--plies", type=int, default=24, metavar="N", help="half-moves of each game (default 24)"
    )
    importing.add_argument(
        "--share",
        type=float,
        default=5.0,
        metavar="P",
        help="keep replies played in P per cent of the games at their position (default 5)",
    )
    importing.add_argument(
        "--or-games", type=int, default=0, metavar="N", help="or in at least N games"
    )
    importing.add_argument(
        "--least", type=int, default=1, metavar="N", help="but never in fewer than N games"
    )
    importing.add_argument(
        "--best-score",
        type=int,
        metavar="N",
        help="as own move the one that scored best, of those played N times or more",
    )
    importing.add_argument("--lines", type=int, default=0, metavar="N", help="at most N lines")
    importing.add_argument("--title", default="Imported", help="of the section")
    add_json(importing)
    importing.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from trainer.repertoire.workshop.import_files import refusal, save_imported, target_files
    from trainer.repertoire.workshop.import_words import import_fields, import_words
    from trainer.repertoire.workshop.importing import (
        ImportOptions,
        import_both_sides,
        import_games,
    )

    wanted = ImportOptions(
        side=options.side != "black",
        plies=options.plies,
        reply_share=options.share / 100,
        reply_games=options.or_games,
        least_reply_games=options.least,
        most_lines=options.lines,
        player=options.player.strip(),
        choice="most played" if options.best_score is None else "best score",
        least_games=3 if options.best_score is None else options.best_score,
        title=options.title,
    )
    if options.side == "both":
        by_side = import_both_sides(options.games, wanted.player, wanted)
    else:
        by_side = {wanted.side: import_games(options.games, wanted)}
    # With two sides asked for, the names tell them apart even where one has no games.
    sides = (True, False) if options.side == "both" else by_side
    files = target_files(options.out, sides)
    for side in by_side:
        sentence = refusal(files[side], options.games)
        if not sentence and not options.replace and files[side].exists():
            sentence = f"There is a file {files[side]} already; choose another, or say --replace."
        if sentence:
            raise StemlineError(sentence)
    saved = save_imported(by_side, files)
    made = [(path, by_side[side]) for path in saved for side in by_side if files[side] == path]
    left = made[0][1].report.left
    if options.json:
        fields = [{"file": str(path), **import_fields(imported)} for path, imported in made]
        places = [
            {"file": str(one.path), "game": one.game, "line": one.line, "reason": one.reason}
            for one in left
        ]
        print_json({"repertoires": fields, "left": places})
    else:
        for path, imported in made:
            print("\n".join([f"{path}:", *(f"  {line}" for line in import_words(imported))]))
    for one in left:
        print(
            f"stemline: {one.path}: game {one.game}, line {one.line}: {one.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if left else DONE
