"""Moments: positions of a game at which a student should stop and find the move."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import chess
import chess.pgn

from trainer.errors import StemlineError
from trainer.lesson.breaks import breaks
from trainer.lesson.game import LessonGame
from trainer.lesson.handout.model import Question
from trainer.lesson.trick_text import side_name, trick_sentence
from trainer.lesson.tricks import Trick, forbidden_captures

#: How many wrong tries are told with a moment.
_MOST_WRONG = 3


class MomentError(StemlineError):
    """A moment that the game does not have."""


@dataclass(frozen=True, eq=False)
class Moment:
    """A position with a move to find.

    `accepted` are the right moves, the main one first; `hints` go from vague to plain; `wrong` are
    moves that fail, with why; `source` says where the position is from.
    """

    board: chess.Board
    accepted: tuple[chess.Move, ...]
    hints: tuple[str, ...]
    wrong: tuple[tuple[chess.Move, str], ...] = ()
    source: str = ""
    solution: str = ""

    @property
    def prompt(self) -> str:
        """What is asked, with where it is from."""
        asked = f"{side_name(self.board.turn)} to move: find the move."
        return f"{asked} ({self.source})" if self.source else asked

    def question(self) -> Question:
        """The moment as an item of a lesson, seen from the side to move."""
        return Question(
            self.board,
            self.prompt,
            self.accepted,
            self.hints,
            self.wrong,
            self.solution,
            flipped=not self.board.turn,
        )


@dataclass(frozen=True)
class Better:
    """What somebody, such as an engine, knows of the half-move `ply` (from 1) of a game.

    `best` are the right moves; `why` says in a sentence why the one played fails, or "".
    """

    ply: int
    best: tuple[chess.Move, ...]
    why: str = ""


def moment_of(
    game: LessonGame,
    ply: int,
    better: Better | None = None,
    *,
    tricks: Sequence[Trick] | None = None,
) -> Moment:
    """The moment before the half-move `ply` (from 1) of a game.

    Without `better` the move that was played is the answer; with it, a played move that is none
    of the best is a wrong try. So are captures that tricks forbid: those of `tricks` that an
    engine did not refuse, or else what the rules find. Raises `MomentError` where the game has no
    such half-move.
    """
    if not 1 <= ply <= len(game.moves):
        raise MomentError(
            f"The game has no half-move {ply}: it has {len(game.moves)}; choose one of them."
        )
    board, played = game.boards[ply - 1], game.moves[ply - 1]
    accepted = better.best if better is not None and better.best else (played,)
    wrong: list[tuple[chess.Move, str]] = []
    if played not in accepted:
        why = better.why if better is not None and better.why else "this was played."
        wrong.append((played, why))
    for trick in forbidden_captures(board) if tricks is None else tricks:
        taking = trick.taking
        if trick.confirmed is False:
            continue
        if taking is not None and taking not in accepted and taking != played:
            wrong.append((taking, trick_sentence(trick)))
    source = f"{game.title}, move {board.fullmove_number}"
    return Moment(
        board, accepted, hints_for(board, accepted[0]), tuple(wrong[:_MOST_WRONG]), source
    )


def hints_for(board: chess.Board, move: chess.Move) -> tuple[str, ...]:
    """Three hints to a move: what kind it is, which piece makes it, where that piece goes."""
    piece = board.piece_type_at(move.from_square) or chess.PAWN
    name, start = chess.piece_name(piece), chess.square_name(move.from_square)
    after = board.copy(stack=False)
    after.push(move)
    if after.is_checkmate():
        kind = "There is a mate."
    elif any(
        (one.start, one.target) == (move.from_square, move.to_square)
        for one in breaks(board, board.turn)
    ):
        kind = "A pawn break."
    elif board.gives_check(move):
        kind = "A move with check."
    elif board.is_capture(move):
        kind = "Something is taken."
    else:
        kind = "A quiet move."
    goal = f"It goes to the {chess.FILE_NAMES[chess.square_file(move.to_square)]}-file."
    return kind, f"The {name} on {start} moves.", goal


def parse_plies(text: str, game: LessonGame) -> list[int]:
    """Half-moves from words such as `12w, 15b` (move number and side), in order.

    Raises `MomentError` where a word is none or the game has no such move.
    """
    plies = []
    for word in text.replace(",", " ").split():
        number, side = word[:-1].rstrip("."), word[-1].lower()
        if not number.isdecimal() or side not in "wb":
            raise MomentError(
                f"“{word}” is no move of a game: write its number and the side, as in 12w or 15b."
            )
        wanted = (int(number), side == "w")
        found = [
            ply
            for ply, board in enumerate(game.boards[:-1], start=1)
            if (board.fullmove_number, board.turn) == wanted
        ]
        if not found:
            raise MomentError(f"The game has no move {word}; choose one that was played.")
        plies.extend(found)
    return sorted(set(plies))


class Tried(StrEnum):
    """What an answer was."""

    FOUND = "found"
    ACCEPTED = "accepted"
    WRONG = "wrong"


@dataclass
class MomentRun:
    """Moments being asked one after the other; the only mutable thing here.

    A moment counts as found when the first answer to it is right, with or without hints; the score
    is only the share found.
    """

    moments: Sequence[Moment]
    number: int = 0
    found: int = 0
    closed: int = 0
    _hints: int = field(default=0, repr=False)
    _missed: bool = field(default=False, repr=False)

    @property
    def moment(self) -> Moment | None:
        """The one that is asked, None at the end."""
        return self.moments[self.number] if self.number < len(self.moments) else None

    def hint(self) -> str:
        """The next hint; empty when all have been given."""
        moment = self.moment
        if moment is None or self._hints >= len(moment.hints):
            return ""
        self._hints += 1
        return moment.hints[self._hints - 1]

    def answer(self, move: chess.Move) -> tuple[Tried, str]:
        """What a move is, and the sentence to show. A right one closes the moment."""
        moment = self.moment
        if moment is None:
            raise MomentError("All moments have been answered.")
        san = moment.board.san(move)
        if move in moment.accepted:
            self._close(found=not self._missed)
            if move == moment.accepted[0]:
                return Tried.FOUND, f"{san} is the move. {moment.solution}".strip()
            main = moment.board.san(moment.accepted[0])
            return Tried.ACCEPTED, f"{san} is right as well; the main move is {main}."
        self._missed = True
        why = next((text for wrong, text in moment.wrong if wrong == move), "")
        return Tried.WRONG, f"Not {san}: {why}" if why else f"Not {san}. Look again."

    def give_up(self) -> str:
        """Close the moment as not found; the answer in a sentence."""
        moment = self.moment
        if moment is None:
            return ""
        self._close(found=False)
        return moment.question().answer()

    def share(self) -> float:
        """The share found of those closed, 0 to 1; 0 before the first."""
        return self.found / self.closed if self.closed else 0.0

    def _close(self, *, found: bool) -> None:
        self.found += found
        self.closed += 1
        self.number += 1
        self._hints, self._missed = 0, False


def moments_pgn(moments: Iterable[Moment], side: chess.Color) -> str:
    """Moments with `side` to move as a repertoire, one section each, drilled as any other."""
    games = []
    for moment in moments:
        if moment.board.turn != side:
            continue
        game = chess.pgn.Game()
        game.headers["Event"] = f"Moment: {moment.source}" if moment.source else "Moment"
        game.headers["RepertoireSide"] = side_name(side)
        game.setup(moment.board)
        for number, move in enumerate(moment.accepted):
            note = moment.solution if number == 0 else ""
            game.add_variation(move, comment=note.replace("{", "(").replace("}", ")"))
        games.append(str(game.accept(chess.pgn.StringExporter(columns=79))))
    return "\n\n".join(games) + "\n" if games else ""
