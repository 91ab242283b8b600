"""Lessons from what the player has: a section, a structure, a game, moments."""

from __future__ import annotations

import datetime
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import replace

import chess

from trainer.lesson.breaks import Break, breaks
from trainer.lesson.facts import BreakFact, MomentFact, StructureFact, TrickFact
from trainer.lesson.handout.model import (
    Diagram,
    HandoutError,
    Heading,
    Item,
    Lesson,
    Lines,
    Step,
    Text,
)
from trainer.lesson.moments import Moment
from trainer.lesson.narrate import Draft
from trainer.lesson.shares import StructureShare
from trainer.lesson.structures import Found, StructureBook
from trainer.lesson.trace import trace_of
from trainer.lesson.trick_text import side_name
from trainer.notation.display import numbered, percent, sentence_list
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.orders import order_of
from trainer.repertoire.sections import root_board

#: Lines of a repertoire shown with a structure.
_MOST_EXAMPLES = 6
#: Structures of a repertoire that a section's lesson shows diagrams of.
_MOST_DIAGRAMS = 4
#: Diagrams in the lesson of a game, and which facts get one before others.
_MOST_SEEN = 8
_RANKS = {TrickFact: 0, MomentFact: 0, StructureFact: 1, BreakFact: 2}


def lesson_of_sections(
    repertoire: Repertoire,
    sections: Sequence[Section],
    book: StructureBook,
    *,
    title: str = "",
    coach: str = "",
    date: datetime.date | None = None,
) -> Lesson:
    """The sections with their text, the structures they lead to, and all their lines."""
    items: list[Item] = []
    for section in sections:
        if len(sections) > 1:
            items.append(Heading(section.title))
        items.extend(Text(paragraph) for paragraph in section.intro)
        lines = section_lines(section, flipped=not repertoire.side)
        items.extend(_structure_diagrams(lines, book, repertoire.side))
        items.append(lines)
    name = title or (sections[0].title if len(sections) == 1 else "A repertoire")
    return Lesson(name, tuple(items), coach, date)


def section_lines(section: Section, *, flipped: bool = False) -> Lines:
    """All moves that stand in a section, with their notes and signs.

    The main line is written first and to its end, then the variations, those nearest to the start
    first. A position goes on at one place; where another order reaches it, a note says where.
    """
    board = root_board(section) or section.root.board()
    steps: list[Step] = []
    boards: list[chess.Board] = []
    goes_on: dict[Node, int | None] = {}
    waiting: deque[tuple[int | None, Edge]] = deque()

    def write(parent: int | None, edge: Edge) -> int:
        before = board if parent is None else boards[parent]
        after = before.copy(stack=False)
        after.push(edge.move)
        comments = edge.comments
        if edge.child in goes_on:
            comments = (*comments, _goes_on_as(goes_on[edge.child], steps, board, boards))
        steps.append(Step(edge.move, edge.san, parent, edge.nags, edge.before, comments))
        boards.append(after)
        return len(steps) - 1

    def follow(node: Node, place: int | None) -> None:
        while node not in goes_on:
            goes_on[node] = place
            onward = [edge for edge in node.edges if edge in section.stands]
            if not onward:
                return
            waiting.extend((place, edge) for edge in onward[1:])
            place = write(place, onward[0])
            node = onward[0].child

    follow(section.root, None)
    while waiting:
        parent, edge = waiting.popleft()
        follow(edge.child, write(parent, edge))
    return Lines(board, tuple(steps), flipped)


def _goes_on_as(
    place: int | None, steps: list[Step], board: chess.Board, boards: list[chess.Board]
) -> str:
    if place is None:
        return "The position at the start."
    step = steps[place]
    before = board if step.parent is None else boards[step.parent]
    dots = " " if before.turn else "…"
    return f"Goes on as after {before.fullmove_number}{dots}{step.san}."


def _structure_diagrams(lines: Lines, book: StructureBook, side: chess.Color) -> list[Item]:
    """The first position of each structure along the main line, with the breaks as arrows."""
    children = lines.children()
    boards = lines.boards()
    here: int | None = None
    main = [lines.board]
    while here in children or (here is None and None in children):
        here = children[here][0]
        main.append(boards[here])
    found: list[Item] = []
    for stretch in book.along(main):
        if stretch.until is not None and stretch.until - stretch.since < 4:
            continue
        last = (stretch.until or len(main)) - 1
        found.append(structure_diagram(main[last], stretch.found, side))
    return found[:_MOST_DIAGRAMS]


def structure_diagram(board: chess.Board, found: Found, side: chess.Color) -> Diagram:
    """A position with the usual breaks of both sides that its pawns can still make as arrows."""
    usual = usual_breaks(board, found)
    caption = f"{found.name}."
    for color in (side, not side):
        own = [one for one in usual if one.side == color]
        if own:
            caption += f" {side_name(color)}: {sentence_list(one.name for one in own)}."
    arrows = tuple((one.start, one.target) for one in usual)
    return Diagram(board, caption, arrows, tuple(found.pawns_on(board)), flipped=not side)


def usual_breaks(board: chess.Board, found: Found) -> list[Break]:
    """The breaks of a position, now or after preparation, that go with its structure."""
    return [
        one
        for side in chess.COLORS
        for one in breaks(board, side)
        if one.target in found.breaks(side)
    ]


def lesson_of_structure(
    repertoire: Repertoire,
    share: StructureShare,
    *,
    notes: str = "",
    coach: str = "",
    date: datetime.date | None = None,
) -> Lesson:
    """A structure of a repertoire: plans, breaks, the player's notes, lines that lead to it."""
    found, side = share.found, repertoire.side
    items: list[Item] = [
        Text(
            f"It is met in {percent(share.met)} of the games that follow this repertoire, "
            f"and {percent(share.ends)} of its lines end with it, by reach."
        )
    ]
    boards = [node.board() for node in share.nodes]
    if boards:
        items.append(structure_diagram(_richest(boards, found), found, side))
    for color in (side, not side):
        items.append(Heading(f"What {side_name(color)} plays for"))
        items.append(Text(found.plan(color)))
    items.append(Text(f"Plans and breaks: {found.structure.source}."))
    if notes:
        items.append(Heading("Own notes"))
        items.extend(Text(line) for line in notes.splitlines() if line.strip())
    examples = list(_examples(repertoire, share.nodes))
    if examples:
        items.append(Heading("Lines that lead to it"))
        items.extend(examples)
    return Lesson(found.name, tuple(items), coach, date)


def _richest(boards: list[chess.Board], found: Found) -> chess.Board:
    """The position in which most of the usual breaks can still be made."""
    return max(boards, key=lambda board: len(usual_breaks(board, found)))


def _examples(repertoire: Repertoire, nodes: Iterable[Node]) -> Iterable[Lines]:
    """One line to each position where the structure comes about, as far as a page holds them."""
    inside = {node.key for node in nodes}
    count = 0
    for node in nodes:
        if any(edge.parent.key in inside for edge in node.entries):
            continue
        order = order_of(repertoire, node)
        if not order:
            continue
        steps = tuple(
            Step(edge.move, edge.san, None if number == 0 else number - 1)
            for number, edge in enumerate(order)
        )
        yield Lines(order[0].parent.board(), steps, flipped=not repertoire.side)
        count += 1
        if count == _MOST_EXAMPLES:
            return


def lesson_of_game(
    draft: Draft,
    *,
    moments: Sequence[Moment] = (),
    flipped: bool = False,
    coach: str = "",
    date: datetime.date | None = None,
) -> Lesson:
    """A game with its notes, diagrams of what they stand on, and questions.

    What a note says of a moment that is asked stands with the answer, not with the moves.
    """
    game = draft.game
    asked = {id(moment.board): moment for moment in moments}
    told, kept = _without_answers(draft, asked)
    items: list[Item] = [Text(one.text) for one in kept.at(0)]
    where = ", ".join(part for part in (game.event, game.date) if part)
    if where:
        items.insert(0, Text(f"{where}."))
    items.append(kept.lines(flipped=flipped))
    items.extend(_seen_in_game(kept, flipped=flipped))
    items.append(
        Diagram(
            game.boards[-1],
            f"The end, after {game.numbered(len(game.moves))}." if game.moves else "",
            flipped=flipped,
        )
    )
    for moment in moments:
        more = told.get(id(moment.board), "")
        question = moment.question()
        items.append(replace(question, solution=f"{question.solution} {more}".strip()))
    return Lesson(game.title, tuple(items), coach, date)


def _without_answers(draft: Draft, asked: dict[int, Moment]) -> tuple[dict[int, str], Draft]:
    """The notes that would give answers away, by the board asked, and the draft without them."""
    told: dict[int, str] = {}
    kept = []
    for one in draft.sentences:
        before = id(draft.game.boards[one.ply - 1]) if one.ply else 0
        if isinstance(one.fact, MomentFact) and before in asked:
            # What was computed stands in the answer anyway; a coach's own words do not.
            if one.edited:
                told[before] = one.text
        else:
            kept.append(one)
    return told, Draft(draft.game, tuple(kept))


def _seen_in_game(draft: Draft, *, flipped: bool) -> list[Diagram]:
    """Diagrams of the structures, breaks, tricks and moments that the notes tell of.

    Those of a kind that are told first; breaks only where there is room.
    """
    found: list[tuple[int, int, Diagram]] = []
    for one in draft.sentences:
        rank = _RANKS.get(type(one.fact))
        if rank is None or (isinstance(one.fact, StructureFact) and not one.fact.began):
            continue
        trace = trace_of(draft.game, one.ply, one.fact)
        arrows, marks = trace.arrows, trace.marks
        if isinstance(one.fact, StructureFact):
            usual = usual_breaks(trace.board, one.fact.found)
            arrows = tuple((each.start, each.target) for each in usual)
        caption = f"{draft.game.numbered(one.ply)}. {one.text}" if one.ply else one.text
        found.append((rank, one.ply, Diagram(trace.board, caption, arrows, marks, flipped)))
    found.sort(key=lambda one: one[:2])
    chosen = sorted(found[:_MOST_SEEN], key=lambda one: one[1])
    return [diagram for _, _, diagram in chosen]


def lesson_of_moments(
    moments: Sequence[Moment],
    *,
    title: str = "Find the move",
    coach: str = "",
    date: datetime.date | None = None,
) -> Lesson:
    """Questions only. Raises `HandoutError` where there are none."""
    if not moments:
        raise HandoutError("There is no moment to hand out: choose moves, such as 12w, 15b.")
    return Lesson(title, tuple(moment.question() for moment in moments), coach, date)


def chosen_sections(repertoire: Repertoire, wanted: str) -> list[Section]:
    """The sections that `wanted` names: all where empty, one by its number, or by its title.

    A title may be given in part, in either case. Raises `HandoutError` where none fits.
    """
    sections = repertoire.sections
    if not sections:
        raise HandoutError("The repertoire has no sections; choose another file.")
    if not wanted:
        return sections
    if wanted.isdecimal() and 1 <= int(wanted) <= len(sections):
        return [sections[int(wanted) - 1]]
    fitting = [one for one in sections if wanted.casefold() in one.title.casefold()]
    if not fitting:
        names = "; ".join(f"{number} {one.title}" for number, one in enumerate(sections, start=1))
        raise HandoutError(f"There is no section “{wanted}”: choose one of {names}.")
    return fitting


def chosen_structure(shares: Sequence[StructureShare], wanted: str) -> StructureShare:
    """The structure that `wanted` names by its key or a part of its name.

    Raises `HandoutError` where the repertoire has none such.
    """
    exact = [one for one in shares if one.found.key == wanted]
    fitting = exact or [one for one in shares if wanted.casefold() in one.found.name.casefold()]
    if not fitting:
        names = ", ".join(one.found.key for one in shares) or "none"
        raise HandoutError(
            f"The repertoire does not lead to a structure “{wanted}”: choose one of {names}."
        )
    return fitting[0]


def order_text(repertoire: Repertoire, node: Node) -> str:
    """The moves to a position as books print them; empty at a starting position."""
    order = order_of(repertoire, node) or ()
    return numbered([edge.san for edge in order], turn=order[0].parent.turn) if order else ""


def since_text(repertoire: Repertoire, node: Node, found: Found, book: StructureBook) -> str:
    """By which move of a shortest order to a position its structure came about: `6 e4`.

    What stood until that move is named behind it. Empty where the order begins with it.
    """
    order = order_of(repertoire, node) or ()
    if not order:
        return ""
    boards = [order[0].parent.board(), *(edge.child.board() for edge in order)]
    stretches = book.along(boards)
    for stretch in stretches:
        if stretch.found.key == found.key and stretch.until is None and stretch.since:
            turn = order[0].parent.turn
            half = stretch.since - 1 + (0 if turn else 1)
            san = order[stretch.since - 1].san
            before = [one.found.name for one in stretches if one.until == stretch.since]
            changed = f", before it the {sentence_list(before)}" if before else ""
            return f"{half // 2 + 1}{'…' if half % 2 else ' '}{san}{changed}"
    return ""
