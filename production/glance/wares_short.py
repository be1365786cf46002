"""Who of the jackets to be sewn gets the wares that are there, and what the others lack."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db.models import F, Max

from patterns.services import workroom
from production.glance.run_memory import RunMemory
from production.models import PurchaseLine, Ware, WareMovement
from production.planning.standing import STAGES
from production.planning.supplies.jacket_wares import JacketWares, WareKind, jacket_wares
from production.planning.supplies.shopping_words import quantity_words
from production.stock.wares import Drawn, balances, drawn_by

if TYPE_CHECKING:
    from production.glance.blocked import OnTheFloor

ZERO = Decimal(0)
SEW = STAGES[1]

memory: RunMemory[JacketWares] = RunMemory(jacket_wares)


def ware_words(everyone: Sequence[OnTheFloor]) -> dict[str, str]:
    """What the jackets at sewing lack, by their codes, as 'no separating zipper 65 cm, slate: 2
    there, 5 needed; ordered with P-0001'."""
    there = balances()
    known = memory.of({jacket.run for jacket in everyone})
    shelf = _Shelf.filled(everyone, known, there)
    lacking = {jacket: shelf.give(jacket) for jacket in sorted(_to_sew(everyone), key=_turn)}
    short = {jacket: keys for jacket, keys in lacking.items() if keys and jacket.stage == SEW}
    if not short:
        return {}
    unit, ordered = workroom().length_unit, _on_order(shelf.book)
    return {
        jacket.code: "; ".join(
            _words(shelf, jacket.run, key, ordered.get(key, ()), unit) for key in keys
        )
        for jacket, keys in short.items()
    }


def _to_sew(everyone: Iterable[OnTheFloor]) -> list[OnTheFloor]:
    return [jacket for jacket in everyone if not (jacket.is_sewn or jacket.is_cancelled)]


def _turn(jacket: OnTheFloor) -> tuple[bool, bool, bool, datetime.date, int]:
    return jacket.turn


@dataclass(slots=True)
class _Shelf:
    """What is left to give, by ware, in the unit that jackets take it in: what runs hold and have
    not used, and what lies on the shelf. Only wares of which a book is kept are in it."""

    known: Mapping[int, JacketWares]
    book: Mapping[str, WareKind]
    free: dict[str, Decimal]
    held: dict[tuple[int, str], Decimal]
    given: dict[tuple[int, str], Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    needed: dict[tuple[int, str], Decimal] = field(default_factory=lambda: defaultdict(Decimal))

    @classmethod
    def filled(
        cls,
        everyone: Sequence[OnTheFloor],
        known: Mapping[int, JacketWares],
        there: Mapping[str, Decimal],
    ) -> _Shelf:
        book = {
            key: kind for run in known.values() for key, kind in run.kinds.items() if key in there
        }
        free = {key: there[key] * kind.holds for key, kind in book.items()}
        held: dict[tuple[int, str], Decimal] = {}
        drawn, counted = drawn_by(known), _counted(book)
        for (run, key), sewn in _used(everyone, known, book).items():
            rest = drawn.get(run, {}).get(key, Drawn()).holds * book[key].holds - sum(sewn.values())
            held[run, key] = max(rest, ZERO)
            if rest < 0:
                free[key] -= min(-rest, _since(counted.get(key), sewn))
        return cls(known, book, {key: max(left, ZERO) for key, left in free.items()}, held)

    def give(self, jacket: OnTheFloor) -> list[str]:
        """A jacket takes all that it needs, or nothing where something lacks: the keys of that."""
        takes = {
            key: quantity
            for key, quantity in self.known[jacket.run].takes.get(jacket.code, {}).items()
            if key in self.book
        }
        for key, quantity in takes.items():
            self.needed[jacket.run, key] += quantity
        lacking = [key for key, quantity in takes.items() if quantity > self.left(jacket.run, key)]
        if not lacking:
            for key, quantity in takes.items():
                self._take(jacket.run, key, quantity)
        return lacking

    def left(self, run: int, key: str) -> Decimal:
        """What a run could still take: the rest of what it holds, and what lies on the shelf."""
        return self.held.get((run, key), ZERO) + self.free[key]

    def _take(self, run: int, key: str, quantity: Decimal) -> None:
        self.given[run, key] += quantity
        own = min(self.held.get((run, key), ZERO), quantity)
        if own:
            self.held[run, key] -= own
        self.free[key] -= quantity - own


#: What sewn jackets of a run used of a ware, by the moment of their sewing.
_Sewn = dict[datetime.datetime | None, Decimal]


def _used(
    everyone: Iterable[OnTheFloor],
    known: Mapping[int, JacketWares],
    book: Mapping[str, WareKind],
) -> dict[tuple[int, str], _Sewn]:
    """By run and ware; empty where none of its jackets is sewn."""
    found: dict[tuple[int, str], _Sewn] = {
        (run, key): {} for run, wares in known.items() for key in wares.kinds if key in book
    }
    for jacket in everyone:
        if jacket.is_sewn:
            for key, quantity in known[jacket.run].takes.get(jacket.code, {}).items():
                if key in book:
                    sewn = found[jacket.run, key]
                    sewn[jacket.sewn_at] = sewn.get(jacket.sewn_at, ZERO) + quantity
    return found


def _since(counted: datetime.datetime | None, sewn: _Sewn) -> Decimal:
    """What was used after the ware was counted last: a count has seen what was gone by then."""
    return sum(
        (
            quantity
            for at, quantity in sewn.items()
            if counted is None or (at is not None and at > counted)
        ),
        ZERO,
    )


def _counted(book: Iterable[str]) -> dict[str, datetime.datetime]:
    rows = (
        Ware.objects.filter(key__in=list(book), movements__kind=WareMovement.Kind.COUNTED)
        .order_by()
        .values_list("key")
        .annotate(at=Max("movements__at"))
    )
    return dict(rows)


def _on_order(book: Iterable[str]) -> dict[str, list[str]]:
    """The codes of the purchases that a ware is still to come with."""
    rows = (
        PurchaseLine.objects.filter(
            ware__key__in=list(book), purchase__closed_at=None, received__lt=F("quantity")
        )
        .order_by("purchase__expected_on", "pk")
        .values_list("ware__key", "purchase__code")
    )
    found: dict[str, list[str]] = defaultdict(list)
    for key, code in rows:
        assert key is not None  # filtered by key
        found[key].append(code)
    return found


def _words(shelf: _Shelf, run: int, key: str, ordered: Sequence[str], unit: str) -> str:
    kind = shelf.book[key]
    there = shelf.given[run, key] + shelf.left(run, key)
    told, needed = (_told(quantity, kind, unit) for quantity in (there, shelf.needed[run, key]))
    came = f"ordered with {', '.join(dict.fromkeys(ordered))}" if ordered else "not ordered"
    return f"no {kind.name}: {told} there, {needed} needed; {came}"


def _told(quantity: Decimal, kind: WareKind, unit: str) -> str:
    if kind.unit == "piece":
        return f"{quantity.normalize():f}"
    return quantity_words(quantity, kind.unit, unit)
