"""Merging another repertoire into this one, and splitting one in two."""

from __future__ import annotations

from collections.abc import Collection

from trainer.repertoire.graph import Edge, Node, Place, Repertoire, Section
from trainer.repertoire.sections import keep_what_counts
from trainer.repertoire.workshop.claims import claimed_in_order
from trainer.repertoire.workshop.grafting import Graft, graft, root_of
from trainer.repertoire.workshop.removing import remove_sections
from trainer.repertoire.workshop.results import Merged
from trainer.repertoire.workshop.transaction import Transaction


def merge(transaction: Transaction, other: Repertoire) -> Merged:
    """Append the sections of `other`, for the same side, and merge the positions.

    A move of `other` that was known keeps its place and takes over comments and signs; a new one
    comes behind the moves that are here. Where both prepare different main moves, ours stays in
    front and the decision becomes a conflict. Sections that are here already and bring nothing
    new are left out.
    """
    repertoire = transaction.repertoire
    roots = [root_of(transaction, section) for section in other.sections]
    grafted = graft(transaction, other)
    claims, places = _claims(repertoire, other, grafted)
    appended: list[Section] = []
    # A move stands in the section that shows it first.
    homeless = set(grafted.added)
    for section, root in zip(other.sections, roots, strict=True):
        stands = {
            grafted.of[edge]: None if before is None else grafted.of[before]
            for edge, before in section.stands.items()
        }
        new = Section(root, dict(section.tags), section.intro, stands, places.get(section, []))
        homed = [edge for edge in stands if edge in homeless]
        if not homed and _is_here(repertoire, new):
            continue
        keep_what_counts(new, homed, repertoire.side)
        homeless.difference_update(homed)
        transaction.append(repertoire.sections, new)
        appended.append(new)
    fresh = []
    for node, claimed in claims.items():
        wanted = claimed_in_order(node, claimed)
        if node not in repertoire.claims:
            fresh.append(node)
        transaction.set_key(repertoire.claims, node, wanted)
    return Merged(tuple(appended), tuple(grafted.added), grafted.known, tuple(fresh))


def copy_repertoire(repertoire: Repertoire) -> Repertoire:
    """A copy that shares nothing changeable with the original."""
    copy = Repertoire(repertoire.side)
    nodes = {node: copy.add_packed(node.key, node.packed) for node in repertoire.nodes.values()}
    edges: dict[Edge, Edge] = {}
    for node, twin in nodes.items():
        for edge in node.edges:
            edges[edge] = other = Edge(twin, edge.move, nodes[edge.child], edge.san)
            other.nags, other.comments, other.before = edge.nags, edge.comments, edge.before
            twin.edges.append(other)
    for node, twin in nodes.items():
        twin.entries.extend(edges[edge] for edge in node.entries)
    for section in repertoire.sections:
        copy.sections.append(
            Section(
                nodes[section.root],
                dict(section.tags),
                section.intro,
                {
                    edges[edge]: None if before is None else edges[before]
                    for edge, before in section.stands.items()
                    if edge in edges and (before is None or before in edges)
                },
                _twins_of_places(section.disputes, edges),
            )
        )
    copy.claims = {
        nodes[node]: [edges[edge] for edge in claimed]
        for node, claimed in repertoire.claims.items()
    }
    return copy


def extract_sections(repertoire: Repertoire, numbers: Collection[int]) -> Repertoire:
    """A new repertoire of the sections with these numbers (from 0); the old one is unchanged.

    It holds the moves that stand in these sections and all that their orders cross into.
    Deleting the same sections from the old repertoire completes the split.
    """
    copy = copy_repertoire(repertoire)
    others = [section for number, section in enumerate(copy.sections) if number not in numbers]
    remove_sections(Transaction(copy), others)
    return copy


def _claims(
    repertoire: Repertoire, other: Repertoire, grafted: Graft
) -> tuple[dict[Node, list[Edge]], dict[Section, list[Place]]]:
    """What is claimed at each decision in dispute, and the disputed places by section."""
    claims: dict[Node, list[Edge]] = {}
    places: dict[Section, list[Place]] = {}
    for section in other.sections:
        if section.disputes:
            places[section] = _twins_of_places(section.disputes, grafted.of)
    for theirs, claimed in other.claims.items():
        node = grafted.of[theirs.edges[0]].parent
        claims[node] = [*repertoire.claims.get(node, ()), *(grafted.of[edge] for edge in claimed)]
    for theirs in other.nodes.values():
        if not other.is_decision(theirs):
            continue
        edge = theirs.edges[0]
        main = grafted.of[edge]
        node = main.parent
        if node.edges[0] is main:
            continue
        claims.setdefault(node, [*repertoire.claims.get(node, ())]).append(main)
        home = next((one for one in other.sections if edge in one.stands), None)
        if home is not None:
            places.setdefault(home, []).append(_place_in(home, edge, grafted))
    return claims, places


def _place_in(section: Section, edge: Edge, grafted: Graft) -> Place:
    path: list[Edge] = []
    step: Edge | None = edge
    while step is not None:
        path.append(grafted.of[step])
        step = section.stands.get(step)
    place: Place | None = None
    for mine in reversed(path):
        place = Place(mine, place)
    assert place is not None
    return place


def _twins_of_places(disputes: list[Place], of: dict[Edge, Edge]) -> list[Place]:
    twins: dict[Place, Place] = {}
    for place in disputes:
        chain: list[Place] = []
        step: Place | None = place
        while step is not None and step not in twins:
            chain.append(step)
            step = step.before
        twin = None if step is None else twins[step]
        for step in reversed(chain):
            twin = twins[step] = Place(of[step.edge], twin)
    return [twins[place] for place in disputes]


def _is_here(repertoire: Repertoire, new: Section) -> bool:
    disputed = {place.edge for place in new.disputes}
    return any(
        section.root is new.root
        and section.tags == new.tags
        and section.intro == new.intro
        and disputed <= {place.edge for place in section.disputes}
        for section in repertoire.sections
    )
