"""What one block of a file holds, as arrays on the disk: games, and visits sorted by key.

A block is read in a process of its own; its shard waits in the folder of the build until all
are merged, so that a build that was stopped goes on where it was. A shard that is there is
complete.
"""

from __future__ import annotations

import json
from array import array
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt

from trainer.games.base.codes import NO_MOVE
from trainer.games.base.faults import games_error
from trainer.games.base.reader import GameReader, name_of, rating_of
from trainer.games.base.resolve import START_KEY
from trainer.games.base.schema import VISIT

Array: TypeAlias = npt.NDArray[Any]

#: Visits are found by the first bits of their keys.
RANGE_BITS: Final = 10
RANGES: Final = 1 << RANGE_BITS
#: Faults that are listed for each block, and for each source in the end; all are counted.
MOST_FAULTS: Final = 1000

GAME: Final = np.dtype(
    [
        ("content", "<i8"),
        ("moment", "<i8"),
        ("white", "<u4"),
        ("black", "<u4"),
        ("event", "<u4"),
        ("white_rating", "<u2"),
        ("black_rating", "<u2"),
        ("result", "u1"),
        ("place", "<u8"),
    ]
)


@dataclass(frozen=True)
class Block:
    """A part of a file: bytes from `start` to `end`, both where games begin.

    `number` games and `line` lines stand before it, `games` in it; the last of them begins at
    `last_start`, after `last_line` lines of the file. `name` tells its shard from all others.
    """

    source: str
    start: int
    end: int
    number: int
    line: int
    games: int
    last_start: int
    last_line: int
    name: str


@dataclass(frozen=True)
class Fault:
    """A game that is not in the figures: its number and line in the file, both from 1, and why."""

    game: int
    line: int
    kind: str
    reason: str


@dataclass(frozen=True)
class Shard:
    """What is known of a shard without its visits; the numbers of `games` name `names`."""

    games: Array
    names: list[str]
    faults: list[Fault]
    tallies: dict[str, int]
    #: How many visits stand before each range of keys.
    bounds: Array


def make_shard(block: Block, plies: int, folder: Path) -> None:
    """Read a block and leave its shard in `folder`. Raises `GamesFileError`, `OSError`."""
    try:
        with Path(block.source).open("rb") as file:
            file.seek(block.start)
            data = file.read(block.end - block.start)
    except OSError as error:
        raise games_error(Path(block.source), error) from error
    shard, visits = _read(block, data, plies)
    visits.tofile(_visits_file(folder, block.name))
    head = {
        "names": shard.names,
        "faults": [[one.game, one.line, one.kind, one.reason] for one in shard.faults],
        "tallies": shard.tallies,
    }
    temporary = folder / f"{block.name}.part"
    with temporary.open("wb") as file:
        np.savez(
            file,
            games=shard.games,
            bounds=shard.bounds,
            head=np.frombuffer(json.dumps(head).encode("utf-8", "surrogatepass"), np.uint8),
        )
    temporary.replace(_shard_file(folder, block.name))


def has_shard(folder: Path, name: str) -> bool:
    """Whether the shard of that name is complete."""
    return _shard_file(folder, name).exists()


def load_shard(folder: Path, name: str) -> Shard:
    """A shard without its visits."""
    with np.load(_shard_file(folder, name)) as stored:
        head = json.loads(stored["head"].tobytes().decode("utf-8", "surrogatepass"))
        faults = [Fault(*fault) for fault in head["faults"]]
        return Shard(stored["games"], head["names"], faults, head["tallies"], stored["bounds"])


def load_visits(folder: Path, name: str, start: int, end: int) -> Array:
    """The visits of a shard from number `start` to `end`."""
    path = _visits_file(folder, name)
    return np.fromfile(path, VISIT, count=end - start, offset=start * VISIT.itemsize)


def _shard_file(folder: Path, name: str) -> Path:
    return folder / f"{name}.shard"


def _visits_file(folder: Path, name: str) -> Path:
    return folder / f"{name}.visits"


class _Names:
    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    def number(self, name: str) -> int:
        return self.numbers.setdefault(name, len(self.numbers))


def _read(block: Block, data: bytes, plies: int) -> tuple[Shard, Array]:
    keys, codes, lengths = array("Q"), array("H"), array("H")
    games: list[tuple[int, ...]] = []
    faults: list[Fault] = []
    tallies: dict[str, int] = {}
    names = _Names()
    number, counted, lines = block.number, 0, block.line
    for game in GameReader(plies).games(data):
        number += 1
        tallies[game.fault] = tallies.get(game.fault, 0) + 1
        if game.fault:
            if len(faults) < MOST_FAULTS:
                # Faults of several games of one span may stand before the last one counted.
                lines += data.count(b"\n", counted, max(counted, game.fault_offset))
                counted = max(counted, game.fault_offset)
                faults.append(Fault(number, lines + 1, game.fault, game.reason))
            continue
        tags, result = game.tags, game.result
        keys.append(START_KEY)
        keys.extend(game.keys)
        codes.extend([code << 2 | result for code in game.codes])
        codes.append(NO_MOVE << 2 | result)
        lengths.append(len(game.codes) + 1)
        games.append(
            (
                game.content - (1 << 64) if game.content >> 63 else game.content,
                game.moment,
                names.number(name_of(tags, "White")),
                names.number(name_of(tags, "Black")),
                names.number(name_of(tags, "Event")),
                rating_of(tags.get("WhiteElo", "")),
                rating_of(tags.get("BlackElo", "")),
                result,
                block.start + game.offset,
            )
        )
    visits = np.empty(len(keys), VISIT)
    key = np.frombuffer(keys, np.uint64).view(np.int64) if len(keys) else np.empty(0, np.int64)
    owner = np.repeat(np.arange(len(games), dtype=np.uint32), np.array(lengths, dtype=np.int64))
    # Stable, so that a position repeated in one game keeps the move that was played first.
    order = np.argsort(key, kind="stable")
    key, owner = key[order], owner[order]
    first = np.ones(len(key), bool)
    first[1:] = (key[1:] != key[:-1]) | (owner[1:] != owner[:-1])
    visits["key"], visits["game"], visits["code"] = key, owner, np.array(codes, np.uint16)[order]
    visits = visits[first]
    edges = np.arange(-RANGES // 2, RANGES // 2, dtype=np.int64) << (64 - RANGE_BITS)
    bounds = np.append(np.searchsorted(np.ascontiguousarray(visits["key"]), edges), len(visits))
    shard = Shard(np.array(games, GAME), list(names.numbers), faults, tallies, bounds)
    return shard, visits
