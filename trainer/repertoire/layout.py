"""Which section writes which move, and where: the plan of a repertoire file.

A graph has no order of its own for text, so a plan is made section by section in the very order
in which a reader meets the moves. From that follow the rules that keep a file and its graph the
same thing:

- Each move that can be reached is *new* at one place only. It is new in the section where it
  stands (`Section.stands`); where that is no longer possible, because moves were taken away or
  added, at the place of the move before it in priority, or where its position first comes up.
- No move is new before one of higher priority in the same position, so reading gives back the
  order of `Node.edges`. A move of higher priority is drawn to the earlier place.
- At a decision every place begins with the main move, repeated if need be, unless the section
  disputes it (`Section.disputes`) and the conflict is still open (`Repertoire.claims`).
- What is repeated and leads to nothing is left out again; a section with nothing of its own
  keeps its first line.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import chess

from trainer.repertoire.graph import Edge, Node, Place, Repertoire, Section
from trainer.repertoire.sections import first_line, root_board


class Written:
    """A move at one place of the text; the root of a section has no move.

    `new` tells that the move stands here and takes its comments along, `ply` is the number of
    half-moves made so far (by the root's move number), `goes_on` lists what is written behind
    it, the main move first.
    """

    __slots__ = (
        "announces",
        "before",
        "chosen",
        "dispute",
        "edge",
        "goes_on",
        "keep",
        "new",
        "node",
        "placing",
        "ply",
    )

    def __init__(self, node: Node, edge: Edge | None, before: Written | None) -> None:
        self.node = node
        self.edge = edge
        self.before = before
        self.ply: int = 0 if before is None else before.ply + 1
        self.goes_on: list[Written] = []
        self.new = False
        #: Whether the section's own moves behind this edge are written behind this place.
        self.placing = True
        #: Whether the move is here because the section prefers it to the main one.
        self.chosen = False
        #: Whether a variation with the same move follows, which goes on.
        self.announces = False
        self.keep = False
        self.dispute: _Dispute | None = None


class Layout:
    """The plan of a file: `roots`, one for each section, and where each position goes on."""

    def __init__(self, repertoire: Repertoire) -> None:
        self.repertoire = repertoire
        self.roots: list[Written] = []
        #: For each position with moves: the number of the section, from 1, and the place there
        #: behind which its main move is new.
        self.homes: dict[Node, tuple[int, Written]] = {}
        #: False where the plan differs from what the sections say in `stands`, so that the text,
        #: once read, may be planned in a slightly different way again.
        self.settled = True
        #: Conflicts that need care (see `_lay_out_all`).
        self.delicate: set[Node] = set()
        self.announced: set[Node] = set()
        self._known: set[Edge] = set()
        self._shown: set[Edge] = set()
        live = _reachable(repertoire)
        hints = [_valid_stands(section, live) for section in repertoire.sections]
        self._loose = _give_homes(live, hints)
        self._lay_out_all(live, hints)
        hidden = self._hidden_conflicts()
        if hidden:
            self.delicate = hidden
            self.settled = False
            self._lay_out_all(live, hints)
            self.announced = self._hidden_conflicts()
            if self.announced:
                self._lay_out_all(live, hints)

    def _lay_out_all(self, live: dict[Node, None], hints: list[dict[Edge, Edge | None]]) -> None:
        """Plan all sections.

        The order of the text may differ from that of the file that was read: lines that cross
        are joined, nested alternatives set side by side. A disputed choice can then come up
        before the main move is known and could not be told from it. For such `delicate`
        conflicts the two places change roles, and what is claimed becomes new together.
        """
        self.roots.clear()
        self.homes.clear()
        self._known.clear()
        self._shown.clear()
        for number, section in enumerate(self.repertoire.sections, start=1):
            disputes = _open_disputes(self.repertoire, section, live, self.delicate)
            self.roots.append(self._lay_out(number, section, hints[number - 1], disputes))

    def _hidden_conflicts(self) -> set[Node]:
        """Conflicts of which some claim would not be seen in the text."""
        return {
            node
            for node, claimed in self.repertoire.claims.items()
            if node in self.homes
            and any(
                edge not in self._shown and edge is not node.edges[0]
                for edge in claimed
                if edge in self._known
            )
        }

    def _lay_out(
        self,
        number: int,
        section: Section,
        stands: dict[Edge, Edge | None],
        disputes: _Dispute | None,
    ) -> Written:
        root = Written(section.root, None, None)
        board = root_board(section)
        root.ply = 0 if board is None else board.ply()
        own = [edge for edge in stands if edge not in self._known]
        loose = section.root in self._loose and section.root not in self.homes
        if own or disputes is not None or loose:
            root.dispute = disputes
            if disputes is not None:
                self.settled = False
            page = _Page(self, number, stands, own)
            page.fill(root)
            if _prune(page.written, root, self.repertoire.side):
                self.settled = False
            self._shown.update(page.chosen)
        if not root.goes_on:
            _repeat_first_line(root, stands, self.repertoire.side)
        return root

    def is_loose(self, node: Node) -> bool:
        """Whether no section says where the moves of this position stand."""
        return node in self._loose

    def is_known(self, edge: Edge) -> bool:
        """Whether the move was written at an earlier place."""
        return edge in self._known

    def add(self, number: int, place: Written) -> None:
        """Note the first place of a move."""
        edge = place.edge
        assert edge is not None
        assert place.before is not None
        place.new = True
        self._known.add(edge)
        self.homes.setdefault(edge.parent, (number, place.before))


class _Dispute:
    """The disputed choices of a section as a tree of moves from its root."""

    __slots__ = ("choice", "goes_on")

    def __init__(self) -> None:
        self.choice: Edge | None = None
        self.goes_on: dict[Edge, _Dispute] = {}


class _Page:
    """One section being laid out, in the order of its text."""

    def __init__(
        self,
        layout: Layout,
        number: int,
        stands: dict[Edge, Edge | None],
        own: Iterable[Edge],
    ) -> None:
        self._layout = layout
        self._side = layout.repertoire.side
        self._number = number
        self._stands = stands
        self._placed: set[Edge] = set()
        #: Choices that came up before the main move was known, to be shown at its place.
        self._owed: dict[Node, list[Edge]] = {}
        self.written: list[Written] = []
        self.chosen: list[Edge] = []
        needed: set[Edge] = set()
        for edge in own:
            step: Edge | None = edge
            while step is not None and step not in needed:
                needed.add(step)
                step = stands[step]
        self._behind: dict[Edge | None, list[Edge]] = {}
        for edge, before in stands.items():
            if edge in needed:
                self._behind.setdefault(before, []).append(edge)

    def fill(self, root: Written) -> None:
        """Lay out the whole section behind its root."""
        stack: list[tuple[Written, Edge | None]] = [(root, None)]
        while stack:
            place, variation = stack.pop()
            if variation is not None:
                if variation in self._placed and not _disputed(place.dispute, variation):
                    # An inner line came by this position first and took the move along.
                    self._layout.settled = False
                    continue
                stack.append((self._write(place, variation), None))
                continue
            moves, chosen = self._moves_behind(place)
            if moves:
                main = self._write(place, moves[0])
                main.chosen = chosen
                if place.node in self._layout.announced and main.new:
                    self._announce(place, moves[1:])
                # In the text the variations stand between the main move and what follows it.
                stack.append((main, None))
                stack.extend((place, edge) for edge in reversed(moves[1:]))

    def _announce(self, before: Written, variations: list[Edge]) -> None:
        """Name all moves at once, before the first of them is followed any further."""
        for edge in variations:
            if not self._layout.is_known(edge):
                place = Written(edge.child, edge, before)
                place.announces = True
                self._layout.add(self._number, place)
                before.goes_on.append(place)
                self.written.append(place)

    def _write(self, before: Written, edge: Edge) -> Written:
        place = Written(edge.child, edge, before)
        if before.dispute is not None:
            place.dispute = before.dispute.goes_on.get(edge)
        place.placing = edge not in self._placed
        self._placed.add(edge)
        if not self._layout.is_known(edge):
            self._layout.add(self._number, place)
            if not before.placing or self._stands.get(edge, edge) is not before.edge:
                self._layout.settled = False
        before.goes_on.append(place)
        self.written.append(place)
        return place

    def _moves_behind(self, place: Written) -> tuple[list[Edge], bool]:
        """The moves to write behind a place, and whether the first is a disputed choice."""
        node, layout = place.node, self._layout
        wanted: set[Edge] = set()
        if place.placing:
            wanted.update(
                edge
                for edge in self._behind.get(place.edge, ())
                if edge.parent is node and edge not in self._placed
            )
            if layout.is_loose(node):
                wanted.update(edge for edge in node.edges if not layout.is_known(edge))
        if place.dispute is not None:
            wanted.update(place.dispute.goes_on)
            if place.dispute.choice is not None:
                wanted.add(place.dispute.choice)
        if not wanted:
            return [], False
        if node in layout.delicate and not layout.is_known(node.edges[0]):
            wanted.update(self._claimed(node))
        choice = self._choice(place)
        moves = self._in_priority(node, wanted)
        if choice is not None:
            first = choice
            self.chosen.append(choice)
        elif node.turn == self._side:
            first = node.edges[0]
        else:
            first = moves[0]
        return [first, *(edge for edge in moves if edge is not first)], choice is not None

    def _choice(self, place: Written) -> Edge | None:
        """The move that stands first here though it is not the main one, or None."""
        choice = None if place.dispute is None else place.dispute.choice
        if choice is None:
            return None
        main = place.node.edges[0]
        if choice is main:
            owed = self._owed.get(place.node)
            return owed.pop(0) if owed and self._layout.is_known(main) else None
        if self._may_lead(choice):
            return choice
        self._owed.setdefault(place.node, []).append(choice)
        return None

    def _claimed(self, node: Node) -> list[Edge]:
        claims = self._layout.repertoire.claims.get(node, ())
        return [edge for edge in node.edges if edge in claims]

    def _in_priority(self, node: Node, wanted: set[Edge]) -> list[Edge]:
        """The wanted moves, and all that have to be new no later than they are."""
        last_new = -1
        for index, edge in enumerate(node.edges):
            if edge in wanted and not self._layout.is_known(edge):
                last_new = index
        return [
            edge
            for index, edge in enumerate(node.edges)
            if edge in wanted or (index < last_new and not self._layout.is_known(edge))
        ]

    def _may_lead(self, choice: Edge) -> bool:
        """Whether all moves of higher priority were written, so that this one may stand first."""
        for edge in choice.parent.edges:
            if edge is choice:
                return True
            if not self._layout.is_known(edge):
                return False
        return False


def _disputed(dispute: _Dispute | None, edge: Edge) -> bool:
    return dispute is not None and (edge in dispute.goes_on or edge is dispute.choice)


def _prune(written: list[Written], root: Written, side: chess.Color) -> bool:
    """Take out what is repeated and leads to nothing; tells whether anything was."""
    pruned = False
    for place in reversed(written):
        place.keep = place.keep or place.new or place.chosen
        if place.keep and place.before is not None:
            place.before.keep = True
    for place in (root, *written):
        if place.goes_on:
            kept = [behind for behind in place.goes_on if behind.keep]
            main = place.goes_on[0]
            # Without the main move the next one would take its place, and what follows that
            # one would come later in the text.
            if kept and not main.keep and (place.node.turn == side or len(kept) > 1):
                kept.insert(0, main)
            if len(kept) < len(place.goes_on) or (place.node.turn != side and not main.keep):
                pruned = True
            place.goes_on = kept
    return pruned


def _repeat_first_line(root: Written, stands: dict[Edge, Edge | None], side: chess.Color) -> None:
    """Let a section whose moves are all known show its first line."""
    place = root
    for found in first_line(stands):
        main = found.parent.edges[0]
        other = found.parent.turn == side and found is not main
        behind = Written((main if other else found).child, main if other else found, place)
        place.goes_on.append(behind)
        if other:
            return
        place = behind


def _reachable(repertoire: Repertoire) -> dict[Node, None]:
    """All positions that can be reached from the section roots, in the order they are met."""
    found = dict.fromkeys(repertoire.roots)
    stack = list(found)
    while stack:
        for edge in stack.pop().edges:
            if edge.child not in found:
                found[edge.child] = None
                stack.append(edge.child)
    return found


def _valid_stands(section: Section, live: dict[Node, None]) -> dict[Edge, Edge | None]:
    """The part of `stands` that still forms unbroken paths from the root."""
    stands = section.stands
    verdict: dict[Edge, bool] = {}
    for start in stands:
        chain: list[Edge] = []
        edge: Edge | None = start
        valid = True
        while edge is not None:
            known = verdict.get(edge)
            if known is not None:
                valid = known
                break
            # Until the root is seen; a ring of moves meets this and ends.
            verdict[edge] = False
            chain.append(edge)
            if edge not in stands or not _is_live(edge, live):
                valid = False
                break
            before = stands[edge]
            parent = section.root if before is None else before.child
            if parent is not edge.parent:
                valid = False
                break
            edge = before
        for edge in chain:
            verdict[edge] = valid
    return {edge: before for edge, before in stands.items() if verdict[edge]}


def _is_live(edge: Edge, live: dict[Node, None]) -> bool:
    return edge.parent in live and any(edge is other for other in edge.parent.edges)


def _give_homes(live: dict[Node, None], hints: list[dict[Edge, Edge | None]]) -> set[Node]:
    """Let moves that stand nowhere stand beside the move before them in priority.

    Returns the positions none of whose moves stand anywhere.
    """
    home: dict[Edge, int] = {}
    for number, stands in enumerate(hints):
        for edge in stands:
            home.setdefault(edge, number)
    loose: set[Node] = set()
    for node in live:
        beside: Edge | None = None
        for edge in node.edges:
            if edge not in home and beside is not None:
                number = home[edge] = home[beside]
                hints[number][edge] = hints[number][beside]
            if edge in home:
                beside = edge
        if beside is None and node.edges:
            loose.add(node)
    return loose


def _open_disputes(
    repertoire: Repertoire, section: Section, live: dict[Node, None], delicate: set[Node]
) -> _Dispute | None:
    """The section's choices that are still claimed, as a tree; None where there are none.

    The choices of the main move that they disagree with count for `delicate` conflicts only.
    """
    root = _Dispute()
    found = False
    branches: dict[Place, _Dispute | None] = {}
    for place in section.disputes:
        edge = place.edge
        claimed = repertoire.claims.get(edge.parent, ())
        if not any(edge is other for other in claimed) or not _is_live(edge, live):
            continue
        if edge is edge.parent.edges[0] and edge.parent not in delicate:
            continue
        before = place.before
        parent = section.root if before is None else before.edge.child
        if parent is not edge.parent:
            continue
        branch = root if before is None else _branch(root, section, before, live, branches)
        if branch is not None and branch.choice is None:
            branch.choice = edge
            found = True
    return root if found else None


def _branch(
    root: _Dispute,
    section: Section,
    place: Place,
    live: dict[Node, None],
    branches: dict[Place, _Dispute | None],
) -> _Dispute | None:
    """The branch behind a place, made where it is new; None where the path is broken."""
    missing: list[Place] = []
    branch: _Dispute | None = root
    for step in _upwards(place):
        if step in branches:
            branch = branches[step]
            break
        missing.append(step)
    for step in reversed(missing):
        edge = step.edge
        parent = section.root if step.before is None else step.before.edge.child
        if branch is not None and parent is edge.parent and _is_live(edge, live):
            branch = branch.goes_on.setdefault(edge, _Dispute())
        else:
            branch = None
        branches[step] = branch
    return branch


def _upwards(place: Place) -> Iterator[Place]:
    step: Place | None = place
    while step is not None:
        yield step
        step = step.before
