"""Acts of a drill whose writing somebody else does, in whatever thread suits him.

An act is a generator: it yields each piece of writing as a function without arguments, is sent
what that returned, and returns its result. Nothing has changed as long as it waits for a piece of
writing, nor where it is never gone on with.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any, TypeAlias, TypeVar

Result = TypeVar("Result")

Writing: TypeAlias = Callable[[], Any]
Act: TypeAlias = Generator[Writing, Any, Result]


def at_once(act: Act[Result]) -> Result:
    """Go through an act here and now. Raises whatever it or its writing raises."""
    written = None
    while True:
        try:
            write = act.send(written)
        except StopIteration as end:
            result: Result = end.value
            return result
        written = write()
