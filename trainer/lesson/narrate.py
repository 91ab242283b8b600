"""A first draft of notes for a game, in plain sentences that a coach edits.

Each sentence carries the fact it was made from; nothing is said that was not computed. What other
parts of the program know (an engine's better moves, a novelty) is passed in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import chess

from trainer.lesson.breaks import breaks
from trainer.lesson.facts import (
    BreakFact,
    DepartureFact,
    EndFact,
    Fact,
    KeptFact,
    MomentFact,
    NoveltyFact,
    OpeningFact,
    ReentryFact,
    StructureFact,
    TrickFact,
)
from trainer.lesson.game import LessonGame
from trainer.lesson.handout.model import Lines, Step
from trainer.lesson.moments import Better
from trainer.lesson.structures import StructureBook
from trainer.lesson.trick_text import side_name, trick_sentence, wins_text
from trainer.lesson.tricks import Trick, forbidden_captures
from trainer.notation.display import sentence_list
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.openings import OpeningBook

#: Tricks that win less than this, in pawns, are not worth a sentence.
_WORTH_TELLING = 2
#: Names change too often in so many half-moves to tell of each.
_FIRST_MOVES = 4


@dataclass(frozen=True, eq=False)
class Sentence:
    """One sentence of a draft. It stands behind the half-move `ply`, 0 before the first.

    `edited` tells that a coach has changed the words; the fact stays the one it came from, None
    where the sentence is the coach's own. `told` are the words as they were computed.
    """

    text: str
    ply: int
    fact: Fact | None
    edited: bool = False
    told: str = ""


@dataclass(frozen=True, eq=False)
class Draft:
    """Notes for a game, in the order of its moves."""

    game: LessonGame
    sentences: tuple[Sentence, ...]

    def with_text(self, number: int, text: str) -> Draft:
        """The draft with other words in one sentence; empty words take it out."""
        if not text.strip():
            return self.without(number)
        kept = list(self.sentences)
        edited = text.strip() != kept[number].told
        kept[number] = replace(kept[number], text=text.strip(), edited=edited)
        return Draft(self.game, tuple(kept))

    def without(self, number: int) -> Draft:
        """The draft without one sentence."""
        return Draft(self.game, (*self.sentences[:number], *self.sentences[number + 1 :]))

    def with_own(self, ply: int, text: str, *, after: int | None = None) -> Draft:
        """The draft with a sentence of the coach's own behind the half-move `ply`.

        It stands last there, or right behind the sentence number `after` of the same half-move.
        """
        own = Sentence(text.strip(), ply, None, edited=True)
        if after is not None and self.sentences[after].ply == ply:
            return Draft(
                self.game, (*self.sentences[: after + 1], own, *self.sentences[after + 1 :])
            )
        return Draft(self.game, tuple(sorted((*self.sentences, own), key=lambda one: one.ply)))

    def moved(self, number: int, by: int) -> tuple[Draft, int]:
        """The draft with a sentence one place up (`by` -1) or down (1), and its number then.

        Sentences of the same half-move change places. Beyond them it goes on only if it is the
        coach's own, behind the half-move before or after: what was computed stands at its move.
        """
        one, there = self.sentences[number], number + by
        kept = list(self.sentences)
        if 0 <= there < len(kept) and kept[there].ply == one.ply:
            kept[number], kept[there] = kept[there], one
            return Draft(self.game, tuple(kept)), there
        if one.fact is not None or not 0 <= one.ply + by <= len(self.game.moves):
            return self, number
        # It is the first or the last of its move, so its place in the row stays.
        kept[number] = replace(one, ply=one.ply + by)
        return Draft(self.game, tuple(kept)), number

    def with_tricks(self, judged: Sequence[Trick]) -> Draft:
        """The draft with the word of an engine on its tricks, in the order of `tricks`.

        What the engine does not agree with is taken out, unless a coach has made it his own.
        """
        words = iter(judged)
        kept = []
        for one in self.sentences:
            if isinstance(one.fact, TrickFact):
                trick = next(words)
                if trick.confirmed is False and not one.edited:
                    continue
                one = replace(one, fact=replace(one.fact, trick=trick))
            kept.append(one)
        return Draft(self.game, tuple(kept))

    @property
    def tricks(self) -> list[Trick]:
        """The tricks that sentences tell of."""
        return [one.fact.trick for one in self.sentences if isinstance(one.fact, TrickFact)]

    def at(self, ply: int) -> tuple[Sentence, ...]:
        """The sentences behind a half-move."""
        return tuple(one for one in self.sentences if one.ply == ply)

    def lines(self, *, flipped: bool = False) -> Lines:
        """The moves with the sentences as their notes, but those before the first move."""
        steps = tuple(
            Step(
                move,
                san,
                None if number == 0 else number - 1,
                comments=tuple(one.text for one in self.at(number + 1)),
            )
            for number, (move, san) in enumerate(zip(self.game.moves, self.game.sans, strict=True))
        )
        game = self.game
        tags = (
            *(("Event", game.event), ("Date", game.date), ("White", game.white)),
            *(("Black", game.black), ("Result", game.result)),
        )
        known = tuple((name, value) for name, value in tags if value)
        return Lines(game.boards[0], steps, flipped, known)


def narrate(
    game: LessonGame,
    structures: StructureBook,
    *,
    openings: OpeningBook | None = None,
    repertoire: Repertoire | None = None,
    novelty: NoveltyFact | None = None,
    better: Iterable[Better] = (),
    tricks: bool = True,
    cancelled: Callable[[], bool] | None = None,
) -> Draft:
    """The draft for a game.

    `repertoire` tells departures, `novelty` and `better` are facts from elsewhere. Looking for
    tricks takes some 30 ms a move; `cancelled` is asked at each.
    """
    facts: list[Fact] = []
    if openings is not None:
        facts.extend(_openings(game, openings))
    facts.extend(_structures(game, structures))
    if repertoire is not None:
        facts.extend(_departures(game, repertoire))
    facts.extend(_breaks(game))
    if tricks:
        facts.extend(_tricks(game, cancelled))
    # Where no game came so far before, the next move is no news.
    if novelty is not None and novelty.games:
        facts.append(novelty)
    facts.extend(MomentFact(one.ply, one) for one in better)
    facts.append(_end(game))
    facts.sort(key=lambda fact: fact.ply)
    told = ((_told(game, fact), fact) for fact in facts)
    sentences = (Sentence(text, fact.ply, fact, told=text) for text, fact in told)
    return Draft(game, tuple(one for one in sentences if one.text))


def _openings(game: LessonGame, book: OpeningBook) -> Iterator[OpeningFact]:
    """The name of the opening where it changes its family, and its last name."""
    named = [
        (ply, opening)
        for ply, board in enumerate(game.boards)
        if (opening := book.name_of(board)) is not None
    ]
    if not named:
        return
    first = told = named[0][1]
    for ply, opening in named[:-1]:
        if ply > _FIRST_MOVES and opening.family != told.family:
            yield OpeningFact(ply, opening, first if first.family != opening.family else None)
            told = opening
    ply, last = named[-1]
    yield OpeningFact(ply, last, first if last.family not in (first.family, told.family) else None)


def _structures(game: LessonGame, book: StructureBook) -> Iterator[StructureFact]:
    for stretch in book.along(game.boards):
        # What stands for two moves only was a stage on the way.
        if stretch.until is not None and stretch.until - stretch.since < 4:
            continue
        yield StructureFact(stretch.since, stretch.found, began=True)
        if stretch.until is not None:
            yield StructureFact(stretch.until, stretch.found, began=False)


def _departures(game: LessonGame, repertoire: Repertoire) -> Iterator[Fact]:
    """The first move that leaves the repertoire (by position), and the first way back."""
    known = [repertoire.node_at(board) for board in game.boards]
    left = False
    for ply in range(1, len(known)):
        before, after = known[ply - 1], known[ply]
        if not left and before is not None and after is None:
            side = before.turn
            moves = tuple(edge.san for edge in before.edges)
            yield DepartureFact(ply, side, side == repertoire.side, moves)
            left = True
        elif left and after is not None:
            yield ReentryFact(ply)
            return


def _breaks(game: LessonGame) -> Iterator[BreakFact]:
    for ply, move in enumerate(game.moves, start=1):
        board = game.boards[ply - 1]
        if board.piece_type_at(move.from_square) != chess.PAWN or ply < 9:
            continue
        for one in breaks(board, board.turn):
            if one.now and (one.start, one.target) == (move.from_square, move.to_square):
                yield BreakFact(ply, one)


def _tricks(game: LessonGame, cancelled: Callable[[], bool] | None) -> Iterator[TrickFact]:
    """Tricks that stood after a move, each told where it began to stand."""
    open_tricks: dict[tuple[object, ...], tuple[int, int, Trick]] = {}
    for ply, board in enumerate(game.boards[:-1]):
        if cancelled is not None and cancelled():
            return
        if ply < 4 or board.is_check():
            continue
        found = forbidden_captures(board)
        for trick in found:
            if trick.wins < _WORTH_TELLING:
                continue
            key = (trick.kind, trick.side, trick.taking, trick.answer)
            since, last, first = open_tricks.get(key, (ply, ply, trick))
            if key in open_tricks and ply - last > 2:
                yield TrickFact(since, last, first)
                since, first = ply, trick
            open_tricks[key] = (since, ply, first)
    for since, last, trick in open_tricks.values():
        yield TrickFact(since, last, trick)


def _end(game: LessonGame) -> EndFact:
    last = game.boards[-1]
    return EndFact(len(game.moves), game.result, last.is_checkmate(), last.is_stalemate())


def _told(game: LessonGame, fact: Fact) -> str:
    """The sentence for a fact; empty where there is nothing to say."""
    text = ""
    match fact:
        case OpeningFact():
            text = _opening(fact)
        case StructureFact():
            text = _structure(fact)
        case BreakFact():
            text = _break(fact)
        case TrickFact():
            text = _trick(game, fact)
        case DepartureFact():
            text = _departure(fact)
        case ReentryFact():
            text = "The position is in the repertoire again."
        case NoveltyFact():
            text = (
                f"A novelty against the reference base: {fact.games} earlier games reached the "
                "position before, none this one."
            )
        case MomentFact():
            text = _moment(game, fact)
        case EndFact():
            text = _ended(fact)
        case KeptFact():
            text = fact.told
    return text


def _opening(fact: OpeningFact) -> str:
    if fact.before is None:
        return f"The opening is the {fact.opening}."
    return f"By position this is now the {fact.opening}; it began as the {fact.before.family}."


def _structure(fact: StructureFact) -> str:
    name = fact.found.name
    if not fact.began:
        return f"The pawns change: no longer the {name}."
    sides = []
    for side in chess.COLORS:
        targets = fact.found.breaks(side)
        if targets:
            names = sentence_list(map(chess.square_name, targets))
            sides.append(f"{side_name(side)}'s usual breaks go to {names}")
    more = f" {'; '.join(sides)}." if sides else ""
    return f"The structure is now the {name}.{more}"


def _break(fact: BreakFact) -> str:
    one = fact.played
    targets = sentence_list(map(chess.square_name, one.challenges))
    counted = f"{one.support} for it and {one.opposition} against it"
    held = "" if not one.loses else f", at the cost of {one.loses} by exchange"
    pawns = "pawns" if len(one.challenges) > 1 else "pawn"
    return (
        f"{side_name(one.side)} breaks with {one.name} against the {pawns} on {targets}, "
        f"{counted}{held}."
    )


def _trick(game: LessonGame, fact: TrickFact) -> str:
    sentence = trick_sentence(fact.trick)
    value = wins_text(fact.trick)
    taken = fact.trick.taking is not None and (
        fact.until < len(game.moves) and game.moves[fact.until] == fact.trick.taking
    )
    end = " It was taken all the same." if taken else ""
    return f"{sentence} It wins {value}.{end}" if value != "mate" else f"{sentence}{end}"


def _departure(fact: DepartureFact) -> str:
    if not fact.known:
        return "Here the repertoire ends."
    who = "the player" if fact.player else "the opponent"
    word = "prepared" if fact.player else "known"
    known = sentence_list(fact.known)
    return f"Here {who} leaves the repertoire, where {known} {_be(fact.known)} {word}."


def _be(moves: tuple[str, ...]) -> str:
    return "was" if len(moves) == 1 else "were"


def _moment(game: LessonGame, fact: MomentFact) -> str:
    board = game.boards[fact.ply - 1]
    names = [board.san(move) for move in fact.better.best]
    # What was played may be as good as the best without being it.
    if not names or game.moves[fact.ply - 1] in fact.better.best:
        return ""
    why = f" {fact.better.why}" if fact.better.why else ""
    played = game.sans[fact.ply - 1]
    return f"A moment: {names[0]} was better here than {played}.{why}"


def _ended(fact: EndFact) -> str:
    if fact.mate:
        return "Mate."
    if fact.stalemate:
        return "Stalemate."
    return {
        "1-0": "White won.",
        "0-1": "Black won.",
        "1/2-1/2": "The game was drawn.",
    }.get(fact.result, "")
