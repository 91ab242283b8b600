"""What came out of an import, in words and as fields for machines."""

from __future__ import annotations

from trainer.notation.display import Notation, numbered
from trainer.repertoire.audit import audit
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.side import SIDE_NAMES
from trainer.repertoire.workshop.importing import Imported, ImportReport

_MAIN_LINE_PLIES = 12


def import_words(imported: Imported, notation: Notation = "letters") -> list[str]:
    """A few sentences: what was counted and left out, what there is now, the main line."""
    counts = audit(imported.repertoire).counts()
    said = imported.report.text().splitlines()
    said.append(
        f"The repertoire for {SIDE_NAMES[imported.repertoire.side]} has "
        f"{counts['positions']:,} positions, {counts['decisions']:,} with a move to know, "
        f"{counts['replies']:,} replies and {counts['crossings']:,} crossings."
    )
    line = main_line(imported.repertoire)
    if line:
        said.append(f"Main line: {numbered(line, notation=notation)}")
    return said


def main_line(repertoire: Repertoire, plies: int = _MAIN_LINE_PLIES) -> list[str]:
    """The first moves of the first section, in SAN, until a position comes again."""
    sans: list[str] = []
    if not repertoire.sections:
        return sans
    node = repertoire.sections[0].root
    passed: set[Node] = set()
    while node.edges and node not in passed and len(sans) < plies:
        passed.add(node)
        sans.append(node.edges[0].san)
        node = node.edges[0].child
    return sans


def left_words(report: ImportReport) -> list[str]:
    """Each game of which something could not be read, by file, game and line."""
    return [
        f"{left.path.name}, game {left.game}, line {left.line}: {left.reason}"
        for left in report.left
    ]


def import_fields(imported: Imported) -> dict[str, object]:
    """The counts of an import by name, as `stemline import --json` prints them."""
    report = imported.report
    counts = audit(imported.repertoire).counts()
    return {
        "side": SIDE_NAMES[imported.repertoire.side].lower(),
        "games": report.games,
        "used": report.used,
        "lines": report.lines,
        **{name: counts[name] for name in ("positions", "moves", "decisions", "replies")},
        "crossings": counts["crossings"],
        "other_player": report.other_player,
        "own_moves": report.own_moves,
        "rare_replies": report.rare_replies,
        "unanswered": report.unanswered,
        "over_limit": report.over_limit,
    }
