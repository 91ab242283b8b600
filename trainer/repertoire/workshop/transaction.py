"""Changes of a repertoire, made of small steps that can be taken back exactly.

Every step remembers what it replaced, down to the place of an entry in a dictionary, and works
on the very objects it was made with. Changes are undone in the reverse order in which they were
made, so each step finds things as it left them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import chess

from trainer.notation.fastboard import FastBoard
from trainer.repertoire.graph import Edge, Node, Repertoire

K = TypeVar("K")
V = TypeVar("V")
T = TypeVar("T")

#: So many keys are found faster one by one than by looking at all keys of a dictionary.
_FEW = 24


class Change:
    """What one edit did to the graph; `undo` and `redo` are called in turns."""

    def __init__(self, steps: list[tuple[Callable[[], None], Callable[[], None]]]) -> None:
        self._steps = steps

    def __bool__(self) -> bool:
        """Whether anything was changed at all."""
        return bool(self._steps)

    def __len__(self) -> int:
        """Of how many small steps it consists."""
        return len(self._steps)

    def undo(self) -> None:
        """Put everything back as it was before."""
        for _, back in reversed(self._steps):
            back()

    def redo(self) -> None:
        """Do it again, with the same positions and moves as objects."""
        for forth, _ in self._steps:
            forth()


class Transaction:
    """Changes a repertoire step by step; `finish` gives the `Change`, `roll_back` undoes it."""

    def __init__(self, repertoire: Repertoire) -> None:
        self.repertoire = repertoire
        self._steps: list[tuple[Callable[[], None], Callable[[], None]]] = []

    def finish(self) -> Change:
        """All that was done, as one change."""
        return Change(self._steps)

    def roll_back(self) -> None:
        """Take back all that was done so far."""
        Change(self._steps).undo()
        self._steps = []

    # -- steps -------------------------------------------------------------------------------

    def set_list(self, target: list[T], after: Iterable[T]) -> None:
        """Give a list new contents; nothing is noted where they are the same."""
        before, wanted = tuple(target), tuple(after)
        if len(before) == len(wanted) and all(a is b for a, b in zip(before, wanted, strict=True)):
            return

        def forth() -> None:
            target[:] = wanted

        def back() -> None:
            target[:] = before

        self._take(forth, back)

    def append(self, target: list[T], item: T) -> None:
        """Put `item` at the end of a list."""
        self._take(lambda: target.append(item), lambda: _drop_last(target))

    def set_attribute(self, owner: object, name: str, after: Any) -> None:
        """Give an attribute a new value; nothing is noted where it is an equal one."""
        if getattr(owner, name) != after:
            self.replace_attribute(owner, name, after)

    def replace_attribute(self, owner: object, name: str, after: Any) -> None:
        """Give an attribute a new value, even an equal one."""
        before = getattr(owner, name)
        self._take(lambda: setattr(owner, name, after), lambda: setattr(owner, name, before))

    def add_key(self, target: dict[K, V], key: K, value: V) -> None:
        """Put a key that is not there yet at the end of a dictionary."""
        assert key not in target

        def forth() -> None:
            target[key] = value

        def back() -> None:
            del target[key]

        self._take(forth, back)

    def set_key(self, target: dict[K, V], key: K, value: V) -> None:
        """Give a key a new value, at its place if it was there, else at the end."""
        if key not in target:
            self.add_key(target, key, value)
            return
        before = target[key]

        def forth() -> None:
            target[key] = value

        def back() -> None:
            target[key] = before

        self._take(forth, back)

    def remove_keys(self, target: dict[K, V], keys: Iterable[K]) -> None:
        """Take keys out of a dictionary; back, they stand where they stood."""
        gone = {key for key in keys if key in target}
        if not gone:
            return
        taken = [(index, key, target[key]) for index, key in _places(list(target), gone)]

        def forth() -> None:
            for _, key, _ in taken:
                del target[key]

        def back() -> None:
            _put_back(target, taken)

        self._take(forth, back)

    def _take(self, forth: Callable[[], None], back: Callable[[], None]) -> None:
        forth()
        self._steps.append((forth, back))

    # -- the graph ---------------------------------------------------------------------------

    def add_position(self, board: FastBoard) -> Node:
        """The node of the position on `board`, made where it is new.

        Raises `KeyCollisionError` when another position has the same key.
        """
        repertoire = self.repertoire
        if board.key in repertoire.nodes:
            return repertoire.add_packed(board.key, board.pack())
        node = Node(board.key, board.pack())
        self.add_key(repertoire.nodes, node.key, node)
        return node

    def add_edge(self, parent: Node, move: chess.Move, child: Node, san: str) -> Edge:
        """Append a move that is new at `parent` behind the others."""
        edge = Edge(parent, move, child, san)
        self.append(parent.edges, edge)
        self.append(child.entries, edge)
        return edge


def _drop_last(target: list[T]) -> None:
    del target[-1]


def _places(keys: list[K], wanted: set[K]) -> list[tuple[int, K]]:
    """Where some keys stand among all, in rising order."""
    if len(wanted) <= _FEW:
        return sorted(((keys.index(key), key) for key in wanted), key=lambda place: place[0])
    return [(index, key) for index, key in enumerate(keys) if key in wanted]


def _put_back(target: dict[K, V], taken: list[tuple[int, K, V]]) -> None:
    """Insert items, in rising order of their places, so that each stands at its place again."""
    if taken[0][0] == len(target):
        target.update((key, value) for _, key, value in taken)
        return
    # Two lists, not one of pairs: 50,000 new tuples would call for a garbage collection.
    old_keys, old_values = list(target), list(target.values())
    keys: list[K] = []
    values: list[V] = []
    done = 0
    for number, (index, key, value) in enumerate(taken):
        # Of those that were not taken, so many stood before the taken one.
        before = index - number
        keys += old_keys[done:before]
        values += old_values[done:before]
        keys.append(key)
        values.append(value)
        done = before
    keys += old_keys[done:]
    values += old_values[done:]
    target.clear()
    target.update(zip(keys, values, strict=True))
