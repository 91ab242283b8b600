"""What the five lists hold, and what was chosen in each. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from trainer.ui.orders.entry_list import EntryModel
from trainer.ui.orders.findings import FoundShortcuts, Kept
from trainer.ui.orders.sections import KINDS, Section, Sorting, sorted_entries
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
        self.shortcuts: FoundShortcuts | None = None
        #: Whether the shortcuts are all that there are.
        self.all_shortcuts = False

    def unfinished(self, section: Section) -> bool:
        """Whether more may come."""
        return self.entries[section] is None or (
            section is Section.SHORTCUTS and not self.all_shortcuts
        )

    def take_shortcuts(self, found: FoundShortcuts, *, last: bool) -> bool:
        """Take what was found so far; False where what stood before an edit is more."""
        before = self.shortcuts
        if not last and before is not None and len(before.entries) > len(found.entries):
            return False
        self._put(found)
        self.all_shortcuts = last
        return True

    def take_kept(self, kept: Kept) -> dict[Section, int]:
        """Until they are found again: what an edit has left as it was, and how much it is."""
        self.all_shortcuts = False
        counts = {}
        if kept.pairs is not None:
            self.entries[Section.NEAR_MISSES] = kept.pairs
            counts[Section.NEAR_MISSES] = len(kept.pairs)
        if kept.shortcuts is not None:
            self._put(kept.shortcuts)
            counts[Section.SHORTCUTS] = kept.shortcuts.onward
        return counts

    def kept(self) -> Kept:
        """What may stand after an edit."""
        return Kept(self.entries[Section.NEAR_MISSES], self.shortcuts)

    def _put(self, found: FoundShortcuts) -> None:
        self.shortcuts = found
        self.entries[Section.SHORTCUTS] = found.entries

    @property
    def going_back(self) -> int:
        """How many shortcuts only take moves back."""
        found = self.shortcuts
        return 0 if found is None else len(found.entries) - found.onward

    def shown(
        self, section: Section, words: OrderWords, sorting: Sorting, *, folded: bool
    ) -> Sequence[Any]:
        """The entries of a list in their order; with `folded`, without those that go back."""
        entries: Sequence[Any] = self.entries[section] or []
        if section is Section.SHORTCUTS and folded and self.shortcuts is not None:
            # Those that go back stand last.
            entries = self.shortcuts.entries[: self.shortcuts.onward]
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
        # Positions outlast an edit, and comparing them first is quick.
        node_of, node = KINDS[section].node, KINDS[section].node(chosen.entry)
        name = identity(chosen.entry)
        row = model.row_of(lambda entry: node_of(entry) is node and identity(entry) == name)
        return row if row >= 0 else min(chosen.row, model.rowCount() - 1)
