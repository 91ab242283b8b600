"""A repertoire from whole games: what was played most, or scored best, and the usual replies.

All counting is by position, so games that reach one by different move orders count together.
The result depends on the games and the options alone.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import chess

from trainer.notation.fastboard import FastBoard
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.workshop.games import Game, Left
from trainer.repertoire.workshop.kept_games import KeptGames, folded_name
from trainer.repertoire.workshop.text import EditError, clean_text

#: How the player's own move is chosen: played most, or scored best among those played enough.
Choice = Literal["most played", "best score"]


@dataclass(frozen=True)
class ImportOptions:
    """What of the games becomes the repertoire.

    `side` is whose repertoire it is; `plies` how many half-moves of a game count. A reply is
    kept where it was played in at least `reply_share` (0 to 1) of the games at its position or
    in at least `reply_games` of them (0: the share alone decides), but never where it was played
    in fewer than `least_reply_games`. `most_lines` limits the
    number of lines (0: no limit); the most played stay. With `player` (a name as the tags have
    it, in any case) only his games with `side` count. `least_games` is how often a move has to
    be played before its score can make it the best.
    """

    side: chess.Color
    plies: int = 24
    reply_share: float = 0.05
    reply_games: int = 0
    least_reply_games: int = 1
    most_lines: int = 0
    player: str = ""
    choice: Choice = "most played"
    least_games: int = 3
    title: str = "Imported"


@dataclass(frozen=True)
class ImportReport:
    """What was read and what was left out.

    `games` were found, `used` counted. `other_player` are games without the player on this
    side. `rare_replies` are replies played too seldom, `unanswered` replies after which no game
    shows a move within the plies, `over_limit` those that the limit of lines left out;
    `own_moves` are moves of the player that were played, but not chosen. `left` names each game
    of which something could not be read.
    """

    games: int
    used: int
    other_player: int
    rare_replies: int
    unanswered: int
    over_limit: int
    own_moves: int
    lines: int
    left: tuple[Left, ...]

    def text(self) -> str:
        """The report in words, a line for each thing."""
        count = f"{self.used:,} of {self.games:,} games count"
        said = [f"{count}, giving {_counted(self.lines, 'line', 'lines')}."]
        if self.other_player:
            games = _counted(self.other_player, "game is not", "games are not")
            said.append(f"{games} the player's with this colour.")
        for number, what, why in (
            (self.own_moves, "own move", "played, but others were chosen"),
            (self.rare_replies, "reply", "left out: played too seldom"),
            (self.unanswered, "reply", "left out: no game shows an answer"),
            (self.over_limit, "reply", "left out because of the limit of lines"),
        ):
            if number:
                many = "replies" if what == "reply" else f"{what}s"
                verb = "was" if number == 1 else "were"
                said.append(f"{_counted(number, what, many)} {verb} {why}.")
        if self.left:
            games = _counted(len(self.left), "game", "games")
            said.append(f"{games} could not be read in full.")
        return "\n".join(said)


def _counted(number: int, one: str, several: str) -> str:
    return f"{number:,} {one if number == 1 else several}"


@dataclass(frozen=True)
class Imported:
    """The repertoire made from games, and what was left out."""

    repertoire: Repertoire
    report: ImportReport


def import_games(
    paths: Sequence[Path] | KeptGames,
    options: ImportOptions,
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Imported:
    """The repertoire of one side in the games of some files, which may be kept from before.

    Raises `RepertoireFileError` where a file cannot be read, `ImportCancelledError`, and
    `EditError` where the options cannot be meant or no game counts.
    """
    return _import(paths, (options,), progress, cancelled)[0]


def import_both_sides(
    paths: Sequence[Path] | KeptGames,
    player: str,
    options: ImportOptions,
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> dict[chess.Color, Imported]:
    """Two repertoires from the games that `player` played with White and with Black.

    The files are read once. A side with which he has no game is left out. Raises as
    `import_games` does; `EditError` where the player has no game at all.
    """
    if not player.strip():
        raise EditError("Choose the player whose games these are, to tell his colours apart.")
    both = [replace(options, side=side, player=player) for side in (chess.WHITE, chess.BLACK)]
    found = _import(paths, both, progress, cancelled, needed=False)
    by_side = {
        wanted.side: one for wanted, one in zip(both, found, strict=True) if one.report.used
    }
    if not by_side:
        raise _no_games(both[0])
    return by_side


def players_in(paths: Sequence[Path]) -> list[tuple[str, int, int]]:
    """The players named in some files with their games as White and as Black, the most first.

    Raises `RepertoireFileError` where a file cannot be read.
    """
    return KeptGames(paths).players()


# -- counting -------------------------------------------------------------------------------------


@dataclass
class _Move:
    """A move of the games at one position; `order` is when it was first seen."""

    move: chess.Move
    san: str
    child: int
    order: int
    games: int = 0
    scored: int = 0
    points: float = 0.0


@dataclass
class _Count:
    """All games that count for one repertoire, by position."""

    options: ImportOptions
    moves: dict[int, dict[chess.Move, _Move]] = field(default_factory=dict)
    used: int = 0
    other_player: int = 0

    def take(self, game: Game) -> None:
        """Count a game, if it is one of the player's."""
        options = self.options
        wanted = options.player
        if wanted and folded_name(game.name(options.side)) != folded_name(wanted):
            self.other_player += 1
            return
        if not game.moves:
            return
        self.used += 1
        score = game.score(options.side)
        at = _ROOT.key
        seen: set[tuple[int, chess.Move]] = set()
        for move, san, child in game.moves[: options.plies]:
            at_position = self.moves.setdefault(at, {})
            entry = at_position.get(move)
            if entry is None:
                entry = at_position[move] = _Move(move, san, child, len(at_position))
            if (at, move) not in seen:
                # A repeated position is still one game.
                seen.add((at, move))
                entry.games += 1
                if score is not None:
                    entry.scored += 1
                    entry.points += score
            at = child


def _import(
    paths: Sequence[Path] | KeptGames,
    wanted: Sequence[ImportOptions],
    progress: Callable[[float], None] | None,
    cancelled: Callable[[], bool] | None,
    *,
    needed: bool = True,
) -> list[Imported]:
    for options in wanted:
        _check(options)
    counts = [_Count(options) for options in wanted]
    games = 0
    left: list[Left] = []
    kept = paths if isinstance(paths, KeptGames) else KeptGames(paths, most=0)
    plies = wanted[0].plies
    for path, game in kept.games(plies, progress=progress, cancelled=cancelled):
        games += 1
        if game.fault and len(game.moves) < plies:
            left.append(Left(path, game.number, game.line, game.fault))
        for count in counts:
            count.take(game)
    if needed and not counts[0].used:
        raise _no_games(wanted[0])
    return [_build(count, games, tuple(left)) for count in counts]


def _check(options: ImportOptions) -> None:
    if options.plies < 1:
        raise EditError("Choose at least one half-move to take from each game.")
    if not 0 <= options.reply_share <= 1:
        raise EditError("The share of games for a reply must be between 0 and 100 per cent.")
    if options.reply_games < 0 or options.most_lines < 0 or options.least_games < 1:
        raise EditError("Numbers of games and lines must not be negative.")


def _no_games(options: ImportOptions) -> EditError:
    if options.player:
        return EditError(
            f"No game in these files is one of {clean_text(options.player)}; check the name."
        )
    return EditError("There is no game with moves in these files; choose others.")


# -- choosing -------------------------------------------------------------------------------------

_ROOT = FastBoard.from_board(chess.Board())


class _Builder:
    """Builds the graph, the most played positions first."""

    def __init__(self, count: _Count) -> None:
        self._count = count
        self._options = count.options
        self.repertoire = Repertoire(count.options.side)
        root = self.repertoire.add_packed(_ROOT.key, _ROOT.pack())
        self._root = root
        self.lines = 1
        self.rare = self.unanswered = self.over_limit = self.own_moves = 0
        #: Positions to go on at: games (negative), when they were found, the position.
        self._open: list[tuple[int, int, Node]] = []
        self._found = 0
        self._seen = {root}

    def build(self) -> Repertoire:
        """Go on at every position until the games or the lines are used up."""
        self._wait(self._root, 0)
        while self._open:
            node = heapq.heappop(self._open)[2]
            moves = self._count.moves.get(node.key, {})
            if not moves:
                continue
            if node.turn == self._options.side:
                chosen = self._own(list(moves.values()))
                self.own_moves += len(moves) - 1
                self._add(node, chosen)
            else:
                for reply in self._replies(list(moves.values())):
                    self._add(node, reply)
        section = Section(self._root, {"Event": clean_text(self._options.title) or "Imported"})
        section.stands = _stands(self._root)
        self.repertoire.sections.append(section)
        return self.repertoire

    def _wait(self, node: Node, games: int) -> None:
        heapq.heappush(self._open, (-games, self._found, node))
        self._found += 1

    def _add(self, node: Node, entry: _Move) -> None:
        board = FastBoard(node.packed, node.key)
        board.push(entry.move)
        child = self.repertoire.add_packed(board.key, board.pack())
        self.repertoire.add_edge(node, entry.move, child, entry.san)
        if child not in self._seen:
            self._seen.add(child)
            self._wait(child, entry.games)

    def _own(self, moves: list[_Move]) -> _Move:
        most = min(moves, key=_most_played)
        if self._options.choice == "most played":
            return most
        enough = [move for move in moves if move.scored >= self._options.least_games]
        return min(enough, key=_best_score, default=most)

    def _replies(self, moves: list[_Move]) -> list[_Move]:
        """The replies worth keeping, the most played first."""
        options = self._options
        games = sum(move.games for move in moves)
        kept: list[_Move] = []
        for move in sorted(moves, key=_most_played):
            often = move.games >= options.reply_share * games
            often = often or 0 < options.reply_games <= move.games
            if not often or move.games < options.least_reply_games:
                self.rare += 1
            elif not self._count.moves.get(move.child) and not _ends(move.san):
                self.unanswered += 1
            elif options.most_lines and kept and self.lines >= options.most_lines:
                self.over_limit += 1
            else:
                self.lines += bool(kept)
                kept.append(move)
        return kept


def _build(count: _Count, games: int, left: tuple[Left, ...]) -> Imported:
    builder = _Builder(count)
    repertoire = builder.build()
    return Imported(
        repertoire,
        ImportReport(
            games=games,
            used=count.used,
            other_player=count.other_player,
            rare_replies=builder.rare,
            unanswered=builder.unanswered,
            over_limit=builder.over_limit,
            own_moves=builder.own_moves,
            lines=builder.lines if count.used else 0,
            left=left,
        ),
    )


def _most_played(move: _Move) -> tuple[int, int, str]:
    return -move.games, move.order, move.san


def _best_score(move: _Move) -> tuple[float, int, int, str]:
    return (-move.points / move.scored, *_most_played(move))


def _ends(san: str) -> bool:
    return san.endswith("#")


def _stands(root: Node) -> dict[Edge, Edge | None]:
    """Where each move stands: along the first line first, then the variations."""
    stands: dict[Edge, Edge | None] = {}
    stack: list[tuple[Edge, Edge | None]] = [(edge, None) for edge in reversed(root.edges)]
    while stack:
        edge, before = stack.pop()
        if edge in stands:
            continue
        stands[edge] = before
        stack += ((behind, edge) for behind in reversed(edge.child.edges) if behind not in stands)
    return stands
