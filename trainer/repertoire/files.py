"""A repertoire file as bytes: what is in it, its encoding, and whether it is still the same."""

from __future__ import annotations

import codecs
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import RepertoireFileError


@dataclass(frozen=True)
class FileFingerprint:
    """What a file was when it was read: size in bytes, time of change in ns, SHA-256 in hex."""

    size: int
    mtime_ns: int
    sha256: str

    def same_content(self, other: FileFingerprint) -> bool:
        """Whether both stand for the same bytes; a file that was only touched is unchanged."""
        return self.size == other.size and self.sha256 == other.sha256


@dataclass(frozen=True)
class DecodedText:
    """The text of a file with `\\n` at the ends of its lines, and how it was written there."""

    text: str
    encoding: str
    newline: str


def read_bytes(path: Path) -> tuple[bytes, FileFingerprint]:
    """The bytes of a file and their fingerprint.

    Raises `RepertoireFileError` where there is no such file or it cannot be read.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read()
            changed = os.fstat(stream.fileno()).st_mtime_ns
    except FileNotFoundError:
        raise RepertoireFileError(
            f"There is no file {path}; check the name or choose another file."
        ) from None
    except IsADirectoryError:
        raise RepertoireFileError(f"{path} is a folder; choose a PGN file in it.") from None
    except PermissionError:
        if path.is_dir():
            raise RepertoireFileError(f"{path} is a folder; choose a PGN file in it.") from None
        raise RepertoireFileError(
            f"{path} may not be read; change its permissions or choose another file."
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RepertoireFileError(f"{path} cannot be read: {reason}.") from None
    return data, FileFingerprint(len(data), changed, hashlib.sha256(data).hexdigest())


def decode(data: bytes, name: str) -> DecodedText:
    """The text in `data`: UTF-8, UTF-16 with its mark, or else Windows-1252 or Latin-1.

    Raises `RepertoireFileError`, naming the file `name`, where it is no text.
    """
    try:
        text, encoding = _decoded(data)
    except UnicodeDecodeError:
        text, encoding = "\0", ""
    if "\0" in text:
        raise RepertoireFileError(
            f"{name} is not a text file; choose a repertoire in PGN, saved as plain text."
        )
    newline = "\r\n" if "\r\n" in text else "\r" if "\r" in text else "\n"
    if newline != "\n":
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return DecodedText(text, encoding, newline)


def _decoded(data: bytes) -> tuple[str, str]:
    if data.startswith(codecs.BOM_UTF8):
        return data.decode("utf-8-sig"), "utf-8-sig"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16"), "utf-16"
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252"), "cp1252"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"
