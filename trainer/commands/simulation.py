"""What planning comes to, with simulated players."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import (
    add_json,
    add_repertoire,
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
    from trainer.repertoire.arrays import Floats
    from trainer.repertoire.graph import Repertoire


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
    from trainer.repertoire.reader import read_repertoire
    from trainer.storage.locations import find_locations

    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    shares = None
    if options.base is not None:
        shares = _shares(loaded.repertoire, options.base)
    report = run_trial(
        options.repertoire,
        loaded.repertoire,
        IndexStore(find_locations().cache).index_for(),
        Trial(options.minutes, options.days, options.learners, options.seed, options.jump),
        reply_shares=shares,
    )
    if options.json:
        print_json(report_object(report))
    else:
        print(report_text(report))
    return tell_skipped(options.repertoire, loaded)


def _shares(repertoire: Repertoire, path: Path) -> Floats | None:
    """How likely each reply is (m) by the games of a base alone."""
    from trainer.games.base.store import ReferenceBase
    from trainer.games.replies import base_replies, partings
    from trainer.repertoire.arrays import RepertoireArrays
    from trainer.repertoire.measured import measured_shares
    from trainer.storage.reply_counts import ReplyCounts

    with ReferenceBase(path) as base:
        counts = ReplyCounts(base=base_replies(partings(repertoire), base))
    return measured_shares(RepertoireArrays.compile(repertoire), counts)
