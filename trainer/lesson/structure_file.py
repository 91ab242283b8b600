"""The definitions of the structures as they stand in `resources/structures/structures.toml`."""

from __future__ import annotations

import tomllib
from functools import reduce
from operator import or_
from pathlib import Path
from typing import Any, Final

import chess

from trainer.errors import ResourceMissingError
from trainer.lesson.structures import Pattern, PieceDemand, Structure, StructureBook
from trainer.resources import resource_path

_SIDES: Final = {"white": chess.WHITE, "black": chess.BLACK, "both": None}
_FIELDS: Final = frozenset(
    (
        *("id", "name", "turned_name", "holder", "white", "black", "no_white", "no_black"),
        *("white_may", "black_may", "pieces", "mirrored", "turned", "refines"),
        *("holder_breaks", "other_breaks", "holder_plan", "other_plan", "source"),
    )
)


def load_structures(path: Path | None = None) -> StructureBook:
    """All definitions, from the program's own file unless `path` names another.

    Raises `ResourceMissingError` where the file is missing or damaged.
    """
    path = resource_path("structures", "structures.toml") if path is None else path
    try:
        entries = tomllib.loads(path.read_text(encoding="utf-8"))["structure"]
        structures = [read_structure(entry) for entry in entries]
        known = {structure.id for structure in structures}
        if len(known) < len(structures):
            raise ValueError("an id stands twice")
        for structure in structures:
            if structure.refines is not None and structure.refines not in known:
                raise ValueError(f"{structure.id} refines {structure.refines}, which is not there")
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ResourceMissingError(
            f"The structures in {path} cannot be read ({error}); "
            "install Stemline again or restore the file."
        ) from error
    return StructureBook(structures)


def read_structure(entry: dict[str, Any]) -> Structure:
    """One entry of the file; raises `KeyError` or `ValueError` where it says no such thing."""
    unknown = entry.keys() - _FIELDS
    if unknown:
        raise ValueError(f"{entry.get('id')} has an unknown field {min(unknown)}")
    pattern = Pattern(
        must=(_each(entry.get("black", [])), _each(entry.get("white", []))),
        must_not=(_all(entry.get("no_black", [])), _all(entry.get("no_white", []))),
        may=(_all(entry.get("black_may", [])), _all(entry.get("white_may", []))),
        may_files=(_files(entry.get("black_may", [])), _files(entry.get("white_may", []))),
        pieces=tuple(_piece(text) for text in entry.get("pieces", [])),
    )
    patterns = (pattern, _other_wing(pattern)) if entry.get("mirrored") else (pattern,)
    return Structure(
        id=entry["id"],
        name=entry["name"],
        holder=_SIDES[entry["holder"]],
        patterns=patterns,
        turns=entry["holder"] != "both" and entry.get("turned", True),
        refines=entry.get("refines"),
        holder_breaks=tuple(map(chess.parse_square, entry["holder_breaks"])),
        other_breaks=tuple(map(chess.parse_square, entry["other_breaks"])),
        holder_plan=entry["holder_plan"],
        other_plan=entry["other_plan"],
        source=entry["source"],
        turned_name=entry.get("turned_name", ""),
    )


def _squares(text: str) -> int:
    """`d4`, `c7/c6`, or a whole file as `c`, as a bitboard."""
    mask = 0
    for word in text.split("/"):
        if len(word) == 1:
            mask |= chess.BB_FILES[chess.FILE_NAMES.index(word)]
        else:
            mask |= chess.BB_SQUARES[chess.parse_square(word)]
    return mask


def _each(texts: list[str]) -> tuple[int, ...]:
    return tuple(_squares(text) for text in texts)


def _all(texts: list[str]) -> int:
    return reduce(or_, map(_squares, texts), 0)


def _files(texts: list[str]) -> int:
    """The whole files on which the squares lie."""
    mask = _all(texts)
    return reduce(or_, (file for file in chess.BB_FILES if file & mask), 0)


def _piece(text: str) -> PieceDemand:
    side, letter, squares = text.split()
    color = {"white": chess.WHITE, "black": chess.BLACK}[side]
    return PieceDemand(color, chess.PIECE_SYMBOLS.index(letter.lower()), _squares(squares))


def _other_wing(pattern: Pattern) -> Pattern:
    flip = chess.flip_horizontal
    return Pattern(
        must=(tuple(map(flip, pattern.must[0])), tuple(map(flip, pattern.must[1]))),
        must_not=(flip(pattern.must_not[0]), flip(pattern.must_not[1])),
        may=(flip(pattern.may[0]), flip(pattern.may[1])),
        may_files=(flip(pattern.may_files[0]), flip(pattern.may_files[1])),
        pieces=tuple(
            PieceDemand(one.color, one.piece, flip(one.squares)) for one in pattern.pieces
        ),
    )
