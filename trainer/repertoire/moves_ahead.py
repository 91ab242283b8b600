"""The moves of a large file, resolved ahead of reading, many positions at once.

Before the games of a file are followed one move after the other, its words are put into a tree,
and the moves of each depth are found and made together. That is a help and no more: what is found
here is used only in the position that it was found in. A word that is no plain legal move, or
stands where the tree was followed wrongly, is resolved on a board.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import chess
import numpy as np

from trainer.notation.fastboard import FastBoard
from trainer.notation.many_attacks import Rows
from trainer.notation.many_boards import PACKED_ROW, ManyBoards
from trainer.notation.many_moves import Spellings
from trainer.notation.san import read_spelling
from trainer.notation.tokens import CLOSE, MOVE, NUMBER_ONE, OPEN, RESULT, TAG, Token
from trainer.position import PACKED

#: At fewer positions than this in a depth, a board for each is as quick.
_LEAST_ROWS: Final = 40
#: So many at once: while numpy works, no other thread does.
_MOST_ROWS: Final = 2048
_WORD_BITS: Final = 24
#: The node of the usual starting position, and one that stands for all others: what follows there
#: is not resolved ahead.
_START: Final = 0
_ELSEWHERE: Final = 1


@dataclass(frozen=True, eq=False, slots=True)
class MovesAhead:
    """What the moves of a tree of words come to, by the node that each leads to.

    `before` holds the key of the position that a move is made in, None where it was not found;
    `moves`, `sans` and `keys` the move, its SAN and the key of what it leads to. `nodes` are the
    nodes of the moves of the file, in its order.
    """

    nodes: Iterable[int]
    before: list[int | None]
    moves: list[chess.Move]
    sans: list[str]
    keys: list[int]
    all_packed: bytes

    def packed(self, node: int) -> bytes:
        """The position that a move leads to, as `trainer.position.pack_position` gives it."""
        return self.all_packed[node * PACKED.size : (node + 1) * PACKED.size]


class _Columns:
    """The same as arrays, while they are filled."""

    def __init__(self, parent: Rows) -> None:
        count = len(parent)
        self.parent = parent
        self.found = np.zeros(count, np.bool_)
        self.moves = np.empty(count, object)
        self.sans = np.empty(count, object)
        self.keys = np.zeros(count, np.uint64)
        self.packed = np.zeros(count, PACKED_ROW)

    def put(
        self, nodes: Rows, moves: list[chess.Move], sans: list[str], after: ManyBoards
    ) -> None:
        self.found[nodes] = True
        self.moves[nodes] = moves
        self.sans[nodes] = sans
        self.keys[nodes] = after.key
        self.packed[nodes] = after.packed()

    def ahead(self, nodes: Iterable[int], start: int) -> MovesAhead:
        """As lists, which are quicker to look one thing up in; `start` is the key of the start."""
        self.keys[_START] = start
        before = self.keys[self.parent].astype(object)
        before[~self.found] = None
        return MovesAhead(
            nodes,
            before.tolist(),
            self.moves.tolist(),
            self.sans.tolist(),
            self.keys.tolist(),
            self.packed.tobytes(),
        )


class WordTree:
    """The words of a file's moves as a tree, and all its tokens to be read once more."""

    def __init__(self) -> None:
        #: What the moves come to, once they are resolved.
        self.ahead: MovesAhead | None = None
        self._kinds = bytearray()
        self._offsets = array("Q")
        self._words: list[str] = []
        #: The nodes that the moves of the file lead to.
        self._nodes = array("q")
        #: Each different word once, with its number.
        self._number: dict[str, int] = {}
        self._spelled: list[str] = []
        #: By node of the tree: its parent and its word.
        self._parent = array("q", [-1, -1])
        self._word = array("q", [-1, -1])
        self._children: dict[int, int] = {}
        self._node = self._before = _START
        self._stack: list[tuple[int, int]] = []

    def take(self, tokens: Iterable[Token]) -> None:
        """Take the next tokens of the file."""
        # Every token of a large file comes through here: few calls, and nothing looked up twice.
        number_of, spelled, children = self._number, self._spelled, self._children
        parents, written, stack = self._parent, self._word, self._stack
        kinds, words, offsets, nodes = self._kinds, self._words, self._offsets, self._nodes
        node, before = self._node, self._before
        for kind, word, offset in tokens:
            kinds.append(kind)
            offsets.append(offset)
            if kind == MOVE:
                number = number_of.get(word)
                if number is None:
                    number = number_of[word] = len(spelled)
                    spelled.append(word)
                words.append(spelled[number])
                place = node << _WORD_BITS | number
                before, known = node, children.get(place)
                if known is None:
                    known = children[place] = len(parents)
                    parents.append(node)
                    written.append(number)
                node = known
                nodes.append(node)
                continue
            words.append(word)
            if kind == OPEN:
                stack.append((node, before))
                node = before
            elif kind == CLOSE:
                if stack:
                    node, before = stack.pop()
            elif kind == TAG:
                if _is_fen(word):
                    node = _ELSEWHERE
                elif node != _ELSEWHERE:
                    node = _START
                before = node
                stack.clear()
            elif not stack and (kind == RESULT or (kind == NUMBER_ONE and parents[node] > _START)):
                node = before = _START
        self._node, self._before = node, before

    def tokens(self) -> Iterator[Token]:
        """All tokens that were taken, in their order."""
        return zip(self._kinds, self._words, self._offsets, strict=True)

    def resolve(self) -> Iterator[float]:
        """Find and make the moves, for `ahead`; says now and then how far it is, 0 to 1."""
        self._children.clear()
        parent = np.array(self._parent, np.intp)
        words = np.array(self._word, np.intp)
        depth = np.array(_depths(self._parent), np.intp)
        order = np.argsort(depth, kind="stable")
        ends = np.cumsum(np.bincount(depth))
        spellings = Spellings.of([read_spelling(word) for word in self._spelled])
        boards = ManyBoards.of(FastBoard.from_board(chess.Board()))
        columns = _Columns(parent)
        start = int(boards.key[0])
        #: The row of each node's position among those of its depth; -1 where it is not known.
        row = np.full(len(parent), -1, np.intp)
        row[_START] = 0
        for level in range(1, _depths_worth_it(np.diff(ends)) + 1):
            nodes = order[ends[level - 1] : ends[level]]
            nodes = nodes[row[parent[nodes]] >= 0]
            after: list[ManyBoards] = []
            count = 0
            for first in range(0, len(nodes), _MOST_ROWS):
                some = nodes[first : first + _MOST_ROWS]
                before = boards[row[parent[some]]]
                rows, moves = before.find(spellings[words[some]])
                some, before = some[rows], before[rows]
                made = before.make(moves)
                columns.put(some, moves.objects(), before.sans(moves, made), made)
                row[some] = count + np.arange(len(some))
                count += len(some)
                after.append(made)
                yield float(ends[level - 1] + first) / len(parent)
            if not count:
                break
            boards = ManyBoards.joined(after)
        self.ahead = columns.ahead(self._nodes, start)


def _is_fen(tag: str) -> bool:
    return tag[1:].lstrip()[:3].upper() == "FEN"


def _depths(parents: Iterable[int]) -> list[int]:
    """How deep each node stands; parents come before those below them; that of a root is -1."""
    depths: list[int] = []
    for parent in parents:
        depths.append(depths[parent] + 1 if parent >= 0 else 0)
    return depths


def _depths_worth_it(counts: Rows) -> int:
    """Down to which depth there are enough positions, by how many there are in each from 1 on."""
    enough = np.flatnonzero(counts >= _LEAST_ROWS)
    deepest = int(enough[-1]) + 1 if len(enough) else 0
    return deepest if counts[:deepest].sum() >= _LEAST_ROWS * deepest else 0
