"""Loads models into the frozen snapshot that a run is planned from; the one place that does."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from typing import TypeVar

import msgspec
from django.db.models import Model

from orders.models import JacketOrder, TeamOrder
from patterns.geometry.seams import seam_runs
from patterns.models import (
    Blocking,
    Elastic,
    Fabric,
    FabricColor,
    Operation,
    PatternSize,
    ThreadColor,
    Zipper,
)
from patterns.pictures import blocking_pictures
from patterns.queries import base_seams, blocks_of, style_lines
from patterns.services import workroom
from production.planning import snapshot as frozen

Spec = TypeVar("Spec")


def take_snapshot(
    *, run: str, team_orders: Sequence[TeamOrder], planned_on: datetime.date
) -> frozen.RunSnapshot:
    """Everything the plan of a run needs, read in a handful of queries however many jackets."""
    jacket_orders = list(
        JacketOrder.objects.filter(team_order__in=team_orders)
        .select_related("team_order", "size", "colorway__blocking", "colorway__topstitch_thread")
        .prefetch_related(
            "colorway__fills__block",
            "colorway__fills__fabric_color",
            "choices__block",
            "choices__fabric_color",
        )
        .order_by("team_order__deadline", "team_order__code", "pk")
    )
    pairs = {(line.colorway.blocking, line.size) for line in jacket_orders}
    blockings = sorted({blocking for blocking, _ in pairs}, key=lambda blocking: blocking.code)
    sizes = sorted({size for _, size in pairs}, key=lambda size: (size.pattern_id, size.position))
    jackets = tuple(_jackets(jacket_orders))
    return frozen.RunSnapshot(
        run=run,
        deadline=min(order.deadline for order in team_orders),
        planned_on=planned_on,
        orders=tuple(
            frozen.OrderSpec(order.code, order.club.name, order.title, order.deadline)
            for order in team_orders
        ),
        jackets=jackets,
        sizes=_specs(frozen.SizeSpec, sizes),
        shapes=_shapes(blockings, sizes, pairs),
        seams=_seams(blockings, sizes, pairs),
        operations=_specs(frozen.OperationSpec, Operation.objects.all()),
        fabrics=_specs(frozen.FabricSpec, Fabric.objects.all()),
        fabric_colors=_fabric_colors(),
        threads=_specs(frozen.ThreadSpec, ThreadColor.objects.all()),
        zippers=_specs(frozen.ZipperSpec, Zipper.objects.all()),
        elastics=_specs(frozen.ElasticSpec, Elastic.objects.all()),
        workroom=msgspec.convert(workroom(), frozen.WorkroomSpec, from_attributes=True),
        blockings=tuple(
            frozen.BlockingSpec(blocking.code, blocking.name, blocking_pictures(blocking))
            for blocking in blockings
        ),
    )


def _jackets(jacket_orders: Iterable[JacketOrder]) -> Iterable[frozen.JacketSpec]:
    """Jacket codes count on within each team order: TQ-27A-01, TQ-27A-02, …"""
    counted: dict[str, int] = {}
    for line in jacket_orders:
        order_code = line.team_order.code
        counted[order_code] = counted.get(order_code, 0) + 1
        colorway = line.colorway
        fills = {fill.block.code: fill.fabric_color.code for fill in colorway.fills.all()}
        fills.update({own.block.code: own.fabric_color.code for own in line.choices.all()})
        thread = colorway.topstitch_thread
        yield frozen.JacketSpec(
            code=f"{order_code}-{counted[order_code]:02d}",
            team_order=order_code,
            member=line.member,
            size=line.size.code,
            blocking=colorway.blocking.code,
            colorway=colorway.name,
            blocks=tuple(sorted(fills.items())),
            zipper_color=colorway.zipper_color,
            topstitch_thread=thread.code if thread else None,
            name_on_jacket=line.name_on_jacket,
            note=line.note,
        )


def _shapes(
    blockings: Sequence[Blocking],
    sizes: Sequence[PatternSize],
    pairs: set[tuple[Blocking, PatternSize]],
) -> tuple[frozen.BlockShape, ...]:
    """Each block once per size; blockings that leave a piece whole share its block."""
    shapes: dict[frozen.BlockShape, None] = {}
    for blocking in blockings:
        for size in sizes:
            if (blocking, size) in pairs:
                for block in blocks_of(blocking, size):
                    shape = frozen.BlockShape(
                        block=block.code,
                        name=block.name,
                        piece=block.piece,
                        size=size.code,
                        pairing=block.pairing.value,
                        cut_outline_mm=block.cut_outline_mm,
                        stitch_outline_mm=block.stitch_outline_mm,
                        notches=tuple(
                            (notch.stitch_point, notch.cut_point, notch.count)
                            for notch in block.notches
                        ),
                        marks=block.marks,
                        grainline=block.grainline,
                    )
                    shapes.setdefault(shape)
    return tuple(shapes)


def _seams(
    blockings: Sequence[Blocking],
    sizes: Sequence[PatternSize],
    pairs: set[tuple[Blocking, PatternSize]],
) -> tuple[frozen.SeamStretch, ...]:
    stretches: list[frozen.SeamStretch] = []
    for blocking in blockings:
        lines, seams = style_lines(blocking), base_seams(blocking.pattern)
        names = {seam.code: seam.name for seam in seams} | {line.code: line.name for line in lines}
        for size in sizes:
            if (blocking, size) in pairs:
                stretches.extend(
                    frozen.SeamStretch(
                        blocking=blocking.code,
                        size=size.code,
                        seam=run.seam,
                        name=names[run.seam],
                        kind=run.kind.value,
                        block=run.block,
                        length_mm=run.length_mm,
                        runs=run.runs,
                        topstitched=run.topstitched,
                    )
                    for run in seam_runs(blocks_of(blocking, size), seams, lines)
                )
    return tuple(stretches)


def _specs(kind: type[Spec], rows: Iterable[Model]) -> tuple[Spec, ...]:
    """Rows as frozen values; the fields of both bear the same names."""
    return tuple(msgspec.convert(row, kind, from_attributes=True) for row in rows)


def _fabric_colors() -> tuple[frozen.FabricColorSpec, ...]:
    return tuple(
        frozen.FabricColorSpec(
            code=row.code,
            name=row.name,
            fabric=row.fabric.code,
            hex_color=row.hex_color,
            hatch=row.hatch,
            thread=row.thread.code,
            in_stock_mm=row.in_stock_mm,
        )
        for row in FabricColor.objects.select_related("fabric", "thread")
    )
