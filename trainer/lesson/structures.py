"""Named pawn structures: which of them a position has, by where the pawns stand.

The definitions are data, `resources/structures/structures.toml`; the README beside it says what
each field means. A definition is written for one side and holds for the other with the board
turned. Nothing but the squares of the pawns counts (and, for two set-ups with the same pawns, of
a bishop), whatever the opening.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import or_
from typing import Final, TypeAlias

import chess

#: A bitboard for each colour: index 0 is Black, 1 White, as `chess.Color`.
_Masks: TypeAlias = tuple[int, int]

_SQUARE_IN_TEXT: Final = re.compile(r"\b([a-h])([1-8])\b")
#: Placements of pawns that are kept in mind; then all are forgotten.
_MOST_SEEN: Final = 100_000
_SIDE_IN_TEXT: Final = re.compile(r"\b(White|Black)\b")


@dataclass(frozen=True)
class PieceDemand:
    """A piece that must stand on one of the squares of the bitboard `squares`."""

    color: chess.Color
    piece: chess.PieceType
    squares: int

    def holds(self, board: chess.Board) -> bool:
        """Whether it does on `board`."""
        return bool(board.pieces_mask(self.piece, self.color) & self.squares)


@dataclass(frozen=True)
class Pattern:
    """Where pawns must, may and must not stand, for a board seen as it is.

    `must[color]` lists bitboards of which each needs a pawn of that side, `must_not[color]` is the
    bitboard of squares without one, `may[color]` the squares on which the pawns of the files
    `may_files[color]` stand where there are any. Index 0 is Black, 1 White, as `chess.Color`.
    """

    must: tuple[tuple[int, ...], tuple[int, ...]]
    must_not: _Masks
    may: _Masks
    may_files: _Masks
    pieces: tuple[PieceDemand, ...] = ()

    def fits(self, white: int, black: int) -> bool:
        """Whether pawns on the bitboards `white` and `black` have this pattern."""
        for color, pawns in ((chess.BLACK, black), (chess.WHITE, white)):
            if pawns & self.must_not[color]:
                return False
            if pawns & self.may_files[color] & ~self.may[color]:
                return False
            if not all(pawns & squares for squares in self.must[color]):
                return False
        return True


@dataclass(frozen=True)
class Structure:
    """One definition. Squares, breaks and plans are for the side `holder` as written.

    `holder` is None where no side owns the structure. `turns` tells that the same with colours
    exchanged goes by this name as well, or by `turned_name`;
    `source` says where the definition is from.
    """

    id: str
    name: str
    holder: chess.Color | None
    patterns: tuple[Pattern, ...]
    turns: bool
    refines: str | None
    holder_breaks: tuple[chess.Square, ...]
    other_breaks: tuple[chess.Square, ...]
    holder_plan: str
    other_plan: str
    source: str
    turned_name: str = ""

    @property
    def demands(self) -> int:
        """How much the definition asks for: the more, the closer it describes a position."""
        first = self.patterns[0]
        return len(first.must[0]) + len(first.must[1]) + len(first.pieces)


@dataclass(frozen=True)
class Found:
    """A structure on a board. `holder` is the side that has it, None where no side owns it.

    `turned` tells that the colours are exchanged against the definition.
    """

    structure: Structure
    holder: chess.Color | None
    turned: bool

    @property
    def name(self) -> str:
        """The name, with the side where that is not the usual one."""
        if self.holder is None or not self.turned:
            return self.structure.name
        if self.structure.turned_name:
            return self.structure.turned_name
        side = "White" if self.holder else "Black"
        return f"{self.structure.name}, held by {side}"

    @cached_property
    def key(self) -> str:
        """What tells it from all others: its id, and the side where colours are exchanged."""
        return f"{self.structure.id}{'-turned' if self.turned else ''}"

    def pawns_on(self, board: chess.Board) -> list[chess.Square]:
        """The pawns by which `board` has this structure, those that its definition demands."""
        for pattern in self.structure.patterns:
            here = _turned(pattern) if self.turned else pattern
            white, black = (board.pawns & board.occupied_co[color] for color in (True, False))
            if here.fits(white, black):
                wanted = (white & mask for mask in here.must[chess.WHITE])
                others = (black & mask for mask in here.must[chess.BLACK])
                return list(chess.scan_forward(reduce(or_, (*wanted, *others), 0)))
        return []

    def breaks(self, side: chess.Color) -> tuple[chess.Square, ...]:
        """The squares to which a pawn of `side` goes in the usual breaks."""
        own = self._is_holder(side)
        squares = self.structure.holder_breaks if own else self.structure.other_breaks
        return tuple(map(chess.square_mirror, squares)) if self.turned else squares

    def plan(self, side: chess.Color) -> str:
        """What `side` usually plays for, in a sentence."""
        own = self._is_holder(side)
        text = self.structure.holder_plan if own else self.structure.other_plan
        return _turned_text(text) if self.turned else text

    def _is_holder(self, side: chess.Color) -> bool:
        return side == (chess.WHITE if self.holder is None else self.holder)


@dataclass(frozen=True)
class Stretch:
    """A structure from one moment of a line to another.

    `since` is the number of plies played when it came about; `until` that of the first position
    without it, None where the line ends with it.
    """

    found: Found
    since: int
    until: int | None


class StructureBook:
    """All definitions, with what was found for the pawn placements seen so far."""

    def __init__(self, structures: Sequence[Structure]) -> None:
        self._structures = tuple(sorted(structures, key=lambda one: -one.demands))
        self._by_id = {structure.id: structure for structure in self._structures}
        self._asked = tuple(
            (
                _single(pattern.must[chess.WHITE]),
                _single(pattern.must[chess.BLACK]),
                pattern.must_not[chess.WHITE],
                pattern.must_not[chess.BLACK],
                found,
                pattern,
            )
            for structure in self._structures
            for found, pattern in _readings(structure)
        )
        self._seen: dict[tuple[int, int], tuple[tuple[Found, Pattern], ...]] = {}
        #: What the pawns alone decide.
        self._settled: dict[tuple[int, int], tuple[Found, ...]] = {}

    def __iter__(self) -> Iterator[Structure]:
        return iter(self._structures)

    def __len__(self) -> int:
        return len(self._structures)

    def named(self, structure_id: str) -> Structure | None:
        """The definition with an id; None where there is none."""
        return self._by_id.get(structure_id)

    def all_found(self) -> tuple[Found, ...]:
        """Every structure that can be found, with either side holding it."""
        return tuple(dict.fromkeys(found for *_, found, _pattern in self._asked))

    def find(self, board: chess.Board) -> tuple[Found, ...]:
        """The structures of a position, the one that describes it closest first.

        One that refines another stands for both; the wider one is left out.
        """
        white = board.pawns & board.occupied_co[chess.WHITE]
        black = board.pawns & board.occupied_co[chess.BLACK]
        return self.of_pawns(white, black, lambda one: one.holds(board))

    def of_pawns(
        self, white: int, black: int, holds: Callable[[PieceDemand], bool]
    ) -> tuple[Found, ...]:
        """As `find`, for pawns on the bitboards `white` and `black`.

        `holds` tells of a piece whether it stands where it must; few structures ask that.
        """
        settled = self._settled.get((white, black))
        if settled is not None:
            return settled
        fitting = self._seen.get((white, black))
        if fitting is None:
            if len(self._seen) + len(self._settled) > _MOST_SEEN:
                self._seen.clear()
                self._settled.clear()
            fitting = tuple(self._fitting(white, black))
        found = self._narrowed(
            found for found, pattern in fitting if all(holds(one) for one in pattern.pieces)
        )
        if any(pattern.pieces for _, pattern in fitting):
            self._seen[white, black] = fitting
        else:
            self._settled[white, black] = found
        return found

    def _narrowed(self, fitting: Iterable[Found]) -> tuple[Found, ...]:
        """Without those that another one refines."""
        found = dict.fromkeys(fitting)
        wider = {
            (parent.id, one.turned and parent.holder is not None)
            for one in found
            for parent in self._ancestors(one.structure)
        }
        return tuple(one for one in found if (one.structure.id, one.turned) not in wider)

    def along(self, boards: Iterable[chess.Board]) -> list[Stretch]:
        """The structures of a line, given its positions in order, in the order they came about."""
        open_since: dict[str, int] = {}
        last: dict[str, Found] = {}
        stretches: list[Stretch] = []
        for ply, board in enumerate(boards):
            now = {one.key: one for one in self.find(board)}
            for key in [key for key in open_since if key not in now]:
                stretches.append(Stretch(last.pop(key), open_since.pop(key), ply))
            for key, one in now.items():
                if key not in open_since:
                    open_since[key] = ply
                    last[key] = one
        stretches.extend(Stretch(last[key], since, None) for key, since in open_since.items())
        return sorted(stretches, key=lambda one: one.since)

    def _ancestors(self, structure: Structure) -> Iterator[Structure]:
        while structure.refines is not None:
            structure = self._by_id[structure.refines]
            yield structure

    def _fitting(self, white: int, black: int) -> Iterator[tuple[Found, Pattern]]:
        # Plain masks settle nearly every definition; there are millions of placements to ask.
        for white_all, black_all, white_none, black_none, found, pattern in self._asked:
            if (
                white & white_all == white_all
                and black & black_all == black_all
                and not white & white_none
                and not black & black_none
                and pattern.fits(white, black)
            ):
                yield found, pattern


def _readings(structure: Structure) -> Iterator[tuple[Found, Pattern]]:
    """A definition for the board as it is, each pattern followed by the same turned."""
    for pattern in structure.patterns:
        yield Found(structure, structure.holder, turned=False), pattern
        if structure.turns:
            yield Found(structure, not structure.holder, turned=True), _turned(pattern)


def _single(masks: Iterable[int]) -> int:
    """The squares that must have a pawn whatever else: those named without a choice."""
    return reduce(or_, (mask for mask in masks if not mask & (mask - 1)), 0)


def _turned(pattern: Pattern) -> Pattern:
    """The pattern with colours exchanged, on the board turned."""
    flip = chess.flip_vertical
    black, white = pattern.must
    return Pattern(
        must=(tuple(map(flip, white)), tuple(map(flip, black))),
        must_not=(flip(pattern.must_not[1]), flip(pattern.must_not[0])),
        may=(flip(pattern.may[1]), flip(pattern.may[0])),
        may_files=(flip(pattern.may_files[1]), flip(pattern.may_files[0])),
        pieces=tuple(
            PieceDemand(not one.color, one.piece, flip(one.squares)) for one in pattern.pieces
        ),
    )


def _turned_text(text: str) -> str:
    """A sentence with its squares on the other side of the board, and the sides exchanged."""
    text = _SQUARE_IN_TEXT.sub(lambda found: f"{found[1]}{9 - int(found[2])}", text)
    return _SIDE_IN_TEXT.sub(lambda found: "Black" if found[1] == "White" else "White", text)
