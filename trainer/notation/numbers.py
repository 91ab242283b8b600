"""Numbers in sentences. Imports nothing, so that the start of the window may use it."""

from __future__ import annotations


def count(number: int, noun: str) -> str:
    """`1 position`, `2 positions`."""
    return f"{number:,} {noun}" + ("" if number == 1 else "s")
