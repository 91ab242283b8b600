"""Writing a repertoire as PGN (PGN Standard, section 3.2: export format), and saving it.

What is written reads back as the same graph: positions, moves, priority, comments, NAGs, tags,
titles and conflicts. `trainer.repertoire.layout` decides what stands where.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import chess

from trainer.errors import FileChangedError, RepertoireFileError
from trainer.repertoire.crossing import LONGEST_ORDER, crossing_comment
from trainer.repertoire.files import FileFingerprint, read_bytes
from trainer.repertoire.filler import LineFiller
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.layout import Layout, Written
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire_text
from trainer.repertoire.sections import root_board
from trainer.repertoire.side import SIDE_NAMES, SIDE_TAG
from trainer.storage.atomic import write_atomically

#: The tags that come first, in this order, with what stands for "unknown" (section 8.1.1).
ROSTER: Final = {
    "Event": "?",
    "Site": "?",
    "Date": "????.??.??",
    "Round": "?",
    "White": "?",
    "Black": "?",
    "Result": "*",
}
_MOST_ROUNDS: Final = 8
_RESULTS: Final = frozenset({"1-0", "0-1", "1/2-1/2", "*"})
_MADE_HERE: Final = frozenset({SIDE_TAG.lower(), "setup", "fen"})
_LINE_BREAKS: Final = re.compile(r"[\r\n]+")


def repertoire_pgn(repertoire: Repertoire) -> str:
    """The text of a repertoire file; empty where there are no sections."""
    text, settled = _text(repertoire)
    for _ in range(_MOST_ROUNDS):
        if settled:
            break
        # Written again after reading, a file must not change any more.
        before = text
        text, _settled = _text(read_repertoire_text(text).repertoire)
        settled = text == before
    return text


def _text(repertoire: Repertoire) -> tuple[str, bool]:
    """The text of a file, and whether it is sure to be the same after reading it."""
    layout = Layout(repertoire)
    lines: list[str] = []
    for section, root in zip(repertoire.sections, layout.roots, strict=True):
        board = root_board(section)
        tags = _tags(section, board, repertoire.side)
        lines += (f'[{name} "{_escaped(value)}"]' for name, value in tags.items())
        lines.append("")
        lines += _movetext(layout, section, root, tags["Result"])
        lines.append("")
    return "\n".join(lines), layout.settled


def save_repertoire(
    repertoire: Repertoire | LoadedRepertoire,
    path: Path,
    *,
    expected: FileFingerprint | None,
) -> FileFingerprint:
    """Write a repertoire to `path` in one step; the file before stays as `<name>.bak`.

    The text is UTF-8 with the line ends of the file that was read. `expected` is the fingerprint
    of the file as it was read, or None to replace whatever is there. Returns the new one.

    Raises `FileChangedError` where the file is not the expected one any more, and
    `RepertoireFileError` where it cannot be written; the old file is untouched then.
    """
    newline = "\n"
    if isinstance(repertoire, LoadedRepertoire):
        newline = "\r\n" if repertoire.newline == "\r\n" else "\n"
        repertoire = repertoire.repertoire
    if expected is not None and path.exists():
        _, found = read_bytes(path)
        if not found.same_content(expected):
            raise FileChangedError(
                f"{path} was changed by another program since it was read; "
                "open it again, or save under another name."
            )
    text = repertoire_pgn(repertoire)
    if newline != "\n":
        text = text.replace("\n", newline)
    try:
        write_atomically(path, text.encode("utf-8", "replace"), keep_backup=True)
    except OSError as error:
        reason = error.strerror or str(error)
        raise RepertoireFileError(
            f"{path} could not be saved ({reason}); the file before is unchanged, "
            "so make room or choose another place and save again."
        ) from error
    return read_bytes(path)[1]


def _tags(section: Section, board: chess.Board | None, side: chess.Color) -> dict[str, str]:
    """All tags to write, in the order of the export format."""
    tags = {name: section.tags.get(name, "") or unknown for name, unknown in ROSTER.items()}
    if tags["Result"] not in _RESULTS:
        tags["Result"] = "*"
    others = {
        name: value
        for name, value in section.tags.items()
        if name not in ROSTER and name.lower() not in _MADE_HERE
    }
    others[SIDE_TAG] = SIDE_NAMES[side]
    if board is not None:
        others["SetUp"] = "1"
        fen = section.tags.get("FEN", "")
        others["FEN"] = fen if fen and _same_fen(fen, board) else board.fen()
    return tags | {name: others[name] for name in sorted(others)}


def _same_fen(fen: str, board: chess.Board) -> bool:
    try:
        return chess.Board(fen).fen() == board.fen()
    except ValueError:
        return False


def _escaped(value: str) -> str:
    value = _LINE_BREAKS.sub(" ", value)
    return value.replace("\\", "\\\\").replace('"', '\\"')


def _movetext(layout: Layout, section: Section, root: Written, result: str) -> list[str]:
    text = _Movetext(layout)
    for paragraph in section.intro:
        text.comment(paragraph)
    text.line(root)
    text.filler.word(result)
    return text.filler.lines()


class _Movetext:
    """The moves of one section as words, in the order of the text."""

    def __init__(self, layout: Layout) -> None:
        self.filler = LineFiller()
        self._layout = layout
        self._numbered = True

    def comment(self, paragraph: str) -> None:
        self.filler.comment(paragraph)
        self._numbered = True

    def line(self, root: Written) -> None:
        """The main line and all variations behind a place."""
        # A place: what follows it. A pair: a variation to open. None: a variation to close.
        stack: list[Written | tuple[Written] | None] = [root]
        while stack:
            item = stack.pop()
            if item is None:
                self.filler.close_bracket()
                self._numbered = True
            elif isinstance(item, tuple):
                self._open(item[0])
                stack += (None, item[0])
            elif item.goes_on:
                main, *others = item.goes_on
                self._move(main)
                stack.append(main)
                stack.extend((other,) for other in reversed(others))
                self._restate(main)

    def _open(self, place: Written) -> None:
        self.filler.open_bracket()
        self._numbered = True
        if place.new and place.edge is not None:
            for paragraph in place.edge.before:
                self.comment(paragraph)
        self._move(place)

    def _restate(self, main: Written) -> None:
        """A comment before a main move has no place of its own: say it in a variation."""
        edge = main.edge
        if edge is not None and main.new and edge.before:
            self.filler.open_bracket()
            for paragraph in edge.before:
                self.comment(paragraph)
            self._numbered = True
            self._name(main, edge)
            self.filler.close_bracket()
            self._numbered = True

    def _name(self, place: Written, edge: Edge) -> None:
        ply = place.ply - 1
        if ply % 2 == 0:
            self.filler.word(f"{ply // 2 + 1}.")
        elif self._numbered:
            self.filler.word(f"{ply // 2 + 1}...")
        self._numbered = False
        self.filler.word(edge.san)

    def _move(self, place: Written) -> None:
        edge = place.edge
        assert edge is not None
        self._name(place, edge)
        if place.new:
            for nag in edge.nags:
                self.filler.word(f"${nag}")
            for paragraph in edge.comments:
                self.comment(paragraph)
        if not place.goes_on and not place.announces and place.node in self._layout.homes:
            self.comment(_crossing(self._layout, place.node))


def _crossing(layout: Layout, node: Node) -> str:
    """The comment that names the place where this position goes on."""
    section, place = layout.homes[node]
    sans: list[str] = []
    while place.edge is not None and place.before is not None and len(sans) < LONGEST_ORDER:
        sans.append(place.edge.san)
        place = place.before
    sans.reverse()
    return crossing_comment(section, sans, ply=place.ply, cut=place.edge is not None)
