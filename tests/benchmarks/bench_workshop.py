"""1,000 edits of a repertoire of 50,000 positions, each undone again, and its journal.

The repertoire is half the tree of random legal lines that reading is measured with. Edits come
in the proportions of an evening's work: most add moves, some comment, reorder or delete.
"""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median, quantiles

import chess

from tests.benchmarks.bench_reading import tree
from tests.benchmarks.figures import Figure
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.reach import reach
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.editor import Editor, recover
from trainer.repertoire.workshop.edits import Edit
from trainer.repertoire.workshop.findings import audit_entries
from trainer.repertoire.workshop.importing import ImportOptions, import_games
from trainer.repertoire.workshop.journal import Journal
from trainer.repertoire.workshop.kept_games import KeptGames

RUNS = 1
EDITS = 1000
#: Nothing blocks the window for longer.
MOST_MILLISECONDS = 50.0


def measure() -> list[Figure]:
    """Editing, undoing, redoing and recovering; and importing games."""
    with tempfile.TemporaryDirectory(prefix="stemline-workshop-") as folder:
        file, journal = Path(folder, "half.pgn"), Path(folder, "half.journal")
        file.write_text(_half_of_the_tree(), encoding="utf-8")
        loaded = read_repertoire(file)
        positions = len(loaded.repertoire.nodes)
        figures = _editing(loaded, journal, f"{positions:,} positions")
        start = time.perf_counter()
        found = recover(journal, read_repertoire(file))
        assert (found.edits, found.problem) == (2, None)
        figures.append(
            Figure(f"read again and recover {3 * EDITS:,}", time.perf_counter() - start, "s")
        )
        figures.append(_listing(found.editor))
        games = Path(folder, "games.pgn")
        games.write_text(tree().as_games(), encoding="utf-8")
        return [*figures, *_importing(games)]


def _importing(games: Path) -> list[Figure]:
    """Once from the file, then with another choice on the games that are kept."""
    options = ImportOptions(chess.WHITE, plies=24, reply_share=0.0)
    kept = KeptGames([games], most=1_000_000)
    start = time.perf_counter()
    count = import_games(kept, options).report.games
    first = time.perf_counter() - start
    start = time.perf_counter()
    import_games(kept, replace(options, reply_share=0.05))
    again = time.perf_counter() - start
    return [
        Figure(f"import {count:,} games", first, "s"),
        Figure(
            "import them with another choice",
            again,
            "s",
            baseline_name="from the file",
            baseline_value=first,
        ),
    ]


def _listing(editor: Editor) -> Figure:
    arrays = RepertoireArrays.compile(editor.repertoire)
    reached = reach(arrays)
    start = time.perf_counter()
    found = audit_entries(editor.repertoire, arrays, reached)
    return Figure(f"list {len(found):,} entries of the audit", time.perf_counter() - start, "s")


def _half_of_the_tree() -> str:
    games = tree().as_games().split("\n\n[Event")
    return "\n\n[Event".join(games[: len(games) // 2]) + "\n"


def _editing(loaded: LoadedRepertoire, journal: Path, what: str) -> list[Figure]:
    rng = random.Random(3)
    editor = Editor(loaded, Journal(journal))
    keys = list(editor.repertoire.nodes)
    made: dict[str, list[float]] = {}
    while sum(map(len, made.values())) < EDITS:
        edit = _edit(editor, keys, rng)
        if edit is None:
            continue
        done = len(made.get(edit.title, ()))
        made.setdefault(edit.title, []).append(_milliseconds(lambda edit=edit: editor.do(edit)))
        assert len(made[edit.title]) == done + 1
    every = [value for values in made.values() for value in values]
    undone = [_milliseconds(editor.undo) for _ in range(EDITS)]
    redone = [_milliseconds(editor.redo) for _ in range(EDITS)]
    figures = _saving(editor)
    editor.close()
    figures += _figures(f"an edit, {what}", every)
    figures += _figures("undoing it", undone) + _figures("redoing it", redone)
    for title, values in made.items():
        figures += _figures(title, values)
    return figures


def _saving(editor: Editor) -> list[Figure]:
    """The first edit after a saving writes the journal anew, with all that was done before."""
    editor.save()
    first = _milliseconds(lambda: editor.do(edits.SetTitle(0, "Renamed")))
    second = _milliseconds(lambda: editor.do(edits.SetTitle(0, "Again")))
    return [
        Figure(
            "the first edit after a saving",
            first,
            "ms",
            goal=f"≤ {MOST_MILLISECONDS} ms",
            met=first <= MOST_MILLISECONDS,
        ),
        Figure("the next one", second, "ms"),
    ]


def _edit(editor: Editor, keys: list[int], rng: random.Random) -> Edit | None:
    node = editor.repertoire.nodes.get(rng.choice(keys))
    if node is None:
        return None
    kind = rng.random()
    if kind < 0.5:
        moves = [move for move in node.board().legal_moves if node.edge_for(move) is None]
        return edits.AddMove.at(node, rng.choice(moves)) if moves else None
    if not node.edges:
        return None
    move = rng.choice(node.edges).move.uci()
    if kind < 0.75:
        return edits.SetComments(node.key, move, (f"A note, number {rng.random()}.",))
    if kind < 0.9:
        return edits.SetNags(node.key, move, (rng.randrange(1, 7), rng.randrange(10, 20)))
    return edits.DeleteMove(node.key, move)


def _milliseconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def _figures(name: str, values: list[float]) -> list[Figure]:
    p95 = quantiles(values, n=20)[-1] if len(values) > 1 else values[0]
    return [
        Figure(f"{name}: median", median(values), "ms"),
        Figure(
            f"{name}: 95 %",
            p95,
            "ms",
            goal=f"≤ {MOST_MILLISECONDS} ms",
            met=p95 <= MOST_MILLISECONDS,
        ),
    ]
