"""Reminders of safety and labelling for the jackets of an order or a run, as they are shown."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet

from orders.models import TeamOrder
from patterns.models import Fabric, PatternSize, Workroom
from patterns.services import workroom
from production.models import Jacket, JacketBlock, Run
from production.planning.labels.care import Care, ClothCare, care_of
from production.planning.labels.label_duties import DEFER, duties
from production.planning.labels.label_facts import Duty, DutyFacts, SizeFacts

NOT_PLANNED = "known once the run is planned"
NOT_SAID = "not said in the workroom's settings"


@dataclass(frozen=True, slots=True)
class LabelLine:
    """Something that the label in a jacket should carry; `is_said` whether it is known here."""

    what: str
    words: str
    is_said: bool = True


@dataclass(frozen=True, slots=True)
class DutySheet:
    market: str
    duties: tuple[Duty, ...]
    label: tuple[LabelLine, ...]
    #: The youth sizes, each with its height and about its age.
    youth: tuple[str, ...] = ()
    defer: str = DEFER

    @property
    def is_market_said(self) -> bool:
        return self.market != Workroom.Market.NOT_SAID

    @property
    def market_words(self) -> str:
        return Workroom.Market(self.market).label


def duties_of_run(run: Run) -> DutySheet:
    return _sheet(Jacket.objects.filter(run=run, cancelled_at=None), run.code)


def duties_of_order(team_order: TeamOrder, run: Run | None) -> DutySheet:
    """For an order that no run was planned for yet, none of its fabrics is known."""
    jackets = Jacket.objects.filter(jacket_order__team_order=team_order, cancelled_at=None)
    return _sheet(jackets, run.code if run else "")


def _sheet(jackets: QuerySet[Jacket], run: str) -> DutySheet:
    room = workroom()
    cloths = cloths_of(jackets)
    fabrics = tuple((cloth.name, cloth.fiber) for cloth in cloths)
    facts = DutyFacts(room.market, _sizes(jackets), fabrics)
    return DutySheet(
        room.market,
        duties(facts),
        _label(room, care_of(cloths) if cloths else None, run),
        tuple(size.words for size in facts.sizes if size.is_youth),
    )


def cloths_of(jackets: QuerySet[Jacket]) -> tuple[ClothCare, ...]:
    """The fabrics that jackets are cut from, as the workroom knows them today."""
    used = JacketBlock.objects.filter(jacket__in=jackets).values(
        "line__ticket__fabric_color__fabric"
    )
    return tuple(cloth_care(fabric) for fabric in Fabric.objects.filter(pk__in=used))


def cloth_care(fabric: Fabric) -> ClothCare:
    return ClothCare(
        fabric.name,
        fabric.fiber,
        fabric.wash_celsius,
        fabric.may_tumble_dry,
        fabric.may_iron,
    )


def _sizes(jackets: QuerySet[Jacket]) -> tuple[SizeFacts, ...]:
    rows = PatternSize.objects.filter(jacket_orders__jacket__in=jackets).distinct()
    return tuple(
        SizeFacts(size.code, size.age_group == PatternSize.AgeGroup.YOUTH, size.height_mm)
        for size in rows
    )


def _label(room: Workroom, care: Care | None, run: str) -> tuple[LabelLine, ...]:
    return (
        *_cloth_lines(care),
        _line("Maker", f"{room.name}, {room.address}" if room.address else ""),
        _line("Country", f"Made in {room.made_in}" if room.made_in else ""),
        LabelLine("Size", "each jacket's own"),
        LabelLine("Batch", f"{run} and the day of the delivery" if run else "run and day"),
    )


def _cloth_lines(care: Care | None) -> tuple[LabelLine, ...]:
    if care is None:
        return tuple(LabelLine(what, NOT_PLANNED, is_said=False) for what in ("Fiber", "Care"))
    fibers = "; ".join(f"{name}: {fiber}" for name, fiber in care.fibers)
    return (
        LabelLine("Fiber", fibers),
        LabelLine("Care", " ".join(f"{sign.words}." for sign in care.signs)),
    )


def _line(what: str, words: str) -> LabelLine:
    return LabelLine(what, words or NOT_SAID, is_said=bool(words))
