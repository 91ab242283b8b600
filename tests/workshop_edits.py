"""Random edits of a repertoire, and all that undoing them has to bring back."""

from __future__ import annotations

import random

from trainer.repertoire.graph import Place, Repertoire
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.edits import Edit

WORDS = ["plan", "trick", "{", "}", "x}y", "[%clk 0:01]", "%", ";", "naïve", "\x00", "\n", "1."]
WORDS += ["\ud800", "\u2028", '[Event "X"]', "Crossing: goes on in section 1 after 1. Nf3."]
TEXTS = [
    "1. d4 d5 (1... Nf6 2. Nf3) 2. c4 {take} *",
    "Nf3 d5 g3 (Nc3 Nf6) Nf6!? Bg2",
    "1 d3 d5 2 Nd2 Nf6 3 Ngf3 1-0",
    "Nc6 Nc3 nonsense Nf6",
    '[Event "A"]\n\n1. Nf3 Nf6 2. Ng1 Ng8 3. Nc3 *\n\n[Event "B"]\n\n{first} 1. Nc3 Nf6 2. Nf3 *',
    "",
]


def inside(repertoire: Repertoire) -> object:
    """Everything a repertoire consists of, with all orders, as values that compare."""

    def place(one: Place) -> list[tuple[int, str]]:
        return [(edge.parent.key, edge.san) for edge in one.path()]

    return (
        repertoire.side,
        [
            (
                key,
                node.packed,
                [
                    (e.move.uci(), e.san, e.child.key, e.nags, e.comments, e.before)
                    for e in node.edges
                ],
                [(e.parent.key, e.san) for e in node.entries],
            )
            for key, node in repertoire.nodes.items()
        ],
        [
            (
                section.root.key,
                list(section.tags.items()),
                section.intro,
                [
                    (e.parent.key, e.san, None if b is None else (b.parent.key, b.san))
                    for e, b in section.stands.items()
                ],
                [place(one) for one in section.disputes],
            )
            for section in repertoire.sections
        ],
        [
            (node.key, [edge.san for edge in claimed])
            for node, claimed in repertoire.claims.items()
        ],
    )


def random_edit(  # noqa: PLR0911, PLR0912 - one branch for each kind of edit
    repertoire: Repertoire, rng: random.Random
) -> Edit | None:
    """Some edit that fits the repertoire as it is; None where there is nothing to edit."""
    node = rng.choice(list(repertoire.nodes.values()))
    edge = rng.choice(node.edges) if node.edges else None
    sections = len(repertoire.sections)
    words = tuple(" ".join(rng.choices(WORDS, k=rng.randrange(1, 5))) for _ in range(2))
    kind = rng.randrange(20)
    if kind < 5:
        moves = sorted(node.board().legal_moves, key=lambda move: move.uci())
        narrow = [move for move in moves if move.uci()[1] in "1234567" and move.uci()[0] in "bg"]
        if not moves:
            return None
        section = rng.randrange(sections) if sections and rng.random() < 0.3 else None
        return edits.AddMove(node.key, rng.choice(narrow or moves).uci(), section)
    if kind == 5 and sections:
        return edits.SetTitle(rng.randrange(sections), rng.choice(["New", "?", "", 'a "b" \\']))
    if kind == 6 and sections:
        return edits.SetTags(
            rng.randrange(sections), (("Zeta", words[0]), ("Event", "E"), ("White", "?"))
        )
    if kind == 7 and sections:
        return edits.SetIntro(rng.randrange(sections), words)
    if kind == 8 and sections:
        return edits.MoveSection(rng.randrange(sections), rng.randrange(sections))
    if kind == 9 and sections > 1:
        return edits.DeleteSections((rng.randrange(sections),))
    if kind == 10:
        fen = rng.choice(["", "4k3/1p4n1/8/8/8/8/1P4N1/4K3 b - - 3 17"])
        return edits.AddSection(words[0], fen)
    if kind == 11:
        return edits.Paste(node.key, rng.choice(TEXTS))
    if kind == 12:
        side = "White" if repertoire.side else "Black"
        tags = f'[Event "M"]\n[RepertoireSide "{side}"]\n\n'
        return edits.Merge(tags + rng.choice(TEXTS[:3]))
    if kind == 13 and repertoire.conflicts():
        node = rng.choice(repertoire.conflicts())
        return edits.ResolveConflict(node.key, rng.choice(node.edges).move.uci())
    if edge is None:
        return None
    move = edge.move.uci()
    if kind == 14:
        return edits.SetComments(node.key, move, words)
    if kind == 15:
        return edits.SetBefore(node.key, move, words)
    if kind == 16:
        return edits.SetNags(node.key, move, tuple(rng.choices(range(256), k=rng.randrange(3))))
    if kind == 17:
        return edits.MakeMain(node.key, move)
    if kind == 18:
        moves = [other.move.uci() for other in node.edges]
        rng.shuffle(moves)
        return edits.SetOrder(node.key, tuple(moves))
    return edits.DeleteMove(node.key, move)
