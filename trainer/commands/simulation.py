"""What planning comes to, with simulated players."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import (
    add_json,
    add_repertoire,
    base_counts,
    chosen_side,
    minutes,
    print_json,
    seconds,
    tell_skipped,
    up_to,
)

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The command `simulate`."""
    simulation = commands.add_parser(
        "simulate", help="what planning comes to, with simulated players"
    )
    add_repertoire(simulation)
    simulation.add_argument(
        "--base", type=Path, metavar="BASE", help="a reference base: replies as they are played"
    )
    simulation.add_argument("--minutes", type=minutes, default=5, metavar="M", help="a day")
    simulation.add_argument("--days", type=up_to(3650), default=60, metavar="D")
    simulation.add_argument("--learners", type=up_to(1000), default=12, metavar="K")
    simulation.add_argument("--seed", type=int, default=1, metavar="S", help="of all chance")
    simulation.add_argument(
        "--jump",
        type=seconds,
        default=0.0,
        metavar="SECONDS",
        help="what it takes to see where one is where a question begins cold",
    )
    add_json(simulation)
    simulation.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from trainer.memory.index_store import IndexStore
    from trainer.memory.simulation.report import Trial, report_object, report_text, run_trial
    from trainer.repertoire.measured import Measured
    from trainer.repertoire.reader import read_repertoire
    from trainer.storage.locations import find_locations
    from trainer.storage.reply_counts import ReplyCounts

    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    measured = Measured(ReplyCounts(base=base_counts(options.base, loaded)))
    report = run_trial(
        options.repertoire,
        loaded.repertoire,
        IndexStore(find_locations().cache).index_for(),
        Trial(options.minutes, options.days, options.learners, options.seed, options.jump),
        measured=measured,
    )
    if options.json:
        print_json(report_object(report))
    else:
        print(report_text(report))
    return tell_skipped(options.repertoire, loaded)
