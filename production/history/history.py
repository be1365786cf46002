"""The history of the floor: all sources in one list, newest first."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.db.models import CharField, F, Q, Value
from django.utils import timezone

from production.history import tell_floor, tell_rest
from production.history.lines import Kind, Line
from production.history.sources import Rows, Source
from production.models import Jacket

SOURCES: Sequence[Source] = (
    tell_floor.STEPS,
    tell_floor.TAPS,
    tell_floor.TICKS,
    tell_floor.UNTICKS,
    tell_floor.CHECKS,
    tell_rest.DELIVERIES,
    tell_rest.PINS,
    tell_rest.LIFTED,
    tell_rest.CUTS,
    tell_rest.PIECES,
    tell_rest.PIECES_BACK,
    tell_rest.CHANGES,
)
BY_CODE = {source.code: source for source in SOURCES}
#: What a jacket's page does not tell by itself.
OF_A_JACKET = (Kind.TAPS, Kind.TICKS, Kind.CHECKS, Kind.DELIVERIES, Kind.PINS)
#: Rows that are made into lines at once when the whole list is saved as a file.
AT_ONCE = 1000


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for. `jacket` is part of a code; `by` the key of a log-in, 0 for what commands
    did; days are of the workroom's clock, both included."""

    run: str = ""
    jacket: str = ""
    by: int | None = None
    first: datetime.date | None = None
    last: datetime.date | None = None
    kinds: tuple[Kind, ...] = tuple(Kind)

    def rows(self, source: Source) -> Rows | None:
        """The rows of a source that fit; None where none can."""
        if source.kind not in self.kinds or (self.jacket and not source.jacket):
            return None
        fits = Q()
        if self.run:
            fits &= Q(**{f"{source.run}__code": self.run})
        if self.by is not None:
            fits &= Q(**{source.by: self.by} if self.by else {f"{source.by}__isnull": True})
        if self.first:
            fits &= Q(**{f"{source.at}__gte": _midnight(self.first)})
        if self.last:
            fits &= Q(**{f"{source.at}__lt": _midnight(self.last + datetime.timedelta(days=1))})
        rows = source.rows().filter(fits)
        if self.jacket:
            jackets = Jacket.objects.filter(code__icontains=self.jacket)
            rows = rows.filter(**{f"{source.jacket}__in": jackets}).distinct()
        return rows


def _midnight(day: datetime.date) -> datetime.datetime:
    return timezone.make_aware(datetime.datetime.combine(day, datetime.time()))


class Lines(Sequence[Line]):
    """The lines that are wanted, newest first or `oldest_first`. Its length is one query, a slice
    one and those of the sources that it has lines of; nothing else is loaded."""

    def __init__(self, wanted: Wanted, *, oldest_first: bool = False) -> None:
        self._rows = _joined(wanted, oldest_first)
        self._count: int | None = None

    def __len__(self) -> int:
        if self._count is None:
            self._count = self._rows.count() if self._rows is not None else 0
        return self._count

    def __getitem__(self, key: slice) -> list[Line]:  # type: ignore[override]  # slices alone
        if self._rows is None:
            return []
        return _told(self._rows[key.start or 0 : key.stop])

    def __iter__(self) -> Iterator[Line]:
        for start in range(0, len(self), AT_ONCE):
            yield from self[start : start + AT_ONCE]


def _joined(wanted: Wanted, oldest_first: bool) -> Rows | None:
    parts: list[Rows] = [
        rows.annotate(
            source=Value(source.code, output_field=CharField()), moment=F(source.at)
        ).values_list("source", "pk", "moment")
        for source in SOURCES
        if (rows := wanted.rows(source)) is not None
    ]
    if not parts:
        return None
    joined: Rows = parts[0].union(*parts[1:], all=True) if parts[1:] else parts[0]
    order = ("moment", "source", "pk") if oldest_first else ("-moment", "-source", "-pk")
    return joined.order_by(*order)


def _told(rows: Iterable[tuple[str, int, datetime.datetime]]) -> list[Line]:
    listed = list(rows)
    keys: dict[str, list[int]] = defaultdict(list)
    for code, pk, _ in listed:
        keys[code].append(pk)
    lines = {code: BY_CODE[code].tell(own) for code, own in keys.items()}
    return [lines[code][pk] for code, pk, _ in listed if pk in lines[code]]


def jacket_lines(jacket: Jacket) -> list[Line]:
    """What happened to one jacket beside its steps and its pieces: blocks seen on the table, check
    lists, taps that changed nothing, hand-overs and pins; newest first. Told-like: at, by, words,
    and `undone`."""
    found: list[Line] = []
    for source in SOURCES:
        if source.kind in OF_A_JACKET:
            rows = source.rows().filter(**{source.jacket: jacket}).distinct()
            if keys := list(rows.values_list("pk", flat=True)):
                found += source.tell(keys).values()
    return sorted(found, key=lambda line: line.at, reverse=True)
