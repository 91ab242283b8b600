"""What move orders are told in, in the notation of the player: for the window and the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import chess

from trainer.notation.display import Notation, sentence_list, shown_san
from trainer.repertoire.crossings import Allowed
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.order_graph import Order
from trainer.repertoire.orders import MoveOrder, shown_order
from trainer.repertoire.orders_allowed import Telling, Told, Worth
from trainer.repertoire.orders_seen import SeenOrder

#: Moves named one by one before the rest is only counted.
NAMED: Final = 4


def move_word(order: MoveOrder, ply: int, san: str, notation: Notation = "letters") -> str:
    """A move with its number, `ply` half-moves after the beginning of `order`: `2…Nf6`."""
    half = ply + (0 if order.turn == chess.WHITE else 1)
    sign = " " if half % 2 == 0 else "…"
    return f"{order.number + half // 2}{sign}{shown_san(san, notation)}"


def seen_words(sight: SeenOrder) -> str:
    """`12 times in drills, once in games`, empty where it was never seen."""
    places = [(sight.drills, "drills"), (sight.games, "games")]
    return ", ".join(f"{_times(times)} in {where}" for times, where in places if times)


def allowed_sentences(
    repertoire: Repertoire,
    order: Order,
    allowed: Allowed,
    told: Told,
    notation: Notation = "letters",
    *,
    counts: bool = True,
) -> list[str]:
    """What an order allows the opponent and the others do not.

    `allowed` may be about the end of `order` only. With `counts` moves are counted even where
    none of them is worth telling.
    """
    shown = shown_order(repertoire, order.root, order.sans)
    skipped = len(order.edges) - len(allowed.order.edges)
    plies = {node: skipped + ply for ply, node in enumerate(allowed.order.nodes)}
    opponent = "Black" if repertoire.side == chess.WHITE else "White"
    found = []
    known = [move_word(shown, plies[edge.parent], edge.san, notation) for edge in allowed.known]
    if known:
        found.append(f"On this order alone the repertoire also meets {_some(known)}.")
    moves = []
    for one in told.moves[:NAMED]:
        san = one.node.board().san(one.move)
        moves.append(_told(move_word(shown, plies[one.node], san, notation), one))
    others = told.left_out + len(told.moves) - len(moves)
    if moves:
        more = f", and {others:,} less notable" if others else ""
        words = _or(moves) if len(moves) < 3 or not others else ", ".join(moves)
        found.append(f"Only this order lets {opponent} play {words}{more}.")
    elif others and counts:
        kind = "move that is" if others == 1 else "moves that are"
        found.append(
            f"Only this order allows {others:,} {kind} neither in the opening table nor forcing."
        )
    return found


def _told(word: str, telling: Telling) -> str:
    if telling.worth is Worth.KNOWN:
        return f"{word} (you know the position)"
    return f"{word} ({telling.opening.name})" if telling.opening is not None else word


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number:,} times")


def _some(moves: Sequence[str]) -> str:
    """The first few moves of a list, and how many more there are."""
    if len(moves) > NAMED:
        return f"{', '.join(moves[:NAMED])} and {len(moves) - NAMED:,} more"
    return sentence_list(moves)


def _or(moves: Sequence[str]) -> str:
    return moves[0] if len(moves) == 1 else f"{', '.join(moves[:-1])} or {moves[-1]}"
