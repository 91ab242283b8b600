"""Shortcuts: opponent's moves that the repertoire does not list but whose position it knows.

The position is known at once, or after one more move of the player. Nothing is searched along
lines. Each unlisted move gives a placement key by a few exclusive-ors; whether it is known is
one look-up. For the player's next move, no moves are made at all: a move takes one man from its
square and leaves one on another, so the placement before it without that man is the placement
after it without that man (and with what it took). The signatures of all known positions after a
move of the player go into one table, and those of the positions after unlisted moves are looked
up there. The few that match are verified with python-chess.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import chess
import numpy as np

from trainer.notation.fastboard import FastBoard
from trainer.position import PIECE_KEYS
from trainer.repertoire.graph import Node
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.signatures import (
    CASTLING_FILES,
    MAN_KEYS,
    Keys,
    KeyTable,
    Numbers,
    Placements,
    SearchCancelledError,
    code_of,
)

#: Positions searched between two looks at `cancelled`: some tens of milliseconds of work.
_BATCH: Final = 200


@dataclass(frozen=True)
class Shortcut:
    """An opponent's move at `node` that is not in the repertoire, but leads to `target`.

    `via` is the player's move that leads there, None where `target` is known at once; `san` and
    `via_san` are the moves in SAN. `is_usual` tells that the player has `via` prepared elsewhere.
    `reach` is that of `node`. `goes_back` tells that `target` is no further from the start than
    `node`: the moves only take something back.
    """

    node: Node
    move: chess.Move
    san: str
    via: chess.Move | None
    via_san: str | None
    target: Node
    reach: float
    is_usual: bool
    goes_back: bool

    @property
    def moves(self) -> tuple[chess.Move, ...]:
        """What to add to the repertoire at `node`: one move or two."""
        return (self.move,) if self.via is None else (self.move, self.via)


def find_shortcuts(
    graph: OrderGraph,
    nodes: Sequence[Node] | None = None,
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> list[Shortcut]:
    """All shortcuts, those that only take moves back last, else the most reached first.

    For a move that is known at once, moves of the player that would lead on from there are not
    listed. Where several moves of the player lead to known positions, each is a shortcut.

    `nodes` are the positions to look at instead of all with the opponent to move. `progress` is
    called with the share done, 0 to 1. Raises `SearchCancelledError` where `cancelled` says so.
    """
    side = graph.repertoire.side
    known = graph.repertoire.nodes.values()
    sources = [node for node in (known if nodes is None else nodes) if node.turn != side]
    search = _Search(graph)
    found: list[Shortcut] = []
    for begin in range(0, len(sources), _BATCH):
        if cancelled is not None and cancelled():
            raise SearchCancelledError("The search for shortcuts was cancelled.")
        found += search.batch(sources[begin : begin + _BATCH])
        if progress is not None:
            progress(min(1.0, (begin + _BATCH) / len(sources)))
    return sorted(found, key=lambda shortcut: (shortcut.goes_back, -shortcut.reach))


class _Search:
    """What is known of the whole repertoire, looked up for some positions at a time."""

    def __init__(self, graph: OrderGraph) -> None:
        self._graph = graph
        self._nodes = graph.repertoire.nodes
        self._side = graph.repertoire.side
        to_move: list[Node] = []
        self._behind: list[Node] = []
        for node in self._nodes.values():
            (to_move if node.turn == self._side else self._behind).append(node)
        self._at_once = set(Placements.of(to_move).keys.tolist()) if to_move else set()
        self._usual = {
            (edge.move, edge.parent.board().piece_type_at(edge.move.from_square))
            for edge in graph.repertoire.edges()
            if edge.parent.turn == self._side
        }
        keys, self._entry_node, self._entry_square = _signatures_behind(self._behind, self._side)
        self._table = KeyTable(keys)

    def batch(self, sources: Sequence[Node]) -> Iterator[Shortcut]:
        """The shortcuts of some positions."""
        placements = Placements.of(sources)
        ours = placements.of_color(self._side)
        at: list[int] = []
        moves: list[chess.Move] = []
        keys: list[int] = []
        for number, (node, key) in enumerate(zip(sources, placements.keys.tolist(), strict=True)):
            board = node.board()
            listed = {edge.move for edge in node.edges}
            for move in board.legal_moves:
                if move in listed:
                    continue
                after = key ^ _change(board, move)
                target = self._known_at_once(node, move) if after in self._at_once else None
                if target is not None:
                    yield self._shortcut(node, board, move, None, target)
                else:
                    at.append(number)
                    moves.append(move)
                    keys.append(after)
        if keys:
            yield from self._two_moves(sources, placements, ours, at, moves, keys)

    def _known_at_once(self, node: Node, move: chess.Move) -> Node | None:
        board = FastBoard(node.packed, node.key)
        board.push(move)
        target = self._nodes.get(board.key)
        return target if target is not None and target.packed == board.pack() else None

    def _two_moves(
        self,
        sources: Sequence[Node],
        placements: Placements,
        ours: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
        at: list[int],
        moves: list[chess.Move],
        keys: list[int],
    ) -> Iterator[Shortcut]:
        """Look up the placements after unlisted moves without each of the player's men."""
        where = np.array(at)
        after: Keys = np.array(keys, np.uint64)
        row, square = np.nonzero(ours[where])
        wanted = after[row] ^ MAN_KEYS[placements.codes[where[row], square], square]
        asked, entry = self._table.find(wanted)
        for index, origin, hit in zip(
            row[asked].tolist(), square[asked].tolist(), entry.tolist(), strict=True
        ):
            node, move = sources[at[index]], moves[index]
            target = self._behind[int(self._entry_node[hit])]
            via = _move_to(target, node, move, origin, int(self._entry_square[hit]))
            if via is not None:
                yield self._shortcut(node, node.board(), move, via, target)

    def _shortcut(
        self,
        node: Node,
        board: chess.Board,
        move: chess.Move,
        via: chess.Move | None,
        target: Node,
    ) -> Shortcut:
        san, via_san, is_usual = board.san(move), None, False
        if via is not None:
            after = board.copy(stack=False)
            after.push(move)
            via_san = after.san(via)
            is_usual = (via, after.piece_type_at(via.from_square)) in self._usual
        graph = self._graph
        here, there = graph.depth(node), graph.depth(target)
        return Shortcut(
            node,
            move,
            san,
            via,
            via_san,
            target,
            float(graph.reach[graph.arrays.number(node)]),
            is_usual,
            goes_back=here is not None and there is not None and there <= here,
        )


def _signatures_behind(nodes: Sequence[Node], side: chess.Color) -> tuple[Keys, Numbers, Numbers]:
    """For positions after a move of `side`: the signatures that the position before may have.

    Returns them with the number of the node and the square where the moved man stands then. For
    each man of `side`: without it; the same with each man it may have taken there; for a pawn on
    the sixth rank, with the pawn taken en passant; for a castled king, with the rook back home.
    """
    if not nodes:
        nothing = np.zeros(0, np.int64)
        return np.zeros(0, np.uint64), nothing, nothing
    placements = Placements.of(nodes)
    number, square = np.nonzero(placements.of_color(side))
    code = placements.codes[number, square]
    bare = placements.keys[number] ^ MAN_KEYS[code, square]
    keys, numbers, squares = [bare], [number], [square]

    def add(chosen: Numbers, change: Keys) -> None:
        keys.append(bare[chosen] ^ change)
        numbers.append(number[chosen])
        squares.append(square[chosen])

    everywhere = np.arange(len(number))
    inside = np.flatnonzero((square >= 8) & (square < 56))
    for piece_type in chess.PIECE_TYPES[:-1]:
        chosen = inside if piece_type == chess.PAWN else everywhere
        add(chosen, MAN_KEYS[code_of(not side, piece_type), square[chosen]])
    sixth_rank = 5 if side else 2
    pawns = np.flatnonzero((code == code_of(side, chess.PAWN)) & (square // 8 == sixth_rank))
    behind = square[pawns] + (-8 if side else 8)
    add(pawns, MAN_KEYS[code_of(not side, chess.PAWN), behind])
    rook = MAN_KEYS[code_of(side, chess.ROOK)]
    first = chess.A1 if side else chess.A8
    for king_to, rook_from, rook_to in CASTLING_FILES:
        kings = np.flatnonzero((code == code_of(side, chess.KING)) & (square == first + king_to))
        change = rook[first + rook_from] ^ rook[first + rook_to]
        add(kings, np.full(len(kings), change, np.uint64))
    return np.concatenate(keys), np.concatenate(numbers), np.concatenate(squares)


def _change(board: chess.Board, move: chess.Move) -> int:
    """How a legal move changes the placement key."""
    turn, origin, target = board.turn, move.from_square, move.to_square
    own, other = PIECE_KEYS[turn], PIECE_KEYS[not turn]
    piece = board.piece_type_at(origin) or 0
    key = own[piece][origin] ^ own[move.promotion or piece][target]
    taken = board.piece_type_at(target)
    if taken is not None:
        key ^= other[taken][target]
    elif piece == chess.PAWN and (origin ^ target) & 7:
        key ^= other[chess.PAWN][target - 8 if turn else target + 8]
    elif piece == chess.KING and target - origin in (2, -2):
        rook_from, rook_to = (
            (origin + 3, origin + 1) if target > origin else (origin - 4, origin - 1)
        )
        key ^= own[chess.ROOK][rook_from] ^ own[chess.ROOK][rook_to]
    return key


def _move_to(
    target: Node, node: Node, move: chess.Move, origin: int, square: int
) -> chess.Move | None:
    """The player's move between two squares after `move`, if it is legal and gives `target`."""
    board = node.board()
    board.push(move)
    via = chess.Move(origin, square)
    if board.piece_type_at(origin) == chess.PAWN and not 8 <= square < 56:
        via.promotion = target.board().piece_type_at(square)
    if origin == square or not board.is_legal(via):
        return None
    fast = FastBoard(node.packed, node.key)
    fast.push(move)
    fast.push(via)
    return via if fast.key == target.key and fast.pack() == target.packed else None
