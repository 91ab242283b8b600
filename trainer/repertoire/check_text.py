"""The check of a repertoire in words: how much there is, and what is to be put right."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.audit import audit
from trainer.repertoire.measured import WORTH_MEETING, Measured
from trainer.repertoire.reach import reach
from trainer.repertoire.reader import LoadedRepertoire
from trainer.repertoire.side import SIDE_NAMES
from trainer.repertoire.workshop.findings import AuditEntry, EntryKind, audit_entries
from trainer.storage.answers import Answer

#: Entries of each kind that the text names.
_NAMED: Final = 5
_LONGEST_ORDER: Final = 90
_TITLES: Final = {
    EntryKind.CONFLICT: "Conflicts",
    EntryKind.HOLE: "Holes, replies to which nothing is prepared",
    EntryKind.UNPREPARED: f"Unprepared replies, in one game in {1 / WORTH_MEETING:.0f} or more",
    EntryKind.DEAD_END: "Other dead ends",
    EntryKind.NO_REASON: "Often missed, and no note says why",
    EntryKind.TOO_LONG: "Lines too long for their reach",
}


def check_text(
    loaded: LoadedRepertoire,
    answers: Iterable[Answer] = (),
    measured: Measured | None = None,
) -> str:
    """The counts, then what is not in order, of each kind the most reached first.

    `answers` are those of the player to this repertoire, without those taken back. By `measured`
    replies are as likely as they were played; without it the known ones are all alike.
    """
    repertoire = loaded.repertoire
    guess = " (guessed: no RepertoireSide tag says so)" if loaded.side_guessed else ""
    lines = [f"A repertoire for {SIDE_NAMES[repertoire.side]}{guess}.", ""]
    counts = audit(repertoire).counts()
    lines += (f"{name.replace('_', ' '):<10} {count:>8}" for name, count in counts.items())
    arrays = RepertoireArrays.compile(repertoire)
    measured = measured or Measured()
    reached = reach(arrays, measured.shares(arrays))
    unprepared = measured.worth_meeting(arrays, reached)
    entries = audit_entries(repertoire, arrays, reached, answers, unprepared)
    for kind, title in _TITLES.items():
        lines += _named(title, [entry for entry in entries if entry.kind is kind])
    return "\n".join(lines)


def _named(title: str, entries: Sequence[AuditEntry]) -> list[str]:
    if not entries:
        return []
    more = [f"  and {len(entries) - _NAMED} more"] if len(entries) > _NAMED else []
    return ["", f"{title}:", *(f"  {_words(entry)}" for entry in entries[:_NAMED]), *more]


def _words(entry: AuditEntry) -> str:
    """`1 Nf3 d5 2 g3 c6, in 2.1 % of games: nothing is prepared against c6.`"""
    order = entry.order.text(limit=_LONGEST_ORDER)
    per_cent = 100 * entry.reach
    share = f"{per_cent:.1f} %" if per_cent >= 0.1 else "less than 0.1 %"
    return f"{order}, in {share} of games: {entry.sentence}"
