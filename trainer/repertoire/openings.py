"""Names of openings, by position.

The table under `resources/openings` gives an ECO code and a name to some thousands of positions.
A name belongs to the position, by whatever order it is reached.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import chess

from trainer.errors import ResourceMissingError
from trainer.notation.fastboard import FastBoard
from trainer.position import position_key
from trainer.repertoire.graph import Edge
from trainer.resources import resource_path

_FOLDER: Final = "openings"
_HEADINGS: Final = "eco\tname\tpgn"


@dataclass(frozen=True)
class Opening:
    """An ECO code (A00 to E99) and a name, which may hold a variation behind a colon."""

    eco: str
    name: str

    @property
    def family(self) -> str:
        """The name without the variation."""
        return self.name.partition(":")[0]

    def __str__(self) -> str:
        return f"{self.name} ({self.eco})"


class OpeningBook:
    """The openings by position key."""

    def __init__(self, openings: dict[int, Opening], passed: Collection[int] = ()) -> None:
        """`passed` are the keys of all positions on the way to the named ones."""
        self._openings = openings
        self._passed = passed

    @classmethod
    def load(cls, folder: Path | None = None) -> OpeningBook:
        """Read the table, from the program's own files unless `folder` names others.

        Takes some 60 ms, so it is done when names are first asked for. Raises
        `ResourceMissingError` where the table is missing or damaged.
        """
        folder = resource_path(_FOLDER) if folder is None else folder
        rows = sorted(_rows(folder))
        if not rows:
            raise ResourceMissingError(
                f"{folder} holds no opening names; install Stemline again or restore it."
            )
        try:
            passed: set[int] = set()
            return cls(dict(_by_key(rows, passed)), passed)
        except ValueError as error:
            raise ResourceMissingError(
                f"The opening names in {folder} are damaged ({error}); "
                "install Stemline again or restore them."
            ) from error

    def __len__(self) -> int:
        return len(self._openings)

    def name_of(self, position: chess.Board | int) -> Opening | None:
        """The opening of a position, given as a board or by its key; None where it has no name."""
        key = position if isinstance(position, int) else position_key(position)
        return self._openings.get(key)

    def plays(self, position: chess.Board | int) -> bool:
        """Whether some line of the table passes a position, named there or not."""
        key = position if isinstance(position, int) else position_key(position)
        return key in self._openings or key in self._passed

    def names_along(self, order: Sequence[Edge]) -> list[tuple[int, Opening]]:
        """Each named position of a move order: moves made so far, and its opening."""
        if not order:
            return []
        keys = [order[0].parent.key, *(edge.child.key for edge in order)]
        return [
            (ply, opening)
            for ply, key in enumerate(keys)
            if (opening := self._openings.get(key)) is not None
        ]

    def last_named(self, order: Sequence[Edge]) -> Opening | None:
        """The opening that a move order is in at its end: that of its last named position."""
        return next((opening for _, opening in reversed(self.names_along(order))), None)

    def names_of_orders(self, orders: Iterable[Sequence[Edge]]) -> list[Opening | None]:
        """What each of several orders to one position is called before it gets there.

        Where they differ, the same position is "technically another opening" by another door.
        """
        return [self.last_named(order[:-1]) for order in orders]

    def is_another_opening(self, orders: Iterable[Sequence[Edge]]) -> bool:
        """Whether some of the orders go by different names, variations left aside."""
        names = self.names_of_orders(orders)
        return len({opening.family for opening in names if opening is not None}) > 1


_Row = tuple[tuple[str, ...], str, str]


def _rows(folder: Path) -> Iterator[_Row]:
    """The moves, ECO code and name of each row."""
    for path in sorted(folder.glob("*.tsv")):
        try:
            headings, *lines = path.read_text(encoding="utf-8").splitlines()
            if headings != _HEADINGS:
                raise ValueError("wrong headings")
            for line in lines:
                eco, name, moves = line.split("\t")
                yield tuple(word for word in moves.split() if word[-1] != "."), eco, name
        except (OSError, ValueError) as error:
            raise ResourceMissingError(
                f"The opening names in {path} cannot be read ({error}); "
                "install Stemline again or restore the file."
            ) from error


def _by_key(rows: Iterable[_Row], passed: set[int]) -> Iterator[tuple[int, Opening]]:
    """The final position of each row; those on the way are added to `passed`.

    Sorted rows share most moves with the row before.
    """
    start = FastBoard.from_board(chess.Board())
    line = [(start.pack(), start.key)]
    before: tuple[str, ...] = ()
    for moves, eco, name in rows:
        shared = 0
        while shared < min(len(moves), len(before)) and moves[shared] == before[shared]:
            shared += 1
        del line[shared + 1 :]
        board = FastBoard(*line[-1])
        for san in moves[shared:]:
            board.push(board.resolve(san))
            line.append((board.pack(), board.key))
            passed.add(board.key)
        before = moves
        yield board.key, Opening(eco, name)
