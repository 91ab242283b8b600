"""Move orders: counting, listing, shortcuts, near misses and names of openings."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

import chess

from tests.benchmarks.figures import Figure
from trainer.notation.fastboard import FastBoard, shared_move
from trainer.repertoire.crossings import find_crossings, orders_of_crossing
from trainer.repertoire.graph import Node, Repertoire, Section
from trainer.repertoire.near_misses import find_near_misses
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders_report import orders_report
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.shortcuts import find_shortcuts

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
RUNS = 3


def measure() -> list[Figure]:
    """All figures: on the demo, on 1,000 decisions and on 50,000 positions."""
    figures = [
        seconds("names of openings: load the table", OpeningBook.load, 0.15),
        seconds("orders: report on the demo", lambda: orders_report(OrderGraph(demo())), None),
    ]
    for name, repertoire, goal in (
        ("1,000 decisions", grown(1_000), 2.0),
        ("50,000 positions", grown(17_500), None),
    ):
        graph = OrderGraph(repertoire)
        crossings = find_crossings(graph)
        some = crossings[:: max(1, len(crossings) // 100)]
        held = f"{name} ({len(repertoire.nodes):,} positions, {len(crossings):,} crossings)"
        figures += [
            seconds(f"orders: count all, {held}", lambda r=repertoire: counted(r), None),
            seconds(f"orders: shortcuts, {name}", lambda g=graph: find_shortcuts(g), goal),
            seconds(f"orders: near misses, {name}", lambda g=graph: find_near_misses(g), None),
            seconds(
                f"orders: 20 orders of each of {len(some)} crossings, {name}",
                lambda g=graph, s=some: [g.orders(crossing.node) for crossing in s],
                None,
            ),
            seconds(
                f"orders: one crossing in full, {name}",
                lambda g=graph, s=some: orders_of_crossing(g, s[len(s) // 2].node),
                None,
            ),
        ]
    return figures


def seconds(name: str, work: Callable[[], object], goal: float | None) -> Figure:
    """How long `work` takes once."""
    start = time.perf_counter()
    work()
    taken = time.perf_counter() - start
    if goal is None:
        return Figure(name, taken, "s")
    return Figure(name, taken, "s", goal=f"≤ {goal:g} s", met=taken <= goal)


def counted(repertoire: Repertoire) -> int:
    graph = OrderGraph(repertoire)
    return sum(crossing.order_count for crossing in find_crossings(graph))


@cache
def demo() -> Repertoire:
    return read_repertoire(DEMO).repertoire


@cache
def grown(decisions: int) -> Repertoire:
    """A repertoire with so many decisions, by legal moves at random from the starting position.

    One move is prepared in each position and each position has up to four replies. A few natural
    moves are preferred, so that orders cross as they do in a real repertoire.
    """
    rng = random.Random(5)
    repertoire = Repertoire(chess.WHITE)
    root = repertoire.add_position(chess.Board())
    repertoire.sections.append(Section(root))
    waiting = [root]
    count = 0
    for node in waiting:
        if node.edges:
            continue
        if node.turn == chess.WHITE:
            if count == decisions:
                break
            count += 1
        moves = sorted(node.board().legal_moves, key=liking)
        wanted = 1 if node.turn == chess.WHITE else 4
        for move in (
            moves[:wanted] if rng.random() < 0.9 else rng.sample(moves, min(2, len(moves)))
        ):
            waiting.append(added(repertoire, node, move))
    return repertoire


def liking(move: chess.Move) -> int:
    """A fixed order of moves, the same in all positions."""
    return move.from_square * 7919 * (move.to_square + 31) % 1009


def added(repertoire: Repertoire, node: Node, move: chess.Move) -> Node:
    board = FastBoard(node.packed, node.key)
    san = board.san(move)
    board.push(move)
    child = repertoire.add_packed(board.key, board.pack())
    shared = shared_move(move.from_square, move.to_square, move.promotion)
    repertoire.add_edge(node, shared, child, san + board.check_sign())
    return child
