"""What the place Lesson looks up, off the thread of the window. No Qt."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import chess

from trainer.errors import StemlineError
from trainer.games.players import count_names, find_player
from trainer.lesson.build import order_text, since_text
from trainer.lesson.features import Features, features
from trainer.lesson.game import LessonGame
from trainer.lesson.games import GameCounter, GameStructure, games_of
from trainer.lesson.shares import StructureShare, structure_shares
from trainer.lesson.structure_file import load_structures
from trainer.lesson.structures import Found, StructureBook
from trainer.lesson.tricks import Trick, standing_tricks
from trainer.repertoire.workshop.games import Game, games_in
from trainer.storage.settings import Settings

if TYPE_CHECKING:
    from trainer.lesson.facts import NoveltyFact
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node


@dataclass(frozen=True, eq=False)
class Structures:
    """The structures of a repertoire, those met most often first."""

    book: StructureBook
    shares: tuple[StructureShare, ...]
    side: chess.Color


@dataclass(frozen=True, eq=False)
class PositionFacts:
    """One position of a structure: where it is, how it is reached, what can be told of it."""

    board: chess.Board
    found: tuple[Found, ...]
    features: Features
    tricks: tuple[Trick, ...]
    order: str
    #: The move by which the structure that is looked at came about in that order, or "".
    since: str


@dataclass(frozen=True)
class GameTitle:
    """A game of a file, to be chosen: its number from 1, and what it is called."""

    number: int
    title: str


def find_structures(course: Course) -> Structures:
    """The structures of the open repertoire with their shares."""
    book = load_structures()
    shares = structure_shares(course.arrays, book, course.reply_shares)
    return Structures(book, tuple(shares), course.side)


class OwnGames:
    """The structures of the player's own games with one colour, counted a little at a time.

    All games count where the player is not named. A file that cannot be read ends the count; the
    place Games tells of it.
    """

    def __init__(self, settings: Settings, side: chess.Color, book: StructureBook) -> None:
        self._settings = settings
        self._side = side
        self._book = book
        self._counter: GameCounter | None = None
        self._games: Iterator[tuple[Path, Game]] = iter(())

    def go_on(self, seconds: float) -> bool:
        """Count for so long; whether there is more to count."""
        try:
            if self._counter is None:
                self._begin()
                return True
            return self._count(self._counter, time.monotonic() + seconds)
        except StemlineError:
            return False

    def result(self) -> dict[str, GameStructure]:
        """What was counted so far, by the key of the structure."""
        found = [] if self._counter is None else self._counter.result()
        return {one.found.key: one for one in found}

    def _begin(self) -> None:
        from trainer.ui.games.shelf import Sources

        settings = self._settings
        files = tuple(Path(name) for name in settings.games_files)
        folders = tuple(Path(name) for name in settings.games_folders)
        stamps = Sources(files, folders).stamps()
        paths = [path for path, stamp in stamps.items() if stamp is not None]
        self._counter = GameCounter(self._book, _who(settings.player or "", self._side, paths))
        self._games = games_of(paths)

    def _count(self, counter: GameCounter, end: float) -> bool:
        for path, game in self._games:
            counter.take(path, game)
            if time.monotonic() > end:
                return True
        return False


def _who(player: str, side: chess.Color, paths: list[Path]) -> Callable[[str, str], bool] | None:
    if not player:
        return None
    names = count_names(
        (game.name(chess.WHITE), game.name(chess.BLACK))
        for path in paths
        for game in games_in(path, 0, any_start=True)
    )
    known = find_player(player, names)
    return lambda white, black: (white if side else black) in known


def look_at(course: Course, node: Node, found: Found, book: StructureBook) -> PositionFacts:
    """What can be told of a position of the repertoire that has the structure `found`."""
    board = node.board()
    return PositionFacts(
        board,
        book.find(board),
        features(board),
        tuple(standing_tricks(board)),
        order_text(course.repertoire, node),
        since_text(course.repertoire, node, found, book),
    )


def novelty_of(base_file: Path, path: Path, number: int) -> NoveltyFact | None:
    """What was new in game `number` of a file against the base.

    Raises the `StemlineError` of what cannot be read.
    """
    from trainer.games.base.store import ReferenceBase
    from trainer.games.novelty import novelty_in
    from trainer.lesson.facts import NoveltyFact

    with ReferenceBase(base_file) as base:
        new = novelty_in(base, path, number)
    return None if new is None else NoveltyFact(new.ply, new.earlier_games)


def titles_of(path: Path) -> list[GameTitle]:
    """The games of a file; those without moves are left out."""
    titles = []
    for game in games_in(path, 1, any_start=True):
        if not game.moves:
            continue
        names = [game.name(chess.WHITE) or "White", game.name(chess.BLACK) or "Black"]
        date = game.tags.get("Date", "").strip()
        when = "" if not date or date.startswith("?") else f", {date}"
        titles.append(GameTitle(game.number, f"{game.number}  {' – '.join(names)}{when}"))
    return titles


def outline(game: LessonGame) -> str:
    """The moves of a game as running text, to choose moments from."""
    words = []
    for ply, san in enumerate(game.sans, start=1):
        board = game.boards[ply - 1]
        words.append(f"{board.fullmove_number} {san}" if board.turn or ply == 1 else san)
    return " ".join(words)
