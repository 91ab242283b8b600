"""The engine's test of a repertoire in words, and as plain values for JSON."""

from __future__ import annotations

from typing import Final

import chess

from trainer.engine.check import CheckResult, Finding, FindingKind
from trainer.engine.evaluation import line_sans
from trainer.notation.display import Notation, numbered, shown_san
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.orders import order_of, shown_order

#: Moves of a line that are told.
_TOLD: Final = 8
_LONGEST_ORDER: Final = 70

HEADINGS: Final = {
    FindingKind.LOSES: "Prepared moves that lose something",
    FindingKind.HOLE: "Strong replies to which nothing is prepared",
    FindingKind.END: "Lines that end where the other side is better",
    FindingKind.BETTER: "Better moves than the prepared ones",
}


def check_values(
    result: CheckResult, *, engine: str, nodes: int, margin: int
) -> dict[str, object]:
    """The result as plain values; the fields are part of the command line's interface."""
    return {
        "engine": engine,
        "nodes": nodes,
        "margin": margin,
        "positions": result.done,
        "total": result.total,
        "complete": result.complete,
        "findings": [_values(finding) for finding in result.findings],
    }


def _values(finding: Finding) -> dict[str, object]:
    board = finding.node.board()
    line = line_sans(board, finding.line)
    return {
        "fen": board.fen(en_passant="legal"),
        "move": board.san(finding.move) if finding.move is not None else None,
        "kind": finding.kind.value,
        "loss_cp": finding.loss,
        "best": best_san(finding),
        "line": list(line),
        "reach": round(finding.reach, 6),
    }


def best_san(finding: Finding) -> str | None:
    """The better move in SAN; of a hole the answer, which is made one move later."""
    if finding.best is None:
        return None
    board = finding.node.board()
    if finding.kind is FindingKind.HOLE and finding.move is not None:
        board.push(finding.move)
    return board.san(finding.best)


def check_text(repertoire: Repertoire, result: CheckResult, *, engine: str, nodes: int) -> str:
    """The result in words, what costs most first under each heading."""
    count = f"{result.done} of {result.total} positions"
    lines = [f"{engine}, {nodes:,} nodes a position: {count} looked at."]
    if not result.findings:
        lines.append("Nothing was found." if result.complete else "Nothing was found so far.")
    for kind, heading in HEADINGS.items():
        found = [finding for finding in result.findings if finding.kind is kind]
        if found:
            lines += ["", f"{heading}: {len(found)}"]
            for finding in found:
                number = move_number(repertoire, finding.node)
                lines.append(f"  {where(repertoire, finding.node)}")
                lines.append(f"    {sentence(finding, number=number)}")
    return "\n".join(lines)


def where(repertoire: Repertoire, node: Node, notation: Notation = "letters") -> str:
    """The shortest move order to a position, in words."""
    order = order_of(repertoire, node)
    if order is None:
        return node.board().epd()
    origin = order[0].parent if order else node
    sans = [edge.san for edge in order]
    return shown_order(repertoire, origin, sans).text(notation, limit=_LONGEST_ORDER)


def move_number(repertoire: Repertoire, node: Node) -> int:
    """The number of the next move at a position, by the order that `where` names."""
    order = order_of(repertoire, node)
    if not order:
        return shown_order(repertoire, node, ()).number
    origin = order[0].parent
    passed = len(order) + (0 if origin.turn else 1)
    return shown_order(repertoire, origin, ()).number + passed // 2


def sentence(finding: Finding, notation: Notation = "letters", number: int = 1) -> str:
    """What was found, in a plain sentence with the line that shows it, from move `number` on."""
    board = finding.node.board()
    move = shown_san(board.san(finding.move), notation) if finding.move is not None else ""
    best = best_san(finding)
    better = shown_san(best, notation) if best is not None else ""
    words = finding.score.words(finding.side)
    pawns = f"{finding.loss / 100:.1f} pawns"
    told = _told(board, finding, notation, number)
    if finding.kind is FindingKind.LOSES:
        text = f"{move} loses {pawns} against {better}: {told}"
    elif finding.kind is FindingKind.BETTER:
        text = f"{better} is better than {move} by {pawns}: {told}"
    elif finding.kind is FindingKind.HOLE:
        text = f"{move} costs {pawns} and has no answer: {told}"
    else:
        text = f"The line ends here and the other side is better: {told}"
    return f"{text}. {words} ({finding.score.figure()})."


def _told(board: chess.Board, finding: Finding, notation: Notation, number: int) -> str:
    sans = line_sans(board, finding.line[:_TOLD])
    return numbered(sans, turn=board.turn, number=number, notation=notation)
