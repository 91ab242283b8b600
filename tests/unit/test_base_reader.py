"""The fast reader against the plain loop of python-chess, on tidy and on messy files."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.base_games import GameMaker, game_text, plain_loop
from trainer.games.base import moments
from trainer.games.base.careful import main_lines
from trainer.games.base.codes import CODES, MOVES
from trainer.games.base.reader import (
    BROKEN,
    EMPTY,
    OTHER_START,
    VARIANT,
    BaseGame,
    GameReader,
    rating_of,
)
from trainer.games.base.spans import spans
from trainer.games.base.words import plain_spelling
from trainer.games.when import GameWhen
from trainer.position import position_key

READER = GameReader()


def read(text: str | bytes, plies: int = 40) -> list[BaseGame]:
    data = text.encode() if isinstance(text, str) else text
    return list(GameReader(plies).games(data))


def moves(game: BaseGame) -> list[str]:
    return [str(MOVES[code]) for code in game.codes]


def check_against_plain(text: str, plies: int = 40) -> int:
    """Each game as the plain loop has it; how many were read."""
    mine, plain = read(text, plies), list(plain_loop(text, plies))
    assert len(mine) == len(plain)
    for ours, theirs in zip(mine, plain, strict=True):
        assert (ours.fault == BROKEN) == theirs.error
        if not ours.fault:
            assert ours.keys == theirs.keys
            assert [MOVES[code] for code in ours.codes] == theirs.moves
        given_tags = {name: value for name, value in theirs.tags.items() if name in ours.tags}
        assert ours.tags == given_tags
    return len(mine)


def test_thousands_of_games() -> None:
    maker = GameMaker(seed=11)
    assert check_against_plain(maker.text(3000)) == 3000


def test_wild_games_with_promotions_and_captures_in_passing() -> None:
    rng = random.Random(4)
    texts, promotions, passing = [], 0, 0
    for _ in range(150):
        board, sans = chess.Board(), []
        while len(sans) < 200 and (legal := list(board.legal_moves)):
            rare = [move for move in legal if board.is_en_passant(move) or move.promotion]
            move = rng.choice(rare or legal)
            promotions += move.promotion is not None
            passing += board.is_en_passant(move)
            sans.append(board.san(move))
            board.push(move)
        texts.append(game_text({"Result": "*"}, sans))
    check_against_plain("".join(texts), plies=200)
    assert promotions > 100
    assert passing > 30


class Mess:
    """Puts into a game what files hold beside its moves, and now and then an error."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng

    def game(self, sans: list[str]) -> str:
        rng = self.rng
        words = []
        for ply, san in enumerate(sans):
            if ply % 2 == 0:
                words.append(f"{ply // 2 + 1}.")
            elif rng.random() < 0.1:
                words.append(f"{ply // 2 + 1}...")
            words.append(self.spelling(san))
            if rng.random() < 0.2:
                words.append(self.extra())
        words.append(rng.choice(("1-0", "0-1", "1/2-1/2", "*")))
        text = words[0]
        for word in words[1:]:
            # An empty line would end the game for the plain loop.
            at_line = text.endswith("\n") or word.startswith("\n")
            text += ("" if at_line else rng.choice((" ", " ", " ", "  ", "\n"))) + word
        return '[Event "x"]\n[White "A"]\n\n' + text + "\n\n"

    def spelling(self, san: str) -> str:
        rng = self.rng
        if rng.random() < 0.03:
            return rng.choice(("Ke4", "Qh5", "Nf3", "a3", "--", "O-O", "exd5", "R1a3"))
        if rng.random() < 0.1:
            return san.rstrip("+#") + rng.choice(("", "!", "?!", "+"))
        return san.replace("O", "0") if rng.random() < 0.2 else san

    def extra(self) -> str:
        return self.rng.choice(
            (
                "{ a note }",
                "{ [%clk 0:01:00] }",
                "{two\nlines}",
                "(1. e4 e5 (1... c5 {deep}) 2. Nf3)",
                "$14",
                "!",
                "; to the end { of the line\n",
                "{; } ",
                "{ ( }",
                '{\n[Event "quoted"]\n[White "Q"]\n\n1. d4 d5 }',
                "\n% escaped { line\n",
                "(1. h4)",
            )
        )


@pytest.mark.parametrize("seed", range(6))
def test_messy_games(seed: int) -> None:
    rng = random.Random(seed)
    maker, mess = GameMaker(seed=100 + seed), Mess(rng)
    text = "".join(mess.game(maker.sans()) for _ in range(200))
    assert check_against_plain(text) == 200


@given(st.integers(0, 10**9))
def test_any_start_of_a_file_is_read_without_an_exception(seed: int) -> None:
    rng = random.Random(seed)
    maker = GameMaker(seed=seed, openings=[["e4", "e5"], ["d4"]])
    data = "".join(Mess(rng).game(maker.sans()) for _ in range(3)).encode()
    cut = data[: rng.randrange(len(data) + 1)]
    for _ in range(rng.randrange(4)):
        at = rng.randrange(len(cut) + 1)
        cut = cut[:at] + rng.choice((b"{", b"}", b"\n[", b"(", b"\xff", b'"', b";")) + cut[at:]
    for game in READER.games(cut):
        assert game.fault or len(game.keys) == len(game.codes) > 0


def test_no_empty_line_between_games() -> None:
    text = (
        '[Event "a"]\n1. e4 e5 1-0\n[Event "b"]\n[White "W"]\n1. d4 d5 0-1\n[Event "c"]\n\n1. c4 *'
    )
    games = read(text)
    assert [moves(game) for game in games] == [["e2e4", "e7e5"], ["d2d4", "d7d5"], ["c2c4"]]
    assert [game.result for game in games] == [0, 2, 3]
    assert games[1].tags == {"Event": "b", "White": "W"}


def test_a_header_inside_a_comment_begins_nothing() -> None:
    text = (
        '[Event "a"]\n\n1. e4 {as in\n\n[Event "old"]\n[White "X"]\n\n1. d4 *\n} e5 1-0\n\n'
        '[Event "b"]\n\n1. c4 *\n'
    )
    assert [moves(game) for game in read(text)] == [["e2e4", "e7e5"], ["c2c4"]]


def test_a_comment_that_is_never_closed_spoils_one_game() -> None:
    text = (
        '[Event "a"]\n\n1. e4 { no end\n\n[Event "b"]\n\n1. c4 {x} *\n\n[Event "c"]\n\n1. d4 *\n'
    )
    games = read(text)
    assert [game.fault for game in games] == [BROKEN, "", ""]
    assert games[0].reason == "a comment is not closed"
    assert [moves(game) for game in games[1:]] == [["c2c4"], ["d2d4"]]


def test_spellings_and_null_moves() -> None:
    (game,) = read("1. e2-e4 e7e5 2. Ng1-f3 -- 3. O-O-O?? *")
    assert game.fault == BROKEN
    (game,) = read("1. e2-e4 e7e5 2. Ng1-f3 -- 3. Bc4 o-o *".replace("o-o", "Nf6"))
    assert moves(game) == ["e2e4", "e7e5", "g1f3", "0000", "f1c4", "g8f6"]
    board = chess.Board()
    for move in moves(game):
        board.push_uci(move)
    assert game.keys[-1] == position_key(board)


@pytest.mark.parametrize("word", ["Sf3", "Cf3", "xyz", "Nf"])
def test_a_foreign_word_is_an_error_and_not_a_move_of_a_pawn(word: str) -> None:
    (game,) = read(f"1. e4 e5 2. {word} Nc6 *")
    assert game.fault == BROKEN
    assert f"“{word}”" in game.reason


def test_figurines_and_small_castling_are_read() -> None:
    (game,) = read("1. Pe4 e5 2. ♘f3 ♞c6 3. ♗c4 ♗c5 4. o-o *")
    assert moves(game)[2:] == ["g1f3", "b8c6", "f1c4", "f8c5", "e1g1"]


def test_an_illegal_move_is_named() -> None:
    (game,) = read('[Event "x"]\n\n1. e4 e5\n2. Ke3 Nc6 1-0')
    assert (game.fault, game.reason) == (BROKEN, "“Ke3” is not a legal move after e5")
    assert game.fault_offset > len('[Event "x"]\n\n1. e4 e5\n')
    assert not game.keys


def spelt(board: chess.Board, move: chess.Move) -> str:
    """A move that leaves the king in check, as if it were legal: every square is named."""
    piece = board.piece_type_at(move.from_square)
    assert piece is not None
    takes = "x" if board.is_capture(move) else ""
    origin, target = (chess.square_name(one) for one in (move.from_square, move.to_square))
    if board.is_castling(move):
        return "O-O" if target[0] == "g" else "O-O-O"
    if piece == chess.PAWN:
        return f"{origin[0]}x{target}" if takes else target
    letter = chess.piece_symbol(piece).upper()
    return f"{letter}{'' if piece == chess.KING else origin}{takes}{target}"


def test_moves_that_leave_the_king_in_check() -> None:
    """Pinned pieces that move, checks that are ignored, kings that walk into fire."""
    rng = random.Random(9)
    texts: list[str] = []
    wanted = {"pinned": 25, "in check": 25, "king": 25}
    while any(wanted.values()):
        board, sans = chess.Board(), []
        while len(sans) < 36 and (legal := list(board.legal_moves)):
            for move in board.generate_pseudo_legal_moves():
                if board.is_legal(move) or move.promotion:
                    continue
                king = board.piece_type_at(move.from_square) == chess.KING
                kind = "king" if king else "in check" if board.is_check() else "pinned"
                if wanted[kind] and rng.random() < 0.2:
                    wanted[kind] -= 1
                    texts.append(game_text({"Result": "*"}, [*sans, spelt(board, move)]))
            move = rng.choice(legal)
            sans.append(board.san(move))
            board.push(move)
    assert check_against_plain("".join(texts)) == 75
    assert all(game.fault == BROKEN for game in read("".join(texts)))


@pytest.mark.parametrize(
    "text",
    [
        # The rook that castles gives check.
        "1. f4 e5 2. fxe5 f6 3. exf6 Nxf6 4. Nf3 Ke7 5. e3 Kf7 6. Be2 Nd5 7. Nd4 a6 8. O-O h6 *",
        # The pawn that is taken in passing stood between bishop and king.
        "1. e4 f6 2. e5 Kf7 3. Bc4+ d5 4. exd6 a6 *",
        # The pawn that takes in passing stood between queen and king.
        "1. e4 e5 2. f4 exf4 3. e5 a6 4. Qe2 d5 5. exd6 h6 *",
        # Castling out of, through and into check, without the right, with a piece between.
        "1. e4 e5 2. Nf3 Nc6 3. Bb5 Bb4 4. c3 Bxc3 5. O-O O-O-O *",
        "1. e4 b6 2. Nh3 Ba6 3. g3 g6 4. Bg2 Bg7 5. O-O *",
        "1. e4 e5 2. Ke2 Ke7 3. Ke1 Ke8 4. Nf3 Nf6 5. Be2 Be7 6. O-O *",
        "1. f4 e5 2. fxe5 Bc5 3. Nf3 a6 4. g3 a5 5. Bh3 a4 6. O-O *",
        "1. e4 d5 2. exd5 Qxd5 3. Nf3 a6 4. Bc4 Qe4+ 5. O-O *",
        "1. e4 e5 2. O-O *",
        "1. d4 d5 2. Bf4 a6 3. Qd3 a5 4. O-O-O *",
        # Two knights may go there; one of two is pinned, which is no ambiguity.
        "1. Nf3 a6 2. Nc3 a5 3. Nd5 a4 4. Nd4 a3 5. Nb5 b6 6. Nc7 *",
        "1. d4 e5 2. Nc3 Bb4 3. Nf3 a6 4. Nd2 *",
        "1. d4 e5 2. Nf3 Bb4 3. Nc3 a6 4. Ne4 *",
        "1. Nc3 e5 2. d3 Bb4 3. Nh3 a6 4. Nf4 a5 5. Nd5 *",
        # A pawn that may not be taken in passing any more.
        "1. e4 a6 2. e5 d5 3. a3 a5 4. exd6 *",
        "1. e4 a6 2. e5 d6 3. a3 d5 4. exd6 *",
    ],
)
def test_rules_that_are_easily_forgotten(text: str) -> None:
    check_against_plain(text)


def test_an_error_after_the_moves_that_are_held_matters_to_nobody() -> None:
    (game,) = read("1. e4 e5 2. Nf3 Nc6 3. Ke4 *", plies=4)
    assert not game.fault
    assert len(game.keys) == 4


@pytest.mark.parametrize(
    ("tags", "fault"),
    [
        ('[Variant "Antichess"]', VARIANT),
        ('[Variant "no such game"]', VARIANT),
        ('[Variant "Standard"]', ""),
        (f'[SetUp "1"]\n[FEN "{chess.STARTING_FEN}"]', ""),
        ('[FEN "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"]', OTHER_START),
        ('[FEN "rubbish"]', BROKEN),
    ],
)
def test_what_is_not_for_the_figures(tags: str, fault: str) -> None:
    (game,) = read(f'[Event "x"]\n{tags}\n\n1. e4 *')
    assert game.fault == fault
    assert bool(game.reason) == bool(fault)


def test_games_without_moves() -> None:
    text = '[Event "a"]\n\n1-0\n\n[Event "b"]\n\n\n[Event "c"]\n\n1. e4 *\n\n[Event "d"]'
    assert [game.fault for game in read(text)] == [EMPTY, EMPTY, "", EMPTY]
    # The plain loop takes this for one game.
    games = read('[Event "a"]\n[White "A"]\n\n[Event "b"]\n[Black "B"]\n\n1. e4 *\n')
    assert [game.fault for game in games] == [EMPTY, ""]
    assert games[1].tags == {"Event": "b", "Black": "B"}


def test_games_without_tags() -> None:
    games = read("1. e4 e5 1-0\n\n1. d4 d5 1/2-1/2\n\n1. c4 *")
    assert [moves(game) for game in games] == [["e2e4", "e7e5"], ["d2d4", "d7d5"], ["c2c4"]]
    assert [game.result for game in games] == [0, 1, 3]


def test_marks_encodings_and_line_ends() -> None:
    text = '[White "Ärger, Zoë"]\n[Black "B"]\n\n1. e4 {Grüße\nund} e5\n2. Nf3 *\n\n'
    ways = [
        text.encode(),
        b"\xef\xbb\xbf" + text.encode(),
        text.encode("latin-1"),
        text.replace("\n", "\r\n").encode("cp1252"),
    ]
    for way in ways:
        data = way.removeprefix(b"\xef\xbb\xbf")
        first, second = read(data + data)
        assert first.tags == {"White": "Ärger, Zoë", "Black": "B"}
        assert moves(first) == moves(second) == ["e2e4", "e7e5", "g1f3"]


def test_the_same_game_has_the_same_content() -> None:
    maker = GameMaker(seed=6)
    tags, sans = maker.tags(1), maker.sans()
    (plain,) = read(game_text(tags, sans))
    (noted,) = read(game_text(tags, sans).replace("1. ", "1. {x}\n\n(1. h4 {y}) $1 ", 1))
    assert plain.content == noted.content
    (signs,) = read(game_text(tags, [san.rstrip("+#") for san in sans]))
    assert signs.content == plain.content
    (careful,) = read(game_text(tags, sans).replace("1. ", "1. {x} ; {\n", 1))
    assert careful.content == plain.content
    (other,) = read(game_text(tags | {"White": "Somebody else"}, sans))
    (shorter,) = read(game_text(tags, sans[:-1]))
    assert len({plain.content, other.content, shorter.content}) == 3


def test_the_spans_of_a_part_are_those_of_the_whole() -> None:
    maker, mess = GameMaker(seed=8), Mess(random.Random(8))
    data = "".join(mess.game(maker.sans()) for _ in range(40)).encode()
    whole = list(spans(data))
    for end in range(0, len(data), 997):
        part = list(spans(data[:end], final=False))
        assert part == whole[: len(part)]
        assert len(part) >= sum(1 for span in whole if span[2] < end) - 1


def test_main_lines_of_nothing() -> None:
    (line,) = main_lines("", 40)
    assert not line.keys


def test_codes_are_one_to_one() -> None:
    assert len(CODES) == len(MOVES)
    assert len(MOVES) * 4 < 1 << 16
    board = chess.Board("r3k3/1P5P/8/8/8/8/1p5p/R3K2R w KQq - 0 1")
    assert all(move in CODES for move in board.legal_moves)
    board.turn = chess.BLACK
    assert all(move in CODES for move in board.legal_moves)


@pytest.mark.parametrize(
    ("word", "spelling"),
    [("Nbd7+", "Nd7"), ("e2-e4", "e4"), ("exd8=Q#", "ed8Q"), ("O-O-O+", "O-O-O"), ("0-0", "O-O")],
)
def test_plain_spelling(word: str, spelling: str) -> None:
    assert plain_spelling(word) == spelling


WHENS = (
    st.builds(
        GameWhen,
        st.sampled_from((0, 2023, 2024)),
        st.integers(0, 3),
        st.integers(0, 3),
        st.integers(-1, 2),
        st.integers(0, 2),
    )
    .map(
        lambda when: (
            GameWhen()
            if not when.year
            else when
            if when.month
            else GameWhen(when.year, 0, 0, -1, when.order)
        )
    )
    .map(lambda when: when if when.day else GameWhen(when.year, when.month, 0, -1, when.order))
)


@given(WHENS, WHENS)
def test_earlier_is_earlier_by_one_number(one: GameWhen, other: GameWhen) -> None:
    assert one.earlier_than(other) == (moments.moment(one) < moments.limit(other))
    assert (one.sort_key < other.sort_key) == (moments.moment(one) < moments.moment(other))


def test_dates_in_words() -> None:
    for text in ("2024.05.17", "2024.05.??", "2024.??.??", "????.??.??"):
        found = moments.moment_of({"Date": text})
        assert moments.date_text(found) == text
        assert moments.year(found) == (2024 if text[0] == "2" else 0)
        assert (found >= moments.UNDATED) == (text[0] == "?")


@pytest.mark.parametrize(
    ("text", "rating"), [("2100", 2100), ("?", 0), ("", 0), ("99999", 0), ("-", 0)]
)
def test_ratings(text: str, rating: int) -> None:
    assert rating_of(text) == rating
