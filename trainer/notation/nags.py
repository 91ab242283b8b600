"""Signs of moves and positions: the NAGs of the PGN standard (Edwards, 1994), section 10.

The glyphs for 10 to 19 are those that books print (common practice, no source); the standard has
suffixes for 1 to 6 only (section 8.2.3.8).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

#: Number: glyph ("" where none is in use) and meaning, in the order in which they are offered.
SIGNS: Final[dict[int, tuple[str, str]]] = {
    1: ("!", "good move"),
    2: ("?", "poor move"),
    3: ("!!", "very good move"),
    4: ("??", "very poor move"),
    5: ("!?", "speculative move"),
    6: ("?!", "questionable move"),
    7: ("□", "forced move: all others lose quickly"),
    10: ("=", "drawish position"),
    11: ("", "equal chances, quiet position"),
    12: ("", "equal chances, active position"),
    13: ("∞", "unclear position"),
    14: ("+/=", "White has a slight advantage"),
    15: ("=/+", "Black has a slight advantage"),
    16: ("±", "White has a moderate advantage"),
    17: ("∓", "Black has a moderate advantage"),
    18: ("+−", "White has a decisive advantage"),
    19: ("−+", "Black has a decisive advantage"),
    22: ("", "White is in zugzwang"),
    23: ("", "Black is in zugzwang"),
    26: ("", "White has a moderate space advantage"),
    27: ("", "Black has a moderate space advantage"),
    32: ("", "White has a moderate time (development) advantage"),
    33: ("", "Black has a moderate time (development) advantage"),
    36: ("", "White has the initiative"),
    37: ("", "Black has the initiative"),
    40: ("", "White has the attack"),
    41: ("", "Black has the attack"),
    44: ("", "White has sufficient compensation for material deficit"),
    45: ("", "Black has sufficient compensation for material deficit"),
    132: ("", "White has moderate counterplay"),
    133: ("", "Black has moderate counterplay"),
    136: ("", "White has moderate time control pressure"),
    137: ("", "Black has moderate time control pressure"),
}

#: Signs of which a move has only one.
SUFFIXES: Final = frozenset(range(1, 7))


def glyphs(nags: Iterable[int]) -> str:
    """The signs behind a move: `!?`, `!? ±`, `$44` where there is no glyph."""
    shown = [SIGNS.get(nag, ("", ""))[0] or f"${nag}" for nag in nags]
    return " ".join(shown)


def meanings(nags: Iterable[int]) -> list[str]:
    """What the signs say in words; `sign 146` for one that has no meaning here."""
    return [SIGNS.get(nag, ("", f"sign {nag}"))[1] for nag in nags]
