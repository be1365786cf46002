"""What reminders of safety and labelling are told from, and what one of them says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

EU, US, OTHER = "eu", "us", "other"

#: Height of boys in mm and their age in years, about: one clothing retailer's size guide (stored
#: copy read 2026-11-25), one maker's chart and no standard.
AGE_BY_HEIGHT = (
    (1020, 4),
    (1140, 6),
    (1260, 8),
    (1380, 10),
    (1500, 12),
    (1620, 14),
    (1740, 16),
)

FOUND, MEMORY = "found", "from memory: look it up"


@dataclass(frozen=True, slots=True)
class SizeFacts:
    """A size that is made; `height_mm` is that of the body, None where it is not known."""

    code: str
    is_youth: bool
    height_mm: int | None = None

    @property
    def age(self) -> float | None:
        """About how many years old such a body is; None for an adult size or without a height."""
        if not self.is_youth or self.height_mm is None:
            return None
        return age_at(self.height_mm)

    @property
    def words(self) -> str:
        if self.height_mm is None or self.age is None:
            return self.code
        return f"{self.code} ({self.height_mm / 10:g} cm, about {self.age:.0f} years)"


@dataclass(frozen=True, slots=True)
class DutyFacts:
    """What is made and where it goes. `market` is eu, us, other or '' where it is not said;
    `fabrics` are (name, fiber content)."""

    market: str
    sizes: tuple[SizeFacts, ...]
    fabrics: tuple[tuple[str, str], ...]

    def youth(self, *, up_to: float) -> tuple[SizeFacts, ...]:
        """Youth sizes up to an age; one without a height counts, since it may be."""
        return tuple(
            size
            for size in self.sizes
            if size.is_youth and (size.age is None or round(size.age, 1) <= up_to)
        )


@dataclass(frozen=True, slots=True)
class Duty:
    """One reminder: what the rule says, what it means for these jackets, and whose rule it is."""

    topic: str
    market: str
    words: str
    here: str
    source: str
    origin: str = FOUND


def age_at(height_mm: int) -> float:
    """Years by the chart, straight between its rows and on beyond them."""
    rows = list(pairwise(AGE_BY_HEIGHT))
    (low, young), (high, old) = next(
        (pair for pair in rows if height_mm <= pair[1][0]),
        rows[-1],
    )
    return young + (old - young) * (height_mm - low) / (high - low)


def listed(sizes: Iterable[SizeFacts]) -> str:
    return ", ".join(size.code for size in sizes)
