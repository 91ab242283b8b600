"""Files of games: what of them is new to a base, and cutting that into blocks at game starts."""

from __future__ import annotations

import codecs
import os
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Final

from trainer.games.base.faults import GamesFileError, games_error
from trainer.games.base.figures import GameEntry
from trainer.games.base.reader import decoded, name_of, tags_of
from trainer.games.base.shards import Block
from trainer.games.base.spans import spans

#: Bytes of a block: a second or two of reading.
BLOCK_BYTES: Final = 8 << 20
#: A game that goes on longer than this has a comment that nobody closed.
_LONGEST_GAME: Final = 64 << 20
_SAMPLES: Final = 256
_SAMPLE_BYTES: Final = 1024


@dataclass(frozen=True)
class Part:
    """What is to be read of a file: all from `start` on.

    `games` games and `lines` lines stand before it; `known` says that the base has those.
    """

    path: Path
    size: int
    changed: int
    start: int = 0
    games: int = 0
    lines: int = 0
    known: bool = False

    @property
    def bytes(self) -> int:
        """How much is to be read."""
        return self.size - self.start


def parts_to_read(files: list[Path], connection: sqlite3.Connection | None) -> list[Part]:
    """What of each file the base does not have; a file that was added whole is left out.

    A file that begins with what was added before is read from the last of those games on. Raises
    `GamesFileError` where a file cannot be read or is no text.
    """
    found: dict[Path, Part] = {}
    for file in files:
        path = Path(os.path.realpath(file))
        part = _part(path, file, connection)
        if part is not None:
            found.setdefault(path, part)
    return list(found.values())


def _part(path: Path, shown: Path, connection: sqlite3.Connection | None) -> Part | None:
    try:
        with path.open("rb") as file:
            status = os.fstat(file.fileno())
            head = file.read(1 << 16)
            _check_text(head, shown)
    except OSError as error:
        raise games_error(shown, error) from error
    start = len(codecs.BOM_UTF8) if head.startswith(codecs.BOM_UTF8) else 0
    whole = Part(path, status.st_size, status.st_mtime_ns, start)
    row = None
    if connection is not None:
        row = connection.execute(
            "SELECT size, mark, last_start, games, last_line FROM sources WHERE path = ?",
            (str(path),),
        ).fetchone()
    if row is None or row[0] > whole.size or mark(path, row[0]) != row[1]:
        return whole
    if row[0] == whole.size:
        return None
    # The last game may have been incomplete when the file was read, so it is read again.
    return Part(path, whole.size, whole.changed, row[2], max(0, row[3] - 1), row[4], known=True)


def _check_text(head: bytes, path: Path) -> None:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise GamesFileError(f"{path} is written in UTF-16; save it as UTF-8 and try again.")
    if b"\0" in head:
        raise GamesFileError(f"{path} is not a text file; choose games in PGN.")
    if b"\r" in head and b"\n" not in head:
        raise GamesFileError(
            f"{path} ends its lines in carriage returns only; save it with line feeds."
        )


def mark(path: Path, size: int) -> bytes:
    """A digest of the first `size` bytes of a file, by samples: the file may be large."""
    digest = blake2b(size.to_bytes(8, "little"), digest_size=16)
    step = max(_SAMPLE_BYTES, size // _SAMPLES)
    try:
        with path.open("rb") as file:
            for at in [*range(0, size, step), max(0, size - _SAMPLE_BYTES)]:
                file.seek(at)
                digest.update(file.read(min(_SAMPLE_BYTES, size - at)))
    except OSError as error:
        raise games_error(path, error) from error
    return digest.digest()


def blocks(part: Part, plies: int, size: int) -> Iterator[Block]:
    """Cut what is to be read into blocks of about `size` bytes, each of whole games.

    Raises `GamesFileError`.
    """
    number, line, start = part.games, part.lines, part.start
    held = b""
    try:
        with part.path.open("rb") as file:
            file.seek(start)
            while True:
                wanted = min(size, part.size - start - len(held))
                more = file.read(wanted)
                held += more
                final = start + len(held) >= part.size or len(more) < wanted
                cut, last, games = _cut(held, final=final or len(held) > _LONGEST_GAME)
                if cut:
                    yield Block(
                        source=str(part.path),
                        start=start,
                        end=start + cut,
                        number=number,
                        line=line,
                        games=games,
                        last_start=start + last,
                        last_line=line + held.count(b"\n", 0, last),
                        name=_name(part, start, start + cut, plies),
                    )
                    number += games
                    line += held.count(b"\n", 0, cut)
                    start += cut
                    held = held[cut:]
                if final:
                    return
    except OSError as error:
        raise games_error(part.path, error) from error


def _cut(data: bytes, *, final: bool) -> tuple[int, int, int]:
    """Where the last game that is certainly whole ends and begins, and how many there are."""
    found = list(spans(data, final=final))
    start, _, end = found[-1] if found else (0, 0, 0)
    return (len(data) if final else end), start, len(found)


def _name(part: Part, start: int, end: int, plies: int) -> str:
    text = f"{part.path}\n{part.size}\n{part.changed}\n{start}\n{end}\n{plies}\n"
    return blake2b(text.encode("utf-8", "surrogateescape"), digest_size=12).hexdigest()


def text_of_game(entry: GameEntry) -> str:
    """The PGN text of a game of a base, from the file it was read from.

    Raises `GamesFileError` where that file is gone, or has another game there by now.
    """
    size = 1 << 16
    try:
        with entry.path.open("rb") as file:
            while True:
                file.seek(entry.place)
                data = file.read(size)
                final = len(data) < size
                found = next(spans(data, final=final), None)
                if found is not None or final or size > _LONGEST_GAME:
                    break
                size *= 4
    except OSError as error:
        raise games_error(entry.path, error) from error
    text = decoded(data[: found[2]]) if found else ""
    tags = tags_of(text)
    if (name_of(tags, "White"), name_of(tags, "Black")) != (entry.white, entry.black):
        raise GamesFileError(
            f"{entry.path} has changed since it was added to the reference base; add it again."
        )
    return text.replace("\r\n", "\n").strip() + "\n"
