"""The journal: every edit since the file was saved, so that a crash loses none.

A text file of lines, each a CRC-32 in hex and a JSON object. The first says to which file the
edits apply, by its fingerprint; each other one is an edit made, undone or redone. A line is
handed to the operating system before the edit counts as made, so the end of the process loses
nothing; `flush_due` sends it to the disk, at most every two seconds.
"""

from __future__ import annotations

import base64
import json
import os
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import chess

from trainer.errors import StemlineError
from trainer.repertoire.files import FileFingerprint
from trainer.repertoire.side import SIDE_NAMES, side_from_tag
from trainer.storage.atomic import write_atomically

#: Seconds between two flushes to the disk: what a power cut may lose.
FLUSH_EVERY: Final = 2.0

_VERSION: Final = 1

Line = dict[str, Any]


class JournalError(StemlineError):
    """The journal of unsaved edits cannot be read or written."""


@dataclass(frozen=True)
class Header:
    """What a journal applies to.

    `fingerprint` is that of the repertoire file (None: there is none yet), `side` whose
    repertoire it is. `base` is the text of the file to begin with where that is an older one:
    then the journal holds the edits from before the last saving too.
    """

    fingerprint: FileFingerprint | None
    side: chess.Color
    base: bytes | None = None


@dataclass(frozen=True)
class Contents:
    """What a journal file holds; `sound` is the number of bytes up to the first damage.

    `problem` is one sentence where a line in the middle is damaged; `header` is None where the
    file is missing, empty or does not begin as a journal.
    """

    header: Header | None = None
    lines: list[Line] = field(default_factory=list)
    sound: int = 0
    problem: str | None = None


class Journal:
    """An open journal; close it when done."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handle = -1
        self._waiting_since: float | None = None
        self._dirty = False

    def begin(self, header: Header, lines: list[Line] | None = None) -> None:
        """Replace the file by one with these lines only. Raises `JournalError`."""
        self.close()
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            data = b"".join(_written(line) for line in (_header_line(header), *(lines or ())))
            write_atomically(self.path, data)
        except OSError as error:
            raise self._error("written", error) from error
        self._open()

    def resume(self, sound: int) -> None:
        """Go on behind the first `sound` bytes of the file. Raises `JournalError`."""
        self.close()
        try:
            os.truncate(self.path, sound)
        except OSError as error:
            raise self._error("written", error) from error
        self._open()

    def append(self, line: Line) -> None:
        """Add a line; it survives the end of this process. Raises `JournalError`."""
        data = _written(line)
        try:
            size = os.fstat(self._handle).st_size
            try:
                while data:
                    data = data[os.write(self._handle, data) :]
            except OSError:
                # Half a line would damage what comes after it.
                os.ftruncate(self._handle, size)
                raise
        except OSError as error:
            raise self._error("written", error) from error
        self._dirty = True

    def flush_due(self, now: float) -> bool:
        """Send what is new to the disk where the last time is two seconds ago; tells if it did.

        `now` is in seconds of any clock that only goes forward; call this every second or so.
        Raises `JournalError`.
        """
        if not self._dirty:
            return False
        if self._waiting_since is not None and now - self._waiting_since < FLUSH_EVERY:
            return False
        self._waiting_since = now
        self.flush()
        return True

    def flush(self) -> None:
        """Send everything to the disk now. Raises `JournalError`."""
        if not self._dirty:
            return
        try:
            os.fsync(self._handle)
        except OSError as error:
            raise self._error("written", error) from error
        self._dirty = False

    def close(self) -> None:
        """Flush and close the file. A second call does nothing."""
        if self._handle >= 0:
            handle, self._handle = self._handle, -1
            try:
                if self._dirty:
                    os.fsync(handle)
            except OSError as error:
                raise self._error("written", error) from error
            finally:
                os.close(handle)
                self._dirty = False

    def _open(self) -> None:
        flags = os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0)
        try:
            self._handle = os.open(self.path, flags)
        except OSError as error:
            raise self._error("opened", error) from error

    def _error(self, what: str, error: OSError) -> JournalError:
        return JournalError(
            f"The journal of unsaved edits {self.path} cannot be {what} "
            f"({error.strerror or error}); save the repertoire, and make room or check the folder."
        )


def read_journal(path: Path) -> Contents:
    """What the journal at `path` holds, up to the first damaged line.

    A last line that was cut off by a crash was never acknowledged and is passed over in silence.
    Raises `JournalError` where the file cannot be read.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Contents()
    except OSError as error:
        raise JournalError(
            f"The journal of unsaved edits {path} cannot be read ({error.strerror or error}); "
            "check its permissions."
        ) from error
    lines: list[Line] = []
    sound = 0
    problem = None
    pieces = data.split(b"\n")
    for number, piece in enumerate(pieces[:-1], start=1):
        line = _read(piece)
        if line is None:
            problem = (
                f"Line {number} of the journal of unsaved edits {path} is damaged, so only "
                "the edits before it can be brought back."
            )
            break
        lines.append(line)
        sound += len(piece) + 1
    if not lines:
        return Contents(problem=problem)
    header = _header(lines[0])
    if header is None:
        problem = (
            f"The journal of unsaved edits {path} was written by another version of the program; "
            "its edits cannot be brought back here."
        )
        return Contents(problem=problem)
    return Contents(header, lines[1:], sound, problem)


def _written(line: Line) -> bytes:
    text = json.dumps(line, separators=(",", ":")).encode("ascii")
    return b"%08x %s\n" % (zlib.crc32(text), text)


def _read(piece: bytes) -> Line | None:
    check, _, text = piece.partition(b" ")
    try:
        if len(check) != 8 or int(check, 16) != zlib.crc32(text):
            return None
        line = json.loads(text)
    except ValueError:
        return None
    return line if isinstance(line, dict) else None


def _header_line(header: Header) -> Line:
    line: Line = {"journal": _VERSION, "side": SIDE_NAMES[header.side]}
    if header.fingerprint is not None:
        line |= {"size": header.fingerprint.size, "sha256": header.fingerprint.sha256}
    if header.base is not None:
        line["base"] = base64.b64encode(zlib.compress(header.base, 1)).decode("ascii")
    return line


def _header(line: Line) -> Header | None:
    if line.get("journal") != _VERSION:
        return None
    try:
        side = side_from_tag(line["side"])
        fingerprint = (
            FileFingerprint(int(line["size"]), 0, str(line["sha256"])) if "size" in line else None
        )
        base = zlib.decompress(base64.b64decode(line["base"])) if "base" in line else None
    except (KeyError, ValueError, TypeError, AttributeError, zlib.error):
        return None
    return None if side is None else Header(fingerprint, side, base)
