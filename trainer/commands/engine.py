"""An engine tests a repertoire."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from trainer.commands.options import (
    INPUT_ERRORS,
    add_json,
    add_reach,
    add_repertoire,
    chosen_side,
    positive,
    print_json,
    tell_skipped,
    tell_weighing,
    weigh_replies,
)

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands


def add(commands: Commands) -> None:
    """The command `engine-check`."""
    engine = commands.add_parser("engine-check", help="let an engine test a repertoire")
    add_repertoire(engine)
    engine.add_argument("--engine", metavar="PATH", help="a UCI engine (default: one on PATH)")
    engine.add_argument("--nodes", type=positive, metavar="N", help="a position (100000)")
    engine.add_argument("--margin", type=positive, metavar="CP", help="centipawns (100)")
    engine.add_argument(
        "--positions", type=positive, metavar="N", help="only so many, by reach (default: all)"
    )
    engine.add_argument("--threads", type=positive, default=1, metavar="N", help="default 1")
    engine.add_argument("--hash", type=positive, default=64, metavar="MIB", help="default 64")
    add_reach(engine)
    add_json(engine)
    engine.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from trainer.engine.check import MARGIN, NODES, CheckSettings
    from trainer.engine.check_report import check_text as engine_text
    from trainer.engine.check_report import check_values
    from trainer.engine.command import run_check
    from trainer.engine.discover import engine_to_use
    from trainer.engine.session import EngineOptions
    from trainer.repertoire.reader import read_repertoire

    nodes, margin = options.nodes or NODES, options.margin or MARGIN
    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    weighing = weigh_replies(options, loaded)
    result, name = run_check(
        loaded.repertoire,
        engine_to_use(options.engine),
        EngineOptions(options.hash, options.threads),
        CheckSettings(nodes, margin, options.positions),
        weighing.measured.shares,
    )
    if options.json:
        values = check_values(result, engine=name, nodes=nodes, margin=margin)
        print_json(values)
    else:
        print(engine_text(loaded.repertoire, result, engine=name, nodes=nodes))
    tell_weighing(weighing, machines=options.json)
    status = max(weighing.status, tell_skipped(options.repertoire, loaded))
    if not result.complete:
        print(
            f"stemline: stopped after {result.done} of {result.total} positions; what was "
            "evaluated is kept, and the same command goes on from there.",
            file=sys.stderr,
        )
        return INPUT_ERRORS
    return status
