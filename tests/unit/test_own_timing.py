"""What questions take a player: by hand, from answers as a drill gives them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tests.memory_graphs import node_after
from trainer.memory.own_timing import IMAGINED, LATELY, PAUSE, own_timing
from trainer.memory.plan import Timing
from trainer.repertoire.graph import Node
from trainer.repertoire.reader import read_repertoire_text
from trainer.storage.answers import Answer, AnswerKind, Grade

REPERTOIRE = read_repertoire_text(
    '[RepertoireSide "White"]\n\n1. d3 d5 (1... e5 2. g3 d5 3. Bg2) (1... c5 2. g3) '
    "(1... f5 2. g3 Nf6 3. Bg2 e6 4. Nf3) 2. Nf3 *\n"
).repertoire
BEGIN = datetime(2026, 3, 2, 12, tzinfo=UTC)


class Drill:
    """Answers one after the other, as a player gives them."""

    def __init__(self) -> None:
        self.answers: list[Answer] = []
        self.now = BEGIN
        self.session = 1

    def ask(
        self,
        line: str,
        seconds: float,
        then: float,
        *,
        right: bool = True,
        kind: AnswerKind = AnswerKind.DRILL,
        hints: int = 0,
    ) -> None:
        """A question after `line`, answered in `seconds`; the next is asked `then` later."""
        node = node_after(REPERTOIRE, line)
        before = node_after(REPERTOIRE, line.rsplit(" ", 1)[0] if " " in line else "")
        self.now += timedelta(seconds=seconds)
        self.answers.append(
            Answer(
                repertoire_id=1,
                key=node.key,
                move=node.edges[0].move.uci(),
                kind=kind,
                at=self.now,
                grade=Grade.CLEAN if right else Grade.MISSED,
                seconds=seconds,
                session_id=self.session,
                entered_from=before.key if line else None,
                entered_by=_move_between(before, node) if line else None,
                hints=hints,
            )
        )
        self.now += timedelta(seconds=then)

    @property
    def timing(self) -> Timing:
        return own_timing(self.answers, REPERTOIRE)


def _move_between(before: Node, after: Node) -> str:
    return next(edge.move.uci() for edge in before.edges if edge.child is after)


def smoothed(seconds: list[float], usual: float) -> float:
    return (IMAGINED * usual + sum(seconds)) / (IMAGINED + len(seconds))


def test_without_answers_it_is_the_usual() -> None:
    assert own_timing((), REPERTOIRE) == Timing()
    drill = Drill()
    drill.ask("d3 d5", 9.0, 0.0)
    # Nobody knows what comes after the last answer.
    assert drill.timing == Timing()


def test_a_question_takes_until_the_next_one_is_asked() -> None:
    drill = Drill()
    drill.ask("d3 d5", 5.0, 2.4)
    drill.ask("d3 e5", 8.0, 9.4, right=False)
    drill.ask("d3 c5", 3.0, 1.4)
    drill.ask("d3 e5", 2.0, 2.4, kind=AnswerKind.REPEAT)
    drill.ask("d3 d5", 2.0, 2.4)
    timing = drill.timing
    # Half a move of the program is counted by plans already.
    assert timing.right == pytest.approx(smoothed([7.0, 4.0, 4.0], 4.0))
    assert timing.wrong == pytest.approx(smoothed([17.0], 6.0))
    assert timing.move == Timing().move


def test_pauses_other_kinds_hints_and_other_drills_do_not_count() -> None:
    drill = Drill()
    drill.ask("d3 d5", 5.0, PAUSE + 1)
    drill.ask("d3 e5", PAUSE + 1, 1.0)
    drill.ask("d3 c5", 5.0, 30.0, hints=1)
    drill.ask("d3 d5", 5.0, 1.0)
    drill.ask("d3 e5", 30.0, 1.0, kind=AnswerKind.STRANGER_NOTICED)
    drill.ask("d3 c5", 5.0, 1.0)
    drill.session = 2
    drill.ask("d3 d5", 5.0, 1.0)
    assert drill.timing == Timing()


def test_only_the_last_answers_count() -> None:
    drill = Drill()
    for number in range(2 * LATELY):
        drill.ask("d3 d5", 20.0 if number < LATELY - 1 else 1.0, 0.4)
    assert drill.timing.right == pytest.approx(smoothed([1.0] * (LATELY - 1), 4.0))


def test_a_jump_is_how_much_longer_a_cold_question_takes() -> None:
    drill = Drill()
    for _ in range(60):
        # Elsewhere three times, and then another reply of the position that was just passed.
        drill.ask("d3 f5 g3 Nf6 Bg2 e6", 7.0, 0.4)
        drill.ask("d3 e5 g3 d5", 7.0, 0.4)
        drill.ask("d3 c5", 7.0, 0.4)
        drill.ask("d3 d5", 4.0, 0.4)
    jump = 3.0 * 60 / (60 + IMAGINED)
    assert drill.timing.jump == jump
    # Of a cold question's time the jump is counted apart; nothing is known before the first.
    taken = [7.0] + [7.0 - jump] * 179 + [4.0] * 59
    assert drill.timing.right == pytest.approx(smoothed(taken, 4.0))
    # Repeats are fresh, missed ones are no measure, and pauses neither.
    drill.ask("d3 e5 g3 d5", 30.0, 0.4, kind=AnswerKind.REPEAT)
    drill.ask("d3 d5", 30.0, 0.4, right=False)
    drill.ask("d3 c5", PAUSE + 1, 0.4)
    drill.ask("d3 e5", 30.0, 0.4, kind=AnswerKind.STRANGER_NOTICED)
    drill.ask("d3 f5 g3 Nf6", 30.0, 0.4)
    assert drill.timing.jump == pytest.approx(3.0 * 60 / (60 + IMAGINED))


@pytest.mark.parametrize(
    ("rounds", "taken", "jump"),
    [
        # Going on along the line is no jump.
        (
            30,
            {"d3 f5 g3 Nf6": 7.0, "d3 f5 g3 Nf6 Bg2 e6": 4.0, "d3 e5 g3 d5": 7.0},
            pytest.approx(3.0 * 30 / (30 + IMAGINED)),
        ),
        # Who is as fast everywhere does not jump.
        (40, {"d3 e5 g3 d5": 3.0, "d3 c5": 3.0, "d3 e5": 4.0}, 0.0),
    ],
)
def test_what_goes_on_is_no_jump(rounds: int, taken: dict[str, float], jump: float) -> None:
    drill = Drill()
    for _ in range(rounds):
        for line, seconds in taken.items():
            drill.ask(line, seconds, 0.4)
    assert drill.timing.jump == jump
