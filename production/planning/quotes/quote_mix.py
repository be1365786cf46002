"""Shares in whole units: jackets over kinds, amounts over jackets, by largest remainder."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from orders.money import decimals_of
from production.planning.plan import PlanError
from production.planning.snapshot import JacketSpec, RunSnapshot

Weight = int | float | Decimal | Fraction


def apportioned(units: int, weights: Sequence[Weight]) -> tuple[int, ...]:
    """Whole units in proportion to the weights, which add up to `units`: each gets its quota
    rounded down, and what is left goes to the largest remainders (method of Hamilton; common
    practice, no source). Of equal remainders those are taken that lie evenly spread: the first ones
    would be all small sizes. Weights that are all 0 count alike.

    >>> apportioned(10, (2, 3, 2))
    (3, 4, 3)
    >>> apportioned(2, (1, 1, 1, 1))
    (0, 1, 0, 1)
    """
    exact = [Fraction(weight) for weight in weights]
    if any(weight < 0 for weight in exact):
        raise ValueError("A weight is below 0.")
    if not any(exact):
        exact = [Fraction(1)] * len(exact)
    whole = sum(exact)
    quotas = [units * weight / whole for weight in exact]
    shares = [int(quota) for quota in quotas]
    left = units - sum(shares)
    by_remainder = defaultdict(list)
    for at, quota in enumerate(quotas):
        by_remainder[quota - shares[at]].append(at)
    for remainder in sorted(by_remainder, reverse=True):
        alike = by_remainder[remainder]
        taken = min(left, len(alike))
        for step in range(taken):
            shares[alike[(2 * step + 1) * len(alike) // (2 * taken)]] += 1
        left -= taken
    return tuple(shares)


def split(amount: Decimal, weights: Sequence[Weight], currency: str) -> tuple[Decimal, ...]:
    """An amount from 0 on in parts that the currency can pay, which add up to it."""
    places = decimals_of(currency)
    units = int(amount.scaleb(places))
    return tuple(Decimal(share).scaleb(-places) for share in apportioned(units, weights))


def mixed(snapshot: RunSnapshot, weights: Sequence[int], jackets: int) -> RunSnapshot:
    """The run of so many jackets, of which the snapshot holds one of each kind; `weights` are those
    of its jackets. A jacket's code is that of its kind and a number.

    Raises PlanError where no kind has a weight.
    """
    if not any(weights):
        raise PlanError("No size and colorway has a weight. Give at least one of them 1 or more.")
    counts = mix_counts(snapshot.jackets, weights, jackets)
    return replace(
        snapshot,
        jackets=tuple(
            replace(kind, code=f"{kind.code}.{number}")
            for kind, count in zip(snapshot.jackets, counts, strict=True)
            for number in range(1, count + 1)
        ),
    )


def mix_counts(kinds: Sequence[JacketSpec], weights: Sequence[int], jackets: int) -> list[int]:
    """How many of each kind: the sizes by largest remainder, since they make the cost, then the
    colorways within each size, where what a colorway got too little of is made good in the next
    size. So a small number of jackets stays a fair sample of a large mix."""
    sizes: dict[str, list[int]] = defaultdict(list)
    for at, kind in enumerate(kinds):
        sizes[kind.size].append(at)
    wholes = [sum(weights[at] for at in places) for places in sizes.values()]
    counts = [0] * len(kinds)
    owed: dict[str, Fraction] = defaultdict(Fraction)
    for places, whole, units in zip(
        sizes.values(), wholes, apportioned(jackets, wholes), strict=True
    ):
        worn = [at for at in places if weights[at]]
        wanted = [
            owed[kinds[at].colorway] + Fraction(units * weights[at], whole or 1) for at in worn
        ]
        given = apportioned(units, [max(each, Fraction(0)) for each in wanted])
        for at, want, got in zip(worn, wanted, given, strict=True):
            counts[at] = got
            owed[kinds[at].colorway] = want - got
    return counts


def kind_of(jacket: JacketSpec) -> str:
    """The code of the kind that a jacket of the mix is of."""
    return jacket.code.partition(".")[0]
