"""Advice on the size, worked out by hand from the shipped bodies and an ease of 16 cm."""

from __future__ import annotations

from dataclasses import replace

import pytest

from patterns.geometry.bodies import BODIES, Ease
from patterns.geometry.fit import LEAST_ROOM_MM, Advice, advise, read_length_mm
from patterns.geometry.outline import PatternError

EASE = Ease(chest_mm=160.0)


def advice(**measures: float | None) -> Advice:
    return advise(BODIES, EASE, **{"chest_mm": None} | measures)


@pytest.mark.parametrize(
    ("chest_cm", "size"),
    [
        # Middles of the men's letter ranges of EN 13402-3:2004, quoted from memory:
        # XS 78-86, S 86-94, M 94-102, L 102-110, XL 110-118, XXL 118-129, 3XL 129-141 cm.
        (82, "XS"),
        (90, "S"),
        (98, "M"),
        (106, "L"),
        (114, "XL"),
        (123.5, "2XL"),
        (135, "3XL"),
        # Inside a range the size stays the same.
        (95, "M"),
        (101, "M"),
    ],
)
def test_an_adult_gets_the_letter_of_the_standard(chest_cm: float, size: str) -> None:
    assert advice(chest_mm=chest_cm * 10, height_mm=1800).size == size


@pytest.mark.parametrize(
    ("height_mm", "chest_mm", "size"),
    [
        # Youth rows of the shipped bodies: 126/63, 138/69, 150/76, 162/84 cm.
        (1260, 630, "YS"),
        (1380, 690, "YM"),
        (1500, 760, "YL"),
        (1620, 840, "YXL"),
        # Tallest youth body 162 cm, shortest adult body 166 cm: 164 cm parts them.
        (1639, 830, "YXL"),
        (1640, 830, "XS"),
    ],
)
def test_the_height_tells_youth_from_adult(height_mm: float, chest_mm: float, size: str) -> None:
    assert advice(chest_mm=chest_mm, height_mm=height_mm).size == size


def test_a_short_person_with_a_wide_chest_gets_an_adult_size() -> None:
    # YXL is 84 + 16 = 100 cm around, and 106 + 6 = 112 cm is the least.
    advised = advice(chest_mm=1060, height_mm=1550)
    assert advised.size == "L"
    assert "made for someone 25 cm taller" in advised.words


def test_halfway_between_two_sizes_the_larger_is_advised() -> None:
    # S is for 90 cm, M for 98 cm.
    assert advice(chest_mm=940, height_mm=1750).size == "M"


def test_the_words_say_how_much_room_there_is_and_how_long_the_sleeves_are() -> None:
    # M is 98 + 16 = 114 cm around: 14 cm more than 100. Its arm is 62.2 cm and the sleeve reaches
    # 3.2 cm beyond the wrist: 65.4 cm, 1.4 cm more than 64.
    advised = advice(chest_mm=1000, height_mm=1780, arm_mm=640)
    assert advised.size == "M"
    assert advised.fit == "comfortable"
    assert advised.words == (
        "comfortable; about 14 cm of room at the chest; sleeves 1 cm longer than your arm"
    )


def test_the_neighbors_come_with_their_words() -> None:
    # S: 90 + 16 - 98 = 8 cm; L: 106 + 16 - 98 = 24 cm.
    others = advice(chest_mm=980).others
    assert [(one.size, one.words) for one in others] == [
        ("S", "close; about 8 cm of room at the chest"),
        ("L", "loose; about 24 cm of room at the chest"),
    ]


def test_a_size_without_room_is_called_too_tight() -> None:
    # S: 90 + 16 - 101 = 5 cm, less than the 6 cm that are the least.
    smaller = advice(chest_mm=1010, height_mm=1780).others[0]
    assert (smaller.size, smaller.fit) == ("S", "too tight")


def test_the_smallest_and_the_largest_size_have_one_neighbor() -> None:
    assert [one.size for one in advice(chest_mm=630).others] == ["YM"]
    assert [one.size for one in advice(chest_mm=1350).others] == ["2XL"]


def test_the_jacket_is_never_narrower_than_the_chest_and_the_least_room() -> None:
    # With 4 cm of ease, M is 102 cm around; a chest of 98 needs 104, which L has with 110.
    tight = Ease(chest_mm=40.0)
    assert advise(BODIES, tight, chest_mm=980).size == "L"
    for chest_mm in range(460, 1330, 7):
        advised = advise(BODIES, tight, chest_mm=chest_mm)
        body = next(body for body in BODIES if body.code == advised.size)
        assert body.chest_mm + tight.chest_mm >= chest_mm + LEAST_ROOM_MM


def test_a_chest_that_no_size_is_wide_enough_for_is_refused_in_words() -> None:
    # 3XL is 135 + 16 = 151 cm around: 145 cm just goes.
    assert advice(chest_mm=1450).size == "3XL"
    with pytest.raises(PatternError, match=r"chest of 147 cm: 3XL.* leaves 4 cm of room"):
        advice(chest_mm=1470)
    with pytest.raises(PatternError, match="leaves no room"):
        advice(chest_mm=1700)


def test_a_jacket_that_fits_decides_where_the_chest_is_not_known() -> None:
    # 57 cm laid flat is 114 cm around, as M is.
    advised = advice(flat_width_mm=570)
    assert (advised.size, advised.words) == ("M", "comfortable; as wide as your jacket")
    # S is 53 cm and L 61 cm laid flat.
    assert [one.words for one in advised.others] == [
        "close; 4 cm narrower than your jacket",
        "loose; 4 cm wider than your jacket",
    ]


def test_the_chest_decides_before_a_jacket_that_fits() -> None:
    advised = advice(chest_mm=980, flat_width_mm=530)
    assert advised.size == "M"
    assert "4 cm wider than your jacket" in advised.words


def test_only_offered_sizes_are_advised() -> None:
    offered = [body for body in BODIES if body.code in ("S", "XL")]
    advised = advise(offered, EASE, chest_mm=980)
    # S leaves 8 cm, and 98 is nearer to 90 than to 114.
    assert (advised.size, [one.size for one in advised.others]) == ("S", ["XL"])


def test_without_sizes_there_is_no_advice() -> None:
    with pytest.raises(PatternError, match="no size"):
        advise([], EASE, chest_mm=980)


def test_neither_chest_nor_jacket_is_said() -> None:
    with pytest.raises(PatternError, match="Type your chest"):
        advice(height_mm=1700)


def test_a_measure_out_of_its_range_is_refused_whoever_asks() -> None:
    with pytest.raises(PatternError, match="height of 17 cm"):
        advice(chest_mm=980, height_mm=170)
    with pytest.raises(PatternError, match="chest"):
        advice(chest_mm=float("nan"))


def test_of_two_sizes_for_the_same_chest_the_first_is_advised() -> None:
    twin = replace(BODIES[6], code="M-LONG")
    assert advise([BODIES[6], twin], EASE, chest_mm=980).size == "M"


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("98", 980),
        ("98 cm", 980),
        ("98cm", 980),
        (" 98,5 ", 985),
        ("980 mm", 980),
        ("38.5 in", 977.9),
        ("38.5 IN", 977.9),
        ('38,5"', 977.9),
        ("38 inch", 965.2),
        ("0.98 m", 980),
    ],
)
def test_a_length_is_read_as_people_type_it(text: str, length_mm: float) -> None:
    assert read_length_mm(text) == pytest.approx(length_mm)


def test_a_decimal_comma_is_a_point() -> None:
    assert read_length_mm("38,5", "arm_mm") == read_length_mm("38.5", "arm_mm") == 385


@pytest.mark.parametrize("text", ["", "large", "98 kg", "-98", "9 8", "1,2,3", "98 in cm", "٩٨"])
def test_what_is_no_length_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(PatternError, match=r"type centimeters, as 98, or inches, as 38\.5 in"):
        read_length_mm(text)


def test_inches_without_their_unit_are_asked_about() -> None:
    with pytest.raises(PatternError, match=r"A chest of 38\.5 cm\? From 45 to 190 cm"):
        read_length_mm("38.5")
