"""The comment by which a written order says that its position goes on elsewhere in the file.

It is made on saving and dropped on reading, so it has one fixed form in English:
`Crossing: goes on in section 3 after 1. Nf3 d5 2. g3.`
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from trainer.repertoire.graph import Edge, Section

CROSSING_START: Final = "Crossing: goes on in section "

#: Longer orders are named by their last moves only, so that the file stays linear in its depth.
LONGEST_ORDER: Final = 30

_AFTER: Final = re.compile(re.escape(CROSSING_START) + r"\d+ after (?:\S+ )*?(\S+)\.")
_FROM_ROOT: Final = re.compile(re.escape(CROSSING_START) + r"\d+ from its first position\.")


def crossing_comment(section: int, sans: Sequence[str], *, ply: int, cut: bool) -> str:
    """The comment that names a place: section number from 1, and the moves that lead there.

    `ply` is the half-move number of the first of `sans` (0 is White's first move); `cut` tells
    that earlier moves were left out.
    """
    if not sans:
        return f"{CROSSING_START}{section} from its first position."
    words: list[str] = ["..."] if cut else []
    for index, san in enumerate(sans):
        number = (ply + index) // 2 + 1
        if (ply + index) % 2 == 0:
            words.append(f"{number}.")
        elif index == 0:
            words.append(f"{number}...")
        words.append(san)
    return f"{CROSSING_START}{section} after {' '.join(words)}."


def is_crossing_comment(paragraph: str, edge: Edge, sections: Sequence[Section]) -> bool:
    """Whether a comment after `edge` is one of ours and still names this position.

    The named move has to lead to it; the section's number may have changed in a text editor.
    """
    match = _AFTER.fullmatch(paragraph)
    if match is not None:
        return any(entry.san == match[1] for entry in edge.child.entries)
    if _FROM_ROOT.fullmatch(paragraph):
        return any(section.root is edge.child for section in sections)
    return False
