"""What the place Games shows of many games: gathered off the UI thread, without Qt."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from trainer.games.departures import By, Walk
from trainer.games.players import AmbiguousNameError, FoundPlayer, UnknownPlayerError
from trainer.games.reading import PlayedGame
from trainer.games.sentences import move_text
from trainer.games.statistics import (
    LeavingPlace,
    MonthDepth,
    NeverMet,
    depth_by_month,
    leaving_places,
    never_met,
)
from trainer.games.survey import survey_of
from trainer.games.verdicts import Learnt, Verdict, verdicts
from trainer.memory.game_slips import GameSlip
from trainer.notation.display import shown_san
from trainer.repertoire.graph import Node, Repertoire
from trainer.ui.games.columns import Column
from trainer.ui.tasks import TaskControl

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.notation.display import Notation

#: Games held against the repertoire between two looks at whether to stop.
_GAMES_PER_LOOK = 200


class Kind(StrEnum):
    """Which games a list shows."""

    ALL = "All games"
    PLAYER = "You left known lines"
    FORGOTTEN = "You forgot a move"
    OPPONENT = "The opponent left"
    LINE_END = "The line ended"
    CAME_BACK = "Came back by another order"
    OTHER_COLOUR = "Your other colour"


@dataclass(frozen=True, eq=False, slots=True)
class GameEntry:
    """One game of the list; `verdicts` belong to its departures, `spoken` is what is searched.

    `order` has for each `Column` what its cells are sorted by: made with the entry, off the UI
    thread, since sorting ten thousand games would else have to ask each of them.
    """

    walk: Walk
    verdicts: tuple[Verdict | None, ...]
    own_colour: bool
    spoken: str
    order: tuple[Any, ...] = field(init=False)

    def __post_init__(self) -> None:
        walk, game, departure = self.walk, self.game, self.walk.departure
        left = ("", 0)
        if departure is not None:
            left = ("line" if departure.at_line_end else str(departure.by), departure.ply)
        order = {
            Column.DATE: game.when.sort_key,
            Column.WHITE: game.white.casefold(),
            Column.BLACK: game.black.casefold(),
            Column.OPPONENT: self.opponent.casefold(),
            Column.RESULT: game.result,
            Column.KNOWN: walk.plies_known,
            Column.LEFT: left,
        }
        object.__setattr__(self, "order", tuple(order[column] for column in Column))

    @property
    def game(self) -> PlayedGame:
        """The game."""
        return self.walk.game

    @property
    def opponent(self) -> str:
        """The name of the other player."""
        return self.game.name(not self.walk.player_side)

    def known_text(self, notation: Notation) -> str:
        """Up to which move the game was known, in as few words as a column needs."""
        walk = self.walk
        if walk.deepest is None:
            return "not at all"
        if not walk.plies_known:
            return "from later on" if walk.reentries else "not at all"
        if walk.departure is None:
            return "all of it"
        return move_text(walk.game, walk.plies_known, notation)

    def left_text(self, notation: Notation) -> str:
        """Who left with what: `you: 9 h3, forgotten`."""
        departure = self.walk.departure
        if departure is None:
            return ""
        move = move_text(self.game, departure.ply, notation, san=departure.move)
        if self.walk.named and not self.own_colour:
            return f"your other colour: {move}"
        if departure.at_line_end:
            return f"line ended: {move}"
        if not self.walk.named:
            return f"{'White' if self.game.mover(departure.ply) else 'Black'}: {move}"
        if departure.by is By.OPPONENT:
            return f"opponent: {move}"
        told = self.verdicts[0]
        return f"you: {move}" + (f", {_SHORT[told]}" if told is not None else "")

    def is_kind(self, kind: Kind) -> bool:
        """Whether the game belongs to a kind."""
        return kind in self.kinds

    @property
    def kinds(self) -> frozenset[Kind]:
        """All kinds that the game belongs to."""
        kinds = {Kind.ALL}
        departure = self.walk.departure
        if not self.own_colour:
            kinds.add(Kind.OTHER_COLOUR)
        if self.walk.reentries:
            kinds.add(Kind.CAME_BACK)
        if Verdict.FORGOTTEN in self.verdicts:
            kinds.add(Kind.FORGOTTEN)
        # Nothing is prepared for the other colour, so nobody left anything there.
        if departure is not None and self.own_colour:
            if departure.at_line_end:
                kinds.add(Kind.LINE_END)
            else:
                kinds.add(Kind.PLAYER if departure.by is By.PLAYER else Kind.OPPONENT)
        return frozenset(kinds)


_SHORT = {
    Verdict.FORGOTTEN: "forgotten",
    Verdict.NOT_YET_LEARNT: "not learnt yet",
    Verdict.ANOTHER_DOOR: "another way in",
}


@dataclass(frozen=True, eq=False)
class ForgottenDecision:
    """A decision forgotten at the board: each time with the game and the half-move."""

    node: Node
    times: tuple[tuple[GameEntry, int], ...]


@dataclass(frozen=True, eq=False)
class Gathered:
    """All that is shown of some games against one repertoire.

    `entries` has the player's games, the newest first. The figures over many games are of those
    with the colour of the repertoire. `trouble` is a sentence about the player's name; then no
    game is shown. `twice` counts games that stand in the files more than once.
    """

    entries: tuple[GameEntry, ...]
    names: Counter[str]
    player: FoundPlayer | None
    others: int
    twice: int
    trouble: str
    places: tuple[LeavingPlace, ...]
    months: tuple[MonthDepth, ...]
    unmet: int
    missed: tuple[NeverMet, ...]
    forgotten: tuple[ForgottenDecision, ...]
    slips: tuple[GameSlip, ...]
    undated_slips: int
    choices: tuple[str, ...] = ()


def gather(
    course: Course, games: Iterable[PlayedGame], player: str, control: TaskControl
) -> Gathered:
    """Hold games against a course's repertoire; `player` "" takes all games."""
    repertoire, learnt = course.repertoire, course.learnt()
    single, twice = without_repeats(games)
    trouble, choices = "", ()
    try:
        found = survey_of(repertoire, single, player, cancelled=control.cancelled)
    except (AmbiguousNameError, UnknownPlayerError) as error:
        trouble, choices = str(error), tuple(getattr(error, "choices", ()))
        found = survey_of(repertoire, [], "")
    entries: list[GameEntry] = []
    for number, walk in enumerate(found.walks):
        if number % _GAMES_PER_LOOK == 0 and control.cancelled():
            break
        entries.append(_entry(repertoire, walk, learnt))
    entries.sort(key=lambda entry: entry.game.when.sort_key, reverse=True)
    own = [entry.walk for entry in entries if entry.own_colour]
    unmet, missed = never_met(repertoire, own)
    forgotten = _forgotten(repertoire, entries)
    slips, undated = _slips(forgotten)
    return Gathered(
        entries=tuple(entries),
        names=count_of(single),
        player=found.player,
        others=found.others,
        twice=twice,
        trouble=trouble,
        places=tuple(leaving_places(repertoire, own)),
        months=tuple(depth_by_month(own)),
        unmet=unmet if own else 0,
        missed=tuple(missed),
        forgotten=forgotten,
        slips=slips,
        undated_slips=undated,
        choices=choices,
    )


def count_of(games: Iterable[PlayedGame]) -> Counter[str]:
    """How many games each spelling of a name has."""
    names: Counter[str] = Counter()
    for game in games:
        names.update(name for name in {game.white, game.black} if name)
    return names


def without_repeats(games: Iterable[PlayedGame]) -> tuple[list[PlayedGame], int]:
    """Each game once, whatever files it stands in, and how many were left out for that."""
    seen: set[tuple[int, str]] = set()
    single: list[PlayedGame] = []
    count = 0
    for game in games:
        count += 1
        mark = (game.identity, game.sans)
        if mark not in seen:
            seen.add(mark)
            single.append(game)
    return single, count - len(single)


def _entry(repertoire: Repertoire, walk: Walk, learnt: Learnt) -> GameEntry:
    game = walk.game
    judged = verdicts(repertoire, walk, learnt)
    own = walk.player_side == repertoire.side
    words = [game.white, game.black, game.event, game.site, game.date, game.result, game.round]
    words += [departure.move for departure in walk.departures]
    return GameEntry(walk, judged, own, " ".join(words).casefold())


def _forgotten(
    repertoire: Repertoire, entries: Sequence[GameEntry]
) -> tuple[ForgottenDecision, ...]:
    times: dict[int, list[tuple[GameEntry, int]]] = defaultdict(list)
    for entry in entries:
        for departure, judged in zip(entry.walk.departures, entry.verdicts, strict=True):
            if judged is Verdict.FORGOTTEN:
                times[departure.key].append((entry, departure.ply))
    found = [ForgottenDecision(repertoire.nodes[key], tuple(one)) for key, one in times.items()]
    found.sort(key=lambda one: -len(one.times))
    return tuple(found)


def _slips(forgotten: Sequence[ForgottenDecision]) -> tuple[tuple[GameSlip, ...], int]:
    """What memory is to be told, and how many slips it is not told for want of a day."""
    slips: list[GameSlip] = []
    undated = 0
    for decision in forgotten:
        main = decision.node.edges[0].move.uci()
        for entry, ply in decision.times:
            day = entry.game.when.date
            if day is None:
                undated += 1
                continue
            played = decision.node.board().parse_san(entry.game.moves()[ply - 1]).uci()
            slips.append(GameSlip(decision.node.key, main, played, day, entry.game.identity))
    return tuple(slips), undated


def place_heading(place: LeavingPlace, notation: Notation) -> str:
    """`9…h6 (3), 9…a5 (1)`: what was played there."""
    game, ply = place.example, place.ply
    words = []
    for san, count in place.moves[:3]:
        text = move_text(game, ply, notation, san=san) if not words else shown_san(san, notation)
        words.append(f"{text} ({count})" if place.games > 1 else text)
    more = len(place.moves) - 3
    return ", ".join(words) + (f" and {more} more" if more > 0 else "")
