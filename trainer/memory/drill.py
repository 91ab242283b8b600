"""What a drill session shows and answers with: values only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import chess

from trainer.repertoire.graph import Edge, Node
from trainer.storage.answers import Grade


@dataclass(frozen=True)
class DrillSettings:
    """How a session behaves.

    `stranger_rate` is the chance (0 to 1) that a stranger takes the place of a reply; the caller
    passes 0 in the player's first week. `hints` tells whether hints are given at all.
    """

    stranger_rate: float = 0.0
    hints: bool = True


class PromptKind(StrEnum):
    """Whether a decision is asked, or a stranger waits to be noticed. Not for the player."""

    DECISION = "decision"
    STRANGER = "stranger"


@dataclass(frozen=True)
class Step:
    """One move that the program plays. `edge` is None for a stranger."""

    move: chess.Move
    san: str
    edge: Edge | None


@dataclass(frozen=True, eq=False)
class Prompt:
    """One question.

    `board` is the position asked, with the player to move. The program plays `lead_in` to get
    there from `start_board`; where `cold` is false, that is the position shown last, or, where
    `taken_back` names moves (in SAN, in their order), the one before them. Both boards are this
    prompt's own. `order` is the whole move order, in SAN, from the starting
    position `origin` of a section.
    `node` is the position asked; for a stranger, the last known one, where it was played.

    `entered` is the move that led there, where a game comes from elsewhere and none is played.
    `why` is one sentence. `number` counts from 1 up to `total`, which grows with every move that
    has to come back.
    """

    kind: PromptKind
    node: Node
    board: chess.Board
    start_board: chess.Board
    lead_in: tuple[Step, ...]
    cold: bool
    origin: Node
    order: tuple[str, ...]
    why: str
    is_new: bool
    is_repeat: bool
    number: int
    total: int
    entered: chess.Move | None = None
    taken_back: tuple[str, ...] = ()

    @property
    def last_move(self) -> chess.Move | None:
        """The move that led to the position, None where a game begins on it."""
        return self.lead_in[-1].move if self.lead_in else self.entered


def announced(prompt: Prompt) -> str:
    """The moves of a lead-in as they are announced: `3…e6 4. O-O Be7`."""
    return _numbered(prompt, [step.san for step in prompt.lead_in])


def another_reply(prompt: Prompt) -> str:
    """What changes where moves are taken back: `3…Nc6 instead of 3…e6`; else nothing."""
    if not prompt.taken_back or not prompt.lead_in:
        return ""
    now, before = prompt.lead_in[0].san, prompt.taken_back[0]
    return f"{_numbered(prompt, [now])} instead of {_numbered(prompt, [before])}"


def _numbered(prompt: Prompt, sans: Sequence[str]) -> str:
    """Moves from the start board of a prompt, with their numbers."""
    turn = prompt.start_board.turn
    # Positions know no move numbers; the whole order tells them.
    plies = len(prompt.order) - len(prompt.lead_in)
    begins_white = turn == (plies % 2 == 0)
    number = plies // 2 + 1 if begins_white else (plies + 1) // 2 + 1
    parts = []
    for place, san in enumerate(sans):
        if turn:
            parts.append(f"{number}. {san}")
        else:
            parts.append(f"{number}…{san}" if place == 0 else san)
            number += 1
        turn = not turn
    return " ".join(parts)


class VerdictKind(StrEnum):
    """What came of an answer."""

    #: The main prepared move. The next prompt is up.
    RIGHT = "right"
    #: Prepared as well, but not today's main move, which is named and must now be played. That
    #: is no answer to log: the main move was shown. The position comes back in the session.
    ALTERNATIVE = "alternative"
    #: Not prepared. The move of `edge` must now be played, with `DrillSession.correct`.
    MISSED = "missed"
    #: The missed move was played after all. The next prompt is up.
    CORRECTED = "corrected"
    #: While a missed move had to be played, another one was. Nothing changes.
    NOT_YET = "not_yet"
    #: A stranger was recognised. The next prompt is up.
    STRANGER_NOTICED = "stranger_noticed"
    #: A move was played, or a hint asked for, where the last reply was a stranger. The next
    #: prompt is up.
    STRANGER_UNNOTICED = "stranger_unnoticed"
    #: "Left known lines" where the reply was known. The question stays open.
    FALSE_ALARM = "false_alarm"
    #: Left for another day. The next prompt is up.
    SKIPPED = "skipped"


@dataclass(frozen=True, eq=False)
class Verdict:
    """What came of an answer, with the prepared move of the question.

    `edge` is the main move (None for a stranger), `played` what the player moved (None where he
    did not), `stranger` the stranger's move. `grade` is there where an answer was graded.
    """

    kind: VerdictKind
    prompt: Prompt
    edge: Edge | None = None
    played: chess.Move | None = None
    grade: Grade | None = None
    stranger: Step | None = None

    @property
    def goes_on(self) -> bool:
        """Whether the question is closed, so that the next prompt is up."""
        return self.kind not in (
            VerdictKind.ALTERNATIVE,
            VerdictKind.MISSED,
            VerdictKind.NOT_YET,
            VerdictKind.FALSE_ALARM,
        )

    @property
    def sentence(self) -> str:
        """One plain sentence for the player."""
        said = _SAID_OF_GRADE.get(self.grade) if self.kind is VerdictKind.RIGHT else None
        return (said or _SAID[self.kind]).format(
            san=self.edge.san if self.edge else "",
            played=self.prompt.board.san(self.played) if self.played else "",
            stranger=self.stranger.san if self.stranger else "",
        )


_SAID = {
    VerdictKind.RIGHT: "{san}.",
    VerdictKind.ALTERNATIVE: (
        "{played} is prepared as well; today's main move is {san}: play it."
    ),
    VerdictKind.MISSED: "Not {played}: the prepared move is {san}. Play it now.",
    VerdictKind.CORRECTED: "{san}: it comes back later today.",
    VerdictKind.NOT_YET: "The prepared move is {san}. Play it now.",
    VerdictKind.STRANGER_NOTICED: "Noticed: {stranger} is not in the repertoire.",
    VerdictKind.STRANGER_UNNOTICED: (
        "{stranger} was a stranger: the repertoire has no such reply here."
    ),
    VerdictKind.FALSE_ALARM: "This reply is known: find the prepared move.",
    VerdictKind.SKIPPED: "Skipped: left for another day.",
}
_SAID_OF_GRADE: dict[Grade | None, str] = {
    Grade.SLOW: "{san}, but slowly.",
    Grade.HINTED: "{san}, with a hint: it comes back later today.",
}


@dataclass(frozen=True)
class Hint:
    """One step of help: first the square of the piece to move, then where it goes as well.

    Both are None where the last reply was a stranger: there is nothing prepared to be shown.
    """

    piece: chess.Square | None
    target: chess.Square | None = None


@dataclass(frozen=True, eq=False)
class Missed:
    """A decision that was missed in the session: its prepared move, and what was played first.

    `order` and `origin` are those of its prompt.
    """

    node: Node
    edge: Edge
    played: chess.Move
    origin: Node
    order: tuple[str, ...]


@dataclass(frozen=True)
class Summary:
    """A session, or what was done of it.

    `asked` counts the positions asked (each once), `right` those that were right at first and
    without a hint, `slow` of them the slow ones. `repeats` counts answers to what came back.
    Depths are for a game tomorrow: `depth_before` as it would have been without the session.
    `seconds` is the time that the player took over his moves.
    """

    asked: int
    right: int
    slow: int
    hinted: int
    missed: tuple[Missed, ...]
    repeats: int
    skipped: int
    strangers_noticed: int
    strangers_unnoticed: int
    false_alarms: int
    depth_before: float
    depth_after: float
    seconds: float
