"""What a quote would be if something were otherwise: other cloth, wage, margin, blocks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from production.planning.cutting.rows import polygon_area_mm2
from production.planning.explode import sides_of
from production.planning.lengths import small_length
from production.planning.quotes.quotes import Terms
from production.planning.snapshot import (
    BlockingSpec,
    BlockShape,
    FabricSpec,
    JacketSpec,
    RunSnapshot,
    SeamStretch,
    WorkroomSpec,
)
from production.planning.supplies.materials import along_seams


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What is to be otherwise; None and empty leave it as it is. Width and price are those of
    `fabric`. `blocking` is the code of the one that all jackets are cut by, `style_line` that of a
    line that cuts one more piece in two."""

    fabric: str = ""
    usable_width_mm: int | None = None
    price_per_m: Decimal | None = None
    margin: Decimal | None = None
    labor_per_hour: Decimal | None = None
    learning_rate: Decimal | None = None
    blocking: str = ""
    style_line: str = ""

    @property
    def changes_blocks(self) -> bool:
        return bool(self.blocking or self.style_line)


def with_numbers(
    snapshot: RunSnapshot, terms: Terms, what: WhatIf
) -> tuple[RunSnapshot, Terms, tuple[str, ...]]:
    """Snapshot and terms with the numbers that are to be otherwise, and what changed in words."""
    words: list[str] = []
    fabrics = []
    for fabric in snapshot.fabrics:
        if fabric.code == what.fabric:
            fabric = _changed_fabric(fabric, what, snapshot.workroom, words)
        fabrics.append(fabric)
    room = snapshot.workroom
    wage = _or(what.labor_per_hour, room.labor_per_hour)
    if wage != room.labor_per_hour:
        words.append(f"wage {wage:f} {room.currency} an hour instead of {room.labor_per_hour:f}")
    rate = _or(what.learning_rate, room.learning_rate or Decimal(1))
    if rate != (room.learning_rate or 1):
        words.append(f"learning rate {_percent(rate)} instead of {_learning(room.learning_rate)}")
        room = replace(room, learning_rate=rate)
    margin = _or(what.margin, terms.margin)
    if margin != terms.margin:
        words.append(f"margin {_percent(margin)} instead of {_percent(terms.margin)}")
    return (
        replace(
            snapshot,
            fabrics=tuple(fabrics),
            workroom=replace(room, labor_per_hour=wage, margin=margin),
        ),
        replace(terms, margin=margin),
        tuple(words),
    )


def _changed_fabric(
    fabric: FabricSpec, what: WhatIf, room: WorkroomSpec, words: list[str]
) -> FabricSpec:
    width_mm = fabric.usable_width_mm if what.usable_width_mm is None else what.usable_width_mm
    price = _or(what.price_per_m, fabric.price_per_m)
    if width_mm != fabric.usable_width_mm:
        now, then = (
            small_length(mm, room.length_unit) for mm in (fabric.usable_width_mm, width_mm)
        )
        words.append(f"{fabric.name} {then} wide instead of {now}")
    if price != fabric.price_per_m:
        words.append(
            f"{fabric.name} at {price:f} {room.currency} a metre instead of {fabric.price_per_m:f}"
        )
    return replace(fabric, usable_width_mm=width_mm, price_per_m=price)


def _or(wanted: Decimal | None, given: Decimal) -> Decimal:
    return given if wanted is None else wanted


def _percent(share: Decimal) -> str:
    return f"{float(100 * share):g} %"


def _learning(rate: Decimal | None) -> str:
    return "none" if rate is None else _percent(rate)


@dataclass(frozen=True, slots=True)
class Redrawn:
    """One blocking drawn otherwise: its blocks and seams in the sizes of the quote. `accent` names
    the new block that gets another color of the jacket, since a style line is there for color."""

    blocking: BlockingSpec
    shapes: tuple[BlockShape, ...]
    seams: tuple[SeamStretch, ...]
    accent: str = ""


def redrawn(snapshot: RunSnapshot, drawn: Mapping[str, Redrawn]) -> RunSnapshot:
    """The jackets of the blockings in `drawn`, by code, cut as it says; the others as they were."""
    was = {shape.block: shape for shape in snapshot.shapes}
    jackets = []
    for jacket in snapshot.jackets:
        if (new := drawn.get(jacket.blocking)) is not None:
            jacket = replace(
                _recolored(jacket, was, new.shapes, new.accent), blocking=new.blocking.code
            )
        jackets.append(jacket)
    used = {(block, jacket.size) for jacket in jackets for block, _ in jacket.blocks}
    news = {new.blocking.code: new for new in drawn.values()}
    shapes: dict[tuple[str, str], BlockShape] = {}
    for shape in (*snapshot.shapes, *(shape for new in news.values() for shape in new.shapes)):
        if (shape.block, shape.size) in used:
            shapes.setdefault((shape.block, shape.size), shape)
    stay = tuple(one for one in snapshot.seams if one.blocking not in {*drawn, *news})
    seams = (*stay, *(seam for new in news.values() for seam in new.seams))
    blockings = {one.code: one for one in snapshot.blockings if one.code not in drawn}
    return replace(
        snapshot,
        jackets=tuple(jackets),
        shapes=tuple(shapes.values()),
        seams=seams,
        notions=along_seams(snapshot.notions, seams),
        blockings=(*blockings.values(), *(new.blocking for new in news.values())),
    )


def _recolored(
    jacket: JacketSpec, was: Mapping[str, BlockShape], shapes: Iterable[BlockShape], accent: str
) -> JacketSpec:
    """Blocks that stay keep their color; a new one takes the color that most of its piece had, the
    accent the color that the jacket has most of beside it."""
    colors = dict(jacket.blocks)
    new = {shape.block: shape.piece for shape in shapes if shape.size == jacket.size}
    return replace(
        jacket,
        blocks=tuple(
            sorted(
                (block, colors.get(block) or _color(jacket, was, piece, is_accent=block == accent))
                for block, piece in new.items()
            )
        ),
    )


def _color(
    jacket: JacketSpec, was: Mapping[str, BlockShape], piece: str, *, is_accent: bool
) -> str:
    on_piece: Counter[str] = Counter()
    on_jacket: Counter[str] = Counter()
    for block, color in jacket.blocks:
        area = round(polygon_area_mm2(was[block].cut_outline_mm) * len(sides_of(was[block])))
        on_jacket[color] += area
        if was[block].piece == piece:
            on_piece[color] += area
    main = (on_piece or on_jacket).most_common(1)[0][0]
    others = [color for color, _ in on_jacket.most_common() if color != main]
    return others[0] if is_accent and others else main
