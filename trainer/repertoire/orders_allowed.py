"""Which of the moves that only one order allows the opponent are worth telling.

There is no engine here. A move counts where the repertoire or the opening table plays it, and
else only where it forces matters without losing material: castling, a check, a capture or a
break. All others are counted and left out. Material is counted by the exchange on the square of
the move (`trainer.exchange`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import TypeAlias

import chess

from trainer.exchange import exchange_gain
from trainer.position import position_key
from trainer.repertoire.crossings import Allowed
from trainer.repertoire.graph import Node
from trainer.repertoire.openings import Opening, OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.shortcuts import Shortcut

#: Shortcuts by the position and the opponent's move.
Shortcuts: TypeAlias = Mapping[tuple[Node, chess.Move], Shortcut]


class Worth(IntEnum):
    """Why a move is told, the weightiest reason first."""

    #: The repertoire knows the position, at once or after one more move of the player, and it is
    #: not one that was left behind already.
    KNOWN = 0
    #: The opening table gives the position a name.
    NAMED = 1
    #: A line of the opening table passes the position.
    PLAYED = 2
    #: It castles, checks, takes, promotes or breaks, and loses no material on its square.
    FORCING = 3


@dataclass(frozen=True)
class Telling:
    """An unlisted move of the opponent at `node`, why it is told, and its opening, if named."""

    node: Node
    move: chess.Move
    worth: Worth
    opening: Opening | None = None


@dataclass(frozen=True)
class Told:
    """The moves worth telling, the weightiest first, and how many others there are."""

    moves: tuple[Telling, ...]
    left_out: int


def worth_telling(
    graph: OrderGraph, allowed: Allowed, book: OpeningBook, shortcuts: Shortcuts | None = None
) -> Told:
    """Rank the unlisted moves of `allowed`; of equal worth those that come first on the order.

    `shortcuts` are those found so far. What the repertoire knows at once is known without them.
    """
    found = [
        telling
        for node, move in allowed.legal
        if (telling := _weighed(graph, book, shortcuts or {}, node, move)) is not None
    ]
    found.sort(key=lambda telling: telling.worth)
    return Told(tuple(found), len(allowed.legal) - len(found))


def _weighed(
    graph: OrderGraph, book: OpeningBook, shortcuts: Shortcuts, node: Node, move: chess.Move
) -> Telling | None:
    board = node.board()
    after = board.copy(stack=False)
    after.push(move)
    key = position_key(after)
    opening = book.name_of(key)
    known = graph.repertoire.nodes.get(key)
    shortcut = shortcuts.get((node, move))
    if (known is not None and _leads_on(graph, node, known)) or (
        shortcut is not None and not shortcut.goes_back
    ):
        return Telling(node, move, Worth.KNOWN, opening)
    if opening is not None:
        return Telling(node, move, Worth.NAMED, opening)
    if book.plays(key):
        return Telling(node, move, Worth.PLAYED)
    if forces(board, move) and exchange_gain(board, move) >= 0:
        return Telling(node, move, Worth.FORCING)
    return None


def _leads_on(graph: OrderGraph, node: Node, target: Node) -> bool:
    """Whether a move does more than take something back, as in `Shortcut.goes_back`."""
    here, there = graph.depth(node), graph.depth(target)
    return here is None or there is None or there > here


def forces(board: chess.Board, move: chess.Move) -> bool:
    """Whether a legal move castles, gives check, takes, promotes or attacks a pawn with a pawn."""
    if board.is_castling(move) or board.is_capture(move) or move.promotion is not None:
        return True
    if board.gives_check(move):
        return True
    if board.piece_type_at(move.from_square) != chess.PAWN:
        return False
    attacked = chess.BB_PAWN_ATTACKS[board.turn][move.to_square]
    return bool(attacked & board.pieces_mask(chess.PAWN, not board.turn))
