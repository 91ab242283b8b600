"""The drill session: prompts, verdicts, the log, what comes back, strangers, the summary."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after, random_repertoire, repertoire_of
from trainer.memory.acts import Act
from trainer.memory.drill import DrillSettings, PromptKind, VerdictKind, another_reply
from trainer.memory.grading import Pace
from trainer.memory.model import MemoryState, MemoryStates
from trainer.memory.planner import plan_session
from trainer.memory.session import DrillSession, Journal
from trainer.position import position_key
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.orders import order_of
from trainer.repertoire.reach import reach
from trainer.storage.answers import Answer, AnswerKind, Grade

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


class Log:
    """A log in memory, with a clock."""

    def __init__(self) -> None:
        self.answers: dict[int, Answer] = {}
        self.flags: list[tuple[int, str]] = []
        self.now = NOON
        self.full = False

    def record(self, answer: Answer) -> int:
        if self.full:
            raise OSError("disk full")
        number = len(self.answers) + 1
        self.answers[number] = replace(answer, id=number)
        return number

    def retract(self, number: int) -> None:
        del self.answers[number]

    def flag(self, key: int, note: str) -> None:
        self.flags.append((key, note))

    @property
    def kinds(self) -> list[AnswerKind]:
        return [answer.kind for answer in self.answers.values()]

    @property
    def grades(self) -> list[Grade | None]:
        return [answer.grade for answer in self.answers.values()]


def begin(
    repertoire: Repertoire,
    log: Log,
    *,
    states: MemoryStates | None = None,
    minutes: float = 10.0,
    rate: float = 0.0,
    hints: bool = True,
    seed: int = 1,
) -> DrillSession:
    states = MemoryStates() if states is None else states
    arrays = RepertoireArrays.compile(repertoire)
    plan = plan_session(arrays, states, reach(arrays), minutes=minutes, now=log.now)
    return DrillSession(
        repertoire,
        arrays,
        plan,
        states,
        journal=Journal(1, 5, log.record, log.retract, log.flag),
        clock=lambda: log.now,
        rng=random.Random(seed),
        settings=DrillSettings(stranger_rate=rate, hints=hints),
    )


def faded(repertoire: Repertoire, lines: Sequence[str] | None = None) -> MemoryStates:
    """States with a faded memory of all decisions, or only of those after `lines`."""
    states = MemoryStates()
    fading = None if lines is None else {node_after(repertoire, line) for line in lines}
    for node in repertoire.decisions():
        stability = 3.0 if fading is None or node in fading else 5000.0
        move = node.edges[0].move.uci()
        states.put(node.key, move, MemoryState(stability, 5.0, states.today(NOON) - 10))
    return states


def right(session: DrillSession, seconds: float = 2.0) -> VerdictKind:
    assert session.prompt is not None
    return session.answer(session.prompt.node.edges[0].move, seconds).kind


def wrong_move(node: Node) -> chess.Move:
    known = {edge.move for edge in node.edges}
    return next(move for move in node.board().legal_moves if move not in known)


def miss(session: DrillSession) -> None:
    assert session.prompt is not None
    node = session.prompt.node
    assert session.answer(wrong_move(node), 2.0).kind is VerdictKind.MISSED
    assert session.correct(node.edges[0].move).kind is VerdictKind.CORRECTED


# -- prompts ---------------------------------------------------------------------------------


def test_a_run_goes_on_along_the_line() -> None:
    session = begin(repertoire_of(["e4 e5 Nf3 Nc6 Bb5"]), Log())
    prompt = session.prompt
    assert prompt is not None
    assert (prompt.lead_in, prompt.order, prompt.cold) == ((), (), True)
    assert (prompt.number, prompt.total, prompt.is_new) == (1, 3, True)
    assert prompt.why == "New: comes next by reach, every game gets here."
    assert right(session) is VerdictKind.RIGHT
    prompt = session.prompt
    assert [step.san for step in prompt.lead_in] == ["e5"]
    assert (prompt.order, prompt.cold, prompt.number) == (("e4", "e5"), False, 2)
    assert prompt.last_move == chess.Move.from_uci("e7e5")
    right(session)
    right(session)
    assert session.prompt is None
    with pytest.raises(ValueError, match="no question is open"):
        session.answer(chess.Move.from_uci("e2e4"), 1.0)


def test_what_is_left_takes_its_time_and_what_was_missed_once_more() -> None:
    session = begin(repertoire_of(["e4 e5 Nf3 Nc6 Bb5"]), Log())
    # Three new moves at a recall of 0.2, and two replies between them.
    asked = 0.2 * 4 + 0.8 * 10
    assert session.expected_seconds_left == pytest.approx(3 * asked + 2 * 0.8)
    right(session)
    assert session.expected_seconds_left == pytest.approx(2 * asked + 2 * 0.8)
    miss(session)
    assert session.expected_seconds_left == pytest.approx(asked + 0.8 + 4)
    right(session)
    right(session)
    assert session.expected_seconds_left == 0.0


def test_a_cold_start_is_there_at_once_with_its_last_move_and_the_whole_order() -> None:
    line = "e4 e5 Nf3 Nc6 Bb5 a6 Ba4"
    repertoire = repertoire_of([line])
    session = begin(repertoire, Log(), states=faded(repertoire, ["e4 e5 Nf3 Nc6 Bb5 a6"]))
    prompt = session.prompt
    assert prompt is not None
    assert prompt.cold
    assert prompt.lead_in == ()
    assert prompt.last_move == chess.Move.from_uci("a7a6")
    assert prompt.order == ("e4", "e5", "Nf3", "Nc6", "Bb5", "a6")
    assert prompt.start_board.fen() == prompt.board.fen()
    assert position_key(prompt.board) == prompt.node.key
    assert prompt.why.startswith("Recall is down to ")


def test_another_reply_follows_where_moves_were_taken_back() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5 a6 Ba4", "e4 e5 Nf3 Nf6 Nxe5", "e4 c5 c3"])
    after = ["e4 e5 Nf3 Nc6", "e4 e5 Nf3 Nf6"]
    session = begin(repertoire, Log(), states=faded(repertoire, after), minutes=0.15)
    first = session.prompt
    assert first is not None
    assert first.cold
    sans = {"Nc6", "Nf6"}
    right(session)
    prompt = session.prompt
    assert prompt is not None
    assert not prompt.cold
    assert position_key(prompt.start_board) == position_key(
        node_after(repertoire, "e4 e5 Nf3").board()
    )
    assert {prompt.taken_back[0], prompt.lead_in[0].san} == sans
    assert len(prompt.taken_back) == 2
    (step,) = prompt.lead_in
    assert prompt.order == ("e4", "e5", "Nf3", step.san)
    before = (sans - {step.san}).pop()
    assert another_reply(prompt) == f"2…{step.san} instead of 2…{before}"
    assert another_reply(first) == ""
    assert prompt.last_move == step.move


def test_after_a_skipped_question_moves_are_taken_back_all_the_same() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 e5 Nf3 Nf6 Nxe5"])
    after = ["e4 e5 Nf3 Nc6", "e4 e5 Nf3 Nf6"]
    session = begin(repertoire, Log(), states=faded(repertoire, after), minutes=0.15)
    session.skip()
    prompt = session.prompt
    assert prompt is not None
    assert not prompt.cold
    assert len(prompt.taken_back) == len(prompt.lead_in) == 1


# -- verdicts --------------------------------------------------------------------------------


def test_grades_follow_time_and_hints() -> None:
    log = Log()
    session = begin(repertoire_of(["e4 e5 Nf3 Nc6 Bb5"]), log)
    right(session, 2.0)
    right(session, 9.0)
    session.hint()
    right(session, 1.0)
    assert log.grades == [Grade.CLEAN, Grade.SLOW, Grade.HINTED]
    assert [answer.hints for answer in log.answers.values()] == [0, 0, 1]


def test_the_log_says_how_the_position_was_entered() -> None:
    log = Log()
    repertoire = repertoire_of(["e4 e5 Nf3"])
    session = begin(repertoire, log)
    right(session)
    right(session)
    first, second = log.answers.values()
    assert (first.entered_from, first.entered_by) == (None, None)
    assert second.entered_from == node_after(repertoire, "e4").key
    assert second.entered_by == "e7e5"
    assert (second.move, second.played, second.session_id) == ("g1f3", "g1f3", 5)
    assert second.key == node_after(repertoire, "e4 e5").key


def test_a_miss_is_shown_has_to_be_played_and_comes_back_until_right_once() -> None:
    log = Log()
    session = begin(repertoire_of(["e4 e5 Nf3 Nc6 Bb5"]), log)
    verdict = session.answer(chess.Move.from_uci("a2a3"), 2.0)
    assert verdict.kind is VerdictKind.MISSED
    assert not verdict.goes_on
    assert verdict.sentence == "Not a3: the prepared move is e4. Play it now."
    assert session.correcting
    assert session.correct(chess.Move.from_uci("d2d4")).kind is VerdictKind.NOT_YET
    assert session.answer(chess.Move.from_uci("e2e4"), 1.0).kind is VerdictKind.CORRECTED
    right(session)
    right(session)
    prompt = session.prompt
    assert prompt is not None
    assert prompt.is_repeat
    assert not prompt.is_new
    assert (prompt.number, prompt.total) == (4, 4)
    miss(session)
    assert session.prompt.is_repeat
    right(session)
    assert session.prompt is None
    assert log.kinds == [AnswerKind.DRILL] * 3 + [AnswerKind.REPEAT] * 2


def test_a_miss_comes_back_after_three_others_between_runs() -> None:
    replies = ["e5", "c5", "e6", "c6", "d6", "Nf6", "g6"]
    moves = ["Nf3", "Nf3", "d4", "d4", "d4", "e5", "d4"]
    lines = [f"e4 {reply} {move}" for reply, move in zip(replies, moves, strict=True)]
    repertoire = repertoire_of(lines)
    session = begin(repertoire, Log(), states=faded(repertoire, [f"e4 {r}" for r in replies]))
    missed = session.prompt.node
    miss(session)
    asked = []
    while session.prompt is not None:
        asked.append((session.prompt.node is missed, session.prompt.is_repeat))
        right(session)
    assert asked.index((True, True)) == 3
    assert len(asked) == 7


def test_an_accepted_alternative_is_no_answer_and_no_mistake() -> None:
    log = Log()
    repertoire = repertoire_of(["e4 e5 Nf3", "e4 e5 Bc4"])
    session = begin(repertoire, log)
    right(session)
    verdict = session.answer(chess.Move.from_uci("f1c4"), 30.0)
    assert verdict.kind is VerdictKind.ALTERNATIVE
    assert not verdict.goes_on
    assert verdict.sentence == "Bc4 is prepared as well; today's main move is Nf3: play it."
    assert session.answer(chess.Move.from_uci("a2a3"), 1.0).kind is VerdictKind.NOT_YET
    shown = session.answer(chess.Move.from_uci("g1f3"), 1.0)
    assert shown.kind is VerdictKind.CORRECTED
    # The main move was shown, so playing it proves nothing: it is asked once more, as a repeat.
    assert len(log.answers) == 1
    assert session.prompt is not None
    assert session.prompt.is_repeat
    right(session, 2.0)
    assert session.prompt is None
    assert log.kinds == [AnswerKind.DRILL, AnswerKind.REPEAT]
    assert session.summary().missed == ()


def test_hints_come_in_two_steps() -> None:
    session = begin(repertoire_of(["e4 e5 Nf3"]), Log())
    hint = session.hint()
    assert (hint.piece, hint.target) == (chess.E2, None)
    hint = session.hint()
    assert (hint.piece, hint.target) == (chess.E2, chess.E4)
    assert session.hint() == hint
    assert begin(repertoire_of(["e4"]), Log(), hints=False).hint() is None


def test_a_hinted_move_comes_back_too() -> None:
    session = begin(repertoire_of(["e4"]), Log())
    session.hint()
    assert right(session) is VerdictKind.RIGHT
    assert session.prompt.is_repeat
    right(session)
    assert session.prompt is None
    summary = session.summary()
    assert (summary.asked, summary.right, summary.hinted, summary.repeats) == (1, 0, 1, 1)


def test_skip_leaves_the_question_and_the_run_goes_on() -> None:
    log = Log()
    session = begin(repertoire_of(["e4 e5 Nf3"]), log)
    assert session.skip().kind is VerdictKind.SKIPPED
    prompt = session.prompt
    assert [step.san for step in prompt.lead_in] == ["e4", "e5"]
    assert not prompt.cold
    assert prompt.order == ("e4", "e5")
    right(session)
    assert session.prompt is None
    assert log.kinds == [AnswerKind.SKIPPED, AnswerKind.DRILL]
    assert session.summary().skipped == 1


def test_a_slip_is_taken_back_within_three_seconds() -> None:
    log = Log()
    states = MemoryStates()
    repertoire = repertoire_of(["e4"])
    session = begin(repertoire, log, states=states)
    start = node_after(repertoire, "")
    assert not session.undo_slip()
    session.answer(chess.Move.from_uci("e2e3"), 2.0)
    assert states.get(start.key, "e2e4") is not None
    log.now += timedelta(seconds=3)
    assert session.undo_slip()
    assert not session.correcting
    assert states.get(start.key, "e2e4") is None
    assert log.answers == {}
    session.answer(chess.Move.from_uci("e2e3"), 2.0)
    log.now += timedelta(seconds=3.1)
    assert not session.undo_slip()
    session.correct(chess.Move.from_uci("e2e4"))
    assert not session.undo_slip()
    assert log.grades == [Grade.MISSED]


def test_nothing_goes_on_when_the_log_fails() -> None:
    log = Log()
    states = MemoryStates()
    session = begin(repertoire_of(["e4 e5 Nf3"]), log, states=states)
    prompt = session.prompt
    log.full = True
    with pytest.raises(OSError, match="disk full"):
        right(session)
    assert session.prompt is prompt
    assert len(states) == 0
    log.full = False
    right(session)
    assert session.prompt is not prompt


def test_illegal_moves_are_no_answers() -> None:
    session = begin(repertoire_of(["e4"]), Log())
    with pytest.raises(ValueError, match="not legal"):
        session.answer(chess.Move.from_uci("e2e5"), 1.0)
    with pytest.raises(ValueError, match="no missed move"):
        session.correct(chess.Move.from_uci("e2e4"))


def test_flags_go_to_the_journal() -> None:
    log = Log()
    repertoire = repertoire_of(["e4"])
    begin(repertoire, log).flag("look again")
    assert log.flags == [(node_after(repertoire, "").key, "look again")]


# -- strangers -------------------------------------------------------------------------------


def italian() -> Repertoire:
    return repertoire_of(["e4 e5 Nf3 Nc6 Bc4 Bc5 c3 Nf6 d3", "e4 c5 Nf3", "e4 e5 Nf3 d6 d4"])


def test_a_noticed_stranger_ends_the_run_and_its_question_is_still_asked() -> None:
    log = Log()
    repertoire = italian()
    session = begin(repertoire, log, states=faded(repertoire), rate=1.0)
    right(session)  # the first move has no reply before it
    prompt = session.prompt
    assert prompt.kind is PromptKind.STRANGER
    stranger = prompt.lead_in[-1]
    assert stranger.edge is None
    assert prompt.order[-1] == stranger.san
    assert prompt.node.edge_for(stranger.move) is None
    assert position_key(prompt.board) not in repertoire.nodes
    number, total = prompt.number, prompt.total
    verdict = session.left_known_lines(1.5)
    assert verdict.kind is VerdictKind.STRANGER_NOTICED
    assert verdict.stranger == stranger
    after = session.prompt
    assert after.kind is PromptKind.DECISION
    assert after.cold
    assert (after.number, after.total) == (number, total)
    assert after.lead_in[-1].edge in prompt.node.edges
    logged = list(log.answers.values())[-1]
    assert logged.kind is AnswerKind.STRANGER_NOTICED
    assert (logged.move, logged.key) == ("", position_key(prompt.board))
    assert (logged.entered_from, logged.entered_by) == (prompt.node.key, stranger.move.uci())


def test_an_answer_to_a_stranger_is_logged_as_unnoticed() -> None:
    log = Log()
    repertoire = italian()
    session = begin(repertoire, log, states=faded(repertoire), rate=1.0)
    right(session)
    prompt = session.prompt
    move = next(iter(prompt.board.legal_moves))
    verdict = session.answer(move, 1.0)
    assert verdict.kind is VerdictKind.STRANGER_UNNOTICED
    assert verdict.goes_on
    assert prompt.lead_in[-1].san in verdict.sentence
    assert session.summary().strangers_unnoticed == 1
    assert session.summary().asked == 1


def test_asking_for_a_hint_is_not_noticing() -> None:
    repertoire = italian()
    session = begin(repertoire, Log(), states=faded(repertoire), rate=1.0)
    right(session)
    assert session.hint().piece is None
    assert session.left_known_lines(1.0).kind is VerdictKind.STRANGER_UNNOTICED


def test_a_false_alarm_is_logged_and_the_question_stays_open() -> None:
    log = Log()
    session = begin(repertoire_of(["e4 e5 Nf3"]), log)
    prompt = session.prompt
    assert session.left_known_lines(1.0).kind is VerdictKind.FALSE_ALARM
    assert session.prompt is prompt
    right(session)
    assert log.kinds == [AnswerKind.FALSE_ALARM, AnswerKind.DRILL]
    assert session.summary().false_alarms == 1


def test_no_strangers_at_rate_zero_nor_before_new_positions() -> None:
    for states, rate in ((faded(italian()), 0.0), (MemoryStates(), 1.0)):
        session = begin(italian(), Log(), states=states, rate=rate)
        while session.prompt is not None:
            assert session.prompt.kind is PromptKind.DECISION
            right(session)


# -- whole sessions --------------------------------------------------------------------------


def test_summary() -> None:
    log = Log()
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 c5 Nf3"])
    session = begin(repertoire, log)
    right(session, 2.0)
    first_missed = session.prompt
    miss(session)
    while session.prompt is not None:
        right(session, 7.0)
    summary = session.summary()
    assert (summary.asked, summary.right, summary.slow) == (4, 3, 2)
    (missed,) = summary.missed
    assert missed.node is first_missed.node
    assert missed.edge is first_missed.node.edges[0]
    assert missed.order == first_missed.order
    assert summary.repeats == 1
    assert summary.seconds == 2.0 + 2.0 + 7.0 * 3
    assert summary.depth_after > summary.depth_before
    full = begin(repertoire, Log(), states=faded(repertoire)).summary()
    assert full.depth_before == full.depth_after


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    side=st.booleans(),
    known=st.booleans(),
    rate=st.sampled_from([0.0, 0.4, 1.0]),
)
def test_any_session_comes_to_an_end_and_its_log_explains_its_states(
    seed: int, side: bool, known: bool, rate: float
) -> None:
    repertoire = random_repertoire(seed, side=side)
    states = faded(repertoire) if known else MemoryStates()
    before = {place: states.get(*place) for place in states}
    log = Log()
    session = begin(repertoire, log, states=states, rate=rate, seed=seed)
    rng = random.Random(seed)
    shown: list[str] | None = None
    last: Node | None = None
    for _ in range(1000):
        prompt = session.prompt
        if prompt is None:
            break
        check_prompt(session, repertoire, shown)
        log.now += timedelta(seconds=4)
        act = rng.random()
        if prompt.kind is PromptKind.STRANGER:
            shown = None
            if act < 0.5:
                session.left_known_lines(1.0)
            else:
                session.answer(rng.choice(list(prompt.board.legal_moves)), 1.0)
            continue
        main = prompt.node.edges[0]
        if act < 0.1:
            session.skip()
            shown = list(prompt.order)
            continue
        if act < 0.2:
            session.hint()
        verdict = session.answer(
            main.move if act < 0.7 else rng.choice(list(prompt.board.legal_moves)), 1.0
        )
        if not verdict.goes_on:
            if rng.random() < 0.3:
                session.undo_slip()
            verdict = session.answer(main.move, 1.0)
        assert verdict.goes_on
        shown = [*prompt.order, main.san]
        assert prompt.is_repeat or prompt.node is not last
        last = prompt.node
    assert session.prompt is None

    drilled = [a.key for a in log.answers.values() if a.kind is AnswerKind.DRILL]
    assert len(set(drilled)) == len(drilled)
    replayed = MemoryStates()
    for (key, move), state in before.items():
        replayed.put(key, move, state)
    for answer in log.answers.values():
        replayed.apply(answer)
    assert {place: states.get(*place) for place in states} == {
        place: replayed.get(*place) for place in replayed
    }
    # What was missed or hinted was right at last, or skipped.
    for key in {a.key for a in log.answers.values() if a.grade in (Grade.MISSED, Grade.HINTED)}:
        end = [a for a in log.answers.values() if a.key == key][-1]
        assert end.grade in (Grade.CLEAN, Grade.SLOW) or end.kind is AnswerKind.SKIPPED


def check_prompt(session: DrillSession, repertoire: Repertoire, shown: list[str] | None) -> None:
    """`shown` is the order by which the position on the board came about."""
    prompt = session.prompt
    assert prompt is not None
    board = prompt.start_board.copy()
    lead_in = [step.san for step in prompt.lead_in]
    if not prompt.cold:
        # The line goes on from what stands there, or from a position of it that was passed.
        assert shown is not None
        stays = len(shown) - len(prompt.taken_back)
        assert tuple(shown[stays:]) == prompt.taken_back
        assert list(prompt.order) == shown[:stays] + lead_in
        assert bool(another_reply(prompt)) == bool(prompt.taken_back)
        if prompt.taken_back:
            assert board.turn != repertoire.side
            assert lead_in[0] != prompt.taken_back[0]
    else:
        assert prompt.taken_back == ()
    for step in prompt.lead_in:
        assert board.san(step.move) == step.san
        board.push(step.move)
    assert position_key(board) == position_key(prompt.board)
    assert board.turn == repertoire.side
    own = [step for step in prompt.lead_in if step.edge and step.edge.parent.turn == board.turn]
    assert len(own) <= 2
    replayed = chess.Board()
    for san in prompt.order:
        replayed.push_san(san)
    assert position_key(replayed) == position_key(prompt.board)
    assert 1 <= prompt.number <= prompt.total
    assert session.expected_seconds_left >= 0
    if prompt.kind is PromptKind.DECISION:
        assert prompt.node.key == position_key(prompt.board)
        assert order_of(repertoire, prompt.node) is not None


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_the_same_seed_gives_the_same_session(seed: int) -> None:
    def names() -> list[str]:
        repertoire = random_repertoire(seed)
        session = begin(repertoire, Log(), states=faded(repertoire), rate=0.5, seed=seed)
        found = []
        while session.prompt is not None:
            found.append(f"{session.prompt.kind} {session.prompt.board.fen()}")
            if session.prompt.kind is PromptKind.STRANGER:
                session.left_known_lines(1.0)
            else:
                right(session)
        return found

    assert names() == names()


def test_the_players_pace_is_kept_up_to_date() -> None:
    log = Log()
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3"])
    session = begin(repertoire, log)
    for _ in range(6):
        right(session, 5.0)
    assert right(session, 9.0) is VerdictKind.RIGHT
    # Twice five seconds, not six, are slow for him by now.
    assert log.grades == [Grade.CLEAN] * 7
    assert Pace(log.answers.values()).slow_after == 10.0


# -- writing left to others ------------------------------------------------------------------


@pytest.mark.parametrize(
    "act",
    [
        lambda session: session.answering(session.prompt.node.edges[0].move, 2.0),
        lambda session: session.answering(wrong_move(session.prompt.node), 2.0),
        lambda session: session.leaving_known_lines(2.0),
        lambda session: session.skipping(),
        lambda session: session.flagging(),
    ],
)
def test_nothing_has_changed_while_an_act_waits_for_its_writing(
    act: Callable[[DrillSession], Act[object]],
) -> None:
    log = Log()
    session = begin(repertoire_of(["e4 e5 Nf3"]), log)
    prompt = session.prompt
    waiting = act(session)
    write = next(waiting)
    assert (session.prompt, session.correcting, session.summary().asked) == (prompt, False, 0)
    assert (log.answers, log.flags) == ({}, [])
    with pytest.raises(StopIteration):
        waiting.send(write())
    assert bool(log.answers) != bool(log.flags)


def test_an_act_that_is_given_up_has_done_nothing() -> None:
    log = Log()
    session = begin(repertoire_of(["e4 e5 Nf3"]), log)
    given_up = session.answering(wrong_move(session.prompt.node), 2.0)
    next(given_up)
    given_up.close()
    assert right(session) is VerdictKind.RIGHT
    assert log.grades == [Grade.CLEAN]


def test_an_alternative_needs_no_writing() -> None:
    session = begin(repertoire_of(["e4 e5", "d4 d5"]), Log())
    with pytest.raises(StopIteration) as end:
        next(session.answering(chess.Move.from_uci("d2d4"), 2.0))
    assert end.value.value.kind is VerdictKind.ALTERNATIVE
