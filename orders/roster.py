"""Judging a roster: each row against what the team order accepts and has, all or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256

from orders.errors import RosterError
from orders.lines import folded, one_line
from orders.roster_cells import (
    bad_text,
    color_words,
    colors_by_word,
    found,
    found_size,
    not_accepted,
)
from orders.roster_columns import BLOCK, COLUMNS, columns_of, listed, shown
from orders.roster_file import Table
from orders.roster_guard import unguarded


@dataclass(frozen=True, slots=True)
class RosterRow:
    """A row as stored: colorway by name, size and (block, color) by code. A jacket that the order
    has already has number 0."""

    number: int
    member: str
    size: str
    colorway: str
    name_on_jacket: str = ""
    note: str = ""
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class AcceptedColorway:
    """`fills` are the (block, color) codes that a jacket has without a choice of its own; `free`
    the blocks whose color members may choose, where the club itself hands the roster in."""

    name: str
    sizes: tuple[str, ...]
    blocks: tuple[str, ...]
    fills: tuple[tuple[str, str], ...] = ()
    free: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Accepted:
    """What a team order takes: its colorways and the (code, name) of each color of its palette;
    and what it has: its jackets and the names that it expects.

    Where the club itself hands the roster in, `names_allowed` and the free blocks of the colorways
    bind it as they bind its members; for the maker they are True and None.
    """

    colorways: tuple[AcceptedColorway, ...]
    colors: tuple[tuple[str, str], ...]
    jackets: tuple[RosterRow, ...] = ()
    expected: tuple[str, ...] = ()
    names_allowed: bool = True

    @property
    def blocks(self) -> list[str]:
        return list(dict.fromkeys(block for item in self.colorways for block in item.blocks))

    @property
    def choosable(self) -> list[str]:
        """The blocks that may have a color of their own in some colorway."""
        free = (item.blocks if item.free is None else item.free for item in self.colorways)
        return list(dict.fromkeys(block for blocks in free for block in blocks))


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong in one cell of the file, and what would be accepted."""

    row: int
    column: str
    words: str

    def __str__(self) -> str:
        return f"Row {self.row}, {self.column}: {self.words}."


class Kind(StrEnum):
    BAD = "cannot be taken"
    NEW = "new"
    DIFFERS = "differs"
    EXPECTED = "expected, has not chosen"
    UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True)
class Change:
    column: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.column} {self.before or 'none'} to {self.after or 'none'}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """`stored` is the jacket that the row speaks of, where the order has one."""

    kind: Kind
    row: RosterRow
    problems: tuple[Problem, ...] = ()
    stored: RosterRow | None = None
    changes: tuple[Change, ...] = ()


def check_good(verdicts: Sequence[Verdict]) -> None:
    problems = [problem for verdict in verdicts for problem in verdict.problems]
    if problems:
        bad = len({problem.row for problem in problems})
        raise RosterError(
            f"{bad} of {len(verdicts)} rows cannot be taken; nothing was stored.", problems
        )


def fingerprint(verdicts: Sequence[Verdict]) -> str:
    """Equal for equal verdicts: what is stored must be what was shown."""
    told = [(verdict.kind.name, *map(str, verdict.changes)) for verdict in verdicts]
    return sha256(repr(told).encode()).hexdigest()[:16]


def judge(table: Table, accepted: Accepted) -> list[Verdict]:
    """A verdict on each row; RosterError when the columns themselves are wrong."""
    columns = columns_of(table.header, accepted.blocks)
    if "size" in columns and not accepted.colorways:
        raise RosterError("The team order has no colorway yet; add one before the roster.")
    if not table.rows:
        raise RosterError("There is no row with a member under the columns.")
    known = _Known(accepted)
    return [
        _judge_row(row.number, dict(zip(columns, row.cells, strict=True)), known)
        for row in table.rows
    ]


class _Known:
    """The order's jackets and expected names, and the rows seen so far."""

    def __init__(self, accepted: Accepted) -> None:
        self.accepted = accepted
        self.exact = {one_line(jacket.member).casefold(): jacket for jacket in accepted.jackets}
        self.exact |= {jacket.member.casefold(): jacket for jacket in accepted.jackets}
        self.by_key = {folded(jacket.member): jacket for jacket in accepted.jackets}
        self.expected = {folded(name) for name in accepted.expected}
        self.seen: dict[str, int] = {}

    def jacket(self, member: str) -> RosterRow | None:
        return self.exact.get(member.casefold()) or self.by_key.get(folded(member))

    def row_before(self, member: str, number: int) -> int | None:
        """The row that named this member first, if it is not this one."""
        stored = self.jacket(member)
        first = self.seen.setdefault(stored.member if stored else folded(member), number)
        return None if first == number else first


def _judge_row(number: int, cells: dict[str, str], known: _Known) -> Verdict:
    wrong = {column: words for column, text in cells.items() if (words := bad_text(column, text))}
    cells = {column: unguarded(text) for column, text in cells.items()}
    member = cells["member"]
    if "member" not in wrong and (first := known.row_before(member, number)):
        wrong["member"] = f"{shown(member)} is in row {first} already; a member has one row"
    stored = known.jacket(member)
    if not any(text for column, text in cells.items() if column != "member"):
        return _judge_name(number, member, wrong, known)
    row = _read_row(number, cells, stored, known.accepted, wrong)
    _check_limits(row, stored, known.accepted, wrong)
    problems = _problems(number, wrong)
    if problems:
        return Verdict(Kind.BAD, row, problems, stored)
    if stored is None:
        return Verdict(Kind.NEW, row)
    changes = _changes(stored, row, known.accepted)
    return Verdict(Kind.DIFFERS if changes else Kind.UNCHANGED, row, (), stored, changes)


def _judge_name(number: int, member: str, wrong: dict[str, str], known: _Known) -> Verdict:
    row = RosterRow(number, member, "", "")
    if problems := _problems(number, wrong):
        return Verdict(Kind.BAD, row, problems)
    if known.jacket(member) or folded(member) in known.expected:
        return Verdict(Kind.UNCHANGED, row)
    return Verdict(Kind.EXPECTED, row)


def _problems(number: int, wrong: dict[str, str]) -> tuple[Problem, ...]:
    return tuple(Problem(number, column, words) for column, words in wrong.items())


def _read_row(
    number: int,
    cells: dict[str, str],
    stored: RosterRow | None,
    accepted: Accepted,
    wrong: dict[str, str],
) -> RosterRow:
    """What the row says; of a column that the file has not, what is stored stays."""
    colorway = found(cells["colorway"], {item.name: item for item in accepted.colorways})
    if colorway is None:
        names = [item.name for item in accepted.colorways]
        wrong.setdefault("colorway", not_accepted(cells["colorway"], names))
    sizes = colorway.sizes if colorway else [s for c in accepted.colorways for s in c.sizes]
    size = found_size(cells["size"], sizes)
    if size is None:
        wrong.setdefault("size", not_accepted(cells["size"], sizes))
    kept = stored or RosterRow(number, "", "", "")
    member = cells["member"]
    return RosterRow(
        number=number,
        member=kept.member if one_line(kept.member) == one_line(member) else member,
        size=size or cells["size"],
        colorway=colorway.name if colorway else cells["colorway"],
        name_on_jacket=cells.get("name_on_jacket", kept.name_on_jacket),
        note=cells.get("note", kept.note),
        choices=_read_choices(cells, kept, colorway, accepted, wrong),
    )


def _read_choices(
    cells: dict[str, str],
    kept: RosterRow,
    colorway: AcceptedColorway | None,
    accepted: Accepted,
    wrong: dict[str, str],
) -> tuple[tuple[str, str], ...]:
    colors = colors_by_word(accepted.colors)
    blocks = colorway.blocks if colorway else ()
    choices = {
        block: color
        for block, color in kept.choices
        if block in blocks and f"{BLOCK}{block}" not in cells
    }
    for column, text in cells.items():
        if not text or not column.startswith(BLOCK):
            continue
        block, color = column.removeprefix(BLOCK), found(text, colors)
        if color is None:
            wrong.setdefault(column, not_accepted(text, colors))
        elif colorway and block not in blocks:
            words = f"colorway {colorway.name} has no block {block}, but {listed(blocks)}"
            wrong.setdefault(column, words)
        else:
            choices[block] = color
    usual = dict(colorway.fills) if colorway else {}
    return tuple((block, color) for block, color in choices.items() if usual.get(block) != color)


def _check_limits(
    row: RosterRow, stored: RosterRow | None, accepted: Accepted, wrong: dict[str, str]
) -> None:
    name_before = stored.name_on_jacket if stored else ""
    if not accepted.names_allowed and row.name_on_jacket not in ("", name_before):
        wrong.setdefault("name_on_jacket", "names are not put on the jackets of this order")
    free = {item.name: item.free for item in accepted.colorways}.get(row.colorway)
    if free is None:
        return
    for block, color in row.choices:
        chosen_before = stored is not None and (block, color) in stored.choices
        if block not in free and not chosen_before:
            words = "the color of this block is not for members to choose; free are: "
            wrong.setdefault(f"{BLOCK}{block}", words + (listed(free) or "none"))


def _changes(before: RosterRow, after: RosterRow, accepted: Accepted) -> tuple[Change, ...]:
    texts = [
        (
            column.replace("_", " "),
            one_line(getattr(before, column)),
            one_line(getattr(after, column)),
        )
        for column in COLUMNS
    ]
    names = color_words(accepted.colors)
    own_before, own_after = dict(before.choices), dict(after.choices)
    for block in dict.fromkeys([*own_before, *own_after]):
        was, is_now = own_before.get(block, ""), own_after.get(block, "")
        texts.append((block, names.get(was, "as colorway"), names.get(is_now, "as colorway")))
    return tuple(Change(*text) for text in texts if text[1] != text[2])
