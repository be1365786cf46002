"""The columns of a roster: known by name, or guessed and then confirmed by a person."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from orders.errors import RosterError
from orders.roster_file import Row, Table

MEMBER, SIZE, COLORWAY = REQUIRED = ("member", "size", "colorway")
COLUMNS = (*REQUIRED, "name_on_jacket", "note")
BLOCK = "block:"
#: What a column may be taken for besides the roster's own.
LEFT_OUT, FIRST_NAME, LAST_NAME = "", "first name", "last name"
SYNONYMS = {
    MEMBER: "name, full name, player, rower, paddler, athlete, person, participant, crew member, "
    "member name, team member, who",
    SIZE: "jacket size, clothing size, garment size, shirt size, top size, sizes, fit",
    COLORWAY: "color, colour, colors, colours, colourway, color way, design, variant, "
    "jacket, style",
    "name_on_jacket": "name on back, name on chest, jacket name, printed name, print name, "
    "personal name, lettering, embroidery, initials, nickname",
    "note": "notes, comment, comments, remark, remarks, wishes",
    FIRST_NAME: "given name, forename, firstname",
    LAST_NAME: "surname, family name, lastname",
}
CLOSE_ENOUGH = 0.8


@dataclass(frozen=True, slots=True)
class Guess:
    """What the column under `title` is taken for; `sure` when it has the roster's own name."""

    title: str
    column: str
    sure: bool


def listed(words: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(words))


def shown(text: str) -> str:
    """At most 40 characters of what was found, with nothing in it that a terminal would obey."""
    short = "".join(
        sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text[:40]
    )
    return f'"{short}…"' if len(text) > 40 else f'"{short}"'


def columns_of(header: Sequence[str], blocks: Iterable[str]) -> tuple[str, ...]:
    """The roster's own name of each column; RosterError unless every one is known."""
    known = _known(blocks)
    columns = [known.get(_folded(title), "") for title in header]
    problems = [
        _unknown_column(title, known)
        for title, column in zip(header, columns, strict=True)
        if not column
    ]
    problems += [
        f"column {name} is there {count} times"
        for name, count in Counter(filter(None, columns)).items()
        if count > 1
    ]
    problems += [f"column {name} is missing" for name in _missing(columns)]
    if problems:
        words = "; ".join(problems)
        raise RosterError(f"Row 1: {words}. Columns are {listed(COLUMNS)} and block:<block code>.")
    return tuple(columns)


def guessed(header: Sequence[str], blocks: Iterable[str]) -> list[Guess]:
    """Each column by its own name, else by another word for it, else by a word spelled nearly so;
    nothing is guessed twice."""
    known = _known(blocks)
    columns = [known.get(_folded(title), "") for title in header]
    sure = [bool(column) for column in columns]
    words = _other_words(known)
    for look_up in (words.get, lambda title: _nearest(title, words)):
        for place, title in enumerate(header):
            if not columns[place]:
                column = look_up(_plain(title)) or ""
                columns[place] = "" if column in columns else column
    return [Guess(*found) for found in zip(header, columns, sure, strict=True)]


def renamed(table: Table, columns: Sequence[str], *, first_row_counts: bool = False) -> Table:
    """The table under the roster's own column names, without the columns left out; first and last
    names are joined. With `first_row_counts` the header is a row like the others."""
    first = [place for place, column in enumerate(columns) if column == FIRST_NAME]
    last = [place for place, column in enumerate(columns) if column == LAST_NAME]
    names, kept = (
        first + last,
        [
            place
            for place, column in enumerate(columns)
            if column not in (LEFT_OUT, FIRST_NAME, LAST_NAME)
        ],
    )
    rows = (Row(1, table.header), *table.rows) if first_row_counts else table.rows

    def cells(row: Row) -> tuple[str, ...]:
        full_name = " ".join(filter(None, (row.cells[place] for place in names)))
        return (*([full_name] if names else []), *(row.cells[place] for place in kept))

    header = (*([MEMBER] if names else []), *(columns[place] for place in kept))
    return Table(header, tuple(Row(row.number, cells(row)) for row in rows if any(cells(row))))


def choices_of_column(blocks: Iterable[str]) -> list[tuple[str, str]]:
    """What a person may take a column for: value and words."""
    names = [*COLUMNS, FIRST_NAME, LAST_NAME, *(f"{BLOCK}{block}" for block in blocks)]
    return [(LEFT_OUT, "leave it out"), *((name, name.replace("_", " ")) for name in names)]


def _known(blocks: Iterable[str]) -> dict[str, str]:
    return {name: name for name in COLUMNS} | {
        f"{BLOCK}{block.casefold()}": f"{BLOCK}{block}" for block in blocks
    }


def _missing(columns: Sequence[str]) -> list[str]:
    """A list of names alone is a roster too; a size without a colorway is not."""
    if MEMBER in columns and set(columns) == {MEMBER}:
        return []
    wanted = REQUIRED if set(columns) & {SIZE, COLORWAY} or MEMBER in columns else (MEMBER,)
    return [name for name in wanted if name not in columns]


def _folded(title: str) -> str:
    return "_".join(title.casefold().replace(": ", ":").split())


def _plain(title: str) -> str:
    return " ".join(re.split(r"[\W_]+", title.casefold())).strip()


def _other_words(known: dict[str, str]) -> dict[str, str]:
    words = {word.strip(): column for column, text in SYNONYMS.items() for word in text.split(", ")}
    words |= {FIRST_NAME: FIRST_NAME, LAST_NAME: LAST_NAME}
    for name in known.values():
        # A block's code with or without the word block before it.
        words |= {_plain(name): name, _plain(name.removeprefix(BLOCK)): name}
    return words


def _nearest(title: str, words: dict[str, str]) -> str:
    close = get_close_matches(title, words, n=1, cutoff=CLOSE_ENOUGH)
    return words[close[0]] if close else ""


def _unknown_column(title: str, known: dict[str, str]) -> str:
    folded = _folded(title)
    if not title:
        return "a column has cells but no name"
    if folded.startswith(BLOCK):
        blocks = [name.removeprefix(BLOCK) for name in known.values() if name.startswith(BLOCK)]
        return f"column {shown(title)} names no block of this order, which has {listed(blocks)}"
    close = get_close_matches(folded, known, n=1)
    hint = f", did you mean {known[close[0]]}?" if close else ""
    return f"column {shown(title)} is unknown{hint}"
