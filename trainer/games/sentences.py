"""What is said about a game held against the repertoire: for the window and the command line."""

from __future__ import annotations

from collections.abc import Sequence

import chess

from trainer.games.departures import By, Departure, ReEntry, Walk
from trainer.games.novelty import MoveFigures, NoveltyFound
from trainer.games.reading import PlayedGame
from trainer.games.verdicts import Verdict
from trainer.notation.display import Notation, numbered, sentence_list, shown_san
from trainer.notation.numbers import count

#: Of more prepared moves than this the first are named.
_NAMED = 5


def move_text(
    game: PlayedGame, ply: int, notation: Notation = "letters", san: str | None = None
) -> str:
    """The half-move `ply` of a game with its number, `9…h6`; or `san` in its place."""
    text = san if san is not None else game.moves()[ply - 1]
    return numbered([text], turn=game.mover(ply), number=game.number_of(ply), notation=notation)


def order_text(game: PlayedGame, plies: int) -> str:
    """The first half-moves of a game, `1 Nf3 d5 2 g3`, or `the start` where there are none."""
    sans = game.moves()[:plies]
    return numbered(sans, turn=game.first_turn, number=game.first_number) or "the start"


def players_text(game: PlayedGame) -> str:
    """`Linden, Mara – Sandlewick, Uta`."""
    return f"{game.white or 'White'} – {game.black or 'Black'}"


def known_sentence(walk: Walk, notation: Notation = "letters") -> str:
    """How far the game was known from its beginning."""
    game = walk.game
    if walk.deepest is None:
        return "No position of this game is in the repertoire."
    if not walk.known_start:
        first = walk.reentries[0]
        return (
            f"This game begins outside the repertoire and comes in with "
            f"{move_text(game, first.ply, notation)}."
        )
    if walk.departure is None:
        return "Every position of this game is in the repertoire."
    if walk.plies_known == 0:
        return "The first move leaves the repertoire."
    return f"Known up to {move_text(game, walk.plies_known, notation)}."


def departure_sentence(
    walk: Walk, departure: Departure, verdict: Verdict | None, notation: Notation = "letters"
) -> str:
    """Who left known lines with what, and what was prepared instead."""
    game, ply = walk.game, departure.ply
    move = move_text(game, ply, notation)
    if departure.at_line_end:
        last = f"with {move_text(game, ply - 1, notation)}" if ply > 1 else "at the start"
        return f"The prepared line ends {last}; then came {move}."
    you = departure.by is By.PLAYER and walk.named
    who = "You" if you else _colour(game.mover(ply))
    sentence = f"{who} left with {move}; {_prepared(game, departure, notation)}"
    if departure.by is By.OPPONENT:
        return f"{sentence}."
    return f"{sentence}{_WORDS.get(verdict, '') if verdict is not None else ''}."


_WORDS = {
    Verdict.FORGOTTEN: ", and you had learnt it",
    Verdict.NOT_YET_LEARNT: ", which you had not learnt yet",
    Verdict.ANOTHER_DOOR: ", but this was only another way in",
}


def _prepared(game: PlayedGame, departure: Departure, notation: Notation) -> str:
    named = [shown_san(san, notation) for san in departure.prepared[:_NAMED]]
    named[0] = move_text(game, departure.ply, notation, san=departure.prepared[0])
    more = len(departure.prepared) - len(named)
    if more:
        named.append(f"{more} more")
    if departure.by is By.OPPONENT:
        return f"known {'was' if len(named) == 1 else 'were'} {sentence_list(named)}"
    return f"prepared {'was' if len(named) == 1 else 'were'} {sentence_list(named)}"


def reentry_sentence(walk: Walk, entry: ReEntry, notation: Notation = "letters") -> str:
    """Where the game came back."""
    return f"Known again after {move_text(walk.game, entry.ply, notation)}."


def walk_sentences(
    walk: Walk, verdicts: Sequence[Verdict | None], notation: Notation = "letters"
) -> list[str]:
    """All of it, in the order of the game; `verdicts` belong to its departures."""
    told: list[tuple[int, str]] = [
        (departure.ply, departure_sentence(walk, departure, verdict, notation))
        for departure, verdict in zip(walk.departures, verdicts, strict=True)
    ]
    begin = 0 if walk.known_start else 1
    told += [
        (entry.ply, reentry_sentence(walk, entry, notation)) for entry in walk.reentries[begin:]
    ]
    told.sort()
    return [known_sentence(walk, notation), *(sentence for _, sentence in told)]


def novelty_sentences(found: NoveltyFound, notation: Notation = "letters") -> list[str]:
    """What was new against the games of a reference base, whatever the repertoire says."""
    game, novelty = found.game, found.novelty
    if not found.dated:
        return ["The year of this game is not known, so no game counts as earlier."]
    if novelty is None:
        return ["Nothing is new as deep as it goes."]
    move = move_text(game, novelty.ply, notation, san=novelty.move)
    if not novelty.earlier_games:
        told = [f"{move} is new, and so was the position before it."]
    else:
        times = "once" if novelty.earlier_games == 1 else f"{novelty.earlier_games:,} times"
        told = [f"{move} is new; the position before it had been reached {times}."]
    told += [_alternative(game, novelty.ply, one, notation) for one in found.alternatives[:_NAMED]]
    if len(found.alternatives) > _NAMED:
        told.append(f"{len(found.alternatives) - _NAMED} more moves had been played there.")
    if found.undated:
        one = found.undated == 1
        told.append(
            f"{found.undated:,} {'game' if one else 'games'} with that position "
            f"{'has' if one else 'have'} no year and {'counts' if one else 'count'} for nothing."
        )
    return told


def _alternative(game: PlayedGame, ply: int, one: MoveFigures, notation: Notation) -> str:
    """`9…h6 in 3 games (+1 =1 −1), first in …`: results as White sees them."""
    move = move_text(game, ply, notation, san=one.san)
    stem = f", first in {one.first_game}" if one.first_game else ""
    return f"{move} in {count(one.games, 'game')} (+{one.white} ={one.draws} −{one.black}){stem}."


def _colour(side: chess.Color) -> str:
    return "White" if side == chess.WHITE else "Black"
