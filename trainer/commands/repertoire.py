"""Reading and auditing a repertoire, and its move orders."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from trainer.commands.options import (
    add_json,
    add_reach,
    add_repertoire,
    chosen_side,
    print_json,
    tell_skipped,
    tell_weighing,
    weigh_replies,
)

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands
    from trainer.repertoire.orders_kept import KeptOrders
    from trainer.repertoire.reader import LoadedRepertoire


def add(commands: Commands) -> None:
    """The commands `check` and `orders`."""
    reading = commands.add_parser("check", help="read and audit a repertoire")
    add_repertoire(reading)
    add_reach(reading)
    add_json(reading)
    reading.set_defaults(run=_check)

    listing = commands.add_parser("orders", help="crossings, shortcuts and conflicts")
    add_repertoire(listing)
    add_reach(listing)
    add_json(listing)
    listing.set_defaults(run=_orders)


def _check(options: argparse.Namespace) -> int:
    from trainer.commands.progress import kept_answers
    from trainer.repertoire.check_report import check_report
    from trainer.repertoire.check_text import check_text
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    weighing = weigh_replies(options, loaded)
    if options.json:
        print_json(check_report(loaded, weighing.measured))
    else:
        print(check_text(loaded, kept_answers(loaded), weighing.measured))
    tell_weighing(weighing, machines=options.json)
    return max(weighing.status, tell_skipped(options.repertoire, loaded))


def _orders(options: argparse.Namespace) -> int:
    from trainer.repertoire.arrays import RepertoireArrays
    from trainer.repertoire.openings import OpeningBook
    from trainer.repertoire.order_graph import OrderGraph
    from trainer.repertoire.orders_report import orders_report
    from trainer.repertoire.orders_text import orders_text
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    kept = _kept_orders(loaded)
    weighing = weigh_replies(options, loaded)
    arrays = RepertoireArrays.compile(loaded.repertoire)
    graph = OrderGraph(loaded.repertoire, arrays, weighing.measured.shares(arrays))
    if options.json:
        print_json(orders_report(graph, kept))
    else:
        print(orders_text(loaded, OpeningBook.load(), kept, graph))
    tell_weighing(weighing, machines=options.json)
    return max(weighing.status, tell_skipped(options.repertoire, loaded))


def _kept_orders(loaded: LoadedRepertoire) -> KeptOrders:
    """What the progress file knows of a repertoire's move orders; told where it cannot be read."""
    from trainer.errors import ProgressError
    from trainer.repertoire.orders_kept import KeptOrders
    from trainer.storage.locations import find_locations
    from trainer.storage.progress import ProgressStore
    from trainer.storage.settings import utc_now

    path = find_locations().progress_file
    try:
        with ProgressStore.open(path, read_only=True, clock=utc_now) as store:
            return KeptOrders.of(loaded, store)
    except ProgressError as error:
        print(f"stemline: {error}", file=sys.stderr)
        return KeptOrders()
