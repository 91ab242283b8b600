"""What a player types, as it can stand in a PGN file and come back the same."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from trainer.errors import StemlineError
from trainer.repertoire.crossing import CROSSING_START
from trainer.repertoire.side import SIDE_TAG
from trainer.repertoire.writer import ROSTER

#: Tags that say what the section is; they follow from the repertoire and are not edited.
FIXED_TAGS: Final = frozenset({SIDE_TAG.lower(), "setup", "fen", "variant"})

_UNPRINTABLE: Final = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_SURROGATES: Final = re.compile(r"[\ud800-\udfff]")
_TAG_NAME: Final = re.compile(r"\w[\w+#=:-]*")
_UNKNOWN_VALUES: Final = frozenset({"", "?", "????.??.??", "*"})
_RESULTS: Final = frozenset({"1-0", "0-1", "1/2-1/2"})


class EditError(StemlineError):
    """An edit that cannot be made; the repertoire is as it was."""


def clean_text(text: str) -> str:
    """One line with single spaces and no control characters."""
    return " ".join(_SURROGATES.sub("\ufffd", _UNPRINTABLE.sub(" ", text)).split())


def split_paragraphs(text: str) -> tuple[str, ...]:
    """The paragraphs of a text as a player types it: an empty line stands between two."""
    return clean_paragraphs(re.split(r"\n\s*\n", text.replace("\r\n", "\n")))


def clean_paragraphs(paragraphs: Iterable[str]) -> tuple[str, ...]:
    """Paragraphs as comments of a move: cleaned, none empty, none twice.

    One that begins as the program's own note of a crossing is worded differently, because that
    note is dropped on reading.
    """
    cleaned = (clean_text(paragraph) for paragraph in paragraphs)
    return tuple(
        dict.fromkeys(
            text.replace("Crossing:", "Crossing –", 1) if text.startswith(CROSSING_START) else text
            for text in cleaned
            if text
        )
    )


def clean_nags(nags: Iterable[int]) -> tuple[int, ...]:
    """NAGs without repetition. Raises `EditError` for a number that is none."""
    found = tuple(dict.fromkeys(nags))
    for nag in found:
        if not 0 <= nag <= 255:
            raise EditError(f"{nag} is no sign of the PGN standard; choose one from 0 to 255.")
    return found


def clean_tags(wanted: Mapping[str, str], before: Mapping[str, str]) -> dict[str, str]:
    """The tags of a section after an edit; what says where it begins stays as `before` has it.

    Raises `EditError` for a name or a result that the PGN standard does not know.
    """
    tags = {}
    for name, value in wanted.items():
        if name.lower() in FIXED_TAGS:
            continue
        if _TAG_NAME.fullmatch(name) is None:
            raise EditError(
                f"“{clean_text(name)}” cannot be the name of a tag; use letters, digits and _."
            )
        value = clean_text(value)
        if name in ROSTER and value in _UNKNOWN_VALUES:
            continue
        if name == "Result" and value not in _RESULTS:
            raise EditError(f"The result “{value}” must be 1-0, 0-1, 1/2-1/2 or *.")
        tags[name] = value
    return tags | {name: value for name, value in before.items() if name.lower() in FIXED_TAGS}
