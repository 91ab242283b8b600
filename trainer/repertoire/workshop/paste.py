"""Adding what a text says: PGN of one or more games, or moves as books print them.

Each game of the text is read by the reader of repertoire files, as if it began at the position
where it is pasted, and its moves are then grown onto the graph.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import chess

from trainer.notation.fastboard import FastBoard
from trainer.notation.tokens import (
    BROKEN_TAG,
    CLOSE,
    COMMENT,
    MOVE,
    NUMBER_ONE,
    OPEN,
    REST_OF_LINE,
    RESULT,
    TAG,
    LineFinder,
    tag_pair,
    tokens,
)
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire_text
from trainer.repertoire.report import Skipped
from trainer.repertoire.side import SIDE_NAMES, SIDE_TAG
from trainer.repertoire.workshop.grafting import Graft, graft
from trainer.repertoire.workshop.placing import place_of
from trainer.repertoire.workshop.results import Joined, Pasted, joined
from trainer.repertoire.workshop.transaction import Transaction


@dataclass
class _Game:
    """One game of the pasted text: its tags, and where its moves are in the text."""

    begin: int
    end: int
    tags: dict[str, str] = field(default_factory=dict)
    moves: int = 0
    #: The moves of the main line, as they are written.
    main: list[str] = field(default_factory=list)
    from_one: bool = False


def paste(
    transaction: Transaction, node: Node, text: str, wanted: Section | None = None
) -> Pasted:
    """Add the moves, comments and signs of `text` at `node`.

    A game that is numbered from move 1 and comes by `node`, or cannot begin there, is added from
    the root where it fits; one with a FEN tag at that position, which has to be known.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    lines = LineFinder(text)
    done = _Done()
    repertoire = transaction.repertoire
    for number, game in enumerate(_games(text), start=1):
        line = lines.line(game.begin)
        start = _start(repertoire, node, game)
        if start is None:
            done.skipped.append(
                Skipped(
                    number,
                    line,
                    "this game begins at a position that is not in the repertoire; it is left out",
                )
            )
            continue
        loaded = _read(repertoire, start, text[game.begin : game.end])
        done.skipped += (
            # The header made here is four lines long.
            Skipped(number, max(1, skipped.line - 4) + line - 1, skipped.reason)
            for skipped in loaded.skipped
        )
        orders = _orders(repertoire, loaded.repertoire)
        grafted = graft(transaction, loaded.repertoire)
        _give_places(transaction, loaded.repertoire, grafted, wanted)
        _take_intro(transaction, loaded.repertoire, grafted)
        done.take(grafted, orders)
    if not (done.added or done.known or done.skipped):
        done.skipped.append(Skipped(1, 1, "there are no moves in this text"))
    return Pasted(tuple(done.added), tuple(done.joined), done.known, tuple(done.skipped))


class _Done:
    """What the games before did."""

    def __init__(self) -> None:
        self.added: list[Edge] = []
        self.joined: list[tuple[Edge, Joined]] = []
        self.known = 0
        self.skipped: list[Skipped] = []

    def take(self, grafted: Graft, orders: dict[int, Joined]) -> None:
        self.added += grafted.added
        self.known += grafted.known
        self.joined += (
            (edge, orders[edge.child.key]) for edge in grafted.met if edge.child.key in orders
        )


def _games(text: str) -> Iterator[_Game]:
    """The games of a text: a result, a tag or a new number 1 behind moves begins the next."""
    game = _Game(0, 0)
    depth = 0
    for kind, word, offset in tokens(text):
        ends = kind in (TAG, BROKEN_TAG) or (kind == NUMBER_ONE and not depth)
        if ends and game.moves:
            game.end = offset
            yield game
            game, depth = _Game(offset, 0), 0
        if kind == TAG:
            pair = tag_pair(word)
            if pair is not None:
                game.tags[pair[0].lower()] = pair[1]
        elif kind == NUMBER_ONE and not depth:
            game.from_one = True
        elif kind == OPEN:
            depth += 1
        elif kind == CLOSE:
            depth = max(0, depth - 1)
        elif kind == MOVE:
            game.moves += 1
            if not depth:
                game.main.append(word)
        elif kind == RESULT and not depth and (game.moves or game.tags):
            game.end = offset + len(word)
            yield game
            game = _Game(game.end, 0)
    game.end = len(text)
    if game.moves or game.tags or text[game.begin :].strip():
        yield game


def _start(repertoire: Repertoire, node: Node, game: _Game) -> Node | None:
    fen = game.tags.get("fen")
    if fen is not None:
        try:
            return repertoire.node_at(chess.Board(fen.strip()))
        except ValueError:
            return None
    if game.main and (game.from_one or not _fits(node, game.main[0])):
        # Copied with all its moves, a game begins at a root and not here.
        first = game.main[0]
        for root in repertoire.roots:
            if root is node or not _fits(root, first):
                continue
            if not _fits(node, first) or _comes_by(root, node, game.main):
                return root
    return node


def _fits(node: Node, word: str) -> bool:
    try:
        FastBoard(node.packed, node.key).resolve(word)
    except ValueError:
        return False
    return True


def _comes_by(root: Node, node: Node, moves: list[str]) -> bool:
    board = FastBoard(root.packed, root.key)
    for word in moves:
        try:
            board.play(word)
        except ValueError:
            return False
        if board.key == node.key and board.pack() == node.packed:
            return True
    return False


def _read(repertoire: Repertoire, start: Node, text: str) -> LoadedRepertoire:
    """The game as a repertoire of its own that begins at `start`."""
    side = SIDE_NAMES[repertoire.side]
    header = f'[Event "?"]\n[{SIDE_TAG} "{side}"]\n[FEN "{start.board().fen()}"]\n\n'
    return read_repertoire_text(header + _without_tags(text), side=repertoire.side)


def _without_tags(text: str) -> str:
    """The text with its tags blanked out, so that lines keep their numbers."""
    pieces: list[str] = []
    end = 0
    for kind, word, offset in tokens(text):
        if kind in (TAG, BROKEN_TAG):
            pieces.append(text[end:offset])
            end = offset + len(word)
        elif kind not in (COMMENT, REST_OF_LINE):
            break
    return "".join(pieces) + text[end:]


def _orders(repertoire: Repertoire, other: Repertoire) -> dict[int, Joined]:
    """How the positions of `other` that are known, and not by the same move, are reached now."""
    found: dict[int, Joined] = {}
    for edge in other.edges():
        node = repertoire.nodes.get(edge.child.key)
        if node is None or node.key in found:
            continue
        parent = repertoire.nodes.get(edge.parent.key)
        if parent is not None and parent.edge_for(edge.move) is not None:
            continue
        meeting = joined(repertoire, node)
        if meeting is not None:
            found[node.key] = meeting
    return found


def _give_places(
    transaction: Transaction, other: Repertoire, grafted: Graft, wanted: Section | None
) -> None:
    """Let new moves stand behind the pasted move before them, or as a move played there would."""
    homes: dict[Edge, Section] = {}
    for section in other.sections:
        for edge, before in section.stands.items():
            mine = grafted.of[edge]
            if mine not in grafted.added or mine in homes:
                continue
            previous = None if before is None else grafted.of[before]
            if previous in homes:
                home = homes[previous]
                transaction.add_key(home.stands, mine, previous)
            else:
                place = place_of(transaction.repertoire, mine, wanted)
                if place is None:
                    continue
                home = place[0]
                transaction.add_key(home.stands, mine, place[1])
            homes[mine] = home


def _take_intro(transaction: Transaction, other: Repertoire, grafted: Graft) -> None:
    """What is said before the first move of a game stands before that move."""
    for section in other.sections:
        first = next(iter(section.stands), None)
        if first is not None and section.intro:
            mine = grafted.of[first]
            said = tuple(dict.fromkeys(mine.before + section.intro))
            transaction.set_attribute(mine, "before", said)
