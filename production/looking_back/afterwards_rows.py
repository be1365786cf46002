"""Planned against actual as rows of words for the page and of figures for a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

import django_tables2 as tables
from django.urls import reverse

from orders.money import rounded
from production.models import Run
from production.planning.actuals.afterwards import Compared
from production.planning.actuals.afterwards_money import Afterwards
from production.planning.actuals.afterwards_rules import (
    CLOTH,
    PRICE,
    SPOILED,
    STAGE,
    THREAD,
    headed,
)
from production.planning.lengths import IMPERIAL, MM_PER_YARD
from production.planning.supplies.shopping import CLOTH as CLOTH_MM
from production.planning.supplies.shopping import EIGHTH_YARD_MM, METRE
from production.planning.supplies.shopping_words import quantity_words

MINUTES = "min"
#: The pages on which something is corrected, and those of them that are of one run.
PAGES = {
    CLOTH: (("Fabric waste share", "workroom"), ("Flaws of the bolts", "cloth")),
    SPOILED: (("Pieces and reasons", "missing"),),
    STAGE: (("Time studies", "time_studies"), ("Operations", "operations")),
    THREAD: (("Bring back", "run_shelf"), ("Thread samples", "thread_samples")),
    PRICE: (("Supplies and prices", "supplies"),),
}
PAGES_OF_RUN = ("missing", "run_shelf")


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a table in words; `difference` is empty without an actual, `whole` where the actual
    is that of all of the run."""

    name: str
    planned: str
    actual: str
    difference: str
    percent: str
    missing: str
    whole: str
    is_more: bool


def rows(compared: Iterable[Compared], unit: str, currency: str) -> tuple[Row, ...]:
    return tuple(row(one, unit, currency) for one in compared)


@dataclass(frozen=True, slots=True)
class Sorted:
    """Rows apart: what came otherwise, what came as planned, what has no actual."""

    otherwise: tuple[Row, ...]
    as_planned: tuple[Row, ...]
    unknown: tuple[Row, ...]


def apart(compared: Iterable[Compared], unit: str, currency: str) -> Sorted:
    listed = [(one, row(one, unit, currency)) for one in compared]
    return Sorted(
        tuple(found for one, found in listed if one.difference),
        tuple(found for one, found in listed if one.difference == 0),
        tuple(found for one, found in listed if one.difference is None),
    )


def row(one: Compared, length_unit: str, currency: str) -> Row:
    def words(value: Decimal) -> str:
        return in_words(value, one.unit, length_unit, currency)

    planned = one.whole if one.actual is None else one.planned
    name = headed(one.name)
    whole = words(one.whole) if one.actual is not None and one.whole != one.planned else ""
    if one.actual is None:
        return Row(name, words(planned), "", "", "", one.missing, "", False)
    more = _shown(one.actual, one, length_unit) - _shown(planned, one, length_unit)
    return Row(
        name,
        words(planned),
        words(one.actual),
        f"{_sign(more)}{words(abs(more))}" if more else "none",
        percent_words(one.share),
        one.missing,
        whole,
        more > 0,
    )


def in_words(value: Decimal, unit: str, length_unit: str, currency: str) -> str:
    """'18.40 m', '3 spools', '412.5 min'; money without its currency."""
    if unit == MINUTES:
        return f"{round(value, 1)} min"
    if unit:
        return quantity_words(value, unit, length_unit)
    return str(rounded(value, currency))


def percent_words(share: Decimal | None) -> str:
    """'+4.2 %'; empty where nothing was planned."""
    if share is None:
        return ""
    points = round(100 * share, 1)
    return f"{_sign(points)}{abs(points)} %"


def _sign(value: Decimal) -> str:
    return "+" if value > 0 else "−" if value < 0 else ""


def _shown(value: Decimal, one: Compared, length_unit: str) -> Decimal:
    """A length as its words round it, so that differences are those of what is read."""
    if one.unit not in (CLOTH_MM, METRE):
        return value
    of_mm = Decimal(1) if one.unit == CLOTH_MM else Decimal("0.001")
    step = (EIGHTH_YARD_MM if length_unit == IMPERIAL else Decimal(10)) * of_mm
    return (value / step).to_integral_value(ROUND_CEILING) * step


# What to correct


def links(kind: str, run: Run) -> list[tuple[str, str]]:
    """Where something of a kind is corrected: words and addresses."""
    of_run = {page: [run.code] for page in PAGES_OF_RUN}
    return [
        (words, reverse(f"production:{page}", args=of_run.get(page))) for words, page in PAGES[kind]
    ]


# As a spreadsheet


class AfterwardsTable(tables.Table):  # type: ignore[misc]  # untyped base
    part = tables.Column("Part")
    what = tables.Column("What")
    unit = tables.Column("Unit")
    whole = tables.Column("Planned for the run")
    planned = tables.Column("Planned of what is known")
    actual = tables.Column("Actual")
    difference = tables.Column("Difference")
    percent = tables.Column("Percent")
    missing = tables.Column("Missing")

    class Meta:
        orderable = False


def table_of(found: Afterwards, length_unit: str) -> AfterwardsTable:
    """Every line with its figures; empty cells where there is no actual."""
    parts = (
        ("Fabric", found.cloth),
        ("Minutes", tuple(stage.compared for stage in found.minutes)),
        ("Thread and notions", found.wares),
        ("Bought", found.purchases),
        ("Money", (*found.money, found.total)),
    )
    lines = [_line(part, one, length_unit, found) for part, some in parts for one in some]
    return AfterwardsTable([*lines, *_quote_lines(found)])


def _line(part: str, one: Compared, length_unit: str, found: Afterwards) -> dict[str, object]:
    unit, of_one = _unit(one.unit or found.currency, length_unit)

    def figure(value: Decimal | None) -> Decimal | None:
        return None if value is None else round(value / of_one, 3)

    return {
        "part": part,
        "what": one.name,
        "unit": unit,
        "whole": figure(one.whole),
        "planned": None if one.actual is None else figure(one.planned),
        "actual": figure(one.actual),
        "difference": figure(one.difference),
        "percent": None if one.share is None else round(100 * one.share, 1),
        "missing": one.missing,
    }


def _quote_lines(found: Afterwards) -> Iterator[dict[str, object]]:
    for quote in found.quotes:
        yield {
            "part": "Quote",
            "what": f"{quote.quoted.code}, margin of {quote.quoted.jackets} jackets",
            "unit": quote.quoted.currency,
            "whole": quote.quoted.margin,
            "planned": None if quote.reached is None else quote.quoted.margin,
            "actual": quote.reached,
            "difference": quote.difference,
            "percent": None,
            "missing": "" if quote.reached is not None else "the run counts in another currency",
        }


def _unit(unit: str, length_unit: str) -> tuple[str, Decimal]:
    """The unit that a figure is written in, and how much of ours one of it is."""
    if unit not in (CLOTH_MM, METRE):
        return unit, Decimal(1)
    of_mm = Decimal(1) if unit == CLOTH_MM else Decimal("0.001")
    if length_unit == IMPERIAL:
        return "yd", Decimal(MM_PER_YARD.numerator) / MM_PER_YARD.denominator * of_mm
    return "m", 1000 * of_mm
