"""The planner: what comes into a plan, by which orders, and what never may."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from fsrs import Rating
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after, prepared_repertoire, random_graph, repertoire_of
from trainer.memory.index_store import shipped_index
from trainer.memory.model import UNSEEN_RECALL, MemoryState, MemoryStates
from trainer.memory.plan import Plan, Reason, Timing, Why, frequency
from trainer.memory.planner import plan_positions, plan_session
from trainer.memory.runs import RunBuilder
from trainer.memory.selection import Selection
from trainer.memory.survey import CERTAIN, NEW_WAITS, Worth, planning_graph, survey_of
from trainer.memory.ways import Ways
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.reach import reach

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def seen(states: MemoryStates, node: Node, *, stability: float = 10.0, days_ago: int = 30) -> None:
    """Give the main move of a decision a memory."""
    day = states.today(NOW) - days_ago
    states.put(node.key, node.edges[0].move.uci(), MemoryState(stability, 5.0, day))


def plan_of(repertoire: Repertoire, states: MemoryStates, minutes: float = 10.0, **more) -> Plan:  # type: ignore[no-untyped-def]
    arrays = RepertoireArrays.compile(repertoire)
    return plan_session(arrays, states, reach(arrays), minutes=minutes, now=NOW, **more)


def partly_seen(repertoire: Repertoire, seed: int, share: float) -> MemoryStates:
    """Memories for a share of the decisions, some fresh from today."""
    rng = random.Random(seed)
    states = MemoryStates()
    for node in repertoire.decisions():
        if rng.random() < share:
            days = rng.choice([0, 1, 3, 20])
            seen(states, node, stability=rng.uniform(0.5, 40), days_ago=days)
    return states


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    count=st.integers(2, 150),
    minutes=st.sampled_from([0.5, 2.0, 10.0, 60.0]),
    share=st.sampled_from([0.0, 0.3, 0.8, 1.0]),
    cycles=st.sampled_from([0.0, 0.1]),
    side=st.booleans(),
)
# A well-known position behind a new one, from which going on met another new one.
@example(seed=67, count=55, minutes=10.0, share=0.3, cycles=0.1, side=True)
def test_every_plan_keeps_the_rules(
    seed: int, count: int, minutes: float, share: float, cycles: float, side: bool
) -> None:
    repertoire = random_graph(seed, count, cycles=cycles, roots=1 + seed % 2, side=side)
    states = partly_seen(repertoire, seed, share)
    plan = plan_of(repertoire, states, minutes)
    arrays = RepertoireArrays.compile(repertoire)
    today = states.today(NOW)
    roots = repertoire.roots
    asked = [question.node for question in plan.questions]

    assert len(set(asked)) == len(asked)
    if plan.questions:
        assert plan.expected_seconds - plan.questions[-1].seconds < minutes * 60

    passed: set[Node] = set()
    for run in plan.runs:
        assert run.start is run.questions[0].node
        assert run.lead_in == ()
        entry = run.questions[0].entry
        line = [run.start] if entry is None else [entry.parent, run.start]
        for place, question in enumerate(run.questions):
            # One reply, behind the move just given or in a position of this run passed before.
            assert len(question.approach) == (1 if place else 0)
            for edge in question.approach:
                assert edge.parent in line
                assert edge.parent.turn != repertoire.side
                line = [*line[: line.index(edge.parent) + 1], edge.child]
            line.append(question.edge.child)
            # Nothing is asked that the program has just given away.
            shown = {edge.parent for edge in question.approach}
            assert not shown & (set(asked) - passed)
            assert question.edge is question.node.edges[0]
            assert question.edge.parent is question.node
            if question.approach:
                assert question.approach[-1].child is question.node
            state = states.get(question.node.key, question.edge.move.uci())
            assert question.is_new == (state is None)
            if state is None:
                assert introduced_in_order(question.node, roots, repertoire, states, passed)
            else:
                assert state.day != today
                assert plan.bounds is not None
                bound = plan.bounds[arrays.number(question.node)]
                on_the_way = question.why.reason in (Reason.ON_THE_WAY, Reason.SPARE)
                assert question.why.recall < (CERTAIN if on_the_way else bound)
            passed.add(question.node)
    if minutes == 60.0 and share == 0.0 and not cycles:
        # There is time for all: nothing that was chosen is lost on the way.
        assert set(asked) == led_to_by_main_moves(repertoire)
    if plan.worth_asking and minutes == 60.0 and share == 1.0:
        spoilt = {edge.parent for question in plan.questions for edge in question.approach}
        assert len(asked) + len(spoilt) >= min(plan.fading, 60)


def led_to_by_main_moves(repertoire: Repertoire) -> set[Node]:
    """The decisions that a player who plays his main moves may come to."""
    reached, pending = set(repertoire.roots), list(repertoire.roots)
    while pending:
        current = pending.pop()
        edges = current.edges[:1] if repertoire.is_decision(current) else current.edges
        for edge in edges:
            if edge.child not in reached:
                reached.add(edge.child)
                pending.append(edge.child)
    return {node for node in reached if repertoire.is_decision(node)}


def introduced_in_order(
    node: Node,
    roots: list[Node],
    repertoire: Repertoire,
    states: MemoryStates,
    passed: set[Node],
) -> bool:
    """Whether a way from a root to `node` leads through known or introduced decisions only."""
    reached, pending = set(roots), list(roots)
    while pending:
        current = pending.pop()
        known = (
            not repertoire.is_decision(current)
            or current in passed
            or states.get(current.key, current.edges[0].move.uci()) is not None
        )
        for edge in current.edges if known else ():
            if edge.child not in reached:
                reached.add(edge.child)
                pending.append(edge.child)
    return node in reached


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_the_same_input_gives_the_same_plan(seed: int) -> None:
    def names() -> list[tuple[int, ...]]:
        repertoire = random_graph(seed, 80)
        plan = plan_of(repertoire, partly_seen(repertoire, seed, 0.5))
        return [tuple(edge.child.key for edge in run.edges) for run in plan.runs]

    assert names() == names()


def test_a_new_repertoire_is_introduced_from_the_start_on() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5 a6 Ba4", "e4 c5 Nf3 d6 d4", "e4 e6 d4"])
    plan = plan_of(repertoire, MemoryStates())
    sans = [question.edge.san for question in plan.questions]
    assert sorted(sans) == sorted(["e4", "Nf3", "Bb5", "Ba4", "Nf3", "d4", "d4"])
    assert sans[0] == "e4"
    assert plan.runs[0].start is node_after(repertoire, "")
    assert all(question.is_new for question in plan.questions)
    assert plan.worth_asking == plan.new == 7
    assert plan.questions[0].why.sentence == "New: comes next by reach, every game gets here."
    assert all(question.why.behind >= 1 for question in plan.questions)


def test_answered_today_or_well_remembered_is_not_asked() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5 a6 Ba4"])
    states = MemoryStates()
    for line, stability, days_ago in (
        ("", 0.2, 0),
        ("e4 e5", 500.0, 1),
        ("e4 e5 Nf3 Nc6", 3.0, 9),
        ("e4 e5 Nf3 Nc6 Bb5 a6", 500.0, 2),
    ):
        seen(states, node_after(repertoire, line), stability=stability, days_ago=days_ago)
    plan = plan_of(repertoire, states)
    (question,) = plan.questions
    assert question.edge.san == "Bb5"
    assert plan.fading == 1
    assert plan.new == 0
    assert question.why.reason is Reason.FADING
    assert plan_of(repertoire, states, desired_retention=0.5).questions == ()


def test_the_higher_loss_comes_first_and_a_new_one_only_where_it_is_worth_more() -> None:
    # Two replies: behind 1…e5 an old position, behind 1…c5 a new one, equally reached.
    repertoire = repertoire_of(["e4 e5 Nf3", "e4 c5 Nc3"])
    start, old = node_after(repertoire, ""), node_after(repertoire, "e4 e5")
    states = MemoryStates()
    seen(states, start, stability=1000.0, days_ago=1)
    seen(states, old, stability=20.0, days_ago=10)
    plan = plan_of(repertoire, states, minutes=0.05)
    assert [question.edge.san for question in plan.questions] == ["Nc3"]
    # An old one that has faded goes before a new one that few games reach.
    many = repertoire_of(["e4 c5 Nf3", "e4 e5 Nc3 Nc6 Bc4", "e4 e5 Nc3 Nf6 g3", "e4 e5 Nc3 d6 d4"])
    memory = MemoryStates()
    for line in ("", "e4 e5"):
        seen(memory, node_after(many, line), stability=1000.0, days_ago=1)
    seen(memory, node_after(many, "e4 c5"), stability=3.0, days_ago=60)
    plan = plan_of(many, memory, minutes=0.05)
    assert [question.edge.san for question in plan.questions] == ["Nf3"]


def test_neighbours_are_asked_in_one_run_that_begins_at_once() -> None:
    line = "e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3 d6 c3"
    repertoire = repertoire_of([line])
    states = MemoryStates()
    words = line.split()
    for length in range(0, len(words), 2):
        fading = words[length] in ("O-O", "Re1", "c3")
        node = node_after(repertoire, " ".join(words[:length]))
        seen(states, node, stability=5.0 if fading else 9000.0, days_ago=10)
    plan = plan_of(repertoire, states)
    runs = [[question.edge.san for question in run.questions] for run in plan.runs]
    assert sorted(runs) == [["O-O", "Re1"], ["c3"]]
    by_first = {run.questions[0].edge.san: run for run in plan.runs}
    assert [edge.san for edge in by_first["O-O"].edges] == ["O-O", "Be7", "Re1"]
    assert [edge.san for edge in by_first["c3"].edges] == ["c3"]
    (last,) = by_first["c3"].questions
    assert last.entry is not None
    assert last.entry.san == "d6"


def test_replies_in_one_position_are_asked_after_taking_moves_back() -> None:
    """Two replies to one move, and what follows one of them: four half-moves are played."""
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 c5 c3", "e4 e6 d4", "d4 d5 c4"])
    states = MemoryStates()
    for node in repertoire.decisions():
        fading = node.edges[0].san in ("Nf3", "Bb5", "c3")
        seen(states, node, stability=5.0 if fading else 9000.0, days_ago=10)
    plan = plan_of(repertoire, states)
    (run,) = plan.runs
    sans = [edge.san for edge in run.edges]
    assert sans in (["c3", "e5", "Nf3", "Nc6", "Bb5"], ["Nf3", "Nc6", "Bb5", "c5", "c3"])
    for question in run.questions[1:]:
        (reply,) = question.approach
        assert question.entry is reply
    asked = sum(plan_of_one(question.why.recall) for question in run.questions)
    # Each further question costs the one reply; what is taken back is not played.
    assert plan.expected_seconds == pytest.approx(asked + 2 * 0.8)


def plan_of_one(recall: float) -> float:
    return recall * 4.0 + (1 - recall) * 10.0


def test_those_alone_give_way_to_neighbours_until_half_are_linked() -> None:
    repertoire, _ = prepared_repertoire(5, 300)
    states = partly_seen(repertoire, 5, 1.0)
    arrays = RepertoireArrays.compile(repertoire)
    table, day = states.table(arrays), states.today(NOW)
    worth = Worth(arrays, planning_graph(arrays), shipped_index(), table, day)
    survey = survey_of(arrays, table, reach(arrays), day, 0.99, worth)
    chosen = Selection(survey, Ways(arrays, survey.open.copy(), {}, day), Timing())

    def cold() -> int:
        """Counted by the runs that are made of what is chosen."""
        return len(RunBuilder(survey, chosen.ways, Timing()).runs(chosen, 1e9))

    chosen.fill(120)
    best, before = dict(chosen.score), chosen.cold
    assert cold() == before > len(chosen) / 2
    chosen.link(120)
    assert chosen.cold <= len(chosen) / 2 < before
    assert cold() == len(chosen) // 2
    gone, come = best.keys() - chosen.score.keys(), chosen.score.keys() - best.keys()
    assert gone
    assert come
    # Only what scored less than the rest had to give way.
    assert np.mean([best[n] for n in gone]) < np.mean(list(best.values()))
    assert all(survey.passable[number] for number in come)


def test_at_most_half_begin_cold_where_there_are_neighbours() -> None:
    repertoire, _ = prepared_repertoire(5, 300)
    states = partly_seen(repertoire, 5, 0.8)
    for minutes in (2, 5, 10):
        plan = plan_of(repertoire, states, minutes)
        assert 2 * len(plan.runs) <= len(plan.questions) + 1
        assert plan.expected_seconds > minutes * 60 - 10
        # What is asked for its neighbours alone says so.
        beside = [q for q in plan.questions if q.why.reason is Reason.ON_THE_WAY]
        assert all(question.why.sentence.startswith("Beside") for question in beside)


def test_where_jumping_costs_time_fewer_questions_begin_cold() -> None:
    repertoire, _ = prepared_repertoire(5, 300)
    states = partly_seen(repertoire, 5, 0.8)
    runs = []
    for jump in (0.0, 2.0, 6.0):
        plan = plan_of(repertoire, states, 10, timing=Timing(jump=jump))
        runs.append(len(plan.runs) / len(plan.questions))
        # What is planned takes the minutes, the jumps and what comes back after a miss included.
        cold = sum(not question.approach for question in plan.questions)
        asked = sum(
            question.why.recall * 4 + (1 - question.why.recall) * (10 + jump)
            for question in plan.questions
        )
        replies = sum(len(question.approach) for question in plan.questions)
        assert plan.expected_seconds == pytest.approx(asked + replies * 0.8 + cold * jump)
        assert 590 < plan.expected_seconds < 612
    assert runs[0] > runs[1] > runs[2]


def test_a_question_that_begins_cold_counts_less_by_what_the_jump_takes() -> None:
    """Two branches alike but for a move known better: by c / (c + jump) it goes on first."""
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 c5 c3 d5 exd5"])
    states = MemoryStates()
    for node in repertoire.decisions():
        fading = node.edges[0].san in ("Nf3", "Bb5", "exd5")
        stability = 6.0 if node.edges[0].san == "Bb5" else 5.0
        seen(states, node, stability=stability if fading else 9000.0, days_ago=10)
    arrays = RepertoireArrays.compile(repertoire)
    table, day = states.table(arrays), states.today(NOW)
    for jump, second in ((0.0, "exd5"), (30.0, "Bb5")):
        worth = Worth(arrays, planning_graph(arrays), shipped_index(), table, day)
        survey = survey_of(arrays, table, reach(arrays), day, 0.99, worth)
        ways = Ways(arrays, survey.open.copy(), {}, day)
        chosen = Selection(survey, ways, Timing(jump=jump))
        chosen.fill(1000)
        assert [ways.main(number).san for number in chosen.score][:2] == ["Nf3", second]


def test_the_orders_of_a_crossing_take_turns() -> None:
    repertoire = repertoire_of(["d4 d5 c4 e6 Nc3", "d4 e6 c4 d5 Nc3", "d4 Nf6 c4 e6 Nf3 d5 Nc3"])
    crossing = node_after(repertoire, "d4 d5 c4 e6")
    states = MemoryStates()
    for node in repertoire.decisions():
        seen(states, node, stability=5.0 if node is crossing else 9000.0, days_ago=10)
    used: dict[int, dict[tuple[int, str], datetime]] = {crossing.key: {}}
    entries = []
    for day in range(5):
        plan = plan_of(repertoire, states, last_entries=used)
        (question,) = plan.questions
        assert question.node is crossing
        assert question.entry is not None
        entries.append(question.entry)
        way = (question.entry.parent.key, question.entry.move.uci())
        used[crossing.key][way] = NOW + timedelta(days=day)
    assert len(crossing.entries) == 2
    assert entries == [crossing.entries[number % 2] for number in range(5)]


def test_a_crossing_of_the_players_own_orders_changes_from_day_to_day() -> None:
    # The crossing is the position after White's move, entered from two decisions.
    repertoire = repertoire_of(["c4 e5 Nc3 d6 g3 g6 Bg2", "c4 d6 g3 e5 Nc3 g6 Bg2", "c4 g6 g3"])
    target = node_after(repertoire, "c4 e5 Nc3 d6 g3 g6")
    assert len(target.entries) == 1
    assert len(target.entries[0].parent.entries) == 2
    states = MemoryStates()
    for node in repertoire.decisions():
        seen(states, node, stability=5.0 if node is target else 9000.0, days_ago=10)
    arrays = RepertoireArrays.compile(repertoire)
    ways = set()
    for day in range(2):
        now = NOW + timedelta(days=day)
        plan = plan_positions(arrays, states, reach(arrays), [target], now=now)
        ways.add(plan.runs[0].lead_in[-2].san)
    assert ways == {"g3", "Nc3"}


def test_black_starts_behind_whites_first_move() -> None:
    repertoire = repertoire_of(["e4 c5 Nf3 d6", "d4 Nf6"], side=False)
    plan = plan_of(repertoire, MemoryStates())
    asked = {question.edge.san: question.entry for question in plan.questions}
    entered = {san: entry.san for san, entry in asked.items() if entry is not None}
    assert entered == {"c5": "e4", "d6": "Nf3", "Nf6": "d4"}


def test_no_minutes_or_nothing_prepared_give_an_empty_plan() -> None:
    assert plan_of(repertoire_of(["e4 e5 Nf3"]), MemoryStates(), minutes=0).runs == ()
    assert plan_of(repertoire_of([]), MemoryStates()).runs == ()
    assert plan_of(Repertoire(), MemoryStates()).runs == ()


def test_expected_seconds_of_a_question() -> None:
    timing = Timing(right=4.0, wrong=6.0, move=0.8)
    assert timing.question(1.0) == 4.0
    # Missed: 6 s, and once more 4 s.
    assert timing.question(0.0) == pytest.approx(10.0)
    assert timing.question(0.5) == pytest.approx(7.0)
    repertoire = repertoire_of(["e4 e5 Nf3"])
    plan = plan_of(repertoire, MemoryStates())
    # Two new moves at a recall of 0.2, and one reply between them.
    assert plan.expected_seconds == pytest.approx(2 * (0.2 * 4 + 0.8 * 10) + 0.8)


def test_time_that_is_left_goes_to_what_is_nearest_to_being_worth_it() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5 a6 Ba4", "e4 c5 c3"])
    states = MemoryStates()
    for node in repertoire.decisions():
        seen(states, node, stability=100.0, days_ago=1)
    weak = node_after(repertoire, "e4 c5")
    seen(states, weak, stability=3.0, days_ago=5)
    plan = plan_of(repertoire, states)
    reasons = {question.node: question.why.reason for question in plan.questions}
    assert reasons[weak] is Reason.FADING
    assert list(reasons.values()).count(Reason.SPARE) == plan.spare_questions == 4
    assert plan.worth_asking == 1
    assert plan.questions[-1].why.sentence.startswith("There is time left: recall is 99 %")
    # A player who wants less is asked less.
    low = plan_of(repertoire, states, desired_retention=0.95)
    assert low.spare_questions == 0


def test_sentences() -> None:
    assert (
        Why(Reason.FADING, 0.718, 0.2).sentence
        == "Recall is down to 71 %, and 1 game in 5 gets here."
    )
    assert (
        Why(Reason.NEW, 0.2, 1 / 12).sentence
        == "New: comes next by reach, 1 game in 12 gets here."
    )
    assert (
        Why(Reason.FADING, 0.718, 0.2, 4.4).sentence
        == "Recall is down to 71 %, and 1 game in 5 gets here, where 3 more moves hang on it."
    )
    assert Why(Reason.NEW, 0.2, 1.0, 2.0).sentence.endswith("where 1 more move hangs on it.")
    assert (
        Why(Reason.ON_THE_WAY, 0.993, 0.2).sentence
        == "Beside another question of today: recall is 99 %."
    )
    assert frequency(0.8) == "8 games in 10 get"
    assert frequency(1 / 4321) == "1 game in 4,321 gets"
    assert frequency(0.0) == "less than 1 game in 10,000 gets"


def test_a_plan_for_a_large_repertoire_asks_what_is_worth_most() -> None:
    repertoire = random_graph(9, 20_000)
    states = partly_seen(repertoire, 9, 1.0)
    arrays = RepertoireArrays.compile(repertoire)
    weight = reach(arrays)
    plan = plan_session(arrays, states, weight, minutes=5, now=NOW)
    table = states.table(arrays)
    day = states.today(NOW)
    worth = Worth(arrays, planning_graph(arrays), shipped_index(), table, day)
    free = arrays.decision & (table.day != day)
    score = np.where(free, worth.score(), 0.0)
    asked = [arrays.number(question.node) for question in plan.questions]
    best = np.sort(score)[::-1]
    assert len(asked) > 30
    # Context costs something; asking the best alone, without any, would be the bound.
    assert score[asked].sum() > 0.75 * best[: len(asked)].sum()


def test_a_new_move_scores_less_than_its_index_as_it_can_wait() -> None:
    repertoire = prepared_repertoire(7, 60)[0]
    states = partly_seen(repertoire, 7, 0.5)
    arrays = RepertoireArrays.compile(repertoire)
    table, day = states.table(arrays), states.today(NOW)
    graph, index = planning_graph(arrays), shipped_index()
    score = Worth(arrays, graph, index, table, day).score()[graph.nodes]
    rows = graph.nodes
    recall = table.recall(day, UNSEEN_RECALL, least_days=1.0)[rows]
    worth = graph.worth(recall[:, None])[:, 0]
    found = index.of(table.stability[rows], table.difficulty[rows], day - table.day[rows])
    new = ~table.seen[rows]
    assert new.any()
    assert (~new).any()
    assert score[~new] == pytest.approx((worth * found)[~new])
    assert score[new] == pytest.approx((worth * index.new * NEW_WAITS)[new])
    assert 0 < NEW_WAITS < 1


def test_on_the_last_days_only_the_tournament_counts() -> None:
    """A new move fades by the day after tomorrow; one learnt a month ago hardly does."""
    repertoire = prepared_repertoire(7, 120)[0]
    states = partly_seen(repertoire, 7, 0.6)
    arrays = RepertoireArrays.compile(repertoire)
    table, day = states.table(arrays), states.today(NOW)
    graph = planning_graph(arrays)
    usual = Worth(arrays, graph, shipped_index(), table, day)
    far = Worth(arrays, graph, shipped_index(), table, day, 3)
    assert np.array_equal(usual.score(), far.score())
    last = Worth(arrays, graph, shipped_index(), table, day, 1).score()
    # By hand: w · (recall tomorrow if asked − if not) / seconds.
    worth = graph.worth(table.recall(day, least_days=1.0)[graph.nodes][:, None])[:, 0]
    model, checked = table.model, 0
    for place, number in enumerate(graph.nodes.tolist()):
        state = states.get(
            arrays.nodes[number].key, arrays.edges[arrays.main_edge[number]].move.uci()
        )
        recall = UNSEEN_RECALL if state is None else float(table.recall(day)[number])
        ways = [model.review(state, rating, day) for rating in (Rating.Good, Rating.Again)]
        if state is not None and state.day == day:
            continue
        after = [float(model.recall(np.array(1.0), np.array(way.stability))) for way in ways]
        stays = UNSEEN_RECALL if state is None else float(table.recall(day + 1)[number])
        gain = recall * after[0] + (1 - recall) * after[1] - stays
        cost = 4 * recall + 10 * (1 - recall)
        assert last[number] == pytest.approx(worth[place] * max(0.0, gain) / cost)
        checked += 1
    assert checked > 80
