"""Random repertoire files for property tests, with everything a file may hold."""

from __future__ import annotations

import random

import chess

from trainer.repertoire.graph import Node, Repertoire

WORDS = [
    "space",
    "plan",
    "e4-e5",
    "[%clk",
    "0:01]",
    "%x",
    ";y",
    "{",
    "}",
    "x}y",
    "1.",
    "naïve",
    "*",
]
ROOTS = [
    chess.STARTING_FEN,
    chess.STARTING_FEN,
    "4k3/1p4n1/8/8/8/8/1P4N1/4K3 b - - 3 17",
    "r3k2r/8/8/2pP4/8/8/8/R3K2R w KQkq c6 0 9",
]
#: Few moves to choose from, so that orders cross and positions come back.
NARROW = ("g1f3", "f3g1", "b1c3", "c3b1", "g8f6", "f6g8", "b8c6", "c6b8", "d2d4", "d7d5")


class TextMaker:
    """Writes one random file; `rng` decides everything."""

    def __init__(self, rng: random.Random, *, tidy: bool = True) -> None:
        self.rng = rng
        self.tidy = tidy

    def file(self) -> str:
        rng = self.rng
        return "\n".join(self.game(number) for number in range(rng.randrange(1, 6)))

    def game(self, number: int) -> str:
        rng = self.rng
        board = chess.Board(rng.choice(ROOTS))
        tags = {"Event": rng.choice(["?", f"Section {number}", 'The "quoted" \\ one'])}
        if rng.random() < 0.7:
            tags["RepertoireSide"] = "White"
        if rng.random() < 0.3:
            tags[rng.choice(["Annotator", "ECO", "Zeta"])] = "some value"
        if board.fen() != chess.STARTING_FEN:
            tags |= {"SetUp": "1", "FEN": board.fen()}
        result = rng.choice(["*", "*", "1-0", "1/2-1/2"])
        if result != "*":
            tags["Result"] = result
        lines = []
        for name, value in tags.items():
            value = value.replace("\\", "\\\\").replace('"', '\\"')
            lines.append(f'[{name} "{value}"]')
        words = self.comments(0.3)
        self.line(board, words, rng.randrange(0, 14), 0)
        return "\n".join(lines) + "\n\n" + " ".join([*words, result]) + "\n"

    def comments(self, share: float) -> list[str]:
        rng = self.rng
        found = []
        while rng.random() < share:
            text = " ".join(rng.choices(WORDS, k=rng.randrange(1, 30)))
            if "}" in text or rng.random() < 0.2:
                found.append(f"; {text}\n")
            else:
                found.append("{" + text.replace("plan", rng.choice(["plan", "\n\n"])) + "}")
        return found

    def line(
        self,
        board: chess.Board,
        words: list[str],
        length: int,
        depth: int,
        taken: set[chess.Move] | None = None,
    ) -> None:
        """A line from `board` with variations; the board comes back as it was."""
        rng = self.rng
        made = 0
        narrow = rng.random() < 0.8
        for _ in range(length):
            if taken is None or not self.tidy:
                taken = set()
            moves = [move for move in self.moves(board, narrow) if move not in taken]
            if not moves:
                break
            move = rng.choice(moves)
            self.move(board, move, words)
            taken.add(move)
            while depth < 3 and rng.random() < 0.3:
                words.append("(")
                words += self.comments(0.2)
                back = board.pop()
                taken.add(back)
                self.line(board, words, rng.randrange(1, 9), depth + 1, taken)
                board.push(back)
                words.append(")")
            taken = None
            made += 1
        for _ in range(made):
            board.pop()

    def moves(self, board: chess.Board, narrow: bool) -> list[chess.Move]:
        moves = list(board.legal_moves)
        if narrow:
            moves = [move for move in moves if move.uci() in NARROW] or moves
        return moves

    def move(self, board: chess.Board, move: chess.Move, words: list[str]) -> None:
        words.append(board.san(move))
        board.push(move)
        while self.rng.random() < 0.1:
            words.append(self.rng.choice(["$14", "!", "?!", "$3"]))
        words += self.comments(0.12)


def reachable(repertoire: Repertoire) -> list[Node]:
    found = dict.fromkeys(repertoire.roots)
    stack = list(found)
    while stack:
        for edge in stack.pop().edges:
            if edge.child not in found:
                found[edge.child] = None
                stack.append(edge.child)
    return list(found)


def described(repertoire: Repertoire) -> dict[str, object]:
    """All that has to survive saving, as plain values that compare."""
    return {
        "side": repertoire.side,
        "positions": {
            node.packed: [
                (edge.move.uci(), edge.san, edge.nags, edge.comments, edge.before, edge.child.key)
                for edge in node.edges
            ]
            for node in reachable(repertoire)
        },
        "sections": [
            (section.root.packed, section.tags, section.intro, section.title)
            for section in repertoire.sections
        ],
        "conflicts": {
            node.packed: [edge.san for edge in edges] for node, edges in repertoire.claims.items()
        },
    }
