"""Functions that write what is bought beside cloth: suppliers, threads, zippers, elastic, notions.

What is planned keeps the prices and rules of its snapshot; a change counts from the next plan on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, Model, ProtectedError

from orders.models import Colorway
from patterns.models import (
    Elastic,
    Fabric,
    FabricColor,
    Notion,
    NotionSize,
    Operation,
    Supplier,
    ThreadColor,
    Zipper,
)
from production.errors import ProductionError
from production.models import Purchase, Ware

Supply = Supplier | ThreadColor | Elastic | Notion
USES_SHOWN = 5


class SupplyError(ProductionError):
    """A supply that cannot be changed so; the message says what uses it. Nothing was changed."""


@dataclass(frozen=True, slots=True)
class ZipperFacts:
    """A tape color and who sells it; `prices` are those of the lengths sold, by mm."""

    color_name: str
    hex_color: str
    supplier: Supplier | None
    prices: Mapping[int, Decimal]


@transaction.atomic
def keep_zippers(color: str, facts: ZipperFacts, gone: Iterable[int] = ()) -> None:
    """The zippers of a tape color, new or changed; lengths that are `gone` are sold no more.

    SupplyError where one of those, or the color itself, is still used.
    """
    for length_mm, price in facts.prices.items():
        Zipper.objects.update_or_create(
            color_code=color, length_mm=length_mm, defaults={"price": price}
        )
    of_color = Zipper.objects.filter(color_code=color)
    for row in of_color.filter(length_mm__in=list(gone)):
        _delete(row, f"The zipper {row}")
    of_color.update(color_name=facts.color_name, hex_color=facts.hex_color, supplier=facts.supplier)
    colorways = Colorway.objects.filter(zipper_color=color).select_related("team_order")
    if not of_color.exists() and colorways:
        raise _used(f"The tape color {facts.color_name}", map(_words, colorways))


@transaction.atomic
def keep_notion(notion: Notion, by_size: Mapping[str, Decimal]) -> None:
    """A notion, new or changed, with its quantities by size in place of those it had."""
    if notion._state.adding:
        last = Notion.objects.aggregate(last=Max("position"))["last"]
        notion.position = 0 if last is None else last + 1
    else:
        _forget_unused_wares(notion)
        if Ware.objects.filter(notion=notion).exclude(unit=notion.unit).exists():
            raise SupplyError(
                f"The shelf counts {notion.name} in {Ware.Unit(_unit_before(notion)).label} "
                "already, and its book stays. Add another notion for the other unit."
            )
    notion.save()
    notion.sizes.all().delete()
    NotionSize.objects.bulk_create(
        NotionSize(notion=notion, size=size, quantity=quantity)
        for size, quantity in by_size.items()
    )


def _unit_before(notion: Notion) -> str:
    return Notion.objects.values_list("unit", flat=True).get(pk=notion.pk)


@transaction.atomic
def remove(row: Supply) -> None:
    """Take out what nothing uses; SupplyError names what does."""
    if isinstance(row, Supplier) and (sold := list(_sold_by(row))):
        raise _used(row.name, sold)
    _delete(row, row.name)


def _sold_by(supplier: Supplier) -> Iterator[str]:
    for kind, model in (
        ("fabric", Fabric),
        ("thread", ThreadColor),
        ("elastic", Elastic),
        ("notion", Notion),
    ):
        for name in model._default_manager.filter(supplier=supplier).values_list("name", flat=True):
            yield f"{kind} {name}"
    colors = Zipper.objects.filter(supplier=supplier).order_by("color_name")
    for color in colors.values_list("color_name", flat=True).distinct():
        yield f"zippers {color}"


def _delete(row: Supply | Zipper, name: str) -> None:
    _forget_unused_wares(row)
    try:
        row.delete()
    except ProtectedError as error:
        raise _used(name, map(_words, error.protected_objects)) from error


def _forget_unused_wares(row: Supply | Zipper) -> None:
    """A ware of which nothing ever came, went or was ordered has no book to keep."""
    kinds: dict[type[Model], str] = {
        ThreadColor: "thread",
        Zipper: "zipper",
        Elastic: "elastic",
        Notion: "notion",
    }
    if kind := kinds.get(type(row)):
        unused = Ware.objects.filter(movements=None, purchase_lines=None, **{kind: row})
        Ware.objects.filter(pk__in=list(unused.values_list("pk", flat=True))).delete()


def _used(name: str, uses: Iterable[str]) -> SupplyError:
    told = sorted(set(uses))
    more = len(told) - USES_SHOWN
    shown = [*told[:USES_SHOWN], *([f"{more} more"] if more > 0 else [])]
    return SupplyError(
        f"{name} is used by {', '.join(shown)}. Nothing was changed: choose another there first. "
        "What the shelf or an order has had stays in the books."
    )


def _words(row: Model) -> str:
    match row:
        case FabricColor():
            return f"fabric color {row.name}"
        case Operation():
            return f"operation {row.name}"
        case Colorway():
            return f"colorway {row.name} of {row.team_order.code}"
        case Ware():
            return f"the shelf ({row.key})"
        case Purchase():
            return f"order {row.code}"
    return f"{row._meta.verbose_name} {row}"
