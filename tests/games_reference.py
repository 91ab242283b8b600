"""Games against a repertoire by brute force: FEN strings and lists, no keys and no graph.

Positions are compared as FIDE Laws of Chess 2023, article 9.2, has it: as EPD with the en-passant
square only where the capture is legal. Everything is read and moved by python-chess.
"""

from __future__ import annotations

import io
import random
from dataclasses import dataclass, field

import chess
import chess.pgn

#: Few moves to choose from, so that orders cross and positions come back.
NARROW = ("g1f3", "f3g1", "b1c3", "c3b1", "g8f6", "f6g8", "b8c6", "c6b8", "e2e4", "d7d5", "e7e6")
STARTS = (
    chess.STARTING_FEN,
    chess.STARTING_FEN,
    "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1",
    "r3k2r/8/8/2pP4/8/8/8/R3K2R w KQkq c6 0 9",
)


def epd(board: chess.Board) -> str:
    return board.epd(en_passant="legal")


@dataclass
class Prepared:
    """What a repertoire text holds: its positions, and the moves of each in their order."""

    positions: list[str] = field(default_factory=list)
    moves: list[tuple[str, str]] = field(default_factory=list)

    @classmethod
    def read(cls, text: str) -> Prepared:
        found = cls()
        for game in games_of(text):
            stack: list[tuple[chess.pgn.GameNode, chess.Board]] = [(game, game.board())]
            found.see(epd(game.board()))
            while stack:
                node, board = stack.pop()
                here = epd(board)
                for child in node.variations:
                    if (here, board.san(child.move)) not in found.moves:
                        found.moves.append((here, board.san(child.move)))
                    after = board.copy(stack=False)
                    after.push(child.move)
                    found.see(epd(after))
                    stack.append((child, after))
        return found

    def see(self, position: str) -> None:
        if position not in self.positions:
            self.positions.append(position)

    def at(self, position: str) -> list[str]:
        return [san for here, san in self.moves if here == position]


@dataclass
class Found:
    """What `stemline games` has to say of one game."""

    plies_known: int
    departures: list[tuple[int, str, str, list[str]]]
    reentries: list[tuple[int, str]]
    deepest: int | None


def games_of(text: str) -> list[chess.pgn.Game]:
    handle = io.StringIO(text)
    return list(iter(lambda: chess.pgn.read_game(handle), None))


def hold(prepared: Prepared, game: chess.pgn.Game, player: chess.Color) -> Found:
    board = game.board()
    line = [(epd(board), "", board.turn)]
    for move in game.mainline_moves():
        san, mover = board.san(move), board.turn
        board.push(move)
        line.append((epd(board), san, mover))
    known = [position in prepared.positions for position, _, _ in line]
    departures = []
    reentries = []
    for ply in range(1, len(line)):
        position, san, mover = line[ply]
        if known[ply - 1] and not known[ply]:
            by = "player" if mover == player else "opponent"
            departures.append((ply, by, san, prepared.at(line[ply - 1][0])))
        if known[ply] and not known[ply - 1]:
            reentries.append((ply, f"{position} 0 1"))
    first_unknown = known.index(False) if False in known else len(known)
    return Found(
        plies_known=max(0, first_unknown - 1),
        departures=departures,
        reentries=reentries,
        deepest=max((ply for ply, one in enumerate(known) if one), default=None),
    )


def random_line(rng: random.Random, board: chess.Board, plies: int) -> list[str]:
    """SAN of a random game, mostly of few moves, so that positions are met again."""
    narrow = rng.random() < 0.8
    sans = []
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        few = [move for move in moves if move.uci() in NARROW]
        move = rng.choice(few if narrow and few else moves)
        sans.append(board.san(move))
        board.push(move)
    return sans


def random_pgn(rng: random.Random, games: int, plies: int, **tags: str) -> str:
    parts = []
    for _ in range(games):
        board = chess.Board(rng.choice(STARTS))
        game = chess.pgn.Game()
        game.headers.update(tags)
        game.headers["Date"] = f"{rng.randrange(2020, 2023)}.{rng.randrange(1, 13):02}.05"
        game.headers["White"] = rng.choice(["Ash, Bo", "Cedar, Di"])
        game.headers["Black"] = rng.choice(["Elm, Fay", "Fir, Gus"])
        game.setup(board)
        node: chess.pgn.GameNode = game
        for san in random_line(rng, board.copy(), rng.randrange(plies)):
            node = node.add_variation(node.board().parse_san(san))
        parts.append(str(game))
    return "\n\n".join(parts) + "\n"
