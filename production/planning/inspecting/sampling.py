"""How many pieces of a lot to check: single sampling, normal inspection, General level II.

ISO 2859-1:1999, ANSI/ASQ Z1.4, MIL-STD-105E Tables I and II-A, for lots up to 1200. Where a table
shows an arrow, the plan that it points to is used with its own sample size.
"""

from __future__ import annotations

from dataclasses import dataclass

#: Largest lot, code letter and sample size.
SIZES = (
    (8, "A", 2),
    (15, "B", 3),
    (25, "C", 5),
    (50, "D", 8),
    (90, "E", 13),
    (150, "F", 20),
    (280, "G", 32),
    (500, "H", 50),
    (1200, "J", 80),
)
LARGEST_LOT = SIZES[-1][0]
DOWN, UP = "down", "up"
#: By acceptance quality limit: how many faulty pieces are accepted for the letters A to J, or the
#: way to the plan that stands in.
ACCEPTED: dict[str, tuple[int | str, ...]] = {
    "1.5": (DOWN, DOWN, DOWN, 0, UP, DOWN, 1, 2, 3),
    "2.5": (DOWN, DOWN, 0, UP, DOWN, 1, 2, 3, 5),
    "4.0": (DOWN, 0, UP, DOWN, 1, 2, 3, 5, 7),
}
#: Common practice for cut parts, no source.
USUAL_LIMIT = "4.0"
PLAN_WORDS = (
    f"Single sampling, normal inspection, level II, AQL {USUAL_LIMIT} (ISO 2859-1, ANSI/ASQ Z1.4)."
)


@dataclass(frozen=True, slots=True)
class Sample:
    """Check `pieces` of the lot: it passes with at most `accepted` faulty ones. `is_all` when the
    lot is no larger than the sample."""

    pieces: int
    accepted: int
    is_all: bool

    @property
    def rejected(self) -> int:
        return self.accepted + 1


def sample_of(lot: int, limit: str = USUAL_LIMIT) -> Sample:
    """What to check of a lot of so many pieces at an acceptance quality limit in percent.

    Raises ValueError for an empty lot, one beyond the table, and an unknown limit.
    """
    if limit not in ACCEPTED:
        raise ValueError(f"No plan is known for the limit {limit}. Choose {', '.join(ACCEPTED)}.")
    if lot < 1:
        raise ValueError(f"A lot of {lot} pieces cannot be checked.")
    at = next((row for row, (largest, _, _) in enumerate(SIZES) if lot <= largest), None)
    if at is None:
        raise ValueError(f"The table ends at lots of {LARGEST_LOT} pieces. Check smaller lots.")
    column = ACCEPTED[limit]
    while isinstance(accepted := column[at], str):
        at += 1 if accepted == DOWN else -1
    pieces = SIZES[at][2]
    return Sample(min(pieces, lot), accepted, pieces >= lot)
