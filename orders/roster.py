"""Judging a roster: each row against what the team order accepts, all or nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TypeVar

from orders.errors import RosterError
from orders.lines import folded
from orders.models import JacketOrder
from orders.roster_file import Row, Table

T = TypeVar("T")

REQUIRED = ("member", "size", "colorway")
COLUMNS = (*REQUIRED, "name_on_jacket", "note")
BLOCK = "block:"
FORMULA_SIGNS = ("=", "+", "-", "@")
LONGEST: dict[str, int] = {
    field.name: field.max_length
    for field in JacketOrder._meta.fields
    if field.max_length and field.name in COLUMNS
}


@dataclass(frozen=True, slots=True)
class AcceptedColorway:
    name: str
    sizes: tuple[str, ...]
    blocks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Accepted:
    """What a team order takes: its colorways, the (code, name) of each color of its palette, and
    the members that it has already."""

    colorways: tuple[AcceptedColorway, ...]
    colors: tuple[tuple[str, str], ...]
    members: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RosterRow:
    """A row as stored: colorway by name, size and (block, color) by code."""

    number: int
    member: str
    size: str
    colorway: str
    name_on_jacket: str = ""
    note: str = ""
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong in one cell of the file, and what would be accepted."""

    row: int
    column: str
    words: str

    def __str__(self) -> str:
        return f"Row {self.row}, {self.column}: {self.words}."


@dataclass(frozen=True, slots=True)
class Verdict:
    row: RosterRow
    problems: tuple[Problem, ...]


def good_rows(verdicts: Sequence[Verdict]) -> list[RosterRow]:
    problems = [problem for verdict in verdicts for problem in verdict.problems]
    if problems:
        bad = len({problem.row for problem in problems})
        raise RosterError(
            f"{bad} of {len(verdicts)} rows cannot be taken; nothing was stored.", problems
        )
    return [verdict.row for verdict in verdicts]


def judge(table: Table, accepted: Accepted) -> list[Verdict]:
    """A verdict on each row; RosterError when the columns themselves are wrong."""
    if not accepted.colorways:
        raise RosterError("The team order has no colorway yet; add one before the roster.")
    columns = _columns(table.header, accepted)
    seen = {folded(member): 0 for member in accepted.members}
    return [_judge_row(row, columns, accepted, seen) for row in table.rows]


def shown(text: str) -> str:
    """At most 40 characters of what was found, with nothing in it that a terminal would obey."""
    short = "".join(
        sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text[:40]
    )
    return f'"{short}…"' if len(text) > 40 else f'"{short}"'


def listed(words: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(words))


def _columns(header: Sequence[str], accepted: Accepted) -> tuple[str, ...]:
    blocks = {
        block.casefold(): block for colorway in accepted.colorways for block in colorway.blocks
    }
    known = {name: name for name in COLUMNS} | {
        f"{BLOCK}{folded}": f"{BLOCK}{block}" for folded, block in blocks.items()
    }
    columns, problems = [], []
    for title in header:
        folded = "_".join(title.casefold().replace(": ", ":").split())
        columns.append(known.get(folded, ""))
        if folded not in known:
            problems.append(_unknown_column(title, folded, known))
    problems += [
        f"column {name} is there {count} times"
        for name, count in Counter(filter(None, columns)).items()
        if count > 1
    ]
    problems += [f"column {name} is missing" for name in REQUIRED if name not in columns]
    if problems:
        words = "; ".join(problems)
        raise RosterError(f"Row 1: {words}. Columns are {listed(COLUMNS)} and block:<block code>.")
    return tuple(columns)


def _unknown_column(title: str, folded: str, known: dict[str, str]) -> str:
    if not title:
        return "a column has cells but no name"
    if folded.startswith(BLOCK):
        blocks = [name.removeprefix(BLOCK) for name in known.values() if name.startswith(BLOCK)]
        return f"column {shown(title)} names no block of this order, which has {listed(blocks)}"
    close = get_close_matches(folded, known, n=1)
    hint = f", did you mean {known[close[0]]}?" if close else ""
    return f"column {shown(title)} is unknown{hint}"


def _judge_row(
    row: Row, columns: Sequence[str], accepted: Accepted, seen: dict[str, int]
) -> Verdict:
    cells = dict(zip(columns, row.cells, strict=True))
    wrong: dict[str, str] = {}
    for column, text in cells.items():
        if words := _bad_text(column, text):
            wrong[column] = words
    member = cells["member"]
    if "member" not in wrong:
        if folded(member) in seen:
            wrong["member"] = _named_before(member, seen[folded(member)])
        seen.setdefault(folded(member), row.number)

    colorway = _found(cells["colorway"], {item.name: item for item in accepted.colorways})
    if colorway is None:
        wrong.setdefault("colorway", _not_accepted(cells["colorway"], accepted_names(accepted)))
    sizes = colorway.sizes if colorway else [s for c in accepted.colorways for s in c.sizes]
    size = _found(cells["size"], {code: code for code in sizes})
    if size is None:
        wrong.setdefault("size", _not_accepted(cells["size"], sizes))
    choices = _judge_choices(cells, colorway, accepted, wrong)
    return Verdict(
        RosterRow(
            number=row.number,
            member=member,
            size=size or cells["size"],
            colorway=colorway.name if colorway else cells["colorway"],
            name_on_jacket=cells.get("name_on_jacket", ""),
            note=cells.get("note", ""),
            choices=choices,
        ),
        tuple(Problem(row.number, column, words) for column, words in wrong.items()),
    )


def accepted_names(accepted: Accepted) -> list[str]:
    return [colorway.name for colorway in accepted.colorways]


def _judge_choices(
    cells: dict[str, str],
    colorway: AcceptedColorway | None,
    accepted: Accepted,
    wrong: dict[str, str],
) -> tuple[tuple[str, str], ...]:
    colors = _colors_by_word(accepted)
    choices = []
    for column, text in cells.items():
        if not text or not column.startswith(BLOCK):
            continue
        block, color = column.removeprefix(BLOCK), _found(text, colors)
        if color is None:
            wrong.setdefault(column, _not_accepted(text, colors))
        elif colorway and block not in colorway.blocks:
            blocks = listed(colorway.blocks)
            wrong.setdefault(column, f"colorway {colorway.name} has no block {block}, but {blocks}")
        else:
            choices.append((block, color))
    return tuple(choices)


def _colors_by_word(accepted: Accepted) -> dict[str, str]:
    """Codes by name and by code; a name that two fabrics share would be a guess and is left out."""
    names = Counter(name.casefold() for _, name in accepted.colors)
    return {name: code for code, name in accepted.colors if names[name.casefold()] == 1} | {
        code: code for code, _ in accepted.colors
    }


def _bad_text(column: str, text: str) -> str | None:
    if not text:
        return "is empty" if column == "member" else None
    if len(text) > LONGEST.get(column, len(text)):
        return f"{shown(text)} has {len(text)} characters; at most {LONGEST[column]} are accepted"
    if any(sign < " " or sign == "\x7f" for sign in text):
        return f"{shown(text)} has a line break or control sign in it; one line of text is accepted"
    if text.startswith(FORMULA_SIGNS):
        return f"{shown(text)} reads as a formula; text may not start with = + - or @"
    return None


def _named_before(member: str, row: int) -> str:
    if row:
        return f"{shown(member)} is in row {row} already; a member has one row"
    return f"{shown(member)} is already in the order"


def _not_accepted(text: str, accepted: Iterable[str]) -> str:
    found = f"found {shown(text)}" if text else "is empty"
    return f"{found}; accepted: {listed(accepted)}"


def _found(text: str, by_name: dict[str, T]) -> T | None:
    folded = text.casefold()
    return next((value for name, value in by_name.items() if name.casefold() == folded), None)
