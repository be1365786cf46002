"""The days that matter of the team orders, month by month, and as an iCalendar file."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from orders.models import TeamOrder

State = TeamOrder.State
MONTHS_SHOWN = 6
CLOSES, DEADLINE, HANDED_OVER = "form closes", "deadline", "handed over"


@dataclass(frozen=True, slots=True)
class Entry:
    """One day of one order; `late` says that it has passed without being met."""

    day: datetime.date
    kind: str
    team_order: TeamOrder
    late: bool = False

    @property
    def words(self) -> str:
        order = self.team_order
        return f"{order.code} {self.kind}: {order.title} ({order.club.name})"


@dataclass(frozen=True, slots=True)
class Month:
    first: datetime.date
    entries: tuple[Entry, ...]
    today: int | None

    @property
    def days(self) -> int:
        return (next_month(self.first) - self.first).days

    def tape(self) -> dict[str, Any]:
        """The month as a measuring tape, 10 wide per day: ticks longer at weeks' starts, a pin at
        each day with an entry."""
        pinned = sorted({entry.day.day for entry in self.entries})
        days = [self.first + datetime.timedelta(days=number) for number in range(self.days)]
        return {
            "width": self.days * 24,
            "ticks": [
                {"x": (day.day - 1) * 24, "number": day.day, "long": day.isoweekday() == 1}
                for day in days
            ],
            "rest": [(day.day - 1) * 24 for day in days if day.isoweekday() > 5],
            "pins": [day * 24 - 12 for day in pinned],
            "today": None if self.today is None else self.today * 24 - 12,
        }


def next_month(day: datetime.date, count: int = 1) -> datetime.date:
    """The first of the month `count` months on, or back where it is negative."""
    months = day.year * 12 + day.month - 1 + count
    return datetime.date(months // 12, months % 12 + 1, 1)


def entries_of(orders: Iterable[TeamOrder], today: datetime.date) -> list[Entry]:
    """All days of the orders in the order of time; a cancelled order has none."""
    found = [entry for order in orders for entry in _days_of(order, today)]
    return sorted(found, key=lambda entry: (entry.day, entry.team_order.code, entry.kind))


def _days_of(order: TeamOrder, today: datetime.date) -> Iterator[Entry]:
    if order.state == State.CANCELLED:
        return
    over = order.state == State.HANDED_OVER
    if order.closes_on:
        yield Entry(order.closes_on, CLOSES, order)
    yield Entry(order.deadline, DEADLINE, order, late=order.deadline < today and not over)
    if over and order.handed_over_on:
        yield Entry(order.handed_over_on, HANDED_OVER, order)


def months(
    entries: Sequence[Entry], first: datetime.date, today: datetime.date, count: int = MONTHS_SHOWN
) -> list[Month]:
    """`count` months from the one of `first` on, empty ones included."""
    starts = [next_month(first, number) for number in range(count)]
    return [
        Month(
            start,
            tuple(entry for entry in entries if start <= entry.day < next_month(start)),
            today.day if next_month(today, 0) == start else None,
        )
        for start in starts
    ]


def as_icalendar(
    entries: Iterable[Entry], made_at: datetime.datetime, addresses: dict[int, str]
) -> str:
    """The days as all-day events, by RFC 5545: 3.1 (lines and folding), 3.3.11 (escaped text),
    3.6.1 (events; one with a DATE start and no end lasts that day). `made_at` is aware;
    `addresses` gives the page of each order by its key."""
    stamp = made_at.astimezone(datetime.UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Jacket Muster//Calendar//EN"]
    for entry in entries:
        lines += [
            "BEGIN:VEVENT",
            f"UID:order-{entry.team_order.pk}-{entry.kind.replace(' ', '-')}@jacket-muster",
            f"DTSTAMP:{stamp}",
            f"DTSTART;VALUE=DATE:{entry.day:%Y%m%d}",
            f"SUMMARY:{_escaped(entry.words)}",
            f"URL:{addresses[entry.team_order.pk]}",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _escaped(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return plain.replace("\r\n", "\\n").replace("\n", "\\n")


def _folded(line: str) -> str:
    """The line in pieces of at most 75 octets, the blank that starts a continuation counted, and
    no letter cut in two."""
    pieces, octets = [""], 0
    for letter in line:
        size = len(letter.encode())
        if octets + size > 75:
            pieces.append(" ")
            octets = 1
        pieces[-1] += letter
        octets += size
    return "\r\n".join(pieces)
