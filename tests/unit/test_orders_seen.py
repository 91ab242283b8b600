"""How often move orders were seen, held to what the drill really showed."""

from __future__ import annotations

import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeAlias

import chess
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.memory_graphs import node_after, random_repertoire, repertoire_of
from trainer.memory.course import Course
from trainer.memory.days import StudyDays
from trainer.position import position_key
from trainer.repertoire.crossings import orders_of_crossing
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders_seen import Sightings, orders_in_drills, orders_in_games
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire
from trainer.resources import repertoire_path
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.settings import Settings

START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
TWO = ["Nf3 d5 g3 Nf6 Bg2", "Nf3 Nf6 g3 d5"]


#: How often each position was entered by each move in UCI notation.
Ways: TypeAlias = Counter[tuple[Node, str]]


class Clock:
    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        return self.now


def course_on(repertoire: Repertoire, clock: Clock, seed: int) -> Course:
    return Course(
        LoadedRepertoire(repertoire, [], side_guessed=False, path=Path("made-here.pgn")),
        None,
        Settings(strangers=False),
        clock=clock,
        days=StudyDays(),
        rng=random.Random(seed),
    )


def drilled(course: Course, clock: Clock, days: int, misses: random.Random) -> Ways:
    """Drill for some days; how often each crossing was seen to be entered, by the screen."""
    crossings = set(course.repertoire.crossings())
    seen: Ways = Counter()
    for _ in range(days):
        session = course.begin(10)
        while (prompt := session.prompt) is not None:
            main = prompt.node.edges[0]
            if prompt.last_move is not None and prompt.node in crossings:
                seen[prompt.node, prompt.last_move.uci()] += 1
            if misses.random() < 0.2:
                wrong = [m for m in prompt.board.legal_moves if prompt.node.edge_for(m) is None]
                session.answer(wrong[0], 2.0)
                session.correct(main.move)
            else:
                session.answer(main.move, 2.0)
            if main.child in crossings:
                seen[main.child, main.move.uci()] += 1
            clock.now += timedelta(seconds=4)
        clock.now += timedelta(days=1)
    return seen


def entered(graph: OrderGraph, seen: dict[tuple[str, ...], int]) -> Ways:
    found: Ways = Counter()
    for ucis, times in seen.items():
        order = graph.order_along(ucis)
        assert order is not None
        assert len(set(order.nodes)) == len(order.nodes)
        found[order.nodes[-1], ucis[-1]] += times
    return found


@pytest.mark.parametrize("seed", range(6))
def test_each_way_in_is_counted_as_the_drill_showed_it(seed: int) -> None:
    clock = Clock()
    course = course_on(random_repertoire(seed, lines=14, plies=8), clock, seed)
    shown = drilled(course, clock, 4, random.Random(seed))
    graph = OrderGraph(course.repertoire)
    assert entered(graph, orders_in_drills(graph, course.answers)) == shown


def test_the_demo_drilled_for_a_week() -> None:
    clock = Clock()
    repertoire = read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire
    course = course_on(repertoire, clock, 3)
    shown = drilled(course, clock, 7, random.Random(3))
    graph = OrderGraph(repertoire)
    counted = entered(graph, orders_in_drills(graph, course.answers))
    assert sum(shown.values()) > 40
    # A question that a section begins on has no way in.
    assert counted == shown


def answer(repertoire: Repertoire, line: str, *, session: int, minute: int) -> Answer:
    """A right answer in the position after `line`, which was entered by its last move."""
    *before, last = line.split()
    parent, node = node_after(repertoire, " ".join(before)), node_after(repertoire, line)
    edge = next(edge for edge in parent.edges if edge.san == last)
    return Answer(
        repertoire_id=1,
        key=node.key,
        move=node.edges[0].move.uci(),
        played=node.edges[0].move.uci(),
        kind=AnswerKind.DRILL,
        grade=Grade.CLEAN,
        at=START + timedelta(minutes=minute),
        seconds=2.0,
        session_id=session,
        entered_from=parent.key,
        entered_by=edge.move.uci(),
    )


def test_answers_of_one_run_are_chained() -> None:
    repertoire = repertoire_of(TWO)
    graph = OrderGraph(repertoire)
    crossing = node_after(repertoire, "Nf3 d5 g3 Nf6")
    one_run = [
        answer(repertoire, "Nf3 Nf6", session=1, minute=0),
        answer(repertoire, "Nf3 Nf6 g3 d5", session=1, minute=1),
    ]
    assert orders_in_drills(graph, one_run) == {
        ("g1f3", "g8f6", "g2g3", "d7d5"): 1,
    }
    # 2…Nf6 on its own: what came before is the shortest order to 2 g3.
    alone = [answer(repertoire, "Nf3 d5 g3 Nf6", session=2, minute=5)] * 3
    seen = orders_in_drills(graph, [*one_run, *alone])
    assert seen["g1f3", "d7d5", "g2g3", "g8f6"] == 3
    sightings = Sightings(graph, seen, {("g1f3", "g8f6", "g2g3", "d7d5"): 1, ("a2a3",): 7})
    first, second = sightings.at(crossing)
    assert (first.order.sans, first.drills, first.games) == (["Nf3", "d5", "g3", "Nf6"], 3, 0)
    assert (second.drills, second.games) == (1, 1)
    assert sightings.times(crossing) == 5
    found = orders_of_crossing(graph, crossing, seen=sightings.total)
    assert found.most_seen is not None
    assert (found.most_seen.sans, found.most_seen.seen) == (["Nf3", "d5", "g3", "Nf6"], 3)
    likely = graph.likeliest(repertoire.roots[0])
    assert likely is not None
    assert (sightings.of(likely).drills, sightings.of(likely).order.seen) == (0, 0)


def test_a_position_that_was_deleted_breaks_the_chain() -> None:
    repertoire = repertoire_of([*TWO, "Nf3 Nf6 g3 e5"])
    log = [
        answer(repertoire, "Nf3 Nf6", session=1, minute=0),
        answer(repertoire, "Nf3 Nf6 g3 d5", session=1, minute=1),
    ]
    fresh = repertoire_of(["Nf3 d5 g3 Nf6 Bg2", "Nf3 c5 g3 Nc6"])
    assert orders_in_drills(OrderGraph(fresh), log) == {}


@given(st.integers(0, 2**32), st.integers(1, 12))
@example(217179, 10)  # One of the games ends with a mate.
def test_orders_in_games_equal_a_count_by_hand(seed: int, count: int) -> None:
    rng = random.Random(seed)
    repertoire = random_repertoire(seed, lines=10, plies=8)
    graph = OrderGraph(repertoire)
    games: list[list[str]] = []
    played: list[list[int]] = []
    for _ in range(count):
        board, moves = chess.Board(), []
        keys = [position_key(board)]
        for _ in range(rng.randint(0, 12)):
            node = repertoire.node_at(board)
            known = [edge.move for edge in node.edges] if node is not None else []
            pool = known if known and rng.random() < 0.9 else list(board.legal_moves)
            if not pool:
                break  # the game is over
            move = rng.choice(pool)
            moves.append(move.uci())
            board.push(move)
            keys.append(position_key(board))
        games.append(moves)
        played.append(keys)
    wanted: Counter[tuple[str, ...]] = Counter()
    for moves in games:
        for ply in range(1, len(moves) + 1):
            order = graph.order_along(moves[:ply])
            if order is None or len(set(order.nodes)) < len(order.nodes):
                break
            if len(order.nodes[-1].entries) > 1:
                wanted[tuple(moves[:ply])] += 1
    assert orders_in_games(graph, played) == wanted


def test_games_where_the_repertoire_knows_no_starting_position() -> None:
    repertoire = repertoire_of(["Kd2 Kd7"], fen="4k3/8/8/8/8/8/8/4K3 w - - 0 1")
    assert orders_in_games(OrderGraph(repertoire), [[position_key(chess.Board())], []]) == {}


def test_games_that_begin_as_a_section_does() -> None:
    fen = "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"
    repertoire = repertoire_of(["Kd1 Kd7 e3 Kd6", "e3 Kd7 Kd1"], fen=fen)
    graph = OrderGraph(repertoire)
    board = chess.Board(fen)
    keys = [position_key(board)]
    for san in ("Kd1", "Kd7", "e3"):
        board.push_san(san)
        keys.append(position_key(board))
    (ucis,) = orders_in_games(graph, [keys])
    assert ucis == (chess.Board(fen).epd(), "e1d1", "e8d7", "e2e3")
    (seen,) = Sightings(graph, None, {ucis: 1}).at(repertoire.nodes[keys[-1]])
    assert (seen.order.sans, seen.games) == (["Kd1", "Kd7", "e3"], 1)
