"""What to correct after a run: rules with words and numbers. All thresholds are invented starting
values."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from production.planning.actuals.afterwards import Compared
from production.planning.actuals.afterwards_money import Afterwards
from production.planning.standing import WORK

#: A stage is off by more than this share of its standard, over at least so many jackets.
STAGE_OFF, STAGE_JACKETS = Decimal("0.10"), 5
#: More cloth went than was planned, as a share of the plan.
CLOTH_OFF = Decimal("0.03")
#: Pieces that were cut once more or should be, as a share of all pieces.
SPOILED_OFF = Decimal("0.02")
#: A purchase was dearer than the price list, as a share of the list's price.
DEARER = Decimal("0.02")

STAGE, CLOTH, SPOILED, THREAD, PRICE = "stage", "cloth", "spoiled", "thread", "price"


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to correct: of which `kind`, `of` what by its code, in words."""

    kind: str
    of: str
    words: str


def to_correct(found: Afterwards) -> tuple[Advice, ...]:
    """What the numbers of a run ask for, in the order of the page."""
    return (
        *_cloth(found),
        *_spoiled(found),
        *_stages(found),
        *_thread(found),
        *_prices(found),
    )


def _cloth(found: Afterwards) -> Iterator[Advice]:
    for row in found.cloth:
        if _is_over(row, CLOTH_OFF):
            assert row.share is not None
            covered = "covers that" if row.share <= found.fabric_waste else "does not cover that"
            yield Advice(
                CLOTH,
                row.of,
                f"{headed(row.name)} took {_percent(row.share)} more cloth than planned, and the "
                f"waste share of {_percent(found.fabric_waste)} {covered}: look at flaws and "
                "bits that were skipped, and set the share of fabric waste to what goes.",
            )


def _spoiled(found: Afterwards) -> Iterator[Advice]:
    share = Decimal(found.spoiled) / found.pieces if found.pieces else Decimal(0)
    if share > SPOILED_OFF:
        yield Advice(
            SPOILED,
            "",
            f"{found.spoiled} of {found.pieces} pieces ({_percent(share)}) came out short or were "
            "spoiled: look at their reasons, fewer plies or more weights on the stack may help.",
        )


def _stages(found: Afterwards) -> Iterator[Advice]:
    for stage in found.minutes:
        share = stage.compared.share
        if share is None or stage.jackets < STAGE_JACKETS or abs(share) <= STAGE_OFF:
            continue
        yield Advice(
            STAGE,
            stage.stage,
            f"{WORK[stage.stage].capitalize()} took {_percent(abs(share))} "
            f"{'more' if share > 0 else 'less'} than its standard, over {stage.jackets} jackets: "
            "time its longest operations, or set their standards anew.",
        )


def _thread(found: Afterwards) -> Iterator[Advice]:
    for row in found.wares:
        if row.of.startswith("thread:") and row.difference is not None and row.difference > 0:
            assert row.actual is not None
            yield Advice(
                THREAD,
                row.of,
                f"{headed(row.name)}: {_count(row.actual)} were taken and not brought back, "
                f"{_count(row.planned)} were needed. Bring back what is left, or measure a sample "
                "of the seam.",
            )


def _prices(found: Afterwards) -> Iterator[Advice]:
    for row in found.purchases:
        if _is_over(row, DEARER):
            assert row.share is not None
            yield Advice(
                PRICE,
                row.of,
                f"{headed(row.name)} cost {row.actual} {found.currency} in place of {row.planned}, "
                f"{_percent(row.share)} more than the plan's price list: enter the new price.",
            )


def headed(name: str) -> str:
    return name[:1].upper() + name[1:]


def _is_over(row: Compared, threshold: Decimal) -> bool:
    return row.share is not None and row.share > threshold


def _percent(share: Decimal) -> str:
    return f"{float(round(100 * share, 1)):g} %"


def _count(quantity: Decimal) -> str:
    return f"{quantity.normalize():f}"
