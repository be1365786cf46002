"""Bodies and ease: the measurements that a jacket is drafted from, and what is accepted."""

from __future__ import annotations

from dataclasses import dataclass, fields

from patterns.geometry.outline import PatternError

#: What a measuring tape can plausibly say, in mm; our own limits, wide enough for any member.
BODY_RANGES_MM: dict[str, tuple[float, float]] = {
    "height_mm": (900.0, 2300.0),
    "chest_mm": (450.0, 1900.0),
    "hip_mm": (450.0, 1900.0),
    "neck_mm": (200.0, 650.0),
    "shoulder_width_mm": (200.0, 750.0),
    "arm_mm": (250.0, 900.0),
    "wrist_mm": (90.0, 320.0),
}

#: Our own limits for the ease, in mm.
EASE_RANGES_MM: dict[str, tuple[float, float]] = {
    "chest_mm": (40.0, 400.0),
    "hip_mm": (0.0, 400.0),
    "neck_mm": (10.0, 200.0),
    "wrist_mm": (10.0, 200.0),
    "cap_mm": (0.0, 40.0),
}


@dataclass(frozen=True, slots=True)
class Body:
    """A body, not a garment. Girths are taken once around; `shoulder_width_mm` runs across the back
    from shoulder point to shoulder point, `arm_mm` from the shoulder point to the wrist."""

    code: str
    name: str
    age_group: str  # "youth" or "adult"
    height_mm: float
    chest_mm: float
    hip_mm: float
    neck_mm: float
    shoulder_width_mm: float
    arm_mm: float
    wrist_mm: float


@dataclass(frozen=True, slots=True)
class Ease:
    """What the garment is larger than the body, in girth; `cap_mm` is how much longer each sleeve
    cap is than its armhole.

    Chest: 100 to 200 mm for a fleece team jacket over one layer is common practice, no source; the
    values themselves are our own starting values. Fleece is eased little, so the cap has 8 mm.
    """

    chest_mm: float = 160.0
    hip_mm: float = 140.0
    neck_mm: float = 65.0
    wrist_mm: float = 90.0
    cap_mm: float = 8.0


#: The sizes shipped with the program.
#:
#: Adult chest: middle of the men's letter ranges of EN 13402-3:2004 (XS 78-86, S 86-94, M 94-102,
#: L 102-110, XL 110-118, XXL 118-129, 3XL 129-141 cm), quoted from memory.
#: Youth height and chest: the rows 126, 138, 150 and 162 cm of one retailer's boys' size chart
#: (chest 63, 69, 76, 84 cm), a tertiary source and no standard.
#: Every other measurement is an invented starting value of ours, to be replaced by measuring.
BODIES: tuple[Body, ...] = (
    Body("YS", "Youth S", "youth", 1260, 630, 660, 285, 310, 415, 128),
    Body("YM", "Youth M", "youth", 1380, 690, 725, 300, 335, 460, 135),
    Body("YL", "Youth L", "youth", 1500, 760, 795, 320, 364, 505, 144),
    Body("YXL", "Youth XL", "youth", 1620, 840, 865, 342, 396, 550, 153),
    Body("XS", "Adult XS", "adult", 1660, 820, 860, 350, 408, 580, 156),
    Body("S", "Adult S", "adult", 1710, 900, 930, 366, 428, 602, 163),
    Body("M", "Adult M", "adult", 1760, 980, 1000, 384, 447, 622, 171),
    Body("L", "Adult L", "adult", 1800, 1060, 1070, 404, 467, 638, 179),
    Body("XL", "Adult XL", "adult", 1830, 1140, 1145, 425, 487, 651, 187),
    Body("2XL", "Adult 2XL", "adult", 1850, 1235, 1235, 448, 510, 660, 196),
    Body("3XL", "Adult 3XL", "adult", 1870, 1350, 1340, 474, 537, 668, 207),
)


def check_measurements(body: Body, ease: Ease) -> None:
    """Raises PatternError for the first measurement or ease outside its range, or for a girth that
    cannot go with the chest; the message names it and what is accepted."""
    if body.age_group not in ("youth", "adult"):
        raise PatternError(
            f"Size {body.code}: age_group is 'youth' or 'adult', not '{body.age_group}'."
        )
    for owner, ranges, what in ((body, BODY_RANGES_MM, ""), (ease, EASE_RANGES_MM, "ease ")):
        for field in fields(owner):
            if field.name in ranges:
                require(body, what + field.name, getattr(owner, field.name), *ranges[field.name])
    chest = body.chest_mm
    require(body, "neck_mm", body.neck_mm, 0.25 * chest, 0.6 * chest)
    require(body, "wrist_mm", body.wrist_mm, 0.1 * chest, 0.3 * chest)


def require(body: Body, name: str, value_mm: float, low_mm: float, high_mm: float) -> None:
    """Raises PatternError unless low <= value <= high (so NaN is refused too)."""
    if not low_mm <= value_mm <= high_mm:
        raise PatternError(
            f"Size {body.code}: {name} is {value_mm:g} mm; for this body "
            f"{low_mm:.0f} to {high_mm:.0f} mm is accepted."
        )
