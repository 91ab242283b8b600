"""The edits of a repertoire as values.

An edit names positions by their key and moves in UCI notation, so that it can be written to a
journal and made again. `apply` changes the graph through a `Transaction`, which makes every edit
undoable; it raises `EditError` where the edit does not fit the repertoire.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Protocol, Self

import chess

from trainer.notation.fastboard import FastBoard, key_after, shared_move
from trainer.notation.typed import parse_typed
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.reader import read_repertoire_text
from trainer.repertoire.workshop.claims import keep_up, settle
from trainer.repertoire.workshop.merging import merge
from trainer.repertoire.workshop.paste import paste
from trainer.repertoire.workshop.placing import play
from trainer.repertoire.workshop.removing import remove_moves, remove_sections
from trainer.repertoire.workshop.results import (
    Added,
    Edited,
    Merged,
    Pasted,
    Removed,
    Result,
    joined,
)
from trainer.repertoire.workshop.text import (
    EditError,
    clean_nags,
    clean_paragraphs,
    clean_tags,
    clean_text,
)
from trainer.repertoire.workshop.transaction import Transaction
from trainer.repertoire.writer import repertoire_pgn


class Edit(Protocol):
    """One step of the player in the workshop."""

    @property
    def title(self) -> str:
        """What it is called where it can be undone, beginning with a small letter."""

    def apply(self, transaction: Transaction) -> Result:
        """Make it. Raises `EditError` where it does not fit the repertoire."""


@dataclass(frozen=True)
class AddMove:
    """Play a move into the repertoire; it becomes the last of its position.

    It stands in the section with the number `section` (from 0) where that comes to the position.
    """

    position: int
    move: str
    section: int | None = None
    title: ClassVar[str] = "adding a move"

    @classmethod
    def at(cls, node: Node, move: chess.Move | str, section: int | None = None) -> Self:
        """The edit for a move, or for one as it is typed. Raises `TypedMoveError`."""
        if isinstance(move, str):
            move = parse_typed(node.board(), move)
        return cls(node.key, move.uci(), section)

    def apply(self, transaction: Transaction) -> Added:
        """Add the move; tells whether its position was known."""
        repertoire = transaction.repertoire
        node = _node(repertoire, self.position)
        move = _legal(node, self.move)
        known = node.edge_for(move)
        if known is not None:
            return Added(known, existed=True)
        wanted = None if self.section is None else _section(repertoire, self.section)
        child = repertoire.nodes.get(key_after(node.packed, node.key, move))
        meeting = None if child is None else joined(repertoire, child)
        edge, _ = play(transaction, node, move, wanted)
        return Added(edge, meeting)


@dataclass(frozen=True)
class DeleteMove:
    """Delete a move with what hangs on it; what another order still reaches stays."""

    position: int
    move: str
    title: ClassVar[str] = "deleting a move"

    def apply(self, transaction: Transaction) -> Removed:
        """Delete the move; tells how much went with it."""
        edge = _edge(transaction.repertoire, self.position, self.move)
        return Removed(*remove_moves(transaction, {edge: None}))


@dataclass(frozen=True)
class SetOrder:
    """Give the moves of a position a new order of priority; the first is the main one.

    A decision whose main move changes by this is no longer disputed.
    """

    position: int
    moves: tuple[str, ...]
    title: ClassVar[str] = "reordering moves"

    def apply(self, transaction: Transaction) -> Edited:
        """Reorder. Raises `EditError` unless `moves` are those of the position."""
        node = _node(transaction.repertoire, self.position)
        by_name = {edge.move.uci(): edge for edge in node.edges}
        if sorted(self.moves) != sorted(by_name):
            raise EditError("The new order must name each move of the position once.")
        _reorder(transaction, node, [by_name[name] for name in self.moves])
        return Edited(node=node)


@dataclass(frozen=True)
class MakeMain:
    """Make a move the main one of its position; the others keep their order behind it."""

    position: int
    move: str
    title: ClassVar[str] = "making a move the main one"

    def apply(self, transaction: Transaction) -> Edited:
        """Put the move in front."""
        edge = _edge(transaction.repertoire, self.position, self.move)
        node = edge.parent
        _reorder(transaction, node, [edge, *(other for other in node.edges if other is not edge)])
        return Edited(node=node)


@dataclass(frozen=True)
class ResolveConflict:
    """Settle a decision in dispute: `move` becomes the main one, the others stay accepted."""

    position: int
    move: str
    title: ClassVar[str] = "settling a conflict"

    def apply(self, transaction: Transaction) -> Edited:
        """Settle it. Raises `EditError` where nothing is in dispute."""
        edge = _edge(transaction.repertoire, self.position, self.move)
        node = edge.parent
        if node not in transaction.repertoire.claims:
            raise EditError("Nothing is in dispute in this position.")
        order = [edge, *(other for other in node.edges if other is not edge)]
        transaction.set_list(node.edges, order)
        settle(transaction, node)
        return Edited(node=node)


@dataclass(frozen=True)
class SetComments:
    """Say something about a move: paragraphs of plain text behind it, or none."""

    position: int
    move: str
    comments: tuple[str, ...]
    title: ClassVar[str] = "a comment"

    def apply(self, transaction: Transaction) -> Edited:
        """Replace the comments of the move."""
        edge = _edge(transaction.repertoire, self.position, self.move)
        transaction.set_attribute(edge, "comments", clean_paragraphs(self.comments))
        return Edited(node=edge.child)


@dataclass(frozen=True)
class SetBefore:
    """Say something in front of a move: paragraphs of plain text, or none."""

    position: int
    move: str
    comments: tuple[str, ...]
    title: ClassVar[str] = "a comment before a move"

    def apply(self, transaction: Transaction) -> Edited:
        """Replace what stands before the move."""
        edge = _edge(transaction.repertoire, self.position, self.move)
        transaction.set_attribute(edge, "before", clean_paragraphs(self.comments))
        return Edited(node=edge.child)


@dataclass(frozen=True)
class SetNags:
    """Give a move its signs: NAG numbers of the PGN standard, section 10."""

    position: int
    move: str
    nags: tuple[int, ...]
    title: ClassVar[str] = "a sign"

    def apply(self, transaction: Transaction) -> Edited:
        """Replace the NAGs of the move."""
        edge = _edge(transaction.repertoire, self.position, self.move)
        transaction.set_attribute(edge, "nags", clean_nags(self.nags))
        return Edited(node=edge.child)


@dataclass(frozen=True)
class SetTags:
    """Replace the tags of a section, as pairs of name and value.

    The tags that say whose repertoire it is and where the section begins stay as they are.
    """

    section: int
    tags: tuple[tuple[str, str], ...]
    title: ClassVar[str] = "the tags of a section"

    def apply(self, transaction: Transaction) -> Edited:
        """Replace the tags."""
        section = _section(transaction.repertoire, self.section)
        tags = clean_tags(dict(self.tags), section.tags)
        # Equal dictionaries may differ in their order, which counts here.
        if list(tags.items()) != list(section.tags.items()):
            transaction.replace_attribute(section, "tags", tags)
        return Edited(section)


@dataclass(frozen=True)
class SetTitle:
    """Rename a section (its Event tag); an empty title takes the name away."""

    section: int
    text: str
    title: ClassVar[str] = "renaming a section"

    def apply(self, transaction: Transaction) -> Edited:
        """Rename the section."""
        section = _section(transaction.repertoire, self.section)
        tags = clean_tags(section.tags | {"Event": self.text}, section.tags)
        if tags != section.tags:
            transaction.replace_attribute(section, "tags", tags)
        return Edited(section)


@dataclass(frozen=True)
class SetIntro:
    """Replace the text before the first move of a section."""

    section: int
    intro: tuple[str, ...]
    title: ClassVar[str] = "the introduction of a section"

    def apply(self, transaction: Transaction) -> Edited:
        """Replace the paragraphs."""
        section = _section(transaction.repertoire, self.section)
        transaction.set_attribute(section, "intro", clean_paragraphs(self.intro))
        return Edited(section)


@dataclass(frozen=True)
class AddSection:
    """Begin a section: at the usual starting position, or at that of `fen`, behind the others."""

    name: str
    fen: str = ""
    title: ClassVar[str] = "adding a section"

    def apply(self, transaction: Transaction) -> Edited:
        """Add it. Raises `EditError` where `fen` is no position to play from."""
        repertoire = transaction.repertoire
        board = _start(self.fen)
        root = transaction.add_position(FastBoard.from_board(board))
        tags = clean_tags({"Event": self.name}, {})
        if board.fen() != chess.STARTING_FEN:
            tags["FEN"] = board.fen()
        section = Section(root, tags)
        transaction.append(repertoire.sections, section)
        return Edited(section, root)


@dataclass(frozen=True)
class MoveSection:
    """Move a section to another place in the file; numbers count from 0."""

    section: int
    to: int
    title: ClassVar[str] = "moving a section"

    def apply(self, transaction: Transaction) -> Edited:
        """Move it."""
        repertoire = transaction.repertoire
        section = _section(repertoire, self.section)
        _section(repertoire, self.to)
        order = [other for other in repertoire.sections if other is not section]
        order.insert(self.to, section)
        transaction.set_list(repertoire.sections, order)
        return Edited(section)


@dataclass(frozen=True)
class DeleteSections:
    """Delete sections with the moves that stand in no other one.

    Where another section's order crosses into one of them, what follows the crossing stays.
    """

    sections: tuple[int, ...]
    title: ClassVar[str] = "deleting a section"

    def apply(self, transaction: Transaction) -> Removed:
        """Delete them; tells how much went with them."""
        repertoire = transaction.repertoire
        chosen = {_section(repertoire, number): None for number in self.sections}
        return Removed(*remove_sections(transaction, list(chosen)))


@dataclass(frozen=True)
class Paste:
    """Add what a text says, PGN or moves as books print them, from a position on."""

    position: int
    text: str
    section: int | None = None
    title: ClassVar[str] = "pasting moves"

    def apply(self, transaction: Transaction) -> Pasted:
        """Add the moves, comments and signs; tells what could not be read."""
        repertoire = transaction.repertoire
        node = _node(repertoire, self.position)
        wanted = None if self.section is None else _section(repertoire, self.section)
        return paste(transaction, node, self.text, wanted)


@dataclass(frozen=True)
class Merge:
    """Take in another repertoire for the same side, given as PGN."""

    pgn: str
    title: ClassVar[str] = "merging a repertoire"

    @classmethod
    def of(cls, other: Repertoire) -> Self:
        """The edit that takes in `other`."""
        return cls(repertoire_pgn(other))

    def apply(self, transaction: Transaction) -> Merged:
        """Append its sections. Raises `EditError` where it is for the other side."""
        loaded = read_repertoire_text(self.pgn)
        side = transaction.repertoire.side
        if loaded.repertoire.side != side and not loaded.side_guessed:
            raise EditError(
                "The other repertoire is for the other side; open it by itself instead."
            )
        if loaded.repertoire.side != side:
            loaded = read_repertoire_text(self.pgn, side=side)
        return merge(transaction, loaded.repertoire)


# -- finding what an edit names ------------------------------------------------------------------


def _node(repertoire: Repertoire, key: int) -> Node:
    node = repertoire.nodes.get(key)
    if node is None:
        raise EditError("This position is not in the repertoire any more; choose it again.")
    return node


def _edge(repertoire: Repertoire, key: int, move: str) -> Edge:
    node = _node(repertoire, key)
    edge = next((edge for edge in node.edges if edge.move.uci() == move), None)
    if edge is None:
        raise EditError("This move is not in the repertoire any more; choose it again.")
    return edge


def _section(repertoire: Repertoire, number: int) -> Section:
    if not 0 <= number < len(repertoire.sections):
        raise EditError("This section is not in the repertoire any more; choose it again.")
    return repertoire.sections[number]


def _legal(node: Node, text: str) -> chess.Move:
    try:
        move = node.board().parse_uci(text)
    except ValueError:
        move = chess.Move.null()
    if not move:
        raise EditError(f"“{clean_text(text)}” is not a legal move in this position.")
    return shared_move(move.from_square, move.to_square, move.promotion)


def _start(fen: str) -> chess.Board:
    if not fen.strip():
        return chess.Board()
    try:
        board = chess.Board(clean_text(fen))
    except ValueError:
        board = chess.Board(None)
    if not board.is_valid():
        raise EditError(f"“{clean_text(fen)}” is not a position to play from; check the FEN.")
    return board


def _reorder(transaction: Transaction, node: Node, order: list[Edge]) -> None:
    main = node.edges[0] if node.edges else None
    transaction.set_list(node.edges, order)
    if order and order[0] is not main and node in transaction.repertoire.claims:
        # The player has decided.
        settle(transaction, node)
    else:
        keep_up(transaction, (node,))
