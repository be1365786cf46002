"""Orders to suppliers: what is ordered from a shopping list, what comes of it, what never will."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet
from django.utils import timezone

from patterns.models import FabricColor, Supplier, Workroom
from patterns.services import workroom
from production.buying.shopping import shopping_of
from production.errors import MovedOnError, ProductionError
from production.models import Purchase, PurchaseLine, Run, StockLot, Ware, WareMovement
from production.planning.supplies.shopping import CLOTH, ShoppingLine
from production.planning.supplies.shopping_words import quantity_words
from production.reporting.cut_reports import person
from production.stock import cloth, wares
from production.stock.cloth import ClothError
from production.stock.cloth_waiting import LaidOn, lay_on_lots
from production.stock.ware_catalog import CLOTH_KEY, Catalog, ware_for

if TYPE_CHECKING:
    from django.contrib.auth.models import User

NOTHING_CHANGED = "Nothing was changed."
NOTHING_ORDERED = "Nothing was ordered."
NOTHING_BOOKED = "Nothing was booked."
MORE_CAME = "more came than was ordered"
#: What is stored of a price: ten digits, three of them decimals.
HIGHEST_PRICE = Decimal("9999999.999")
REASON_LENGTH, NOTE_LENGTH, NAME_LENGTH = 60, 80, 30


class PurchaseError(ProductionError):
    """A purchase that cannot be made or booked as told; nothing was changed. `field` names what is
    wrong."""

    def __init__(self, words: str, field: str | None = None) -> None:
        super().__init__(words)
        self.field = field


def purchases() -> QuerySet[Purchase]:
    """Purchases with `is_open`: a line has not come whole, and nobody closed it."""
    waiting = PurchaseLine.objects.filter(
        purchase=OuterRef("pk"), purchase__closed_at=None, received__lt=F("quantity")
    )
    return Purchase.objects.annotate(is_open=Exists(waiting)).select_related("supplier", "run")


# Ordering


@transaction.atomic
def order(
    run: Run,
    supplier: Supplier,
    keys: Iterable[str],
    *,
    by: User | None,
    seen: str,
    ordered_on: datetime.date | None = None,
    note: str = "",
) -> Purchase:
    """Order lines of a run's shopping list from their supplier, as the list has them. `seen` is the
    mark of the supplier's part of the list as it was shown.

    Raises MovedOnError when that part has changed since, as after the same order sent twice, and
    PurchaseError for no line, one that the list does not have, and a day to come.
    """
    _one_after_another()
    day = ordered_on or timezone.localdate()
    if day > timezone.localdate():
        raise PurchaseError(f"The day of the order is still to come. {NOTHING_ORDERED}", "day")
    lines = _wanted_lines(run, supplier, set(keys), seen)
    purchase = Purchase.objects.create(
        code=_next_code(),
        supplier=supplier,
        run=run,
        ordered_on=day,
        expected_on=day + datetime.timedelta(days=supplier.lead_days),
        note=_short(note, NOTE_LENGTH, NOTHING_ORDERED, "note"),
        by=by,
    )
    catalog = Catalog()
    for line in lines:
        _store(purchase, line, catalog)
    return purchase


def _one_after_another() -> None:
    """The workroom is the row that all orders wait for: their codes count on."""
    workroom()
    list(Workroom.objects.select_for_update().values_list("pk"))


def _wanted_lines(
    run: Run, supplier: Supplier, keys: set[str], seen: str
) -> Sequence[ShoppingLine]:
    groups = {group.supplier: group for group in shopping_of(run).groups}
    group = groups.get(supplier.name)
    if group is None or group.mark != seen:
        raise MovedOnError(
            f"The list for {supplier} has changed since it was shown, perhaps because this was "
            f"ordered a moment ago: look at it as it is now. {NOTHING_ORDERED}"
        )
    if not keys:
        raise PurchaseError(f"Tick what is to be ordered from {supplier}. {NOTHING_ORDERED}")
    known = {line.sold.key: line for line in group.lines if line.can_be_ordered}
    if unknown := keys - known.keys():
        raise PurchaseError(
            f"{', '.join(sorted(unknown))} is not to be bought from {supplier} for {run}. "
            f"{NOTHING_ORDERED}"
        )
    return [line for key, line in known.items() if key in keys]


def _store(purchase: Purchase, line: ShoppingLine, catalog: Catalog) -> PurchaseLine:
    if line.price > HIGHEST_PRICE:
        raise PurchaseError(
            f"{line.sold.name} would cost {line.price}, more than can be written down in one line: "
            f"look at its price. {NOTHING_ORDERED}"
        )
    is_cloth = line.sold.unit == CLOTH
    code = line.sold.key.removeprefix(CLOTH_KEY)
    return PurchaseLine.objects.create(
        purchase=purchase,
        fabric_color=FabricColor.objects.get(code=code) if is_cloth else None,
        ware=None if is_cloth else ware_for(line.sold.key, catalog),
        quantity=line.to_buy,
        price=line.price,
    )


def _next_code() -> str:
    last = Purchase.objects.order_by("-pk").values_list("code", flat=True).first()
    return f"P-{int(last.removeprefix('P-')) + 1 if last else 1:04d}"


# Goods in


@dataclass(frozen=True, slots=True)
class Bolt:
    """A bolt that came for a line of cloth; `row` names it among those of one delivery."""

    row: str
    line: int
    code: str
    dye_lot: str
    length_mm: int
    usable_width_mm: int | None = None


@dataclass(frozen=True, slots=True)
class GoodsIn:
    """What one delivery brought, and which plies that had waited are laid onto its bolts."""

    movements: tuple[WareMovement, ...]
    lots: tuple[StockLot, ...]
    laid: LaidOn
    is_whole: bool


@transaction.atomic
def take_in(
    purchase: Purchase,
    *,
    came: Mapping[int, Decimal],
    bolts: Sequence[Bolt],
    by: User | None,
    seen: str,
    received_on: datetime.date | None = None,
    more_came: bool = False,
) -> GoodsIn:
    """Book a delivery, whole or in part: `came` is how much of each line of wares, by its number.

    Raises MovedOnError when something was booked or closed since the page was shown (`seen`, see
    `mark_of`), PurchaseError for nothing at all, less than nothing, and more than was ordered
    unless `more_came` says that it is so, and whatever the books of wares and cloth refuse.
    """
    _locked(purchase, seen)
    day = received_on or timezone.localdate()
    if day > timezone.localdate():
        raise PurchaseError(f"The day of the delivery is still to come. {NOTHING_BOOKED}", "day")
    lines = {line.pk: line for line in lines_of(purchase)}
    arrived = _arrived(lines, came, bolts)
    over = {pk for pk, more in arrived.items() if lines[pk].received + more > lines[pk].quantity}
    if over and not more_came:
        raise PurchaseError(_over_words([lines[pk] for pk in over], arrived), "more_came")
    movements = tuple(
        wares.move(
            _ware(lines[pk]),
            wares.Kind.RECEIVED,
            quantity,
            by,
            line=lines[pk],
            reason=MORE_CAME if pk in over else "",
        )
        for pk, quantity in came.items()
        if quantity
    )
    lots = tuple(_receive(bolt, lines[bolt.line], day, by) for bolt in bolts)
    for pk, more in arrived.items():
        lines[pk].received += more
        lines[pk].save(update_fields=["received"])
    laid = lay_on_lots(purchase.run, lots) if purchase.run and lots else LaidOn()
    return GoodsIn(
        movements, lots, laid, all(line.received >= line.quantity for line in lines.values())
    )


@transaction.atomic
def close(purchase: Purchase, *, reason: str, by: User | None, seen: str) -> Purchase:
    """The rest of a purchase will not come: it is no longer on order. Raises PurchaseError without
    a reason and for one that has come whole, MovedOnError as `take_in` does."""
    _locked(purchase, seen)
    if not reason.strip():
        raise PurchaseError(f"Say why the rest will not come. {NOTHING_CHANGED}", "reason")
    if all(line.received >= line.quantity for line in lines_of(purchase)):
        raise PurchaseError(f"{purchase} has come whole: nothing is left to close.")
    why = _short(reason, REASON_LENGTH, NOTHING_CHANGED, "reason")
    words = f"closed by {shortened(person(by))}: {why}"
    purchase.note = "; ".join(filter(None, [purchase.note, words]))
    purchase.closed_at = timezone.now()
    purchase.save(update_fields=["note", "closed_at"])
    return purchase


def _short(words: str, most: int, nothing: str, field: str) -> str:
    if len(words.strip()) > most:
        raise PurchaseError(f"Say it in {most} letters. {nothing}", field)
    return words.strip()


def shortened(name: str) -> str:
    return name if len(name) <= NAME_LENGTH else f"{name[: NAME_LENGTH - 1]}…"


def lines_of(purchase: Purchase) -> QuerySet[PurchaseLine]:
    return purchase.lines.select_related("fabric_color__fabric", "ware").order_by("pk")


def mark_of(purchase: Purchase) -> str:
    """Tells whether goods were booked or the purchase closed since a page was shown."""
    received = purchase.lines.order_by("pk").values_list("received", flat=True)
    came = "_".join(f"{Decimal(quantity):.3f}" for quantity in received)
    return f"{'closed' if purchase.closed_at else 'open'}_{came}"


def _locked(purchase: Purchase, seen: str) -> None:
    Purchase.objects.select_for_update().get(pk=purchase.pk)
    purchase.refresh_from_db()
    if purchase.closed_at:
        raise MovedOnError(f"{purchase} is closed: nothing more comes of it. {NOTHING_CHANGED}")
    if mark_of(purchase) != seen:
        raise MovedOnError(
            f"Goods of {purchase} were booked since this page was shown, perhaps by the same tap "
            f"sent twice: look at what has come. {NOTHING_BOOKED}"
        )


def _arrived(
    lines: Mapping[int, PurchaseLine], came: Mapping[int, Decimal], bolts: Sequence[Bolt]
) -> dict[int, Decimal]:
    arrived = {pk: quantity for pk, quantity in came.items() if quantity}
    for bolt in bolts:
        arrived[bolt.line] = arrived.get(bolt.line, Decimal(0)) + bolt.length_mm
    for pk, quantity in arrived.items():
        if pk not in lines:
            raise PurchaseError(f"That line is not of this purchase. {NOTHING_BOOKED}")
        if quantity < 0:
            raise PurchaseError(
                f"{line_name(lines[pk])}: nothing or more came, never less. {NOTHING_BOOKED}",
                f"came-{pk}",
            )
    if not arrived:
        raise PurchaseError(f"Say what came. {NOTHING_BOOKED}")
    return arrived


def _over_words(over: Sequence[PurchaseLine], arrived: Mapping[int, Decimal]) -> str:
    told = "; ".join(
        f"{line_name(line)}: {_words(line, line.received + arrived[line.pk])} would have come of "
        f"{_words(line, line.quantity)} ordered"
        for line in over
    )
    return f"{told}. Tick that more came than was ordered if it is so. {NOTHING_BOOKED}"


def _receive(bolt: Bolt, line: PurchaseLine, day: datetime.date, by: User | None) -> StockLot:
    if line.fabric_color is None:
        raise PurchaseError(f"{line_name(line)} comes in no bolts. {NOTHING_BOOKED}", bolt.row)
    try:
        return cloth.receive(
            code=bolt.code,
            fabric_color=line.fabric_color,
            dye_lot=bolt.dye_lot,
            length_mm=bolt.length_mm,
            usable_width_mm=bolt.usable_width_mm,
            received_on=day,
            by=by,
            purchase_line=line,
        )
    except ClothError as error:
        raise PurchaseError(f"{error} {NOTHING_BOOKED}", f"{bolt.row}-{error.field}") from error


def _ware(line: PurchaseLine) -> Ware:
    if line.ware is None:
        raise PurchaseError(
            f"{line_name(line)} comes in bolts. {NOTHING_BOOKED}", f"came-{line.pk}"
        )
    return line.ware


def line_name(line: PurchaseLine, catalog: Catalog | None = None) -> str:
    if line.fabric_color:
        return f"{line.fabric_color.fabric.name}, {line.fabric_color.name}"
    assert line.ware
    return (catalog or Catalog()).sold(line.ware.key).name


def _words(line: PurchaseLine, quantity: Decimal) -> str:
    unit = line.ware.unit if line.ware else CLOTH
    return quantity_words(quantity, unit, workroom().length_unit)
