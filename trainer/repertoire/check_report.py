"""The check of a repertoire as plain values for JSON."""

from __future__ import annotations

import chess

from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.audit import audit
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.measured import Measured
from trainer.repertoire.orders_report import fen_of
from trainer.repertoire.reach import reach
from trainer.repertoire.reader import LoadedRepertoire


def check_report(loaded: LoadedRepertoire, measured: Measured | None = None) -> dict[str, object]:
    """The check as plain values for JSON; its fields are part of the command line's interface.

    Where replies are `measured`, those worth meeting that are not prepared for are told too.
    """
    repertoire = loaded.repertoire
    report: dict[str, object] = {
        "side": "white" if repertoire.side == chess.WHITE else "black",
        **audit(repertoire).counts(),
        "skipped": [
            {"game": entry.game, "line": entry.line, "reason": entry.reason}
            for entry in loaded.skipped
        ],
    }
    if measured is not None and measured.counts:
        report["unprepared"] = _unprepared(repertoire, measured)
    return report


def _unprepared(repertoire: Repertoire, measured: Measured) -> list[dict[str, object]]:
    """The replies worth meeting, the most reached first."""
    arrays = RepertoireArrays.compile(repertoire)
    reached = reach(arrays, measured.shares(arrays))
    return [
        {
            "fen": fen_of(node := arrays.nodes[one.number]),
            "move": node.board().san(one.move),
            "reach": round(one.reach, 6),
            "own": one.own,
            "own_games": one.own_games,
            "base": one.base,
            "base_games": one.base_games,
        }
        for one in measured.worth_meeting(arrays, reached)
    ]
