"""From tokens to the graph: the games of one file, one after another.

A line that cannot be followed any further is *lost*: its moves are left out, but the variations
beside its first bad move belong to the position before that move and are read.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import TYPE_CHECKING, Final

import chess
import chess.variant

from trainer.errors import KeyCollisionError
from trainer.notation.fastboard import FastBoard
from trainer.notation.san import is_null_move, read_spelling
from trainer.notation.tokens import (
    BROKEN_TAG,
    CLOSE,
    COMMENT,
    MOVE,
    NAG,
    NUMBER_ONE,
    OPEN,
    REST_OF_LINE,
    RESULT,
    RESULTS,
    SUFFIX,
    TAG,
    UNCLOSED,
    UNKNOWN,
    LineFinder,
    is_quiet_sign,
    paragraphs,
    tag_pair,
)
from trainer.repertoire.crossing import CROSSING_START, is_crossing_comment
from trainer.repertoire.disputes import Written, keep_disputes
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.report import Skipped
from trainer.repertoire.sections import keep_what_counts, settle_claims
from trainer.repertoire.side import SIDE_NAMES, SIDE_TAG, guess_side, side_from_tag

if TYPE_CHECKING:
    from trainer.repertoire.moves_ahead import MovesAhead

_SUFFIXES: Final = {"!": 1, "?": 2, "!!": 3, "??": 4, "!?": 5, "?!": 6}
_UNKNOWN_VALUES: Final = frozenset({"", "?", "????.??.??", "*"})
_ROSTER: Final = frozenset({"Event", "Site", "Date", "Round", "White", "Black", "Result"})
_UNPLAYABLE: Final = (
    chess.STATUS_NO_WHITE_KING
    | chess.STATUS_NO_BLACK_KING
    | chess.STATUS_TOO_MANY_KINGS
    | chess.STATUS_PAWNS_ON_BACKRANK
    | chess.STATUS_OPPOSITE_CHECK
    | chess.STATUS_EMPTY
)


class _State(IntEnum):
    BETWEEN = 0
    HEADER = 1
    MOVES = 2
    REFUSED = 3


class _Line:
    """Where reading stands in one line of play: the main line or a variation.

    `lost` counts the moves from the first bad one on (0 while all is well), so that 1 means just
    after it, where a variation still has its place.
    """

    __slots__ = ("before_node", "before_place", "leads", "lost", "node", "pending", "place")

    def __init__(self, node: Node, place: Written, lost: int = 0) -> None:
        self.node = node
        self.place = place
        self.before_node: Node | None = None
        self.before_place: Written | None = None
        self.lost = lost
        self.pending: list[str] = []
        #: Whether the next move is the first one written in its position here.
        self.leads = False


class FileReader:
    """Takes the tokens of a file in its `handlers` and gives the repertoire in `finish`."""

    def __init__(self, text: str, ahead: MovesAhead | None = None) -> None:
        """`ahead` are the moves of the file, where they were resolved before."""
        self._ahead = ahead
        self._nodes_ahead = iter(() if ahead is None else ahead.nodes)
        #: The node of `ahead` that the move being read leads to, else its root: no move is there.
        self._at = 0
        self.skipped: list[Skipped] = []
        self._lines = LineFinder(text)
        self._repertoire = Repertoire()
        self._nodes = self._repertoire.nodes
        self._homed: list[list[Edge]] = []
        self._signed: dict[Edge, None] = {}
        self._side: chess.Color | None = None
        self._side_tags: list[tuple[int, int, chess.Color]] = []
        self._state = _State.BETWEEN
        self._game = 0
        self._tags: dict[str, str] = {}
        self._tag_lines: dict[str, int] = {}
        self._intro: list[str] = []
        self._intro_offset = 0
        self._section: Section | None = None
        self._new: list[Edge] = []
        #: Places whose first move is not the main one, of both colours, with their section.
        self._disputes: list[tuple[Section | None, Written]] = []
        self._stack: list[_Line] = []
        self._board: FastBoard | None = None
        self._board_node: Node | None = None
        self._start = FastBoard.from_board(chess.Board())
        self._stands: dict[Edge, Edge | None] = {}
        #: What stands for the line where no game is being read: nothing can go on there.
        self._no_line = _Line(Node(0, b""), Written(None, None, None), -1)
        self._line = self._no_line

    @property
    def handlers(self) -> dict[int, Callable[[str, int], None]]:
        """What takes a token of each kind: its text and offset."""
        # Not kept: a reader that holds its own methods would be freed by the garbage collector
        # only, with all its places of moves.
        return {
            MOVE: self._move if self._ahead is None else self._move_ahead,
            OPEN: self._open,
            CLOSE: self._close,
            COMMENT: self._comment,
            NAG: self._nag,
            SUFFIX: self._suffix,
            RESULT: self._result,
            NUMBER_ONE: self._number_one,
            REST_OF_LINE: self._comment,
            TAG: self._tag,
            BROKEN_TAG: self._broken_tag,
            UNCLOSED: self._unclosed,
            UNKNOWN: self._unknown,
        }

    def finish(self, side: chess.Color | None) -> tuple[Repertoire, bool]:
        """The repertoire of all games, for `side` if given, and whether its side was guessed."""
        if self._state == _State.HEADER:
            self._begin_moves(self._intro_offset)
        if self._state != _State.BETWEEN:
            self._end_game()
        if self._intro:
            self._skip(
                self._intro_offset, "this comment stands behind the last game; it is left out"
            )
        repertoire = self._repertoire
        for edge in self._signed:
            edge.comments = tuple(
                paragraph
                for paragraph in edge.comments
                if not is_crossing_comment(paragraph, edge, repertoire.sections)
            )
        guessed = side is None and self._side is None
        if side is None:
            side = self._side
            if side is None:
                side = guess_side(repertoire.nodes.values())
            self._report_other_sides(side)
        repertoire.side = side
        keep_disputes(self._disputes, side)
        settle_claims(repertoire)
        for section, homed in zip(repertoire.sections, self._homed, strict=True):
            keep_what_counts(section, homed, side)
        return repertoire, guessed

    # -- the frame of a game -------------------------------------------------------------------

    def _begin_game(self, state: _State) -> None:
        self._game += 1
        self._state = state
        self._tags = {}
        self._tag_lines = {}

    def _begin_moves(self, offset: int) -> None:
        """Headers are over: find the root, or refuse the game."""
        tags = self._tags
        names = {name.lower(): name for name in tags}
        for name in list(tags):
            if name in _ROSTER and tags[name].strip() in _UNKNOWN_VALUES:
                del tags[name]
        tags.pop(names.get("setup", ""), None)
        self._take_side(tags.pop(names.get(SIDE_TAG.lower(), ""), None), offset)
        self._state = _State.MOVES
        start = self._start
        if "fen" in names or "variant" in names:
            board, reason, at_fault = root_board(tags, names)
            if board is None:
                line = self._tag_lines.get(at_fault) or self._lines.line(offset)
                self.skipped.append(Skipped(self._game, line, reason))
                self._state = _State.REFUSED
                self._intro = []
                return
            start = FastBoard.from_board(board)
        root = self._repertoire.add_packed(start.key, start.pack())
        self._section = Section(root, tags, tuple(self._intro))
        self._repertoire.sections.append(self._section)
        self._stands = self._section.stands
        self._homed.append([])
        self._new = self._homed[-1]
        self._intro = []
        self._stack = []
        self._line = _Line(root, Written(None, None, None))
        self._line.leads = True

    def _end_game(self) -> None:
        self._state = _State.BETWEEN
        self._line = self._no_line
        section = self._section
        self._section = None
        if section is None:
            return
        if self._stack:
            self._skip(
                None, "a variation is not closed before the game ends; it was read all the same"
            )
            self._stack = []
        if not (section.tags or section.stands or section.intro or self._tag_lines):
            # Nothing of a game was there: stray text, which was reported.
            self._repertoire.sections.pop()
            self._homed.pop()
            root = section.root
            if not (root.edges or root.entries) and root not in self._repertoire.roots:
                del self._repertoire.nodes[root.key]

    def _take_side(self, value: str | None, offset: int) -> None:
        if value is None:
            return
        line = next(
            (line for name, line in self._tag_lines.items() if name.lower() == SIDE_TAG.lower()),
            None,
        ) or self._lines.line(offset)
        side = side_from_tag(value)
        if side is None:
            reason = (
                f"{SIDE_TAG} is “{value}”, but must be “White” or “Black”; the tag is left out"
            )
            self.skipped.append(Skipped(self._game, line, reason))
            return
        if self._side is None:
            self._side = side
        self._side_tags.append((self._game, line, side))

    def _report_other_sides(self, side: chess.Color) -> None:
        for game, line, tagged in self._side_tags:
            if tagged != side:
                reason = (
                    f"this section is marked for {SIDE_NAMES[tagged]} in a repertoire for "
                    f"{SIDE_NAMES[side]}; its moves are read as part of it"
                )
                self.skipped.append(Skipped(game, line, reason))

    def _skip(self, offset: int | None, reason: str) -> None:
        line = self._lines.last if offset is None else self._lines.line(offset)
        self.skipped.append(Skipped(max(self._game, 1), line, reason))

    # -- tags and comments ---------------------------------------------------------------------

    def _tag(self, word: str, offset: int) -> None:
        pair = tag_pair(word)
        if pair is None:
            self._skip(offset, f"the tag {_short(word)} cannot be read; it is left out")
            return
        name, value = pair
        if self._state == _State.HEADER and name == "Event" and "Event" in self._tag_lines:
            self._begin_moves(offset)
        if self._state in (_State.MOVES, _State.REFUSED):
            self._lines.line(offset)
            self._end_game()
        if self._state == _State.BETWEEN:
            self._begin_game(_State.HEADER)
        self._tags[name] = value
        self._tag_lines[name] = self._lines.line(offset)

    def _broken_tag(self, word: str, offset: int) -> None:
        if tag_pair(word) is not None:
            self._tag(word.strip(), offset)
        elif self._state in (_State.MOVES, _State.REFUSED):
            self._skip(offset, f"{_short(word)} is neither a move nor a tag; it is left out")
        else:
            self._skip(offset, f"the tag {_short(word)} cannot be read; it is left out")

    def _comment(self, word: str, offset: int) -> None:
        said = paragraphs(word)
        if not said or self._state == _State.REFUSED:
            return
        if self._state != _State.MOVES:
            if not self._intro:
                self._intro_offset = offset
            self._intro += said
            return
        line = self._line
        if line.lost:
            return
        if line.before_node is not None and line.place.edge is not None:
            self._add_comments(line.place.edge, said)
        elif self._stack:
            line.pending += said
        elif self._section is not None:
            self._section.intro += said

    def _add_comments(self, edge: Edge, said: tuple[str, ...]) -> None:
        known = edge.comments
        edge.comments = known + tuple(dict.fromkeys(new for new in said if new not in known))
        for paragraph in said:
            if paragraph.startswith(CROSSING_START):
                self._signed[edge] = None

    def _unclosed(self, _word: str, offset: int) -> None:
        self._enter_moves(offset)
        self._skip(offset, "a comment is not closed; everything up to the next game is left out")

    # -- movetext ------------------------------------------------------------------------------

    def _enter_moves(self, offset: int) -> bool:
        """Whether movetext is read here: begins a game, or its moves, where that is due."""
        if self._state == _State.BETWEEN:
            self._begin_game(_State.HEADER)
        if self._state == _State.HEADER:
            self._begin_moves(offset)
        return self._state == _State.MOVES

    def _move_ahead(self, word: str, offset: int) -> None:
        self._at = next(self._nodes_ahead)
        self._move(word, offset)
        self._at = 0

    def _move(self, word: str, offset: int) -> None:
        # The loop around this is the one that 100,000 moves go through: few calls, no detours.
        line = self._line
        if line.lost:
            if self._state == _State.MOVES:
                line.lost += 1
                return
            if not self._enter_moves(offset):
                return
            line = self._line
        node = line.node
        for known in node.edges:
            if known.san == word:
                edge = known
                break
        else:
            found = self._resolve(node, word, offset)
            if found is None:
                line.lost = 1
                line.pending = []
                return
            edge = found
        before = line.place
        newest = before.behind
        if newest is None:
            line.place = before.behind = place = Written(edge, before, None)
            self._stands.setdefault(edge, before.edge)
            if line.leads and edge is not node.edges[0]:
                self._disputes.append((self._section, place))
        else:
            line.place = self._place_beside(newest, edge, before)
        line.before_node = node
        line.before_place = before
        line.node = edge.child
        line.leads = True
        if line.pending:
            edge.before += tuple(said for said in line.pending if said not in edge.before)
            line.pending = []

    def _place_beside(self, newest: Written, edge: Edge, before: Written) -> Written:
        """The place of a move where others were written before it: an old one or a new one."""
        place: Written | None = newest
        while place is not None:
            if place.edge is edge:
                return place
            place = place.beside
        before.behind = place = Written(edge, before, newest)
        self._stands.setdefault(edge, before.edge)
        return place

    def _resolve(self, node: Node, word: str, offset: int) -> Edge | None:
        """The edge of a move that is not there under exactly this name, made where it is new."""
        at, ahead = self._at, self._ahead
        board: FastBoard | None = None
        if ahead is None or ahead.before[at] != node.key:
            board = self._board_at(node)
            try:
                move, san = board.play(word)
            except ValueError as error:
                self._report_move(word, offset, error)
                return None
            key, packed = board.key, board.pack()
        else:
            move, san = ahead.moves[at], ahead.sans[at]
            key, packed = ahead.keys[at], ahead.packed(at)
        if san != word:
            for edge in node.edges:
                if edge.san == san:
                    self._board, self._board_node = board, edge.child
                    return edge
        # What `Repertoire.add_packed` and `add_edge` do, without their calls; a list that is made
        # with its one move takes half the room of one that it is put into.
        child = self._nodes.get(key)
        if child is None:
            child = self._nodes[key] = Node(key, packed)
            edge = Edge(node, move, child, san)
            child.entries = [edge]
        elif child.packed != packed:
            self._board = None
            self._report_collision(key, packed, offset)
            return None
        else:
            edge = Edge(node, move, child, san)
            child.entries.append(edge)
        if node.edges:
            node.edges.append(edge)
        else:
            node.edges = [edge]
        self._new.append(edge)
        self._board, self._board_node = board, child
        return edge

    def _board_at(self, node: Node) -> FastBoard:
        """The board that stands at the position of `node`, or a new one."""
        board = self._board
        if board is not None and self._board_node is node:
            return board
        led_here = self._line.place.edge
        in_check = None if led_here is None else led_here.san[-1] in "+#"
        return FastBoard(node.packed, node.key, in_check=in_check)

    def _report_collision(self, key: int, packed: bytes, offset: int) -> None:
        try:
            self._repertoire.add_packed(key, packed)
        except KeyCollisionError as error:
            self._skip(offset, str(error))

    def _report_move(self, word: str, offset: int, error: ValueError) -> None:
        place = self._line.place
        after = "at the start" if place.edge is None else f"after {place.edge.san}"
        shown = _short(word)
        if is_null_move(word):
            what = f"{shown} passes the turn, which is no move of chess"
        elif isinstance(error, chess.AmbiguousMoveError):
            what = f"{shown} fits more than one move {after}"
        elif read_spelling(word) is not None:
            what = f"{shown} is not a legal move {after}"
        else:
            what = f"{shown} cannot be read as a move {after}"
        self._skip(offset, f"{what}; it and what hangs on it are left out")

    def _open(self, _word: str, offset: int) -> None:
        if not self._enter_moves(offset):
            return
        line = self._line
        self._stack.append(line)
        if line.lost > 1:
            self._line = _Line(line.node, line.place, line.lost)
        elif line.lost == 1:
            self._line = _Line(line.node, line.place)
        elif line.before_node is None or line.before_place is None:
            self._skip(offset, "a variation begins before any move; it is read from there on")
            self._line = _Line(line.node, line.place)
        else:
            self._line = _Line(line.before_node, line.before_place)

    def _close(self, _word: str, offset: int) -> None:
        if not self._enter_moves(offset):
            return
        if not self._stack:
            self._skip(offset, "a variation ends that never began; the bracket is left out")
            return
        pending = self._line.pending
        self._line = line = self._stack.pop()
        if pending and not line.lost and line.place.edge is not None:
            self._add_comments(line.place.edge, tuple(pending))

    def _nag(self, word: str, offset: int) -> None:
        number = int(word) if word.isdecimal() and len(word) < 4 else -1
        self._add_nag(number if 0 <= number <= 255 else None, f"${word}", offset)

    def _suffix(self, word: str, offset: int) -> None:
        self._add_nag(_SUFFIXES.get(word), word, offset)

    def _add_nag(self, number: int | None, word: str, offset: int) -> None:
        if not self._enter_moves(offset):
            return
        line = self._line
        if line.lost:
            return
        if number is None:
            self._skip(offset, f"{_short(word)} is no sign of the PGN standard; it is left out")
        elif line.before_node is None or (edge := line.place.edge) is None:
            self._skip(offset, f"{_short(word)} stands before any move; it is left out")
        elif number not in edge.nags:
            edge.nags += (number,)

    def _result(self, word: str, offset: int) -> None:
        self._enter_moves(offset)
        if self._stack:
            # Some programs end each variation with a result; it ends nothing here.
            return
        if self._section is not None and word != "*":
            self._section.tags.setdefault("Result", RESULTS.get(word, word))
        self._lines.line(offset)
        self._end_game()

    def _number_one(self, _word: str, offset: int) -> None:
        """A second move number 1 is a second game, where the first one had no end mark."""
        if self._state != _State.MOVES or self._stack or "FEN" in self._tags:
            return
        before = self._line.before_place
        if before is None or before.edge is None:
            return
        self._lines.line(offset)
        self._end_game()
        self._begin_game(_State.HEADER)

    def _unknown(self, word: str, offset: int) -> None:
        if not is_quiet_sign(word):
            self._move(word, offset)
        elif self._enter_moves(offset) and not self._line.lost:
            self._skip(offset, f"{_short(word)} is no sign of the PGN standard; it is left out")


def _short(word: str) -> str:
    word = word.strip()
    return f"“{word if len(word) <= 40 else word[:39] + '…'}”"


def root_board(tags: dict[str, str], names: dict[str, str]) -> tuple[chess.Board | None, str, str]:
    """The board on which a game starts; or None, the reason, and the name of the tag at fault."""
    variant = names.get("variant", "")
    if variant:
        try:
            known = chess.variant.find_variant(tags[variant].strip() or "Standard")
        except ValueError:
            known = None
        if known is not chess.Board:
            reason = (
                f"the game is of the variant {_short(tags[variant])}, not standard chess; "
                "it is left out"
            )
            return None, reason, variant
    name = names.get("fen", "")
    if not name:
        return chess.Board(), "", ""
    try:
        board = chess.Board(tags[name].strip())
    except ValueError:
        reason = f"the FEN {_short(tags[name])} cannot be read; the game is left out"
        return None, reason, name
    if board.status() & _UNPLAYABLE:
        reason = f"the FEN {_short(tags[name])} is no position of chess; the game is left out"
        return None, reason, name
    if name != "FEN":
        tags["FEN"] = tags.pop(name)
    return board, "", ""
