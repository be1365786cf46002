"""What is sold, by the keys that plans use: fabric colors, threads, zippers, elastic, notions.

A catalog is read once and answers for as many keys as a page has.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from patterns.models import (
    Elastic,
    Fabric,
    FabricColor,
    Notion,
    PatternSize,
    Supplier,
    ThreadColor,
    Zipper,
)
from patterns.services import workroom
from production.errors import ProductionError
from production.models import Ware
from production.planning.supplies.materials import zipper_length
from production.planning.supplies.shopping import (
    CLOTH,
    CONE,
    EIGHTH_YARD_MM,
    METRE,
    PIECE,
    SPOOL,
    TENTH_METRE_MM,
    Sold,
)

CLOTH_KEY = "cloth:"
MADE = "made-"
NO_SUPPLIER = "No supplier is named for it."
GONE = "It is no longer among the things that are sold."


def cloth_key(color: str) -> str:
    return f"{CLOTH_KEY}{color}"


@dataclass(frozen=True, slots=True)
class Thing:
    """What a key stands for: the row that is sold, and how it is counted."""

    key: str
    unit: str
    row: FabricColor | ThreadColor | Zipper | Elastic | Notion
    size: str = ""
    finished_mm: int | None = None

    @property
    def kind(self) -> str:
        return self.key.partition(":")[0]


class Catalog:
    """All that is sold today, read in five queries."""

    def __init__(self) -> None:
        self.room = workroom()
        self.colors = {
            row.code: row for row in FabricColor.objects.select_related("fabric__supplier")
        }
        self.threads = {row.code: row for row in ThreadColor.objects.select_related("supplier")}
        self.zippers = {
            (row.color_code, row.length_mm): row
            for row in Zipper.objects.select_related("supplier")
        }
        self.elastics = {row.place: row for row in Elastic.objects.select_related("supplier")}
        self.notions = {
            row.code: row
            for row in Notion.objects.select_related("supplier").prefetch_related("sizes")
        }

    def find(self, key: str) -> Thing | None:
        """What a key stands for; None where nothing of that kind is sold any more."""
        match key.split(":"):
            case ["cloth", code] if code in self.colors:
                return Thing(key, CLOTH, self.colors[code])
            case ["thread", code, ("spool" | "cone") as unit] if code in self.threads:
                row = self.threads[code]
                return None if unit == CONE and row.cone_m is None else Thing(key, unit, row)
            case ["zipper", color, length, *made] if length.isdecimal():
                return self._zipper(key, (color, int(length)), made)
            case ["elastic", place] if place in self.elastics:
                return Thing(key, METRE, self.elastics[place])
            case ["notion", code, *sizes] if code in self.notions and len(sizes) < 2:
                notion = self.notions[code]
                return Thing(key, notion.unit, notion, size=sizes[0] if sizes else "")
        return None

    def _zipper(self, key: str, of: tuple[str, int], made: list[str]) -> Thing | None:
        if of not in self.zippers:
            return None
        if not made:
            return Thing(key, PIECE, self.zippers[of])
        finished = made[0].removeprefix(MADE)
        if len(made) > 1 or not made[0].startswith(MADE) or not finished.isdecimal():
            return None
        return Thing(key, PIECE, self.zippers[of], finished_mm=int(finished))

    def sold(self, key: str, name: str = "", unit: str = PIECE) -> Sold:
        """How a thing is sold. One that is sold no more keeps its name and says so."""
        thing = self.find(key)
        if thing is None:
            return Sold(key, name or key, unit, Decimal(1), Decimal(0), trouble=GONE)
        supplier = _supplier(thing)
        return Sold(
            key,
            self.name(thing),
            thing.unit,
            _step(thing),
            self._price(thing),
            price_of=Decimal(1000) if thing.unit == CLOTH else Decimal(1),
            supplier=supplier.name if supplier else "",
            lead_days=supplier.lead_days if supplier else None,
            holds_m=_holds_m(thing),
            trouble="" if supplier else NO_SUPPLIER,
        )

    def name(self, thing: Thing) -> str:
        match thing.row:
            case FabricColor() as color:
                return f"{color.fabric.name}, {color.name}"
            case ThreadColor() as thread:
                return f"thread {thread.name}, {thing.unit}"
            case Zipper() as zipper:
                unit = self.room.length_unit
                sold = zipper_length(zipper.length_mm, unit)
                if thing.finished_mm is None:
                    return f"separating zipper {zipper.color_name}, {sold}"
                made = zipper_length(thing.finished_mm, unit)
                return f"separating zipper {zipper.color_name}, {sold} made to {made}"
            case Elastic() as elastic:
                return elastic.name
            case Notion() as notion:
                return f"{notion.name}, size {thing.size}" if thing.size else notion.name

    def _price(self, thing: Thing) -> Decimal:
        match thing.row:
            case FabricColor() as color:
                return color.fabric.price_per_m
            case ThreadColor() as thread:
                cone = thread.price_per_cone if thing.unit == CONE else None
                return thread.price_per_spool if cone is None else cone
            case Zipper() as zipper:
                made = thing.finished_mm is not None
                return zipper.price + (self.room.exact_zipper_extra if made else 0)
            case Elastic() as elastic:
                return elastic.price_per_m
            case Notion() as notion:
                return notion.price

    def ware_keys(self) -> Iterable[str]:
        """The keys of all wares as they are sold; zippers made to length are not among them."""
        for code, thread in self.threads.items():
            yield f"thread:{code}:{SPOOL}"
            if thread.cone_m is not None:
                yield f"thread:{code}:{CONE}"
        yield from (f"zipper:{color}:{length}" for color, length in self.zippers)
        yield from (f"elastic:{place}" for place in self.elastics)
        for code, notion in self.notions.items():
            if notion.differs_by_size:
                yield from (f"notion:{code}:{size}" for size in self._sizes(notion))
            else:
                yield f"notion:{code}"

    def _sizes(self, notion: Notion) -> Iterable[str]:
        told = [size for size, _ in notion.by_size]
        if told:
            return told
        rows = PatternSize.objects.order_by("pattern", "position").values_list("code", flat=True)
        return dict.fromkeys(rows)


def _supplier(thing: Thing) -> Supplier | None:
    row = thing.row
    return row.fabric.supplier if isinstance(row, FabricColor) else row.supplier


def _step(thing: Thing) -> Decimal:
    match thing.row:
        case FabricColor() as color:
            return _cloth_step(color.fabric)
        case Elastic() as elastic:
            return Decimal(elastic.sold_step_mm) / 1000
        case Notion() as notion:
            return notion.sold_step
        case _:
            return Decimal(1)


def _cloth_step(fabric: Fabric) -> Decimal:
    if fabric.sold_in == Fabric.SoldIn.BOLT:
        return Decimal(fabric.bolt_length_mm)
    return EIGHTH_YARD_MM if fabric.sold_in == Fabric.SoldIn.EIGHTH_YARD else TENTH_METRE_MM


def _holds_m(thing: Thing) -> int | None:
    if not isinstance(thing.row, ThreadColor):
        return None
    return thing.row.cone_m if thing.unit == CONE else thing.row.spool_m


def ware_for(key: str, catalog: Catalog | None = None) -> Ware:
    """The ware of a key, with a row made for it the first time.

    Raises ProductionError for a key that stands for nothing that is sold.
    """
    if known := Ware.objects.filter(key=key).first():
        return known
    thing = (catalog or Catalog()).find(key)
    if thing is None or thing.kind == "cloth":
        raise ProductionError(
            f"Nothing that is sold has the key '{key}'. Add it to the workroom's materials first."
        )
    ware, _ = Ware.objects.get_or_create(
        key=key,
        defaults={"unit": thing.unit, "size": thing.size, thing.kind: thing.row},
    )
    return ware
