"""Steps, taps, ticks and check lists of jackets as lines of the history."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from django.db.models import Min

from production.history.lines import Kind, Line, name, of_jacket
from production.history.sources import Rows, Source
from production.models import BlockTick, Inspection, StageEvent, Tap
from production.stages.lots import looks_that_stand
from production.stages.table import block_names
from production.tracking import told


def _steps(keys: Iterable[int]) -> Mapping[int, Line]:
    rows = with_jackets(StageEvent.objects.filter(pk__in=list(keys)))
    return {
        row.pk: of_jacket(
            row.jacket, row.at, row.by, Kind.STEPS, told(row), undone=hasattr(row, "undone_by")
        )
        for row in rows.select_related("undoes", "undone_by")
    }


def _taps(keys: Iterable[int]) -> Mapping[int, Line]:
    rows = with_jackets(Tap.objects.filter(pk__in=list(keys)))
    return {
        row.pk: Line(
            row.at,
            name(row.by),
            Kind.TAPS,
            f"{row.get_outcome_display()}, {row.get_way_display()}: {row.words}",
            jacket=row.jacket.code if row.jacket else "",
            run=row.jacket.run.code if row.jacket else "",
        )
        for row in rows
    }


def _ticks(keys: Iterable[int]) -> Mapping[int, Line]:
    """Blocks of one jacket that were ticked together make one line, under the first key."""
    first = BlockTick.objects.filter(pk__in=list(keys))
    moments, jackets = first.values("at"), first.values("jacket")
    rows = with_jackets(BlockTick.objects.filter(at__in=moments, jacket__in=jackets))
    together: dict[object, list[BlockTick]] = defaultdict(list)
    for row in rows.order_by("pk"):
        together[row.jacket_id, row.at, row.by_id].append(row)
    names = block_names(row.block for row in rows)
    found = {}
    for some in together.values():
        one = some[0]
        blocks = [
            names.get(row.block, row.block) + (" (taken back)" if row.taken_back_at else "")
            for row in some
        ]
        words = f"seen on the table: {', '.join(blocks)}"
        undone = all(row.taken_back_at for row in some)
        found[one.pk] = of_jacket(one.jacket, one.at, one.by, Kind.TICKS, words, undone=undone)
    return found


def _unticks(keys: Iterable[int]) -> Mapping[int, Line]:
    rows = with_jackets(BlockTick.objects.filter(pk__in=list(keys)))
    names = block_names(row.block for row in rows)
    return {
        row.pk: of_jacket(
            row.jacket,
            row.taken_back_at,
            row.taken_back_by,
            Kind.TICKS,
            f"not on the table after all: {names.get(row.block, row.block)}",
        )
        for row in rows
        if row.taken_back_at
    }


def with_jackets(rows: Rows) -> Rows:
    """With who did it, the jacket and its run, without the two large columns of the run."""
    return rows.select_related("by", "jacket__run").defer(
        "jacket__run__snapshot", "jacket__run__plan"
    )


def _checks(keys: Iterable[int]) -> Mapping[int, Line]:
    listed = list(keys)
    stand = set(looks_that_stand().filter(pk__in=listed).values_list("pk", flat=True))
    rows = with_jackets(Inspection.objects.filter(pk__in=listed))
    return {
        row.pk: of_jacket(
            row.jacket, row.at, row.by, Kind.CHECKS, _check_words(row), undone=row.pk not in stand
        )
        for row in rows.select_related("mender").prefetch_related("faults__point")
    }


def _check_words(look: Inspection) -> str:
    note = f" ({look.note})" if look.note else ""
    if look.passed:
        count = len(look.points)
        return f"looked over: {count} point{'' if count == 1 else 's'} good{note}"
    faults = [
        f"{fault.point.words}: {fault.words}" if fault.words else fault.point.words
        for fault in look.faults.all()
    ]
    mender = f"; {look.mender} mends it" if look.mender else ""
    return f"looked over, not right: {'; '.join(faults)}{mender}{note}"


def _changed_nothing(rows: Rows) -> Rows:
    return rows.exclude(outcome=Tap.Outcome.RECORDED)


def _taken_back(rows: Rows) -> Rows:
    return rows.filter(taken_back_at__isnull=False)


def _first_of_each(rows: Rows) -> Rows:
    """One key for the blocks of a jacket that were ticked together."""
    together = BlockTick.objects.order_by().values("jacket", "at", "by")
    return rows.filter(pk__in=together.annotate(first=Min("pk")).values("first"))


OF_JACKET = ("jacket__run", "jacket")
STEPS = Source("step", Kind.STEPS, StageEvent, "at", "by", *OF_JACKET, _steps)
TAPS = Source("tap", Kind.TAPS, Tap, "at", "by", *OF_JACKET, _taps, _changed_nothing)
TICKS = Source("tick", Kind.TICKS, BlockTick, "at", "by", *OF_JACKET, _ticks, _first_of_each)
UNTICKS = Source(
    *("untick", Kind.TICKS, BlockTick, "taken_back_at", "taken_back_by"),
    *OF_JACKET,
    _unticks,
    _taken_back,
)
CHECKS = Source("check", Kind.CHECKS, Inspection, "at", "by", *OF_JACKET, _checks)
