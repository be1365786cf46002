"""Who has answered, doubles and odd sizes: pointed out by rule, and nothing else."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.answers import Answer, Flag, doubles, flags, muster, near_names, odd_sizes
from orders.lines import folded

#: Sizes as (age group, step), in the order of the shipped range.
SIZES = {
    **{code: ("youth", step) for step, code in enumerate(("YS", "YM", "YL", "YXL"))},
    **{code: ("adult", step) for step, code in enumerate(("XS", "S", "M", "L", "XL", "2XL"), 4)},
}


def answers(*rows: tuple[str, str], pattern: int = 0) -> list[Answer]:
    return [
        Answer(key, member, size, *SIZES[size], pattern) for key, (member, size) in enumerate(rows)
    ]


def named(*members: str) -> list[Answer]:
    return answers(*((member, "M") for member in members))


def crew(*sizes: str) -> list[Answer]:
    """Members whose names are far apart."""
    return answers(
        *zip(("Wren", "Tomas", "Odile", "Jory", "Britt", "Kasimir"), sizes, strict=False)
    )


@pytest.mark.parametrize("name", ["zoë roe", "ZOE\u0308 ROE", " Zoë   Roe ", "Zoë\u00a0Roe"])
def test_a_name_is_one_in_any_case_accents_and_blanks(name: str) -> None:
    assert folded(name) == folded("Zoë Roe")


def test_a_name_without_its_accent_is_another_name() -> None:
    assert folded("Zoe Roe") != folded("Zoë Roe")


def test_the_muster_tells_who_is_missing_and_who_is_on_no_list() -> None:
    found = muster(["Wren Calder", "Zoë Roe", "Pip Marsh"], ["WREN  calder", "Odile Voss"])
    assert found.missing == ("Zoë Roe", "Pip Marsh")
    assert found.unexpected == ("Odile Voss",)


def test_a_missing_name_is_set_beside_the_one_it_nearly_is() -> None:
    near = near_names(["Wren Calder", "Pip Marsh"], ["Calder Wren", "Odile Voss"])
    assert near == {"Wren Calder": "Calder Wren"}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Mika Sorrel", "Mika Sorel"),  # a letter left out
        ("Mika Sorrel", "Mika Sorrell"),  # a letter too many
        ("Mika Sorrel", "Mina Sorrel"),  # another letter
        ("Mika Sorrel", "Miak Sorrel"),  # two neighbors swapped
        ("Mika Sorrel", "Myka Sorrell"),  # two slips in a long name
        ("Mika Sorrel", "Sorrel Mika"),  # first and last name swapped
        ("Mika Sorrel", "Sorrel, Mika"),  # as a register writes it
        ("Zoë Roe", "Zoe Roe"),  # an accent left out
        ("Ødger", "ødger"),
    ],
)
def test_names_nearly_the_same_are_pointed_out_on_both(one: str, other: str) -> None:
    found = doubles(named(one, "Britt Aalund", other))
    assert [flag.key for flag in found] == [0, 2]
    assert other in found[0].words and one in found[1].words


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Jan", "Jon"),  # too short to call a slip
        ("Tom Ek", "Tim Ox"),  # two slips in a short name
        ("Cox 1", "Cox 2"),  # numbers tell people apart
        ("Member 0001", "Member 0002"),
        ("Wren Calder", "Pip Calder"),
        ("Mika Sorrel", "Moka Sorlle"),
    ],
)
def test_other_names_are_left_in_peace(one: str, other: str) -> None:
    assert doubles(named(one, other)) == []


def test_the_same_name_twice_says_so() -> None:
    assert doubles(named("Wren  Calder", "wren calder"))[0] == Flag(
        0, "Wren  Calder", "the same name as wren calder (M)", 1
    )


def test_an_adult_size_among_youth_sizes_is_odd() -> None:
    found = odd_sizes(crew("YS", "YM", "2XL", "YM", "YL"))
    assert [(flag.key, flag.words) for flag in found] == [
        (2, "adult size 2XL; all others are youth sizes")
    ]


def test_a_youth_size_among_adult_sizes_is_odd() -> None:
    found = odd_sizes(crew("M", "L", "YXL", "S"))
    assert [flag.words for flag in found] == ["youth size YXL; all others are adult sizes"]


def test_two_of_an_age_group_are_no_slip() -> None:
    assert odd_sizes(crew("YS", "YM", "YL", "XS", "S", "YXL")) == []


def test_a_size_more_than_three_steps_from_all_others_is_odd() -> None:
    assert [flag.words for flag in odd_sizes(crew("XS", "XS", "S", "2XL"))] == [
        "size 2XL is 4 sizes away from any other"
    ]
    assert odd_sizes(crew("XS", "XS", "M", "2XL")) == []  # three steps from M


def test_few_jackets_say_nothing_about_odd_sizes() -> None:
    assert odd_sizes(crew("YS", "YM", "2XL")) == []


def test_sizes_of_two_patterns_are_not_compared() -> None:
    mixed = answers(*((name, "YS") for name in "abcd")) + answers(("Wren", "M"), pattern=1)
    assert odd_sizes(mixed) == []


def test_flags_come_in_the_order_of_the_jackets() -> None:
    rows = [("Mika Sorel", "2XL"), ("Wren", "YS"), ("Odile", "YM"), ("Mika Sorrel", "YM")]
    assert [flag.key for flag in flags(answers(*rows))] == [0, 0, 3]


@given(st.lists(st.text(max_size=12), max_size=8), st.randoms(use_true_random=False))
def test_doubles_do_not_depend_on_the_order(members: list[str], dice: object) -> None:
    found = {flag.member for flag in doubles(named(*members))}
    dice.shuffle(members)  # type: ignore[attr-defined]
    assert {flag.member for flag in doubles(named(*members))} == found


def test_a_long_list_is_looked_over_quickly() -> None:
    members = [f"{chr(97 + n % 26) * 5}{chr(97 + n // 26) * 6} crewmember" for n in range(600)]
    began = time.perf_counter()
    doubles(named(*members))
    assert time.perf_counter() - began < 5
