"""Planned against actual: cloth, minutes, wares and money of one run, and what a quote came to.

Only like is compared with like: tickets that are cut whole, jackets that were timed, wares that
were taken off the shelf. What has no actual yet says so, and is never counted as zero.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from production.planning.minutes.stage_times import StageTime, corrections
from production.planning.standing import WORK

ZERO = Decimal(0)
CENT = Decimal("0.01")
STAGES = ("cut", "sew", "finish")


@dataclass(frozen=True, slots=True)
class Compared:
    """One thing as planned and as it came. `whole` is planned for all of the run, `planned` for the
    part of it whose `actual` is known; `missing` says in words what has no actual yet."""

    name: str
    whole: Decimal
    planned: Decimal
    actual: Decimal | None
    missing: str = ""
    of: str = ""
    unit: str = ""
    #: What the whole will come to, where its parts do so in different proportions.
    expected: Decimal | None = None

    @property
    def difference(self) -> Decimal | None:
        return None if self.actual is None else self.actual - self.planned

    @property
    def share(self) -> Decimal | None:
        """The difference as a share of what was planned."""
        if self.difference is None or not self.planned:
            return None
        return self.difference / self.planned

    @property
    def likely(self) -> Decimal:
        """The whole, if what has no actual yet comes as what has."""
        if self.expected is not None:
            return self.expected
        if self.actual is None:
            return self.whole
        return in_proportion(self.whole, self.planned, self.actual)


def in_proportion(whole: Decimal, planned: Decimal, actual: Decimal) -> Decimal:
    """The whole as its known part came; what was not planned at all comes on top."""
    return whole * actual / planned if planned else whole + actual


# Cloth


@dataclass(frozen=True, slots=True)
class TicketCloth:
    """A cut ticket with the cloth that it was planned with and what its plies took, in mm. Of its
    length, `counted` is the part that is paid when cloth is valued by area: less than all where it
    is cut from narrower cloth."""

    ticket: str
    fabric_color: str
    planned_mm: int
    cut_mm: int
    plies: int
    plies_cut: int
    is_recut: bool = False
    counted: Decimal = Decimal(1)

    @property
    def is_cut(self) -> bool:
        return 0 < self.plies == self.plies_cut

    @property
    def by_area(self) -> TicketCloth:
        """With the lengths that count in money."""
        return replace(
            self,
            planned_mm=round(self.planned_mm * self.counted),
            cut_mm=round(self.cut_mm * self.counted),
        )


def compare_cloth(tickets: Iterable[TicketCloth], names: Mapping[str, str]) -> tuple[Compared, ...]:
    """Cloth of each fabric color over the tickets that are cut whole, in mm."""
    by_color: dict[str, list[TicketCloth]] = {}
    for ticket in tickets:
        by_color.setdefault(ticket.fabric_color, []).append(ticket)
    return tuple(_cloth(names.get(color, color), own) for color, own in by_color.items())


def _cloth(name: str, tickets: Sequence[TicketCloth]) -> Compared:
    done = [ticket for ticket in tickets if ticket.is_cut]
    uncut = [ticket.ticket for ticket in tickets if not ticket.is_cut]
    return Compared(
        name,
        _mm(ticket.planned_mm for ticket in tickets),
        _mm(ticket.planned_mm for ticket in done),
        _mm(ticket.cut_mm for ticket in done) if done else None,
        f"not cut whole yet, {', '.join(uncut)}" if uncut else "",
        tickets[0].fabric_color,
        "mm",
    )


def _mm(lengths: Iterable[int]) -> Decimal:
    return Decimal(sum(lengths))


# Minutes


@dataclass(frozen=True, slots=True)
class StageMinutes:
    """A stage over the jackets that were timed at it; `left_out` more did not begin and end within
    one day."""

    stage: str
    compared: Compared
    jackets: int
    left_out: int


def compare_minutes(
    times: Sequence[StageTime], whole: Mapping[str, Decimal]
) -> tuple[StageMinutes, ...]:
    """Minutes with allowance by stage. `whole` are those of all jackets; what the timed ones took
    is their standard times the median of actual over standard, which no forgotten tap rules."""
    found = corrections(times)
    stages = []
    for stage in STAGES:
        correction = found.get(stage)
        ratio = correction.ratio if correction else None
        timed = [time for time in times if time.stage == stage and time.counts]
        standard = sum((time.standard_minutes for time in timed), ZERO)
        actual = None if ratio is None else (standard * ratio).quantize(CENT)
        missing = "" if actual is not None else "no jacket was started and done on one day yet"
        compared = Compared(
            WORK[stage], whole.get(stage, ZERO), standard, actual, missing, stage, "min"
        )
        left_out = correction.left_out if correction else 0
        stages.append(StageMinutes(stage, compared, len(timed), left_out))
    return tuple(stages)


# Wares


@dataclass(frozen=True, slots=True)
class WareUse:
    """A ware that a run needs and holds: what was taken off the shelf less what came back.
    `was_taken` is False where nothing of it ever left the shelf for the run."""

    key: str
    name: str
    unit: str
    needed: Decimal
    holds: Decimal
    was_taken: bool

    @property
    def kind(self) -> str:
        return self.key.partition(":")[0]


def compare_wares(uses: Iterable[WareUse], *, is_over: bool) -> tuple[Compared, ...]:
    """Wares in their units. As long as the run goes on, one that was taken only in part has no
    actual yet: the rest may still be fetched."""
    return tuple(_ware(use, is_over) for use in uses)


def _ware(use: WareUse, is_over: bool) -> Compared:
    if not use.was_taken:
        return _unknown(use, "nothing was taken off the shelf for it")
    if not is_over and use.holds < use.needed:
        so_far = f"{use.holds.normalize():f} of {use.needed.normalize():f} {use.unit}"
        return _unknown(use, f"only {so_far} taken so far")
    return Compared(use.name, use.needed, use.needed, use.holds, "", use.key, use.unit)


def _unknown(use: WareUse, missing: str) -> Compared:
    return Compared(use.name, use.needed, ZERO, None, missing, use.key, use.unit)
