"""Which size to order: lengths as people type them, and advice on the fit in words.

The chest decides. The words compare what is drafted with what was measured; where one kind of fit
ends and the next begins is an invented starting value of ours.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from patterns.geometry.bodies import BODY_RANGES_MM, EASE_RANGES_MM, Body, Ease
from patterns.geometry.drafting_sleeve import REACH_MORE_MM
from patterns.geometry.outline import PatternError

#: The least that a jacket is larger than the chest, in mm; invented.
LEAST_ROOM_MM = 60.0
#: Room at the chest from which a jacket is comfortable, and from which it is loose, in mm: 100 to
#: 200 mm over one layer is common practice, no source.
COMFORTABLE_FROM_MM, LOOSE_FROM_MM = 100.0, 200.0
#: A body that much taller or shorter than the size's is told so, in mm; invented.
TELLING_HEIGHT_MM = 60.0

#: What is measured, in words, and the range that is accepted in mm.
MEASURES: dict[str, tuple[str, float, float]] = {
    "chest_mm": ("chest", *BODY_RANGES_MM["chest_mm"]),
    "height_mm": ("height", *BODY_RANGES_MM["height_mm"]),
    "arm_mm": ("arm", *BODY_RANGES_MM["arm_mm"]),
    # Half of the narrowest and of the widest jacket that can be drafted.
    "flat_width_mm": (
        "width of your jacket",
        (BODY_RANGES_MM["chest_mm"][0] + EASE_RANGES_MM["chest_mm"][0]) / 2,
        (BODY_RANGES_MM["chest_mm"][1] + EASE_RANGES_MM["chest_mm"][1]) / 2,
    ),
}

_UNITS_MM = {"": 10.0, "cm": 10.0, "mm": 1.0, "m": 1000.0, "in": 25.4, "inch": 25.4, '"': 25.4}
_LENGTH = re.compile(r'(\d{1,4}(?:[.,]\d{1,3})?)\s*(cm|mm|m|inch|in|"|)', re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class Fit:
    """How one size would fit: `fit` is 'too tight', 'close', 'comfortable' or 'loose'."""

    size: str
    fit: str
    words: str


@dataclass(frozen=True, slots=True)
class Advice:
    """The advised size with its fit, and the next smaller and larger size with theirs."""

    size: str
    fit: str
    words: str
    others: tuple[Fit, ...]


def read_length_mm(text: str, measure: str = "chest_mm") -> float:
    """A length as typed, in mm: '98', '98 cm', '38,5', '38.5 in'; without a unit it is cm.

    `measure` is a key of MEASURES. Raises PatternError for what is no length, and for a length that
    nobody has there.
    """
    found = _LENGTH.fullmatch(text.strip())
    if not found:
        raise PatternError(
            f"'{text.strip()}' is not a length; type centimeters, as 98, or inches, as 38.5 in."
        )
    number, unit = found.groups()
    length_mm = float(number.replace(",", ".")) * _UNITS_MM[unit.lower()]
    check_measure(measure, length_mm)
    return length_mm


def check_measure(measure: str, length_mm: float) -> None:
    """Raises PatternError for a length outside the range of MEASURES (so NaN too)."""
    name, low_mm, high_mm = MEASURES[measure]
    if not low_mm <= length_mm <= high_mm:
        raise PatternError(
            f"A {name} of {length_mm / 10:g} cm? From {low_mm / 10:g} to {high_mm / 10:g} cm is "
            "accepted; for inches write in behind the number, as 38.5 in."
        )


def advise(
    bodies: Sequence[Body],
    ease: Ease,
    *,
    chest_mm: float | None,
    height_mm: float | None = None,
    arm_mm: float | None = None,
    flat_width_mm: float | None = None,
) -> Advice:
    """The size to order out of `bodies`, given from the smallest to the largest.

    The size whose body chest is nearest, the larger one of two equally near, among those that leave
    LEAST_ROOM_MM at the chest. The height tells youth from adult sizes, where that leaves a size
    that is wide enough. `flat_width_mm` is the chest of a jacket that fits, laid flat from pit to
    pit; it decides where the chest is not known. Raises PatternError without either of the two,
    for a measure outside its range, and for a chest that no size is wide enough for.
    """
    measures = {
        "chest_mm": chest_mm,
        "height_mm": height_mm,
        "arm_mm": arm_mm,
        "flat_width_mm": flat_width_mm,
    }
    for name, length_mm in measures.items():
        if length_mm is not None:
            check_measure(name, length_mm)
    if not bodies:
        raise PatternError("There is no size to choose from.")
    if chest_mm is not None:
        # Body against body: the ease of the pattern is what the maker wants around every body.
        wanted_mm, least_mm = chest_mm, chest_mm + LEAST_ROOM_MM - ease.chest_mm
    elif flat_width_mm is not None:
        wanted_mm, least_mm = 2 * flat_width_mm - ease.chest_mm, 0.0
    else:
        raise PatternError("Type your chest, or the width of a jacket that fits you.")
    wide_enough = [body for body in bodies if body.chest_mm >= least_mm]
    if not wide_enough:
        raise PatternError(_too_wide(max(bodies, key=_chest), ease, chest_mm or 0.0))
    best = min(
        _of_age(wide_enough, bodies, height_mm),
        key=lambda body: (abs(body.chest_mm - wanted_mm), -body.chest_mm),
    )
    at = bodies.index(best)
    fits = {
        body.code: _fit(body, ease, chest_mm, height_mm, arm_mm, flat_width_mm)
        for body in bodies[max(at - 1, 0) : at + 2]
    }
    advised = fits.pop(best.code)
    return Advice(advised.size, advised.fit, advised.words, tuple(fits.values()))


def _chest(body: Body) -> float:
    return body.chest_mm


def _of_age(
    wide_enough: Sequence[Body], bodies: Sequence[Body], height_mm: float | None
) -> Sequence[Body]:
    """The sizes for the height: youth below the middle between the tallest youth and the shortest
    adult body. A short person with a wide chest falls back on all that are wide enough."""
    youth = [body.height_mm for body in bodies if body.age_group == "youth"]
    adult = [body.height_mm for body in bodies if body.age_group == "adult"]
    if height_mm is None or not youth or not adult:
        return wide_enough
    group = "youth" if height_mm < (max(youth) + min(adult)) / 2 else "adult"
    return [body for body in wide_enough if body.age_group == group] or wide_enough


def _too_wide(largest: Body, ease: Ease, chest_mm: float) -> str:
    room_mm = largest.chest_mm + ease.chest_mm - chest_mm
    return (
        f"No size is wide enough for a chest of {_cm(chest_mm)}: {largest.code}, the widest, "
        + (f"leaves {_cm(room_mm)} of room" if room_mm >= 5 else "leaves no room")
        + f", and {_cm(LEAST_ROOM_MM)} is the least. Ask the maker."
    )


def _fit(
    body: Body,
    ease: Ease,
    chest_mm: float | None,
    height_mm: float | None,
    arm_mm: float | None,
    flat_width_mm: float | None,
) -> Fit:
    girth_mm = body.chest_mm + ease.chest_mm
    # Without a chest, the jacket that fits stands in for it: as wide as that one is comfortable.
    like_mm = girth_mm - 2 * flat_width_mm + ease.chest_mm if flat_width_mm is not None else 0.0
    fit = _kind(girth_mm - chest_mm if chest_mm is not None else like_mm)
    words = [fit]
    if chest_mm is not None:
        words.append(_room(girth_mm - chest_mm))
    if flat_width_mm is not None:
        words.append(_against(girth_mm / 2 - flat_width_mm, "wide", "wider", "narrower", "jacket"))
    if arm_mm is not None:
        sleeve_mm = body.arm_mm + REACH_MORE_MM
        words.append("sleeves " + _against(sleeve_mm - arm_mm, "long", "longer", "shorter", "arm"))
    if height_mm is not None and abs(body.height_mm - height_mm) >= TELLING_HEIGHT_MM:
        taller = "taller" if body.height_mm > height_mm else "shorter"
        words.append(f"made for someone {_cm(abs(body.height_mm - height_mm))} {taller}")
    return Fit(body.code, fit, "; ".join(words))


def _kind(room_mm: float) -> str:
    if room_mm < LEAST_ROOM_MM:
        return "too tight"
    if room_mm < COMFORTABLE_FROM_MM:
        return "close"
    return "comfortable" if room_mm < LOOSE_FROM_MM else "loose"


def _room(room_mm: float) -> str:
    return f"about {_cm(room_mm)} of room at the chest" if room_mm >= 5 else "no room at the chest"


def _against(more_mm: float, alike: str, more: str, less: str, yours: str) -> str:
    if abs(more_mm) < 5:
        return f"as {alike} as your {yours}"
    return f"{_cm(abs(more_mm))} {more if more_mm > 0 else less} than your {yours}"


def _cm(length_mm: float) -> str:
    """Whole centimeters, halves rounded up: a tape over a shirt knows no more."""
    return f"{int(length_mm / 10 + 0.5)} cm"
