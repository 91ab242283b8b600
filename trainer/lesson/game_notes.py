"""What a coach made of a game: the edited draft and the edited moments, kept with the game.

One small file a game in the user's data folder, named by the moves and the players, so that the
game is known again in whatever file it stands.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import blake2b
from pathlib import Path

import chess

from trainer.errors import StemlineError
from trainer.lesson.facts import KeptFact
from trainer.lesson.game import LessonGame
from trainer.lesson.moments import Better, Moment, MomentError
from trainer.lesson.narrate import Draft, Sentence
from trainer.storage.atomic import write_atomically
from trainer.storage.locations import make_directory

#: The folder in the user's data folder.
FOLDER = "game-notes"


class GameNotesError(StemlineError):
    """Notes of a game that cannot be read or written."""


@dataclass(frozen=True)
class KeptSentence:
    """A sentence as it is kept: behind which half-move, its words, and what had been computed
    (`told`, "" for the coach's own)."""

    ply: int
    text: str
    told: str


@dataclass(frozen=True)
class MomentEdit:
    """What a coach says of the moment before the half-move `ply`, in place of what is computed."""

    ply: int
    accepted: tuple[chess.Move, ...]
    hints: tuple[str, ...]
    wrong: tuple[tuple[chess.Move, str], ...]
    solution: str

    def of(self, moment: Moment) -> Moment:
        """The moment with this in it."""
        return replace(
            moment,
            accepted=self.accepted,
            hints=self.hints,
            wrong=self.wrong,
            solution=self.solution,
        )


@dataclass(frozen=True)
class GameNotes:
    """All that is kept of one game. `asked` are the moves to ask as they were typed; `better` is
    what an engine had found. `sentences` is None where no draft was made."""

    asked: str = ""
    better: tuple[Better, ...] = ()
    sentences: tuple[KeptSentence, ...] | None = None
    moments: tuple[MomentEdit, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether there is nothing to keep."""
        return self == GameNotes()

    def edit_of(self, ply: int) -> MomentEdit | None:
        """What the coach says of a moment, None where he left it as it is."""
        return next((one for one in self.moments if one.ply == ply), None)

    def with_edit(self, edit: MomentEdit) -> GameNotes:
        """With one moment as the coach wants it."""
        others = [one for one in self.moments if one.ply != edit.ply]
        return replace(self, moments=tuple(sorted((*others, edit), key=lambda one: one.ply)))

    def without_edit(self, ply: int) -> GameNotes:
        """With one moment as it is computed."""
        return replace(self, moments=tuple(one for one in self.moments if one.ply != ply))

    def with_draft(self, draft: Draft) -> GameNotes:
        """With the sentences of a draft."""
        sentences = tuple(KeptSentence(one.ply, one.text, one.told) for one in draft.sentences)
        return replace(self, sentences=sentences)

    def restored(self, fresh: Draft) -> Draft:
        """The draft as it was left, on the facts of one that was just computed.

        A sentence whose fact is not among them (another repertoire is open, or definitions have
        changed) keeps the words that were computed then.
        """
        if self.sentences is None:
            return fresh
        known = {(one.ply, one.told): one.fact for one in fresh.sentences}
        sentences = []
        for kept in self.sentences:
            fact = None
            if kept.told:
                fact = known.get((kept.ply, kept.told)) or KeptFact(kept.ply, kept.told)
            edited = kept.text != kept.told
            sentences.append(Sentence(kept.text, kept.ply, fact, edited, kept.told))
        return Draft(fresh.game, tuple(sentences))


def renewed(old: Draft, fresh: Draft) -> Draft:
    """A draft that was computed anew, with all that the coach wrote in the one before."""
    words = {(one.ply, one.told): one for one in old.sentences if one.told and one.edited}
    sentences = []
    for one in fresh.sentences:
        edited = words.pop((one.ply, one.told), None)
        sentences.append(one if edited is None else replace(one, text=edited.text, edited=True))
    lost = {id(one) for one in words.values()}
    for one in old.sentences:
        if one.fact is None:
            sentences.append(one)
        elif id(one) in lost:
            sentences.append(replace(one, fact=KeptFact(one.ply, one.told)))
    return Draft(fresh.game, tuple(sorted(sentences, key=lambda one: one.ply)))


def notes_file(folder: Path, game: LessonGame) -> Path:
    """Where the notes of a game are kept in the data folder `folder`."""
    moves = " ".join(move.uci() for move in game.moves)
    text = f"{game.boards[0].fen()}\n{game.white}\n{game.black}\n{moves}"
    return folder / FOLDER / f"{blake2b(text.encode(), digest_size=10).hexdigest()}.json"


def load_notes(folder: Path, game: LessonGame) -> GameNotes:
    """The notes of a game, empty where there are none. Raises `GameNotesError`."""
    path = notes_file(folder, game)
    try:
        values = json.loads(path.read_text(encoding="utf-8"))
        return _read(values, game)
    except (FileNotFoundError, NotADirectoryError):
        return GameNotes()
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        reason = getattr(error, "strerror", None) or error
        raise GameNotesError(
            f"The notes to this game in {path} cannot be read ({reason}); mend the file or move "
            "it away, and choose the game again."
        ) from error


def keep_notes(folder: Path, game: LessonGame, notes: GameNotes) -> None:
    """Keep the notes of a game; they are on the disk then. Raises `GameNotesError`."""
    path = notes_file(folder, game)
    if notes.empty and not path.exists():
        return
    make_directory(path.parent, GameNotesError)
    data = json.dumps(_written(notes, game), ensure_ascii=False, indent=1).encode()
    try:
        write_atomically(path, data)
    except OSError as error:
        raise GameNotesError(
            f"The notes to this game cannot be written to {path} ({error.strerror or error}); "
            "they are kept only until another game is chosen."
        ) from error


def _written(notes: GameNotes, game: LessonGame) -> dict[str, object]:
    return {
        "game": game.title,
        "asked": notes.asked,
        "better": [
            {"ply": one.ply, "best": _ucis(one.best), "why": one.why} for one in notes.better
        ],
        "sentences": None
        if notes.sentences is None
        else [{"ply": one.ply, "text": one.text, "told": one.told} for one in notes.sentences],
        "moments": [
            {
                "ply": one.ply,
                "accepted": _ucis(one.accepted),
                "hints": list(one.hints),
                "wrong": [[move.uci(), why] for move, why in one.wrong],
                "solution": one.solution,
            }
            for one in notes.moments
        ],
    }


def _ucis(moves: Sequence[chess.Move]) -> list[str]:
    return [move.uci() for move in moves]


def _read(values: dict[str, object], game: LessonGame) -> GameNotes:
    def items(name: str) -> list[dict[str, object]]:
        found = values.get(name) or []
        if not isinstance(found, list):
            raise TypeError(f"{name} is no list")
        return found

    def ply_of(one: dict[str, object], last: int) -> int:
        ply = one["ply"]
        if not isinstance(ply, int) or not 0 <= ply <= last:
            raise ValueError(f"the game has no half-move {ply}")
        return ply

    def moves_of(texts: object, ply: int) -> tuple[chess.Move, ...]:
        if not isinstance(texts, list):
            raise TypeError("moves are no list")
        found = tuple(chess.Move.from_uci(str(text)) for text in texts)
        if not all(game.boards[ply - 1].is_legal(move) for move in found):
            raise ValueError(f"a move before half-move {ply} is not legal")
        return found

    def moment(one: dict[str, object]) -> MomentEdit:
        ply = ply_of(one, len(game.moves))
        wrong = one["wrong"]
        hints = one["hints"]
        if not isinstance(wrong, list) or not isinstance(hints, list):
            raise TypeError("wrong tries and hints are no lists")
        tries = moves_of([entry[0] for entry in wrong], ply)
        return MomentEdit(
            ply,
            moves_of(one["accepted"], ply),
            tuple(str(hint) for hint in hints),
            tuple(zip(tries, (str(entry[1]) for entry in wrong), strict=True)),
            str(one["solution"]),
        )

    last = len(game.moves)
    return GameNotes(
        str(values.get("asked", "")),
        tuple(
            Better(ply_of(one, last), moves_of(one["best"], ply_of(one, last)), str(one["why"]))
            for one in items("better")
        ),
        None
        if values.get("sentences") is None
        else tuple(
            KeptSentence(ply_of(one, last), str(one["text"]), str(one["told"]))
            for one in items("sentences")
        ),
        tuple(moment(one) for one in items("moments")),
    )


def edit_from_words(
    board: chess.Board, ply: int, *, right: str, hints: str, wrong: str, solution: str
) -> MomentEdit:
    """What a coach wrote of the moment before the half-move `ply` on `board`.

    `right` are moves in SAN, `hints` one a line, `wrong` a move and after a colon why it fails,
    one a line. Raises `MomentError` where a move cannot be read, where there is no right one, or
    where one is both right and wrong.
    """
    accepted = [_move(board, word) for word in right.replace(",", " ").split()]
    if not accepted:
        raise MomentError("Write at least one right move, such as Nf3.")
    tries = []
    for line in filter(str.strip, wrong.splitlines()):
        word, _, why = line.partition(":")
        move = _move(board, word.strip())
        if move in accepted:
            raise MomentError(
                f"{board.san(move)} cannot be right and wrong; take one of them out."
            )
        tries.append((move, " ".join(why.split())))
    return MomentEdit(
        ply,
        tuple(dict.fromkeys(accepted)),
        tuple(" ".join(line.split()) for line in hints.splitlines() if line.strip()),
        tuple(dict(tries).items()),
        " ".join(solution.split()),
    )


def _move(board: chess.Board, word: str) -> chess.Move:
    try:
        return board.parse_san(word)
    except ValueError:
        raise MomentError(
            f"“{word}” is no move in this position; write it as in Nf3, exd5 or O-O."
        ) from None
