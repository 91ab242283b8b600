"""`stemline games` as JSON and in words."""

from __future__ import annotations

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
from trainer.games.statistics import leaving_places
from trainer.games.survey import Survey
from trainer.games.verdicts import Learnt, verdicts
from trainer.repertoire.graph import Repertoire

_PLACES_NAMED = 8


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
    lines += _summary(repertoire, found)
    return "\n".join(lines)


def _summary(repertoire: Repertoire, found: Survey) -> list[str]:
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
        moves = ", ".join(f"{san} ({count})" for san, count in place.moves[:4])
        score = "" if place.score is None else f", {place.score:.0%} of the points"
        lines.append(f"  after {before}: {place.games} games by {place.who}: {moves}{score}")
    return lines
