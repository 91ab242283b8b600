"""What the five lists hold, and what was chosen in each. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trainer.repertoire.graph import Repertoire
from trainer.repertoire.shortcuts import Shortcut
from trainer.ui.orders.entry_list import EntryModel
from trainer.ui.orders.sections import KINDS, Section, Sorting, sorted_entries, still_stands
from trainer.ui.orders.words import OrderWords


@dataclass(frozen=True)
class _Chosen:
    """What was chosen in a list, and in which row it stood."""

    entry: Any
    row: int


class Lists:
    """Entries by list, None where they are still looked for."""

    def __init__(self) -> None:
        self.entries: dict[Section, list[Any] | None] = dict.fromkeys(Section)
        self._chosen: dict[Section, _Chosen] = {}
        #: Whether the shortcuts are all that there are.
        self.all_shortcuts = False

    def unfinished(self, section: Section) -> bool:
        """Whether more may come."""
        return self.entries[section] is None or (
            section is Section.SHORTCUTS and not self.all_shortcuts
        )

    def take_shortcuts(self, found: list[Shortcut], *, last: bool) -> bool:
        """Take what was found so far; False where what stood before an edit is more."""
        before = self.entries[Section.SHORTCUTS]
        if not last and before is not None and len(before) > len(found):
            return False
        self.entries[Section.SHORTCUTS] = found
        self.all_shortcuts = last
        return True

    def keep_what_stands(self, repertoire: Repertoire) -> dict[Section, int]:
        """Until they are found again: keep what an edit has left as it was, and count it."""
        counts = {}
        for section in (Section.NEAR_MISSES, Section.SHORTCUTS):
            entries = self.entries[section]
            if entries is not None:
                kept = [one for one in entries if still_stands(repertoire, section, one)]
                self.entries[section] = kept
                counts[section] = len(kept) - going_back(section, kept)
        self.all_shortcuts = False
        return counts

    def shown(
        self, section: Section, words: OrderWords, sorting: Sorting, *, folded: bool
    ) -> Sequence[Any]:
        """The entries of a list in their order; with `folded`, without those that go back."""
        entries: Sequence[Any] = self.entries[section] or []
        if section is Section.SHORTCUTS and folded:
            entries = [one for one in entries if not one.goes_back]
        return sorted_entries(words, entries, sorting)

    # -- what is chosen ----------------------------------------------------------------------

    def choose(self, section: Section, entry: Any, row: int) -> None:
        """Remember what was chosen in a list."""
        self._chosen[section] = _Chosen(entry, row)

    def is_chosen(self, section: Section, entry: Any) -> bool:
        """Whether it was this very entry."""
        chosen = self._chosen.get(section)
        return chosen is not None and chosen.entry is entry

    def row_to_choose(self, section: Section, model: EntryModel) -> int:
        """The row of what was chosen; where that is gone, the one that has come in its place."""
        identity, chosen = KINDS[section].identity, self._chosen.get(section)
        if chosen is None:
            return 0
        name = identity(chosen.entry)
        row = model.row_of(lambda entry: identity(entry) == name)
        return row if row >= 0 else min(chosen.row, model.rowCount() - 1)


def going_back(section: Section, entries: Sequence[Any] | None) -> int:
    """How many entries are shortcuts that only take moves back."""
    if section is not Section.SHORTCUTS or entries is None:
        return 0
    return sum(one.goes_back for one in entries)
