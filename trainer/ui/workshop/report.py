"""What the page says of a step that was taken. No Qt."""

from __future__ import annotations

from trainer.notation.display import Notation, shown_text
from trainer.notation.numbers import count
from trainer.repertoire.workshop.results import Added, Merged, Pasted, Removed, Result
from trainer.ui.workshop.workbench import Step, StepKind

#: Places that could not be read, named one by one.
_NAMED = 4


def told(step: Step, notation: Notation) -> str:
    """One sentence or more; nothing where the page itself shows what was done."""
    if step.kind is StepKind.UNDONE:
        return f"Taken back: {step.edit.title}."
    if step.kind is StepKind.REDONE:
        return f"Made again: {step.edit.title}."
    return shown_text(_told(step.result, notation), notation)


def _told(result: Result | None, notation: Notation) -> str:
    if isinstance(result, Added) and result.joined is not None:
        return result.joined.sentence(notation)
    if isinstance(result, Pasted):
        return pasted_sentence(result)
    if isinstance(result, Removed):
        return f"Gone: {count(result.positions, 'position')}. It can be undone."
    if isinstance(result, Merged):
        return (
            f"Merged: {count(len(result.added), 'new move')}, {result.known:,} known already, "
            f"{count(len(result.conflicts), 'conflict')} to settle."
        )
    return ""


def pasted_sentence(pasted: Pasted) -> str:
    """What came of it: new moves, known ones, and each place that could not be read."""
    parts = [f"{count(len(pasted.added), 'new move')}, {pasted.known:,} known already."]
    if pasted.joined:
        edge, meeting = pasted.joined[0]
        parts.append(f"{edge.san} joins what is known: {meeting.sentence()}")
        if len(pasted.joined) > 1:
            more = len(pasted.joined) - 1
            parts.append(f"{more:,} more {'joins' if more == 1 else 'join'} known positions.")
    lines = [" ".join(parts)]
    lines += [f"Line {one.line}: {one.reason.rstrip('.')}." for one in pasted.skipped[:_NAMED]]
    if len(pasted.skipped) > _NAMED:
        lines.append(f"And {len(pasted.skipped) - _NAMED:,} more places could not be read.")
    return "\n".join(lines)
