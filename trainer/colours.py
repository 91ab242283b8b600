"""Paper and ink: the colours that diagrams and the window have in common, as `#RRGGBB`."""

from typing import Final

PAPER: Final = "#F6F1E7"
INK: Final = "#23211E"
PIECE_PAPER: Final = "#FBF8F1"
