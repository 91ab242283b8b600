"""Finding positions of the plan by move, comment, opening name or position. No Qt."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import chess
import numpy as np

from trainer.notation.display import FIGURINE_LETTERS
from trainer.position import pack_position, position_key
from trainer.ui.setup.arrangement import PositionTextError, read_position

if TYPE_CHECKING:
    from trainer.repertoire.openings import OpeningBook
    from trainer.repertoire.railway.layout import MapLayout
    from trainer.ui.map.plan import Plan

_NUMBER: Final = re.compile(r"^[1-9]\d*\s*(\.{3}|…|\.|\s)\s*")
#: The bytes of a packed position that say what stands where: six kinds, and which are White's.
_PIECES: Final = 56
_MARKS: Final = re.compile(r"[+#!?]+$")
_MOVE: Final = re.compile(r"^([KQRBN]?[a-h]?[1-8]?x?[a-h][1-8](=[QRBN])?|O-O(-O)?)$")


@dataclass(frozen=True)
class Found:
    """The numbers of the positions found, left to right, and what was looked for.

    `note` says, where another position was found than the one looked for, which one that is.
    """

    numbers: tuple[int, ...]
    kind: str = ""
    note: str = ""

    def sentence(self) -> str:
        """How many there are, in words."""
        if not self.kind:
            return ""
        if not self.numbers:
            return f"no {self.kind}"
        return f"{len(self.numbers):,} by {self.kind}"


class Results:
    """The positions found, and which of them is shown now."""

    def __init__(self, found: Found | None = None) -> None:
        self.found = found or Found(())
        self._now: int | None = None

    def renewed(self, found: Found) -> Results:
        """These results where the same was found again, else new ones."""
        return self if found == self.found else Results(found)

    def step(self, step: int) -> int | None:
        """The next (1) or previous (-1) position, round and round; None where none was found."""
        numbers = self.found.numbers
        if not numbers:
            return None
        if self._now is None:
            self._now = 0 if step > 0 else len(numbers) - 1
        else:
            self._now = (self._now + step) % len(numbers)
        return numbers[self._now]

    def sentence(self) -> str:
        """How many there are and which one is shown, in words."""
        words = self.found.sentence()
        return words if self._now is None else f"{self._now + 1:,} of {words}"


def find(plan: Plan, text: str, book: OpeningBook | None) -> Found:
    """What a typed or pasted text finds.

    A FEN or EPD finds its position. A move in SAN (a number in front and check signs are passed
    over) finds every position that it leads to; any other text is looked for in comments and in
    the names of openings, capitals or not.
    """
    text = text.strip()
    if not text:
        return Found(())
    if text.count("/") == 7:
        return _by_text(plan, text)
    move = _plain(_NUMBER.sub("", text.translate(FIGURINE_LETTERS)))
    if _MOVE.match(move):
        found = {
            int(plan.arrays.child[number])
            for number, edge in enumerate(plan.arrays.edges)
            if _plain(edge.san) == move
        }
        return Found(_in_order(plan, found), "move")
    wanted = text.casefold()
    found = set()
    for number, edge in enumerate(plan.arrays.edges):
        if any(wanted in part.casefold() for part in (*edge.comments, *edge.before)):
            found.add(int(plan.arrays.child[number]))
    by_name = set() if book is None else _by_name(plan, wanted, book)
    kind = "comment" if found and not by_name else "opening name"
    if (found and by_name) or not (found or by_name):
        kind = "comment or opening name"
    return Found(_in_order(plan, found | by_name), kind)


def sorted_on(found: Found, layout: MapLayout) -> Found:
    """The same positions in the order in which the layout shows them, hidden ones last."""
    numbers = np.array(found.numbers, np.int64)
    if not len(numbers):
        return found
    shown = layout.visible[numbers]
    order = np.lexsort((layout.y[numbers], layout.x[numbers], ~shown))
    return Found(tuple(numbers[order].tolist()), found.kind, found.note)


def _plain(san: str) -> str:
    return _MARKS.sub("", san).replace("0", "O") if "-" in san else _MARKS.sub("", san)


def _in_order(plan: Plan, numbers: set[int]) -> tuple[int, ...]:
    return tuple(sorted(numbers, key=lambda number: (int(plan.ply[number]), number)))


def _by_name(plan: Plan, wanted: str, book: OpeningBook) -> set[int]:
    found = set()
    for key, number in plan.arrays.number_of.items():
        opening = book.name_of(key)
        if opening is not None and (
            wanted in opening.name.casefold() or wanted == opening.eco.casefold()
        ):
            found.add(number)
    return found


def _by_text(plan: Plan, text: str) -> Found:
    try:
        board = read_position(text)
    except PositionTextError as error:
        return Found((), "position", str(error))
    return find_position(plan, board)


def find_position(plan: Plan, board: chess.Board) -> Found:
    """The position of a board, or else those with the same pieces that the repertoire has.

    Such a nearest one differs in castling, in a capture in passing, or in who is to move.
    """
    exact = plan.arrays.number_of.get(position_key(board))
    if exact is not None:
        return Found((exact,), "position")
    pieces = pack_position(board)[:_PIECES]
    near = [
        number
        for number in range(len(plan.arrays.nodes))
        if plan.node(number).packed.startswith(pieces)
    ]
    same_turn = [number for number in near if plan.node(number).turn == board.turn]
    if same_turn:
        note = "with these pieces, but other rights to castle or to capture in passing"
    elif near:
        note = f"with these pieces, but {'Black' if board.turn else 'White'} to move"
    else:
        return Found((), "position", "The repertoire does not have this position.")
    found = _in_order(plan, set(same_turn or near))
    return Found(found, "position", f"The repertoire has this position only {note}.")
