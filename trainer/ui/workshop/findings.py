"""What takes a walk through the whole repertoire: reach, counts of orders, what is to be mended.

Worked out off the thread of the window. No Qt.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from trainer.errors import ResourceMissingError
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.measured import Measured
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.workshop.findings import AuditEntry, audit_entries
from trainer.storage.answers import Answer


@dataclass(frozen=True, eq=False)
class Findings:
    """By the key of a position: its reach (0 to 1), and how many move orders lead to it.

    `more` are the keys where there are at least so many orders. Positions that were added since
    have neither. `entries` are what is to be put right, the most reached first.
    """

    reach: dict[int, float] = field(default_factory=dict)
    orders: dict[int, int] = field(default_factory=dict)
    more: frozenset[int] = frozenset()
    entries: tuple[AuditEntry, ...] = ()
    book: OpeningBook | None = None


def find(
    repertoire: Repertoire,
    answers: Sequence[Answer],
    book: OpeningBook | None,
    cancelled: Callable[[], bool],
    measured: Measured | None = None,
) -> Findings:
    """Everything, or nothing but what was known before where it is cancelled on the way.

    By `measured` replies are as likely as they were played.
    """
    if book is None:
        try:
            book = OpeningBook.load()
        except ResourceMissingError:
            book = OpeningBook({})
    arrays = RepertoireArrays.compile(repertoire)
    measured = measured or Measured()
    graph = OrderGraph(repertoire, arrays, measured.shares(arrays))
    if cancelled():
        return Findings(book=book)
    nodes = arrays.nodes
    orders = {node.key: graph.count(node) for node in nodes}
    more = frozenset(node.key for node in nodes if not graph.is_exact(node))
    if cancelled():
        return Findings(book=book)
    reached = dict(zip((node.key for node in nodes), graph.reach.tolist(), strict=True))
    unprepared = measured.worth_meeting(arrays, graph.reach)
    entries = audit_entries(repertoire, arrays, graph.reach, answers, unprepared)
    _free_slowly(graph)
    return Findings(reached, orders, more, tuple(entries), book)


def _free_slowly(graph: OrderGraph) -> None:
    """Take it apart, so that the window gets its turn in between; nobody else has it."""
    parts = vars(graph)
    while parts:
        parts.popitem()
