"""What `stemline structure` prints: the structures and features of one position."""

from __future__ import annotations

import re
from collections.abc import Sequence

import chess

from trainer.errors import UsageError
from trainer.lesson.breaks import Break
from trainer.lesson.features import SideFeatures, features
from trainer.lesson.games import GameStructure
from trainer.lesson.shares import StructureShare
from trainer.lesson.structures import StructureBook
from trainer.lesson.trick_text import AGREES, side_name, trick_sentence, wins_text
from trainer.lesson.tricks import Confirm, standing_tricks
from trainer.notation.display import percent, sentence_list


def boards_along(start: chess.Board, moves: str) -> list[chess.Board]:
    """The positions from `start` on along moves in SAN, with or without numbers.

    Each but the first has the move that led to it on its stack. Raises `UsageError` where one
    cannot be played.
    """
    boards = [start.copy(stack=False)]
    for word in moves.replace("…", " ").split():
        san = re.sub(r"^\d+\.*", "", word)
        if not san:
            continue
        board = boards[-1].copy(stack=False)
        try:
            board.push_san(san)
        except ValueError:
            raise UsageError(
                f"“{word}” cannot be played after {len(boards) - 1} half-moves; write moves as in "
                "1 e4 e6 2 d4 d5."
            ) from None
        boards.append(board)
    return boards


def stretches_text(boards: Sequence[chess.Board], book: StructureBook) -> list[str]:
    """Since which move each structure of a line stood, and the move that changed it."""
    lines = []
    for one in book.along(boards):
        since = "from the beginning" if one.since == 0 else f"since {_move(boards, one.since)}"
        end = "" if one.until is None else f", until {_move(boards, one.until)}"
        lines.append(f"{one.found.name} {since}{end}")
    return lines


def _move(boards: Sequence[chess.Board], ply: int) -> str:
    """The half-move that led to the position number `ply`: `3 e5`."""
    before = boards[ply - 1]
    dots = " " if before.turn else "…"
    return f"{before.fullmove_number}{dots}{before.san(boards[ply].peek())}"


def structure_report(
    boards: Sequence[chess.Board], book: StructureBook, confirm: Confirm | None = None
) -> dict[str, object]:
    """All that is known by rules of the last of some positions in a row, for JSON."""
    board = boards[-1]
    found, known = book.find(board), features(board)
    return {
        "stretches": [
            {"id": one.found.key, "since": one.since, "until": one.until}
            for one in book.along(boards)
        ],
        "structures": [
            {
                "id": one.key,
                "name": one.name,
                "holder": None if one.holder is None else side_name(one.holder).lower(),
                "breaks": {
                    side_name(side).lower(): [chess.square_name(at) for at in one.breaks(side)]
                    for side in (chess.WHITE, chess.BLACK)
                },
                "plans": {
                    side_name(side).lower(): one.plan(side) for side in (chess.WHITE, chess.BLACK)
                },
                "source": one.structure.source,
            }
            for one in found
        ],
        "open_files": [chess.FILE_NAMES[number] for number in known.files.open],
        "majorities": [
            {
                "side": side_name(one.side).lower(),
                "wing": str(one.wing),
                "own": one.own,
                "other": one.other,
            }
            for one in known.majorities
        ],
        "sides": {
            side_name(side).lower(): _side_report(known.of(side), known.files.half_open(side))
            for side in (chess.WHITE, chess.BLACK)
        },
        "tricks": [
            {
                "kind": str(one.kind),
                "side": side_name(one.side).lower(),
                "taking": one.taking.uci() if one.taking else None,
                "answer": one.answer.uci() if one.answer else None,
                "wins": wins_text(one),
                "sentence": trick_sentence(one),
                "confirmed": one.confirmed,
            }
            for one in standing_tricks(board, confirm)
        ],
    }


def _side_report(side: SideFeatures, half_open: tuple[int, ...]) -> dict[str, object]:
    return {
        "breaks": [
            {
                "from": chess.square_name(one.start),
                "to": chess.square_name(one.target),
                "now": one.now,
                "pushes": one.pushes,
                "challenges": [chess.square_name(at) for at in one.challenges],
                "support": one.support,
                "opposition": one.opposition,
                "loses": one.loses,
            }
            for one in side.breaks
        ],
        "weak_squares": [chess.square_name(at) for at in side.weak_squares],
        "outposts": [chess.square_name(one.square) for one in side.outposts],
        "half_open_files": [chess.FILE_NAMES[number] for number in half_open],
        "bad_bishops": [chess.square_name(one.square) for one in side.bishops if one.bad],
        "space": side.space,
    }


def structure_text(
    boards: Sequence[chess.Board], book: StructureBook, confirm: Confirm | None = None
) -> str:
    """The same in plain lines."""
    board = boards[-1]
    found, known = book.find(board), features(board)
    lines = [one.name for one in found] or ["No named structure."]
    if len(boards) > 1:
        lines += stretches_text(boards, book)
    for one in found[:1]:
        for side in (chess.WHITE, chess.BLACK):
            lines.append(f"  {side_name(side)}: {one.plan(side)}")
    for side in (chess.WHITE, chess.BLACK):
        lines.append(f"{side_name(side)}")
        lines.extend(f"  {line}" for line in side_lines(known.of(side)))
        half = [chess.FILE_NAMES[number] for number in known.files.half_open(side)]
        if half:
            lines.append(f"  half-open files: {', '.join(half)}")
    if known.files.open:
        names = ", ".join(chess.FILE_NAMES[number] for number in known.files.open)
        lines.append(f"Open files: {names}")
    for majority in known.majorities:
        lines.append(
            f"{side_name(majority.side)} has the majority on the {majority.wing}, "
            f"{majority.own} to {majority.other}"
        )
    lines.extend(
        trick_sentence(one) + AGREES[one.confirmed] for one in standing_tricks(board, confirm)
    )
    return "\n".join(lines)


def side_lines(side: SideFeatures) -> list[str]:
    """What one side has, a line for each kind of feature."""
    lines = [f"break {break_text(one)}" for one in side.breaks]
    if side.weak_squares:
        lines.append("weak squares: " + ", ".join(map(chess.square_name, side.weak_squares)))
    if side.outposts:
        names = (chess.square_name(one.square) for one in side.outposts)
        lines.append("outposts: " + ", ".join(names))
    bad = [chess.square_name(one.square) for one in side.bishops if one.bad]
    if bad:
        lines.append("bad bishop: " + ", ".join(bad))
    lines.append(f"space: {side.space}")
    return lines


def break_text(one: Break) -> str:
    """A break in words: `e4–e5 against d6: now, 2 for it, 1 against it`."""
    against = sentence_list(map(chess.square_name, one.challenges))
    when = "now" if one.now else "after preparation"
    text = f"{one.name} against {against}: {when}, {one.support} for it, {one.opposition} against"
    if one.loses:
        text += f", loses {one.loses} by exchange"
    if one.in_the_way:
        text += f", {sentence_list(map(chess.square_name, one.in_the_way))} in the way"
    return text


def shares_report(shares: Sequence[StructureShare]) -> dict[str, object]:
    """The structures of a repertoire as plain values for JSON."""
    return {
        "structures": [
            {
                "id": one.found.key,
                "name": one.found.name,
                "met": round(one.met, 6),
                "ends": round(one.ends, 6),
                "positions": len(one.nodes),
            }
            for one in shares
        ]
    }


def shares_text(shares: Sequence[StructureShare]) -> str:
    """The same in plain lines."""
    lines = [
        f"{one.found.name} ({one.found.key}): met in {percent(one.met)} of games, "
        f"at the end of {percent(one.ends)}"
        for one in shares
    ]
    return "\n".join(lines) or "No named structure."


def games_report(structures: Sequence[GameStructure]) -> dict[str, object]:
    """The structures of games as plain values for JSON."""
    return {
        "games": structures[0].total if structures else 0,
        "structures": [
            {
                "id": one.found.key,
                "name": one.found.name,
                "games": [
                    {"file": str(place.path), "game": place.number, "players": place.players}
                    for place in one.games
                ],
            }
            for one in structures
        ],
    }


def games_text(structures: Sequence[GameStructure]) -> str:
    """The same in plain lines, each with the game in which the structure stood longest."""
    lines = [
        f"{one.found.name} ({one.found.key}): {len(one.games)} of {one.total} games, longest in "
        f"{one.games[0].path.name}, game {one.games[0].number}, {one.games[0].players}"
        for one in structures
    ]
    return "\n".join(lines) or "No named structure."
