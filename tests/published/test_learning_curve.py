"""Crawford's unit learning curve against its textbook table and printed worked problems."""

from __future__ import annotations

from decimal import Decimal

import pytest

from production.planning.minutes.learning import total_factor, unit_factor

# n; then unit and total for 80 %, 85 % and 90 %, T1 = 1. Recomputed from T_n = n^(ln r / ln 2);
# textbooks print the same to three decimals (from memory).
TABLE = """
1 1.0000 1.0000 1.0000 1.0000 1.0000 1.0000
2 .8000 1.8000 .8500 1.8500 .9000 1.9000
3 .7021 2.5021 .7729 2.6229 .8462 2.7462
4 .6400 3.1421 .7225 3.3454 .8100 3.5562
5 .5956 3.7377 .6857 4.0311 .7830 4.3392
6 .5617 4.2994 .6570 4.6881 .7616 5.1008
7 .5345 4.8339 .6337 5.3217 .7439 5.8447
8 .5120 5.3459 .6141 5.9358 .7290 6.5737
9 .4929 5.8389 .5974 6.5332 .7161 7.2898
10 .4765 6.3154 .5828 7.1161 .7047 7.9945
12 .4493 7.2268 .5584 8.2444 .6854 9.3745
15 .4182 8.5105 .5300 9.8611 .6626 11.3837
16 .4096 8.9201 .5220 10.3831 .6561 12.0398
18 .3944 9.7162 .5078 11.4055 .6445 13.3344
20 .3812 10.4849 .4954 12.4023 .6342 14.6078
25 .3548 12.3086 .4701 14.8007 .6131 17.7132
30 .3346 14.0199 .4505 17.0907 .5963 20.7269
40 .3050 17.1935 .4211 21.4252 .5708 26.5427
50 .2838 20.1217 .3996 25.5131 .5518 32.1420
"""
ROWS = [line.split() for line in TABLE.strip().splitlines()]
RATES = [Decimal("0.80"), Decimal("0.85"), Decimal("0.90")]
PRINTED_TO = Decimal("0.00005")


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_units_and_totals_are_those_of_the_table(row: list[str]) -> None:
    last, printed = int(row[0]), [Decimal(value) for value in row[1:]]
    found = [f(last, rate) for rate in RATES for f in (unit_factor, total_factor)]
    for value, expected in zip(found, printed, strict=True):
        assert value == pytest.approx(expected, abs=PRINTED_TO)


#: Printed results of a solutions manual to an operations-management text, ch. 13, Table 13.2
#: (coursehero.com/file/6536972; found, tertiary): rate, T1, first unit, last unit, printed. The
#: manual calculates with coefficients of three decimals, hence 0.1 %.
PRINTED = [
    ("0.80", "300", 5, 5, "178.7"),
    ("0.80", "300", 1, 5, "1121.4"),
    ("0.80", "300", 1, 18, "2914.8"),
    ("0.85", "75", 2, 2, "63.75"),
    ("0.85", "75", 4, 4, "54.23"),
    ("0.85", "75", 8, 8, "46.05"),
    ("0.70", "15", 1, 3, "34.023"),
    ("0.95", "60", 2, 2, "57"),
    ("0.95", "60", 3, 3, "55.32"),
    ("0.95", "60", 4, 4, "54.15"),
]


@pytest.mark.parametrize(("rate", "first_time", "first", "last", "printed"), PRINTED)
def test_worked_problems_end_at_their_printed_results(
    rate: str, first_time: str, first: int, last: int, printed: str
) -> None:
    found = Decimal(first_time) * total_factor(last, Decimal(rate), first)
    assert found == pytest.approx(Decimal(printed), rel=Decimal("0.001"))


@pytest.mark.parametrize(
    ("rate", "exponent"), [("0.80", "-0.321928"), ("0.85", "-0.234465"), ("0.90", "-0.152003")]
)
def test_the_exponent_is_the_logarithm_of_the_rate_to_base_two(rate: str, exponent: str) -> None:
    """Recomputed: b = ln r / ln 2, so that the factor of jacket 10 is 10^b."""
    found = unit_factor(10, Decimal(rate)).log10()
    assert found == pytest.approx(Decimal(exponent), abs=Decimal("0.0000005"))


def test_doubling_the_units_takes_the_rate_of_the_unit_time() -> None:
    """The unit model itself (Crawford; from memory): T_2n = r x T_n, for any n. Wright's model
    would have it for the mean of the first n."""
    for number in (1, 3, 7, 50):
        half, whole = unit_factor(number, RATES[0]), unit_factor(2 * number, RATES[0])
        assert whole / half == pytest.approx(RATES[0])
