"""`stemline games` as JSON and in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import chess

from trainer.games.departures import Walk, fen_at
from trainer.games.novelty import EarlierGames, Novelty, find_novelty, look_for_novelty
from trainer.games.sentences import (
    novelty_sentences,
    order_text,
    players_text,
    walk_sentences,
)
from trainer.games.statistics import (
    depth_by_month,
    joined_months,
    lately,
    leaving_places,
    never_met,
)
from trainer.games.survey import Survey
from trainer.games.verdicts import Learnt, Verdict, verdicts
from trainer.notation.numbers import count
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.orders import order_of, shown_order

_PLACES_NAMED = 8
_SPANS_NAMED = 8


def games_report(
    repertoire: Repertoire, found: Survey, base: EarlierGames | None = None
) -> dict[str, object]:
    """The fields of `stemline games --json`."""
    return {
        "games": [
            _entry(
                repertoire, number, walk, None if base is None else find_novelty(base, walk.game)
            )
            for number, walk in zip(found.numbers, found.walks, strict=True)
        ]
    }


def _entry(
    repertoire: Repertoire, number: int, walk: Walk, novelty: Novelty | None
) -> dict[str, object]:
    game, departure = walk.game, walk.departure
    return {
        "game": number,
        "white": game.white,
        "black": game.black,
        "result": game.result,
        "player_side": "white" if walk.player_side == chess.WHITE else "black",
        "plies_known": walk.plies_known,
        "departure": None
        if departure is None
        else {
            "ply": departure.ply,
            "by": str(departure.by),
            "move": departure.move,
            "prepared": list(departure.prepared),
        },
        "reentries": [
            {"ply": entry.ply, "fen": fen_at(repertoire, entry.key)} for entry in walk.reentries
        ],
        "novelty": None
        if novelty is None
        else {
            "ply": novelty.ply,
            "move": novelty.move,
            "earlier_games": novelty.earlier_games,
        },
    }


def games_text(
    repertoire: Repertoire, found: Survey, learnt: Learnt, base: EarlierGames | None = None
) -> str:
    """Each game in a few lines, then where games leave the repertoire most."""
    lines: list[str] = []
    for number, walk in zip(found.numbers, found.walks, strict=True):
        game = walk.game
        when = f", {game.date}" if game.date else ""
        lines.append(f"{number}. {players_text(game)}, {game.result}{when}")
        judged = verdicts(repertoire, walk, learnt)
        lines += (f"   {sentence}" for sentence in walk_sentences(walk, judged))
        if base is not None:
            told = novelty_sentences(look_for_novelty(base, game))
            lines.append("   Against the base:")
            lines += (f"     {sentence}" for sentence in told)
    lines += _summary(repertoire, found, learnt)
    return "\n".join(lines)


def _summary(repertoire: Repertoire, found: Survey, learnt: Learnt) -> list[str]:
    if not found.walks:
        return ["No game of this player is in the files."]
    own = [walk for walk in found.walks if walk.player_side == repertoire.side]
    lines = ["", f"{len(found.walks):,} {'game' if len(found.walks) == 1 else 'games'}"]
    if found.others:
        lines[-1] += f", and {found.others:,} of other players left aside"
    lines[-1] += "."
    if len(own) < len(found.walks):
        lines.append(
            f"{len(found.walks) - len(own):,} of them were played with the colour that this "
            "repertoire is not for."
        )
    lines += _places(repertoire, own)
    lines += _depth(own)
    lines += _never(repertoire, own)
    lines += _forgotten(repertoire, own, learnt)
    if found.player is not None and found.player.unclear:
        names = ", ".join(f"“{name}”" for name in found.player.unclear)
        lines.append(f"Left aside, since another player may be meant: {names}.")
    return lines


def _places(repertoire: Repertoire, own: Sequence[Walk]) -> list[str]:
    places = leaving_places(repertoire, own)
    if not places:
        return []
    lines = ["", "Where games leave the repertoire most:"]
    for place in places[:_PLACES_NAMED]:
        example = place.example
        ply = place.ply
        before = order_text(example, ply - 1)
        moves = ", ".join(f"{san} ({times})" for san, times in place.moves[:4])
        facts = [f"{count(place.games, 'game')} by {place.who}: {moves}"]
        if place.score is not None:
            facts.append(f"{place.score:.0%} of the points")
        if place.rating is not None:
            facts.append(f"opponents rated {place.rating:.0f}")
        lines.append(f"  after {before}: {', '.join(facts)}")
    return lines


def _depth(walks: Sequence[Walk]) -> list[str]:
    """How deep games stayed in known lines, over so many months at a time as fit a few lines."""
    months = depth_by_month(walks)
    means = lately(months)
    if means is None:
        return []
    lines = [
        "",
        f"Known from the beginning: {means[0] / 2:.1f} moves on average, in the last twelve "
        f"months {means[1] / 2:.1f}.",
    ]
    for one in joined_months(months, _SPANS_NAMED):
        since = f"{one.year}-{one.month:02}"
        span = "" if one.span == 1 else f" and {one.span - 1} months after it"
        lines.append(f"  {since}{span}: {one.plies / 2:.1f} moves in {count(one.games, 'game')}")
    return lines


def _never(repertoire: Repertoire, walks: Sequence[Walk]) -> list[str]:
    """Which prepared positions games never had, by the replies that led to none of them."""
    if not walks:
        return []
    unmet, missed = never_met(repertoire, walks)
    lines = ["", f"{unmet:,} of the {len(repertoire.nodes):,} prepared positions never occurred."]
    for one in missed[:_PLACES_NAMED]:
        before = order_text(one.example, one.ply - 1)
        lines.append(f"  {one.edge.san} after {before}, which {count(one.passed, 'game')} reached")
    return lines


def _forgotten(repertoire: Repertoire, walks: Sequence[Walk], learnt: Learnt) -> list[str]:
    """The decisions that had been learnt and were not played at the board."""
    times: Counter[int] = Counter(
        departure.key
        for walk in walks
        for departure, judged in zip(
            walk.departures, verdicts(repertoire, walk, learnt), strict=True
        )
        if judged is Verdict.FORGOTTEN
    )
    if not times:
        return []
    lines = ["", "Forgotten at the board, most often first:"]
    for key, number in times.most_common(_PLACES_NAMED):
        node = repertoire.nodes[key]
        order = order_of(repertoire, node) or ()
        origin = order[0].parent if order else node
        before = shown_order(repertoire, origin, [edge.san for edge in order]).text()
        often = "once" if number == 1 else f"{number} times"
        lines.append(f"  {node.edges[0].san} after {before}: {often}")
    return lines
