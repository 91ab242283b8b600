"""Moves as the window and the terminal show them: letters or figurines, numbered."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final, Literal

import chess

Notation = Literal["letters", "figurines"]

_FIGURINES: Final = str.maketrans("KQRBN", "♔♕♖♗♘")

#: A piece letter that begins a move in SAN, or stands after a promotion's sign.
_PIECE_MOVE: Final = re.compile(r"\b[KQRBN](?=[a-h]?[1-8]?x?[a-h][1-8]\b)|(?<=[18]=)[QRBN]\b")

#: Figurines of both colours back to the letters of the PGN standard (pawns to nothing), and what
#: `kept_together` put in taken out again.
FIGURINE_LETTERS: Final = str.maketrans("♔♕♖♗♘♚♛♜♝♞\u00a0", "KQRBNKQRBN ", "♙♟\u2060")


def shown_san(san: str, notation: Notation = "letters") -> str:
    """One move in the chosen notation."""
    return san.translate(_FIGURINES) if notation == "figurines" else san


def shown_text(text: str, notation: Notation = "letters") -> str:
    """Running text with the moves in it in the chosen notation; other words stay as they are."""
    if notation == "letters":
        return text
    return _PIECE_MOVE.sub(lambda found: found.group().translate(_FIGURINES), text)


def numbered(
    sans: Sequence[str],
    *,
    turn: chess.Color = chess.WHITE,
    number: int = 1,
    notation: Notation = "letters",
) -> str:
    """Moves in a row with their numbers, as books print them: `1 Nf3 d5 2 g3`.

    `turn` is the side that makes the first move and `number` the number of that move.
    """
    words: list[str] = []
    for index, san in enumerate(sans):
        if turn == chess.WHITE:
            words.append(f"{number} {shown_san(san, notation)}")
        else:
            words.append(
                f"{number}…{shown_san(san, notation)}" if index == 0 else shown_san(san, notation)
            )
            number += 1
        turn = not turn
    return " ".join(words)


def shorten_order(text: str, limit: int) -> str:
    """`text` cut in front to `limit` characters at a word, with an ellipsis where it was cut."""
    if len(text) <= limit:
        return text
    tail = text[-(limit - 2) :]
    return "… " + tail.partition(" ")[2]


def sentence_list(words: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]


def percent(share: float) -> str:
    """A share of 0 to 1 in words, never rounded to nothing: `87 %`, `0.4 %`, `under 0.1 %`."""
    value = 100 * share
    if value >= 9.95:
        return f"{value:.0f} %"
    if value >= 0.095:
        return f"{value:.1f} %"
    return "under 0.1 %" if value > 0 else "0 %"
