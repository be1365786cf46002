"""Loads what a quote is reckoned from: the kinds of jackets of an order, what cloth took before,
and blocks drawn otherwise."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable

from orders.models import Colorway, TeamOrder
from orders.queries import colorways_of
from patterns.geometry.blocks import StyleLine, cut_blocks
from patterns.geometry.outline import PatternError
from patterns.geometry.picture import jacket_pictures
from patterns.models import Blocking, PatternSize
from patterns.models import StyleLine as LineRow
from patterns.queries import base_seams, pieces_of, style_lines
from patterns.services import allowances, workroom
from production.errors import ProductionError
from production.models import LayPlan
from production.planning.quotes.quote_changes import Redrawn, WhatIf, redrawn, with_numbers
from production.planning.quotes.quotes import ClothExperience, Terms
from production.planning.snapshot import BlockingSpec, RunSnapshot
from production.snapshots import shape_of, snapshot_of_kinds, stretches_of

Kind = tuple[Colorway, PatternSize]


def basis_of(team_order: TeamOrder, today: datetime.date) -> tuple[RunSnapshot, Terms]:
    """Snapshot and terms of a new quote, as the order and the workroom are today.

    ProductionError for an order without a colorway.
    """
    kinds = weighted_kinds(team_order)
    if not kinds:
        raise ProductionError(
            f"{team_order.code} has no colorway yet. Add one first: a quote is reckoned from its "
            "blocks and colors."
        )
    snapshot = snapshot_of_kinds(team_order, kinds, run=team_order.code, planned_on=today)
    room = workroom()
    terms = Terms(
        margin=room.margin,
        tax_rate=room.tax_rate,
        deposit_share=room.deposit_share,
        weights=tuple(kinds.values()),
        own=team_order.jacket_orders.count(),
        cloth=cloth_experience(fabrics_used(snapshot)),
    )
    return snapshot, terms


def fabrics_used(snapshot: RunSnapshot) -> set[str]:
    worn = {color for jacket in snapshot.jackets for _, color in jacket.blocks}
    return {color.fabric for color in snapshot.fabric_colors if color.code in worn}


def weighted_kinds(team_order: TeamOrder) -> dict[Kind, int]:
    """The order's colorways in its sizes, from the smallest size on, with the number of its jackets
    that are so; while there is none, each counts alike. A member's own block color counts as the
    colorway's."""
    colorways = list(colorways_of(team_order))
    ordered = Counter(team_order.jacket_orders.values_list("colorway", "size"))
    allowed = set(team_order.sizes.values_list("pk", flat=True))
    kinds = [
        (colorway, size)
        for colorway in colorways
        for size in colorway.blocking.pattern.sizes.all()
        if not allowed or size.pk in allowed or ordered[colorway.pk, size.pk]
    ]
    kinds.sort(key=lambda kind: (kind[1].pattern_id, kind[1].position, kind[0].name))
    return {
        (colorway, size): ordered[colorway.pk, size.pk] if ordered else 1
        for colorway, size in kinds
    }


def cloth_experience(fabrics: Iterable[str]) -> tuple[ClothExperience, ...]:
    """By fabric, what the lays in use of its tickets take and what plain rows would have taken;
    fabrics without a ticket are left out."""
    used: dict[tuple[str, int], int] = {}
    rows: dict[tuple[str, int], int] = {}
    for fabric, ticket, aim, is_in_use, fabric_mm in LayPlan.objects.filter(
        ticket__fabric_color__fabric__code__in=fabrics
    ).values_list("ticket__fabric_color__fabric__code", "ticket", "aim", "is_in_use", "fabric_mm"):
        if is_in_use:
            used[fabric, ticket] = fabric_mm
        if aim == LayPlan.Aim.ROWS and fabric_mm:
            rows[fabric, ticket] = fabric_mm
    known = used.keys() & rows.keys()
    return tuple(
        ClothExperience(
            code,
            sum(used[key] for key in known if key[0] == code),
            sum(rows[key] for key in known if key[0] == code),
            sum(key[0] == code for key in known),
        )
        for code in sorted({fabric for fabric, _ in known})
    )


def what_if(
    snapshot: RunSnapshot, terms: Terms, what: WhatIf, *, draws: bool = False
) -> tuple[RunSnapshot, Terms, tuple[str, ...]]:
    """Snapshot and terms as they would be, and what is otherwise in words; blocks come from the
    pattern of today. Pictures, which take a while, are drawn anew where `draws` asks for it.

    ProductionError for a blocking or a style line that cannot be had.
    """
    told: list[str] = []
    if what.blocking:
        blocking = _blocking(what.blocking)
        sizes = {jacket.size for jacket in snapshot.jackets}
        one = _drawn(blocking, sizes, None, draws)
        snapshot = redrawn(
            snapshot, dict.fromkeys({jacket.blocking for jacket in snapshot.jackets}, one)
        )
        told.append(f"all jackets cut as {blocking.name}")
    if what.style_line:
        line = _line(what.style_line, snapshot)
        drawn = {}
        for blocking in _whole_for(line, snapshot):
            sizes = {j.size for j in snapshot.jackets if j.blocking == blocking.code}
            drawn[blocking.code] = _drawn(blocking, sizes, line, draws)
        snapshot = redrawn(snapshot, drawn)
        told.append(f"one more style line, {line.name}")
    snapshot, terms, numbers = with_numbers(snapshot, terms, what)
    return snapshot, terms, (*told, *numbers)


def lines_to_add(snapshot: RunSnapshot) -> dict[str, str]:
    """The style lines of other blockings that cut a piece which a jacket of the snapshot has whole:
    by the codes of blocking and line, their names."""
    whole = {shape.piece for shape in snapshot.shapes if shape.block == shape.piece}
    return {
        f"{row.blocking.code}:{row.code}": f"{row.name} ({row.blocking.name})"
        for row in LineRow.objects.filter(cuts__in=whole)
        .select_related("blocking")
        .order_by("blocking__name", "position")
    }


def _blocking(code: str) -> Blocking:
    found = (
        Blocking.objects.select_related("pattern")
        .prefetch_related("style_lines", "pattern__sizes", "pattern__seams")
        .filter(code=code)
        .first()
    )
    if found is None:
        raise ProductionError(f"There is no blocking {code}. Choose one that is listed.")
    return found


def _line(key: str, snapshot: RunSnapshot) -> StyleLine:
    if key not in lines_to_add(snapshot):
        raise ProductionError(
            f"Style line {key} cuts no piece that is whole here. Choose one that is listed."
        )
    blocking, _, code = key.partition(":")
    return next(line for line in style_lines(_blocking(blocking)) if line.code == code)


def _whole_for(line: StyleLine, snapshot: RunSnapshot) -> list[Blocking]:
    """The blockings of the snapshot that have the line's piece whole."""
    codes = {jacket.blocking for jacket in snapshot.jackets if line.cuts in dict(jacket.blocks)}
    return [_blocking(code) for code in sorted(codes)]


def _drawn(blocking: Blocking, sizes: set[str], line: StyleLine | None, draws: bool) -> Redrawn:
    lines = (*style_lines(blocking), *([line] if line else []))
    seams = base_seams(blocking.pattern)
    free = set(blocking.blocks.filter(is_free_on_grain=True).values_list("code", flat=True))
    cut, room = {}, allowances()
    try:
        for size in blocking.pattern.sizes.all():
            if size.code in sizes:
                cut[size.code] = cut_blocks(pieces_of(size), lines, room)
        stretches = tuple(
            stretch
            for size, blocks in cut.items()
            for stretch in stretches_of(blocking.code, size, blocks, seams, lines)
        )
    except PatternError as error:
        raise ProductionError(f"{blocking.name} cannot be cut so. {error}") from error
    if not cut:
        raise ProductionError(
            f"{blocking.name} is not made in the sizes of this quote. Choose another blocking."
        )
    middle = list(cut.values())[len(cut) // 2]
    plain = tuple(one.code for one in lines if not one.topstitched)
    return Redrawn(
        BlockingSpec(
            blocking.code,
            blocking.name,
            jacket_pictures(middle, plain) if draws else (),
        ),
        tuple(
            shape_of(block, size, is_free=block.code in free)
            for size, blocks in cut.items()
            for block in blocks
        ),
        stretches,
        accent=line.right.code if line and line.right else "",
    )
