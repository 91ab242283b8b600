"""`stemline structure --base`: structures of a whole reference base, and model games of one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from trainer.errors import StemlineError, UsageError
from trainer.games.base.command import ProgressLine
from trainer.games.base.store import ReferenceBase
from trainer.games.base.whole import GameAt, game_at, whole_base
from trainer.lesson.model_index import PLIES, STANDS, ModelIndex, StoodGame, index_file
from trainer.lesson.structures import Found, StructureBook
from trainer.notation.display import percent
from trainer.repertoire.openings import OpeningBook
from trainer.storage.locations import find_locations


@dataclass(frozen=True)
class InBase:
    """The structures of a base: `looked` of its `total` games were looked at.

    `counts` has each structure that stood for long in any of them, with the number of games, the
    most frequent first; `models` are games of the one that was `named`, with how long it stood.
    """

    total: int
    looked: int
    counts: tuple[tuple[Found, int], ...]
    named: Found | None
    models: tuple[tuple[StoodGame, GameAt], ...]
    faults: tuple[str, ...]


def find_in_base(path: Path, book: StructureBook, named: str, most: int) -> InBase:
    """Look through the base at `path`, as far as that was not done before.

    Raises `UsageError` where no structure is called `named`, `BaseFileError`, and a
    `StemlineError` where the user stops it: what was looked through is kept.
    """
    known = {found.key: found for found in book.all_found()}
    found = _named(known, named) if named else None
    faults = []
    index_path = index_file(find_locations().cache, path)
    with ReferenceBase(path) as base, ModelIndex(index_path, book, base.history()) as index:
        total = base.summary().games
        line = ProgressLine("Looking")
        try:
            for piece in whole_base(base, plies=PLIES, begin=index.begin()):
                if piece.fault:
                    faults.append(f"{piece.fault} (its {piece.unread:,} games are left out)")
                    continue
                games = ((game.number, game.moves) for game in piece.games)
                index.take(piece.path, piece.after, piece.done, games)
                line(min(0.99, index.looked() / max(1, total)))
        except KeyboardInterrupt:
            raise StemlineError(
                f"Stopped after {index.looked():,} of {total:,} games; the same command goes on "
                "from here."
            ) from None
        finally:
            line.end()
        counts = sorted(index.counts().items(), key=lambda one: (-one[1], one[0]))
        models = _models(base, index.best(found.key, most)) if found is not None else ()
        return InBase(
            total,
            min(index.looked(), total),
            tuple((known[key], count) for key, count in counts if key in known),
            found,
            models,
            tuple(faults),
        )


def _models(base: ReferenceBase, stood: list[StoodGame]) -> tuple[tuple[StoodGame, GameAt], ...]:
    openings = OpeningBook.load()
    found = ((one, game_at(base, one.number, one.since, openings)) for one in stood)
    return tuple((one, game) for one, game in found if game is not None)


def _named(known: dict[str, Found], wanted: str) -> Found:
    if wanted in known:
        return known[wanted]
    for found in known.values():
        if wanted.casefold() in found.name.casefold():
            return found
    raise UsageError(
        f"There is no structure “{wanted}”: choose one of {', '.join(sorted(known))}."
    )


def report_of(found: InBase) -> dict[str, object]:
    """The values for JSON."""
    report: dict[str, object] = {
        "games": found.total,
        "looked": found.looked,
        "stands": STANDS,
        "structures": [
            {"id": one.key, "name": one.name, "games": count} for one, count in found.counts
        ],
    }
    if found.named is not None:
        report["named"] = found.named.key
        report["model_games"] = [
            {
                "white": game.entry.white,
                "black": game.entry.black,
                "event": game.entry.event,
                "date": game.entry.date,
                "result": game.entry.result,
                "opening": game.opening,
                "since": one.since,
                "plies": one.plies,
                "fen": game.board.fen(en_passant="legal"),
                "file": str(game.entry.path),
            }
            for one, game in found.models
        ]
    return report


def text_of(found: InBase) -> str:
    """The same in plain lines."""
    lines = [f"{found.looked:,} of {found.total:,} games were looked through."]
    if found.named is None:
        lines += [
            f"{one.name} ({one.key}): {count:,} games, {percent(count / max(1, found.looked))}"
            for one, count in found.counts
        ]
        return "\n".join(lines)
    count = {one.key: games for one, games in found.counts}.get(found.named.key, 0)
    lines.append(f"{found.named.name} ({found.named.key}): {count:,} games")
    for one, game in found.models:
        opening = f" {game.opening};" if game.opening else ""
        since = game.board.fullmove_number - game.board.turn
        lines.append(
            f"  {game.entry.title()}:{opening} from move {since}, for {(one.plies + 1) // 2} moves"
        )
    return "\n".join(lines)
