"""Repertoires for tests of memory and planning: small ones from SAN, large ones at random."""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterable

import chess

from trainer.repertoire.graph import Edge, Node, Repertoire, Section


def repertoire_of(
    lines: Iterable[str], side: chess.Color = chess.WHITE, fen: str = chess.STARTING_FEN
) -> Repertoire:
    """A repertoire of lines, each a string of SAN without move numbers."""
    repertoire = Repertoire(side)
    add_lines(repertoire, lines, fen)
    return repertoire


def add_lines(repertoire: Repertoire, lines: Iterable[str], fen: str = chess.STARTING_FEN) -> None:
    """A further section with these lines."""
    repertoire.sections.append(Section(repertoire.add_position(chess.Board(fen))))
    for line in lines:
        board = chess.Board(fen)
        node = repertoire.add_position(board)
        for san in line.split():
            move = board.parse_san(san)
            board.push(move)
            child = repertoire.add_position(board)
            if node.edge_for(move) is None:
                repertoire.add_edge(node, move, child, san)
            node = child


def node_after(repertoire: Repertoire, line: str) -> Node:
    """The node behind a line of SAN from the initial position."""
    board = chess.Board()
    for san in line.split():
        board.push_san(san)
    node = repertoire.node_at(board)
    assert node is not None
    return node


def random_graph(
    seed: int,
    count: int,
    *,
    cycles: float = 0.0,
    joins: float = 0.3,
    width: int = 3,
    roots: int = 1,
    side: chess.Color = chess.WHITE,
) -> Repertoire:
    """A graph of `count` made-up positions, White and Black to move in turn along each line.

    `joins` and `cycles` are the chances that a move leads to a later or to an earlier position
    instead of a new one. The positions are numbers, not boards: enough for arithmetic.
    """
    rng = random.Random(seed)
    repertoire = Repertoire(side)
    moves = list(chess.Board().legal_moves)

    def new(turn: chess.Color) -> Node:
        number = len(repertoire.nodes)
        packed = number.to_bytes(64, "little") + bytes((turn, 64))
        return repertoire.add_packed(rng.getrandbits(64), packed)

    by_turn: dict[bool, list[Node]] = {True: [], False: []}
    open_ends: list[Node] = []
    for _ in range(roots):
        root = new(chess.WHITE)
        repertoire.sections.append(Section(root))
        open_ends.append(root)
        by_turn[True].append(root)
    position = 0
    while len(repertoire.nodes) < count and position < len(open_ends):
        node = open_ends[position]
        position += 1
        branches = 1 if node.turn == side and rng.random() < 0.9 else rng.randint(1, width)
        targets: list[Node] = []
        for _ in range(branches):
            others = by_turn[not node.turn]
            chance = rng.random()
            # Positions behind `node` in the walk have no moves yet, so joining them closes no
            # cycle.
            later = [
                other
                for other in open_ends[max(position, len(open_ends) - 8) :]
                if other.turn != node.turn
            ]
            if chance < cycles and others:
                child = rng.choice(others)
            elif chance < cycles + joins and later:
                child = rng.choice(later)
            else:
                child = new(not node.turn)
                by_turn[child.turn].append(child)
                open_ends.append(child)
            if child not in targets and child is not node:
                targets.append(child)
        for move, child in zip(moves, targets, strict=False):
            repertoire.add_edge(node, move, child, f"m{move.uci()}")
    return repertoire


def random_repertoire(
    seed: int, lines: int = 8, plies: int = 10, side: chess.Color = chess.WHITE
) -> Repertoire:
    """A repertoire of legal lines at random: one or two prepared moves, a few replies each."""
    rng = random.Random(seed)
    repertoire = Repertoire(side)
    start = chess.Board()
    repertoire.sections.append(Section(repertoire.add_position(start)))
    for _ in range(lines):
        board = chess.Board()
        node = repertoire.add_position(board)
        for _ in range(plies):
            legal = sorted(board.legal_moves, key=chess.Move.uci)
            if not legal:
                break
            known = [edge.move for edge in node.edges]
            go_on = rng.random() < (0.95 if board.turn == side else 0.4)
            move = rng.choice(known) if known and go_on else rng.choice(legal)
            san = board.san(move)
            board.push(move)
            child = repertoire.add_position(board)
            if node.edge_for(move) is None:
                repertoire.add_edge(node, move, child, san)
            node = child
    return repertoire


def prepared_repertoire(
    seed: int, decisions: int, side: chess.Color = chess.WHITE
) -> tuple[Repertoire, dict[Edge, float]]:
    """A repertoire as it is prepared in practice, and the probability of each reply.

    What is likely is prepared deepest. At each position one to four replies are prepared, with
    probabilities that fall as 1, 1/2, 1/3, 1/4 and leave a tenth for all that is not prepared.
    """
    rng = random.Random(seed)
    repertoire = Repertoire(side)
    start = chess.Board()
    root = repertoire.add_position(start)
    repertoire.sections.append(Section(root))
    chances: dict[Edge, float] = {}
    waiting: list[tuple[float, int, chess.Board]] = []

    def play(board: chess.Board) -> tuple[Edge, chess.Board] | None:
        """A new move at random on a copy of `board`."""
        node = repertoire.add_position(board)
        free = [move for move in board.legal_moves if node.edge_for(move) is None]
        if not free:
            return None
        move = rng.choice(sorted(free, key=chess.Move.uci))
        after = board.copy(stack=False)
        after.push(move)
        return repertoire.add_edge(
            node, move, repertoire.add_position(after), board.san(move)
        ), after

    def prepare(board: chess.Board, reach: float) -> None:
        """A move of the player, once in each position; its replies wait for theirs."""
        node = repertoire.add_position(board)
        if not node.edges and (played := play(board)) is not None:
            heapq.heappush(waiting, (-reach, len(repertoire.nodes), played[1]))

    if side == chess.WHITE:
        prepare(start, 1.0)
    else:
        waiting.append((-1.0, 0, start))
    while waiting and len(repertoire.decisions()) < decisions:
        reach, _, board = heapq.heappop(waiting)
        many = rng.choice([1, 2, 2, 3, 4])
        total = sum(1 / number for number in range(1, many + 1)) / 0.9
        for number in range(1, many + 1):
            if (played := play(board)) is not None:
                chances[played[0]] = 1 / number / total
                prepare(played[1], -reach / number / total)
    return repertoire, chances
