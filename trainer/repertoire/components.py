"""Strongly connected components, and what every way to a position passes.

Both work on plain lists of numbers and neither recurses.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def components(successors: Sequence[Sequence[int]]) -> list[list[int]]:
    """The strongly connected components of a graph, each before all that lead to it.

    `successors[i]` are the nodes that node i leads to. R. E. Tarjan, "Depth-first search and
    linear graph algorithms", 1972, with an explicit stack.
    """
    count = len(successors)
    number = [-1] * count
    low = [0] * count
    waiting: list[int] = []
    is_waiting = [False] * count
    found: list[list[int]] = []
    visited = 0
    for begin in range(count):
        if number[begin] >= 0:
            continue
        stack = [(begin, iter(successors[begin]))]
        number[begin] = low[begin] = visited
        visited += 1
        waiting.append(begin)
        is_waiting[begin] = True
        while stack:
            node, onward = stack[-1]
            for target in onward:
                if number[target] < 0:
                    number[target] = low[target] = visited
                    visited += 1
                    waiting.append(target)
                    is_waiting[target] = True
                    stack.append((target, iter(successors[target])))
                    break
                if is_waiting[target]:
                    low[node] = min(low[node], number[target])
            else:
                stack.pop()
                if stack:
                    above = stack[-1][0]
                    low[above] = min(low[above], low[node])
                if low[node] == number[node]:
                    found.append(_taken_off(waiting, is_waiting, node))
    return found


def dominators(
    successors: Sequence[Sequence[int]],
    predecessors: Sequence[Sequence[int]],
    sources: Iterable[int],
) -> list[int]:
    """For each node the last other node that every way from a source to it passes.

    -1 where there is none: at a source that nothing leads to, where ways begin at different
    sources, and at nodes that no source reaches. K. D. Cooper, T. J. Harvey and K. Kennedy,
    "A simple, fast dominance algorithm", 2001, with one imagined node before all sources.
    """
    count = len(successors)
    begins = list(dict.fromkeys(sources))
    place = _places(successors, begins)
    in_order = sorted((node for node in range(count) if place[node] > 0), key=place.__getitem__)
    # The imagined first node has number `count` and comes first.
    before = [-1] * count + [count]
    place.append(0)
    is_source = set(begins)
    changed = True
    while changed:
        changed = False
        for node in in_order:
            common = count if node in is_source else -1
            for other in predecessors[node]:
                if before[other] < 0:
                    continue
                common = other if common < 0 else _common(common, other, before, place)
            if before[node] != common:
                before[node] = common
                changed = True
    return [-1 if other == count else other for other in before[:count]]


def _taken_off(waiting: list[int], is_waiting: list[bool], down_to: int) -> list[int]:
    members: list[int] = []
    while True:
        node = waiting.pop()
        is_waiting[node] = False
        members.append(node)
        if node == down_to:
            return members


def _common(first: int, second: int, before: list[int], place: list[int]) -> int:
    while first != second:
        while place[first] > place[second]:
            first = before[first]
        while place[second] > place[first]:
            second = before[second]
    return first


def _places(successors: Sequence[Sequence[int]], begins: Iterable[int]) -> list[int]:
    """The place of each node, from 1, in reverse postorder of a walk; 0 where it never comes."""
    count = len(successors)
    seen = [False] * count
    finished: list[int] = []
    for begin in begins:
        if seen[begin]:
            continue
        seen[begin] = True
        stack = [(begin, iter(successors[begin]))]
        while stack:
            node, onward = stack[-1]
            for target in onward:
                if not seen[target]:
                    seen[target] = True
                    stack.append((target, iter(successors[target])))
                    break
            else:
                finished.append(node)
                stack.pop()
    place = [0] * count
    for number, node in enumerate(reversed(finished), start=1):
        place[node] = number
    return place
