"""What is expected of team orders and runs, as pages and mails tell it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.utils.safestring import SafeString

from production.forecasting.progress_svg import progress_picture
from production.planning.forecasts.forecast_words import chance_words
from production.planning.forecasts.progress import Progress


@dataclass(frozen=True, slots=True)
class Expectation:
    """Of the jackets of a team order, or of a whole run: `chance` that all are ready by the
    deadline, `even_day` and `safe_day` by which they are at 50 % and 90 %, None where somebody is
    missing who can do one of them, as `hindered` says."""

    name: str
    club: str
    deadline: datetime.date
    jackets_left: int
    chance: float
    even_day: datetime.date | None
    safe_day: datetime.date | None
    minutes_left: int
    warns_below: int
    hindered: str = ""

    @property
    def chance_words(self) -> str:
        return chance_words(self.chance)

    @property
    def percent(self) -> int:
        return round(100 * self.chance)

    @property
    def is_low(self) -> bool:
        # In thousandths, as it is kept: 100 x 0.57 is less than 57.
        return self.jackets_left > 0 and round(1000 * self.chance) < 10 * self.warns_below

    @property
    def warning(self) -> str:
        """Empty where all is well."""
        if not self.is_low:
            return ""
        why = f" {self.hindered}" if self.hindered else ""
        return (
            f"The chance that {self.name} is ready by its deadline is {self.chance_words}, below "
            f"the {self.warns_below} % that the workroom wants.{why}"
        )


@dataclass(frozen=True, slots=True)
class Ahead:
    whole: Expectation
    orders: tuple[Expectation, ...]
    progress: Progress
    blocked: int
    measured: int
    at: datetime.datetime

    @property
    def chance(self) -> float:
        return self.whole.chance

    @property
    def chance_words(self) -> str:
        return self.whole.chance_words

    @property
    def even_day(self) -> datetime.date | None:
        return self.whole.even_day

    @property
    def safe_day(self) -> datetime.date | None:
        return self.whole.safe_day

    @property
    def one_deadline(self) -> datetime.date | None:
        """None where team orders have several."""
        deadlines = {one.deadline for one in self.orders}
        return deadlines.pop() if len(deadlines) == 1 else None

    @property
    def warnings(self) -> list[str]:
        return [one.warning for one in self.orders if one.warning]

    @property
    def warning(self) -> str:
        return " ".join(self.warnings)

    @property
    def picture(self) -> SafeString:
        return progress_picture(self.progress)

    def order(self, code: str) -> Expectation | None:
        return next((one for one in self.orders if one.name == code), None)
