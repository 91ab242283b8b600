"""Small words for numbers."""

from __future__ import annotations


def count(number: int, noun: str) -> str:
    """`1 position`, `2 positions`."""
    return f"{number:,} {noun}" + ("" if number == 1 else "s")
