"""The looking over of finished jackets against the published sampling plans."""

from __future__ import annotations

import pytest

from production.planning.inspecting.inspection import LotJacket, lot
from tests.published.test_cloth import PLANS

LIMITS = ("1.5", "2.5", "4.0")


def jackets(count: int, faulty: frozenset[str] = frozenset()) -> list[LotJacket]:
    codes = [f"J-{number}" for number in range(count)]
    return [LotJacket(code, code not in faulty if faulty else None) for code in codes]


@pytest.mark.parametrize(
    ("size", "limit", "pieces", "accepted"),
    [
        (size, limit, *plan)
        for smallest, largest, *plans in PLANS
        for limit, plan in zip(LIMITS, plans, strict=True)
        for size in (smallest, largest)
    ],
)
def test_a_run_is_looked_over_by_the_published_plan(
    size: int, limit: str, pieces: int, accepted: int
) -> None:
    """ISO 2859-1:1999 = ANSI/ASQ Z1.4 = MIL-STD-105E, General level II, normal inspection, arrows
    followed (sources at `PLANS`): as many are drawn, so many faulty ones are accepted, and one more
    (Re = Ac + 1) refuses the lot."""
    found = lot("R-1", jackets(size), limit)
    drawn = [jacket.code for jacket in found.sample]
    assert (len(drawn), found.accepted) == (min(pieces, size), accepted)
    for faulty in (accepted, accepted + 1):
        if 0 < faulty <= len(drawn):
            seen = lot("R-1", jackets(size, frozenset(drawn[:faulty])), limit)
            assert (seen.is_accepted, seen.is_refused) == (faulty <= accepted, faulty > accepted)


def test_the_classic_trap() -> None:
    """A lot of 30 at 4.0: the table shows an arrow at letter D, 8 pieces, that leads to 13 with 1
    accepted and 2 refused."""
    found = lot("R-1", jackets(30), "4.0")
    assert (len(found.sample), found.accepted) == (13, 1)
