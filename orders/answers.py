"""Who has answered, who may be listed twice, and which sizes look like a slip.

Values in, values out. Nothing here forbids anything: it points out what a coordinator would see on
a longer look.
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from orders.lines import folded

#: Below this many other jackets no size looks odd. Invented.
FEWEST_OTHERS = 3
#: More steps than this from every other size looks like a slip. Invented.
STEPS_APART = 3
#: Letters from which one slip, and two slips, still leave a name recognizable. Invented.
LETTERS_FOR_ONE_SLIP, LETTERS_FOR_TWO_SLIPS = 4, 10
#: In longer lists only names with the same words are compared.
MOST_COMPARED = 1000
YOUTH, ADULT = "youth", "adult"


@dataclass(frozen=True, slots=True)
class Answer:
    """One jacket ordered. `step` is the size's place in the size range of `pattern`."""

    key: int
    member: str
    size: str
    age_group: str
    step: int
    pattern: int = 0


@dataclass(frozen=True, slots=True)
class Flag:
    """Something to look at in the jacket `key`; `other` is the jacket that it is compared with."""

    key: int
    member: str
    words: str
    other: int | None = None


@dataclass(frozen=True, slots=True)
class Muster:
    """`missing` are expected and have no jacket; `unexpected` have one and are on no list."""

    missing: tuple[str, ...]
    unexpected: tuple[str, ...]


def muster(expected: Iterable[str], members: Iterable[str]) -> Muster:
    expected, members = list(expected), list(members)
    wanted, there = set(map(folded, expected)), set(map(folded, members))
    return Muster(
        missing=tuple(name for name in expected if folded(name) not in there),
        unexpected=tuple(name for name in members if folded(name) not in wanted),
    )


def near_names(names: Iterable[str], others: Iterable[str]) -> dict[str, str]:
    """For each of `names` that is nearly one of `others`: that other."""
    names, others = list(names), list(others)
    found: dict[str, str] = {}
    for first, second in _near_pairs([*map(_plain, names), *map(_plain, others)]):
        if first < len(names) <= second:
            found.setdefault(names[first], others[second - len(names)])
    return found


def flags(answers: Sequence[Answer]) -> list[Flag]:
    """Doubles and odd sizes, in the order of the answers."""
    found = [*doubles(answers), *odd_sizes(answers)]
    place = {answer.key: number for number, answer in enumerate(answers)}
    return sorted(found, key=lambda flag: place[flag.key])


def doubles(answers: Sequence[Answer]) -> list[Flag]:
    """Names that are the same, or nearly the same, as another in the order."""
    keys = [folded(answer.member) for answer in answers]
    found = []
    for first, second in _near_pairs([_plain(answer.member) for answer in answers]):
        how = "the same name as" if keys[first] == keys[second] else "nearly the same name as"
        for one, other in ((first, second), (second, first)):
            answer = answers[one]
            words = f"{how} {answers[other].member} ({answers[other].size})"
            found.append(Flag(answer.key, answer.member, words, answers[other].key))
    return found


def odd_sizes(answers: Sequence[Answer]) -> list[Flag]:
    """Sizes that stand alone among at least FEWEST_OTHERS others of the same pattern."""
    by_pattern = defaultdict(list)
    for answer in answers:
        by_pattern[answer.pattern].append(answer)
    return [
        Flag(answer.key, answer.member, words)
        for group in by_pattern.values()
        if len(group) > FEWEST_OTHERS
        for answer in group
        if (words := _odd_size(answer, [other for other in group if other is not answer]))
    ]


def _odd_size(answer: Answer, others: Sequence[Answer]) -> str:
    groups = {other.age_group for other in others}
    if answer.age_group == ADULT and groups == {YOUTH}:
        return f"adult size {answer.size}; all others are youth sizes"
    if answer.age_group == YOUTH and groups == {ADULT}:
        return f"youth size {answer.size}; all others are adult sizes"
    apart = min(abs(answer.step - other.step) for other in others)
    if apart > STEPS_APART:
        return f"size {answer.size} is {apart} sizes away from any other"
    return ""


def _plain(name: str) -> str:
    """The key without accents, so that Zoe and Zoë are near."""
    apart = unicodedata.normalize("NFKD", folded(name))
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def _near_pairs(names: Sequence[str]) -> list[tuple[int, int]]:
    """Places of names that are equal, swapped, or one slip apart (two in long names).

    Only names that have a common form after leaving out letters are compared, so that a long list
    does not cost a comparison of each with each.
    """
    places = defaultdict(list)
    for place, name in enumerate(names):
        slips = _slips(name) if len(names) <= MOST_COMPARED else 0
        for form in {*_shortened(name, slips), " ".join(_words(name))}:
            places[form].append(place)
    pairs = {pair for found in places.values() for pair in combinations(found, 2)}
    return sorted(pair for pair in pairs if _are_near(names[pair[0]], names[pair[1]]))


def _shortened(name: str, slips: int) -> set[str]:
    forms = {name}
    for _ in range(slips):
        forms |= {form[:at] + form[at + 1 :] for form in forms for at in range(len(form))}
    return forms


def _slips(name: str) -> int:
    return (len(name) >= LETTERS_FOR_ONE_SLIP) + (len(name) >= LETTERS_FOR_TWO_SLIPS)


def _are_near(one: str, other: str) -> bool:
    if one == other or _words(one) == _words(other):
        return True
    if list(_digits(one)) != list(_digits(other)):
        return False  # Cox 1 and Cox 2 are two people.
    return _slips_between(one, other) <= min(_slips(one), _slips(other))


def _words(name: str) -> list[str]:
    return sorted(name.replace(",", " ").split())


def _digits(name: str) -> Iterator[str]:
    return (sign for sign in name if sign.isdigit())


def _slips_between(one: str, other: str) -> int:
    """Letters put in, left out, exchanged, or swapped with their neighbor."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        last_but_one, before, row = before, row, [i]
        for j, opposite in enumerate(other, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != opposite))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == opposite:
                cost = min(cost, last_but_one[j - 2] + 1)
            row.append(cost)
    return row[-1]
