"""What many games tell: where they leave, how deep they stay, what never occurs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trainer.games.departures import By, Departure, Walk
from trainer.games.reading import PlayedGame
from trainer.repertoire.graph import Edge, Node, Repertoire


@dataclass(frozen=True, eq=False)
class LeavingPlace:
    """A position at which games left the repertoire for the first time.

    `moves` are what was played there with how often, the most frequent first; `score` the mean
    points of the player in these games, `rating` the mean rating of his opponents, both None
    where unknown. `example` is one of the games and `ply` its half-move that left; `walks` are
    all of them.
    """

    node: Node
    by: By
    at_line_end: bool
    moves: tuple[tuple[str, int], ...]
    score: float | None
    rating: float | None
    walks: tuple[Walk, ...]

    @property
    def games(self) -> int:
        """How many games left there."""
        return len(self.walks)

    @property
    def example(self) -> PlayedGame:
        """One of the games."""
        return self.walks[0].game

    @property
    def ply(self) -> int:
        """The half-move of the example that left."""
        departure = self.walks[0].departure
        assert departure is not None
        return departure.ply

    @property
    def who(self) -> str:
        """Who left, in a word for a list: a colour where it is not known who the player is."""
        if self.named:
            return "you" if self.by is By.PLAYER else "the opponent"
        return "White" if self.example.mover(self.ply) else "Black"

    @property
    def named(self) -> bool:
        """Whether it is known who the player is."""
        return self.walks[0].named


def leaving_places(repertoire: Repertoire, walks: Iterable[Walk]) -> list[LeavingPlace]:
    """The positions of first departures, the most frequent first."""
    grouped: dict[tuple[int, By], list[Walk]] = defaultdict(list)
    for walk in walks:
        if walk.departure is not None:
            grouped[walk.departure.key, walk.departure.by].append(walk)
    places = [_place(repertoire, group) for group in grouped.values()]
    places.sort(key=lambda place: (-place.games, place.ply))
    return places


def _place(repertoire: Repertoire, walks: list[Walk]) -> LeavingPlace:
    first = _departure(walks[0])
    return LeavingPlace(
        node=repertoire.nodes[first.key],
        by=first.by,
        at_line_end=first.at_line_end,
        moves=tuple(Counter(_departure(walk).move for walk in walks).most_common()),
        score=mean(walk.game.score(walk.player_side) for walk in walks),
        rating=mean(walk.game.rating(not walk.player_side) or None for walk in walks),
        walks=tuple(walks),
    )


def _departure(walk: Walk) -> Departure:
    departure = walk.departure
    assert departure is not None
    return departure


def mean(values: Iterable[float | None]) -> float | None:
    """The mean of the values that are known, None where none is."""
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


@dataclass(frozen=True)
class MonthDepth:
    """How deep games stayed in known lines: the mean of the half-moves known.

    They are those of a month, or of `span` months of which this is the first.
    """

    year: int
    month: int
    games: int
    plies: float
    span: int = 1


def depth_by_month(walks: Iterable[Walk]) -> list[MonthDepth]:
    """The months in which games with a known month were played, in their order."""
    months: dict[tuple[int, int], list[int]] = defaultdict(list)
    for walk in walks:
        when = walk.game.when
        if when.month:
            months[when.year, when.month].append(walk.plies_known)
    return [
        MonthDepth(year, month, len(plies), sum(plies) / len(plies))
        for (year, month), plies in sorted(months.items())
    ]


def lately(months: Sequence[MonthDepth], last: int = 12) -> tuple[float, float] | None:
    """Mean half-moves known in all games, and in those of the last months; None without games."""
    if not months:
        return None
    end = months[-1].year * 12 + months[-1].month
    recent = [one for one in months if end - (one.year * 12 + one.month) < last]
    return _weighted(months), _weighted(recent)


def _weighted(months: Sequence[MonthDepth]) -> float:
    return sum(one.games * one.plies for one in months) / sum(one.games for one in months)


_SPANS = (1, 3, 6, 12, 24, 60, 120)


def joined_months(months: Sequence[MonthDepth], most: int) -> list[MonthDepth]:
    """The same games by as few months at a time as leave at most `most` entries.

    Quarters, halves and years begin where the calendar has them.
    """
    if not months:
        return []
    first, last = (one.year * 12 + one.month - 1 for one in (months[0], months[-1]))
    span = next((one for one in _SPANS if (last - first) // one < most), _SPANS[-1])
    joined: dict[int, list[MonthDepth]] = defaultdict(list)
    for month in months:
        joined[(month.year * 12 + month.month - 1) // span].append(month)
    found = []
    for number, group in joined.items():
        games = sum(one.games for one in group)
        year, month_before = divmod(number * span, 12)
        found.append(MonthDepth(year, month_before + 1, games, _weighted(group), span))
    return found


@dataclass(frozen=True, eq=False)
class NeverMet:
    """A known reply that no game met though games had the position before it.

    `passed` is how many games had that position, `positions` how many prepared positions lie
    behind the reply and were never met either. `example` is one of the games, in which the
    half-move `ply` was played in its place.
    """

    edge: Edge
    passed: int
    positions: int
    example: PlayedGame
    ply: int


def never_met(repertoire: Repertoire, walks: Sequence[Walk]) -> tuple[int, list[NeverMet]]:
    """How many positions of the repertoire never occurred, and by which replies they are missed.

    The replies that were passed by most often come first.
    """
    visits: Counter[int] = Counter()
    seen: dict[int, tuple[PlayedGame, int]] = {}
    for walk in walks:
        known = {key for key in walk.game.keys if key in repertoire.nodes}
        visits.update(known)
        for key in known - seen.keys():
            seen[key] = walk.game, walk.game.keys.index(key) + 1
    missed = [
        NeverMet(edge, visits[edge.parent.key], _behind(edge, visits), *seen[edge.parent.key])
        for edge in repertoire.edges()
        if edge.parent.turn != repertoire.side
        and edge.parent.key in visits
        and edge.child.key not in visits
    ]
    missed.sort(key=lambda one: (-one.passed, -one.positions))
    return len(repertoire.nodes) - len(visits), missed


def _behind(edge: Edge, visits: Counter[int]) -> int:
    """How many positions lie behind a move that no game had, itself included."""
    seen = {edge.child.key}
    stack = [edge.child]
    while stack:
        for onward in stack.pop().edges:
            if onward.child.key not in seen and onward.child.key not in visits:
                seen.add(onward.child.key)
                stack.append(onward.child)
    return len(seen)
