"""The ledger of wares: thread, zippers, elastic and notions that come and go.

How much of a ware is on the shelf is the sum of its movements, which are only ever added, and is
never below zero. Cloth has a ledger of its own (`production.stock.cloth`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Sum

from patterns.services import workroom
from production.errors import ProductionError
from production.models import PurchaseLine, Run, Ware, WareMovement
from production.planning.supplies.shopping import WHOLE
from production.planning.supplies.shopping_words import quantity_words
from production.stock.ware_catalog import Catalog, ware_for

if TYPE_CHECKING:
    from django.contrib.auth.models import User

Kind = WareMovement.Kind
NOTHING_CHANGED = "Nothing was changed."
ZERO = Decimal(0)
#: As fine as quantities are stored. SQLite adds up in floats, and this takes their last digits off.
STORED = Decimal("0.001")


class WareError(ProductionError):
    """Wares that cannot be moved as told; nothing was changed. `field` names what is wrong."""

    def __init__(self, words: str, field: str | None = None) -> None:
        super().__init__(words)
        self.field = field


# What is there


def balances() -> dict[str, Decimal]:
    """How much is on the shelf, by the key of the ware."""
    rows = WareMovement.objects.order_by().values("ware__key").annotate(sum=Sum("quantity"))
    return {row["ware__key"]: row["sum"].quantize(STORED) for row in rows}


def balance(ware: Ware) -> Decimal:
    return (ware.movements.aggregate(sum=Sum("quantity"))["sum"] or ZERO).quantize(STORED)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a run has had of a ware. `served` is the most that it held at one time since it last
    gave all back, `holds` what it has now."""

    served: Decimal = ZERO
    holds: Decimal = ZERO

    def after(self, quantity: Decimal) -> Drawn:
        """Below zero for what is taken off the shelf, above for what is brought back."""
        holds = self.holds - quantity
        return Drawn(max(self.served, holds) if holds > 0 else ZERO, holds)


def drawn_by(runs: Iterable[int]) -> dict[int, dict[str, Drawn]]:
    """What runs, by their numbers, have had of each ware, by its key."""
    rows = (
        WareMovement.objects.filter(run__in=list(runs), kind__in=[Kind.TAKEN, Kind.BROUGHT_BACK])
        .order_by("pk")
        .values_list("run", "ware__key", "quantity")
    )
    found: dict[int, dict[str, Drawn]] = defaultdict(dict)
    for run, key, quantity in rows:
        assert run is not None  # filtered by run
        found[run][key] = found[run].get(key, Drawn()).after(quantity)
    return found


def in_words(quantity: Decimal, ware: Ware) -> str:
    return quantity_words(quantity, ware.unit, workroom().length_unit)


# What comes and goes


@transaction.atomic
def move(
    ware: Ware,
    kind: WareMovement.Kind,
    quantity: Decimal,
    by: User | None,
    *,
    run: Run | None = None,
    line: PurchaseLine | None = None,
    reason: str = "",
) -> WareMovement:
    """Write a movement down, with its sign. Nobody else moves the ware until the transaction ends.

    Raises WareError for what would leave less than nothing, and for a part of a whole piece.
    """
    _lock([ware])
    if ware.unit in WHOLE and quantity != quantity.to_integral_value():
        raise WareError(
            f"{_named(ware)} counts in whole {ware.get_unit_display()}, and {abs(quantity):f} is "
            f"none. {NOTHING_CHANGED}",
            "quantity",
        )
    left = balance(ware)
    if left + quantity < 0:
        raise WareError(
            f"By the book {in_words(left, ware)} of {_named(ware)} are on the shelf, and "
            f"{in_words(-quantity, ware)} would go: count it anew, or take less. "
            f"{NOTHING_CHANGED}",
            "quantity",
        )
    return WareMovement.objects.create(
        ware=ware, kind=kind, quantity=quantity, by=by, run=run, purchase_line=line, reason=reason
    )


@transaction.atomic
def count(
    ware: Ware, *, quantity: Decimal, reason: str, by: User | None, seen: str | None = None
) -> Decimal:
    """What really lies on the shelf, put right by one movement that says why; gives how much more
    that is than the book said, and writes nothing where they agree. `seen` is the mark of the book
    when it was counted (see `book_mark`).

    Raises WareError for less than nothing, without a reason, and when it moved meanwhile.
    """
    if quantity < 0:
        raise WareError(
            f"Nothing or more is on the shelf, never less. {NOTHING_CHANGED}", "quantity"
        )
    if not reason.strip():
        raise WareError(f"Say why the count differs from the book. {NOTHING_CHANGED}", "reason")
    _lock([ware])
    _check_book(ware, seen)
    more = quantity - balance(ware)
    if more:
        move(ware, Kind.COUNTED, more, by, reason=reason.strip())
    return more


@transaction.atomic
def take(
    ware: Ware, *, run: Run, quantity: Decimal, by: User | None, seen: str | None = None
) -> WareMovement:
    """So much of a ware goes to a run. Raises WareError for more than there is, and when it moved
    since its page was shown (`seen`, see `book_mark`), as after the same tap sent twice."""
    if quantity <= 0:
        raise WareError(f"Take more than nothing. {NOTHING_CHANGED}", "quantity")
    _lock([ware])
    _check_book(ware, seen)
    return move(ware, Kind.TAKEN, -quantity, by, run=run)


@dataclass(frozen=True, slots=True)
class Taken:
    """What one click took off the shelf for a run, and what of its needs was not free."""

    taken: tuple[WareMovement, ...]
    missing: tuple[tuple[str, Decimal, str], ...]


@transaction.atomic
def take_for_run(run: Run, by: User | None) -> Taken:
    """All that a run needs and has not taken yet, as far as it is on the shelf and not reserved for
    earlier runs. A second click takes nothing more.

    Raises WareError when there is nothing to take.
    """
    from production.needs.run_needs import reserved_by_earlier, wares_of  # builds on this module

    list(Run.objects.select_for_update().filter(pk=run.pk).values_list("pk"))
    wants = wares_of(run)
    open_wants = {want.key: want for want in wants if want.still > 0}
    if not open_wants:
        raise WareError(f"{run} has taken all that it needs. {NOTHING_CHANGED}")
    rows = {ware.key: ware for ware in Ware.objects.filter(key__in=open_wants)}
    _lock(rows.values())
    reserved, on_shelf = reserved_by_earlier(run), balances()
    taken, missing = [], []
    for key, want in open_wants.items():
        free = max(on_shelf.get(key, ZERO) - reserved.get(key, ZERO), ZERO)
        quantity = min(want.still, free)
        if quantity:
            taken.append(move(rows[key], Kind.TAKEN, -quantity, by, run=run))
        if quantity < want.still:
            missing.append((want.name, want.still - quantity, want.unit))
    if not taken:
        raise WareError(
            f"Nothing that {run} still needs is free on the shelf: look at its shopping list. "
            f"{NOTHING_CHANGED}"
        )
    return Taken(tuple(taken), tuple(missing))


@transaction.atomic
def bring_back(
    run: Run, quantities: Mapping[str, Decimal], by: User | None, *, seen: str | None = None
) -> tuple[WareMovement, ...]:
    """What a run did not use comes back to the shelf, by the key of the ware. `seen` is the mark of
    what the run held when it was told (see `mark_of`).

    Raises WareError for a ware that the run does not hold so much of, for less than nothing, for
    nothing at all, and when something was taken or brought back meanwhile.
    """
    list(Run.objects.select_for_update().filter(pk=run.pk).values_list("pk"))
    if seen is not None and seen != mark_of(run):
        raise WareError(
            f"Something was taken or brought back for {run} meanwhile: look at what it holds now. "
            f"{NOTHING_CHANGED}"
        )
    back = {key: quantity for key, quantity in quantities.items() if quantity}
    if not back:
        raise WareError(f"Say how much comes back. {NOTHING_CHANGED}")
    drawn = drawn_by([run.pk]).get(run.pk, {})
    moved = []
    for key, quantity in back.items():
        ware = ware_for(key)
        holds = drawn.get(key, Drawn()).holds
        if quantity < 0 or quantity > holds:
            raise WareError(
                f"{run} holds {in_words(holds, ware)} of {_named(ware)}: between nothing and that "
                f"can come back. {NOTHING_CHANGED}",
                key,
            )
        moved.append(move(ware, Kind.BROUGHT_BACK, quantity, by, run=run))
    return tuple(moved)


def mark_of(run: Run) -> str:
    """Tells whether wares were moved for a run since a page was shown."""
    last = run.ware_movements.order_by("pk").values_list("pk", flat=True).last()
    return str(last or 0)


def book_mark(ware: Ware) -> str:
    """Tells whether a ware moved since a page was shown."""
    last = ware.movements.order_by("pk").values_list("pk", flat=True).last() if ware.pk else None
    return str(last or 0)


def _check_book(ware: Ware, seen: str | None) -> None:
    if seen is not None and seen != book_mark(ware):
        raise WareError(
            f"{_named(ware)} was moved since this page was shown, perhaps by the same tap sent "
            f"twice: look at what lies there now, then send it again. {NOTHING_CHANGED}"
        )


def _lock(wares: Iterable[Ware]) -> None:
    keys = [ware.pk for ware in wares]
    list(Ware.objects.select_for_update().filter(pk__in=keys).order_by("pk").values_list("pk"))


def _named(ware: Ware) -> str:
    return Catalog().sold(ware.key).name
