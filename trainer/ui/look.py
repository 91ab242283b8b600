"""How positions and moves are shown now: what many small parts of the window need together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from trainer.ui.theme import LIGHT, Theme

if TYPE_CHECKING:
    from trainer.notation.display import Notation


@dataclass(frozen=True)
class Look:
    """Theme, notation, scale (1.0 is 100 %), and whether Black stands at the bottom."""

    theme: Theme
    notation: Notation
    scale: float
    flipped: bool


#: Until the window gives its own.
FIRST_LOOK: Final = Look(LIGHT, "letters", 1.0, flipped=False)
