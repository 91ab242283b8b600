"""Games of PGN bytes as a reference base needs them: tags, first moves, keys, or what is wrong.

Plain games go through `resolve`, the others through `careful`. Both give what
`chess.pgn.read_game`, `push` and `position_key` give, but for the reader's known traps: games
without an empty line between them are told apart, a comment that is never closed spoils one game
only, and a word that is no move spoils its game instead of being read as a pawn's move.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import blake2b
from typing import Final

import chess

from trainer.games.base.careful import main_lines
from trainer.games.base.moments import moment_of
from trainer.games.base.resolve import resolve
from trainer.games.base.spans import Span, spans
from trainer.games.base.words import MARK, RESULT, Word, Words

#: The first half-moves of each game that a base holds unless told otherwise.
USUAL_PLIES: Final = 40

# Why a game is not in the figures.
VARIANT: Final = "variant"
OTHER_START: Final = "other start"
BROKEN: Final = "broken"
EMPTY: Final = "no moves"

#: Numbers of results; the last is for every game without one.
RESULT_NUMBERS: Final = {"1-0": 0, "1/2-1/2": 1, "0-1": 2}
NO_RESULT: Final = 3

_TAG: Final = re.compile(r'^\[([A-Za-z0-9][A-Za-z0-9_+#=:-]*)\s+"(.*)"\][ \t\r]*$', re.MULTILINE)
_BRACES: Final = re.compile(r"\{[^}]*\}")
_BRACKETS: Final = re.compile(r"\([^()]*\)")
_STANDARD: Final = frozenset(alias.lower() for alias in chess.Board.aliases)


@dataclass(slots=True)
class BaseGame:
    """One game. `offset` (in bytes) is where it begins, `fault_offset` where it goes wrong.

    `keys` are those of the positions after each of the first moves, `codes` those moves. `content`
    is 64 bits that are equal for the same game whatever file it stands in. A game with a `fault`,
    one of the constants above, is not for the figures; `reason` says why.
    """

    offset: int
    tags: dict[str, str]
    result: int = NO_RESULT
    keys: list[int] = field(default_factory=list)
    codes: list[int] = field(default_factory=list)
    moment: int = 0
    content: int = 0
    fault: str = ""
    reason: str = ""
    fault_offset: int = 0


class GameReader:
    """Reads games; what it learns of words and dates serves all of them."""

    def __init__(self, plies: int = USUAL_PLIES) -> None:
        self.plies = plies
        self._words = Words()

    def games(self, data: bytes) -> Iterator[BaseGame]:
        """The games in `data`, which begins and ends where games do."""
        for span in spans(data):
            yield from self.read(data, span)

    def read(self, data: bytes, span: Span) -> list[BaseGame]:
        """The game in a span; several where moves go on after its result without tags."""
        start, moves, end = span
        tags = tags_of(decoded(data[start:moves]))
        if "FEN" in tags or "Variant" in tags:
            fault = _other_chess(tags)
            if fault:
                return [BaseGame(start, tags, fault=fault[0], reason=fault[1], fault_offset=start)]
        words = self._plain_words(data[moves:end].decode("latin-1"))
        if words is not None:
            marker = None
            if words and words[-1][0] == RESULT:
                words.pop()
                marker = data[moves:end].split()[-1].decode("latin-1")
            line = "".join([word[4] for word in words])
            found = resolve(words, self.plies) if words and MARK not in line else None
            if found is not None:
                game = BaseGame(start, tags, _result(tags, marker), *found)
                game.moment = moment_of(tags)
                game.content = _content(tags, game.moment, line)
                return [game]
        return self._read_carefully(data, span, tags)

    def _plain_words(self, text: str) -> list[Word] | None:
        """The words of the main line, or None where comments are not easily told from moves."""
        if "{" in text:
            text = _BRACES.sub(" ", text)
        if "(" in text:
            if text.lstrip().startswith("("):
                return None
            shorter = _BRACKETS.sub(" ", text)
            while len(shorter) != len(text):
                text, shorter = shorter, _BRACKETS.sub(" ", shorter)
        if "{" in text or "}" in text or ";" in text or "(" in text or ")" in text:
            return None
        if "%" in text:
            return None
        read = self._words
        return [word for word in [read[written] for written in text.split()] if word]

    def _read_carefully(self, data: bytes, span: Span, tags: dict[str, str]) -> list[BaseGame]:
        start, moves, end = span
        text = decoded(data[moves:end])
        games = []
        for number, line in enumerate(main_lines(text.replace("\r\n", "\n"), self.plies)):
            own_tags = {} if number else tags
            at = moves + _byte_offset(text, line.offset)
            game = BaseGame(at if number else start, own_tags, _result(own_tags, line.result))
            if line.fault:
                game.fault, game.reason, game.fault_offset = BROKEN, line.fault, at
            elif not line.keys:
                game.fault, game.reason, game.fault_offset = EMPTY, "it has no moves", start
            else:
                game.keys, game.codes = line.keys, line.codes
                game.moment = moment_of(own_tags)
                game.content = _content(own_tags, game.moment, "".join(line.spellings))
            games.append(game)
        return games


def tags_of(text: str) -> dict[str, str]:
    """The tag pairs in a text; of two with one name the later."""
    return dict(_TAG.findall(text))


def name_of(tags: Mapping[str, str], tag: str) -> str:
    """A tag's value with single spaces, "" where it says that it is not known."""
    value = " ".join(tags.get(tag, "").replace('\\"', '"').replace("\\\\", "\\").split())
    return "" if value in ("?", "-") else value


def rating_of(text: str) -> int:
    """A rating, 0 where there is none."""
    text = text.strip()
    return int(text) if text.isdecimal() and 0 < int(text[:5]) < 4000 and len(text) < 5 else 0


def decoded(data: bytes) -> str:
    """Text in UTF-8, or else in Windows-1252 or Latin-1."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        try:
            return data.decode("cp1252")
        except UnicodeDecodeError:
            return data.decode("latin-1")


def _byte_offset(text: str, offset: int) -> int:
    """About where a place in the text was in the bytes: in the same line."""
    return len(text[:offset].encode("utf-8")) + text[:offset].count("\n") * (
        1 if "\r\n" in text else 0
    )


def _other_chess(tags: Mapping[str, str]) -> tuple[str, str] | None:
    variant = tags.get("Variant", "").strip()
    if variant and variant.lower() not in _STANDARD:
        return VARIANT, f"it is not standard chess but “{variant[:40]}”"
    fen = tags.get("FEN")
    if fen is None:
        return None
    try:
        usual = chess.Board(fen.strip()).epd() == chess.Board().epd()
    except ValueError:
        return BROKEN, f"its FEN “{fen[:80]}” cannot be read"
    return None if usual else (OTHER_START, "it begins from another position")


def _result(tags: Mapping[str, str], marker: str | None) -> int:
    number = RESULT_NUMBERS.get(tags.get("Result", ""), NO_RESULT)
    return RESULT_NUMBERS.get(marker or "", NO_RESULT) if number == NO_RESULT else number


def _content(tags: Mapping[str, str], moment: int, line: str) -> int:
    get = tags.get
    text = f"{get('White', '')}\n{get('Black', '')}\n{moment}\n{line}".casefold()
    digest = blake2b(text.encode("utf-8", "replace"), digest_size=8).digest()
    return int.from_bytes(digest, "little")
