"""Replies for strangers, as known here: played in the base, or near-best by the engine."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import StemlineError

if TYPE_CHECKING:
    import chess

    from trainer.games.base.store import ReferenceBase
    from trainer.ui.engine.adviser import Adviser

#: A reply of fewer games than this share, or than so many, is an accident and no fashion.
_LEAST_SHARE = 0.03
_LEAST_GAMES = 2


class KnownReplies:
    """A source of strangers; asked in the window's thread, it looks up and never searches."""

    def __init__(self, adviser: Adviser) -> None:
        self._adviser = adviser
        self._base: ReferenceBase | None = None
        self._path: Path | None = None

    def __call__(self, board: chess.Board) -> Sequence[tuple[chess.Move, float]]:
        """Replies with weights; nothing where neither the base nor the engine knows any."""
        from trainer.engine.plausible import joined

        return joined(self._played, self._adviser.near_best)(board)

    def _played(self, board: chess.Board) -> Sequence[tuple[chess.Move, float]]:
        try:
            base = self._opened()
            moves = () if base is None else base.moves(board)
            least = max(_LEAST_GAMES, _LEAST_SHARE * sum(move.games for move in moves))
            return [
                (board.parse_san(move.san), float(move.games))
                for move in moves
                if move.games >= least
            ]
        except (StemlineError, ValueError):
            # Without a base the drill goes on; the place Games says what is wrong with it.
            return ()

    def _opened(self) -> ReferenceBase | None:
        chosen = self._adviser.settings.base_file
        path = Path(chosen) if chosen else None
        if path != self._path:
            self.close()
            self._path = path
            if path is not None:
                from trainer.games.base.store import ReferenceBase

                self._base = ReferenceBase(path)
        return self._base

    def close(self) -> None:
        """Close the base."""
        if self._base is not None:
            self._base.close()
        self._base = self._path = None
