"""The cells of a roster: which texts are refused, and what a size or a color means."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TypeVar

from orders.models import JacketOrder
from orders.roster_columns import COLUMNS, listed, shown
from orders.roster_guard import reads_as_formula, unguarded

T = TypeVar("T")
#: The (code, name) of each color.
Colors = Sequence[tuple[str, str]]

LONGEST: dict[str, int] = {
    field.name: field.max_length
    for field in JacketOrder._meta.fields
    if field.max_length and field.name in COLUMNS
}
#: A size of digits alone, as a spreadsheet may write it: 98,0 for 98.
NUMBER_WITH_ZEROS = re.compile(r"(\d+)[.,]0+")


def colors_by_word(colors: Colors) -> dict[str, str]:
    """Codes by name and by code; a name that two fabrics share would be a guess and is left out,
    and so is one that is the code of another color."""
    names = Counter(name.casefold() for _, name in colors)
    codes = {code.casefold(): code for code, _ in colors}
    return {
        name: code
        for code, name in colors
        if names[name.casefold()] == 1 and codes.get(name.casefold(), code) == code
    } | {code: code for code, _ in colors}


def color_words(colors: Colors) -> dict[str, str]:
    """The name of each color where a roster may use it, else its code."""
    by_word = colors_by_word(colors)
    return {code: name if by_word.get(name) == code else code for code, name in colors}


def bad_text(column: str, text: str) -> str | None:
    if not text:
        return "is empty" if column == "member" else None
    plain = unguarded(text)
    if len(plain) > LONGEST.get(column, len(plain)):
        return f"{shown(plain)} has {len(plain)} characters; at most {LONGEST[column]} are accepted"
    if any(sign < " " or sign == "\x7f" for sign in text):
        return f"{shown(text)} has a line break or control sign in it; one line of text is accepted"
    if reads_as_formula(text):
        return f"{shown(text)} reads as a formula; text may not start with = + - or @"
    return None


def not_accepted(text: str, accepted: Iterable[str]) -> str:
    found = f"found {shown(text)}" if text else "is empty"
    return f"{found}; accepted: {listed(accepted)}"


def found_size(text: str, sizes: Sequence[str]) -> str | None:
    by_name = {code: code for code in sizes}
    number = NUMBER_WITH_ZEROS.fullmatch(text)
    return found(text, by_name) or (found(number[1], by_name) if number else None)


def found(text: str, by_name: dict[str, T]) -> T | None:
    if text in by_name:
        return by_name[text]
    folded = text.casefold()
    return next((value for name, value in by_name.items() if name.casefold() == folded), None)
