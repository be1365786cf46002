"""Small blocks on remnants: what would be waste gives the collars and cuffs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from production.planning.cloth.flaws import longest_clear_stretch
from production.planning.cutting.lays import FACE_UP, OTHER_SIDE, allowed_turns, placed_outline
from production.planning.cutting.rows import (
    LaidBlock,
    LaidKey,
    box_rows_mm,
    falling,
    laid_block,
    pack_rung,
    polygon_area_mm2,
)
from production.planning.explode import Shapes
from production.planning.nesting import faults_of, fit_into
from production.planning.nesting.blocks import NESTED, ROWS, Nest, NestBlock, NestPlace, Strip
from production.planning.plan import Lay, Placement, TicketLine
from production.planning.snapshot import BlockShape, BoltSpec, FabricSpec, WorkroomSpec

#: As many of the blocks as fit onto the strip.
Fit = Callable[[Sequence[NestBlock], Strip], Nest]
#: How often blocks are laid anew because the sides of their pairs did not come out even.
MOST_TRIES = 4


def remnant_lays(
    lines: Sequence[TicketLine],
    shapes: Shapes,
    remnants: Iterable[BoltSpec],
    fabric: FabricSpec,
    workroom: WorkroomSpec,
    *fits: Fit,
    ticket: str = "",
) -> tuple[tuple[Lay, ...], tuple[TicketLine, ...]]:
    """Lays of one ply each on the remnants, the smallest blocks first, and the lines that remain.

    All remnants must be of one dye lot, that of the rest of the ticket. A lay lies on the longest
    stretch of its remnant that no flaw reaches into. A pair goes onto a remnant with both sides or
    not at all, so that the lines keep as many left as right. Of several `fits` the one that covers
    most of a remnant fills it, the first among equals.
    """
    lays: list[Lay] = []
    waiting = tuple(lines)
    for remnant in sorted(remnants, key=lambda bolt: (bolt.end_mm - bolt.start_mm, bolt.code)):
        strip = _strip(remnant, fabric, workroom)
        blocks = _smallest(waiting, shapes, fabric, strip)
        if not blocks:
            continue
        found = [_with_both_sides(fit(blocks, strip).places, waiting) for fit in fits]
        placed = max(found, key=lambda some: placed_area_mm2(some, shapes))
        if placed:
            code = f"{ticket}-L{len(lays) + 1}"
            lays.append(_lay(code, placed, shapes, remnant.usable_width_mm, strip.gap_mm))
            waiting = lines_less(waiting, Counter((p.block, p.size, p.side) for p in placed))
    return tuple(lays), waiting


def placed_area_mm2(placements: Iterable[Placement], shapes: Shapes) -> float:
    return sum(
        polygon_area_mm2(shapes[place.block, place.size].cut_outline_mm) for place in placements
    )


def fit_in_rows(blocks: Sequence[NestBlock], strip: Strip) -> Nest:
    """As many of the blocks as fit in plain rows, unturned."""
    laid = {str(n): _as_laid(str(n), block) for n, block in enumerate(blocks)}
    rung = tuple(sorted(((laid[str(n)], b.count) for n, b in enumerate(blocks)), key=falling))
    assert strip.longest_mm is not None
    packed = pack_rung(rung, strip.width_mm, strip.longest_mm, strip.gap_mm)
    best = max(packed, key=lambda lay: lay.area_mm2)
    places = tuple(
        NestPlace(blocks[int(at.block)].key, at.x_mm, at.y_mm, 0.0) for at in best.placements
    )
    return Nest(places, best.length_mm, 0.0, ROWS)


def fit_nested(blocks: Sequence[NestBlock], strip: Strip) -> Nest:
    """As many of the blocks as find room by their true outlines, turned as they may be; of a pair
    as many left as right, where so many tries make it even. Nothing, if the nest has a fault."""
    asked = list(blocks)
    for _ in range(MOST_TRIES):
        nest, left_over = fit_into(asked, strip)
        placed = _counted(asked, [b.count - n for b, n in zip(asked, left_over, strict=True)])
        even = _evened(asked, placed, blocks)
        if even == placed:
            break
        asked = even
    return Nest((), 0.0, 0.0, NESTED) if faults_of(nest, placed, strip) else nest


def _evened(
    tried: Sequence[NestBlock], placed: Iterable[NestBlock], wanted: Iterable[NestBlock]
) -> list[NestBlock]:
    """As many as found room, but both sides of a pair as often as they did on the average."""
    counts = Counter({block.key: block.count for block in placed})
    asked = {block.key: block.count for block in wanted}
    even = []
    for block in tried:
        *rest, side = block.key
        other = (*rest, OTHER_SIDE[side])
        is_pair = asked.get(other) == asked[block.key]
        even.append((counts[block.key] + counts[other]) // 2 if is_pair else counts[block.key])
    return _counted(tried, even)


def _counted(blocks: Sequence[NestBlock], counts: Sequence[int]) -> list[NestBlock]:
    return [
        replace(block, count=count) for block, count in zip(blocks, counts, strict=True) if count
    ]


def _strip(remnant: BoltSpec, fabric: FabricSpec, workroom: WorkroomSpec) -> Strip:
    from_mm, to_mm = longest_clear_stretch(remnant)
    # One mm is kept back, since a ply is cut in whole mm upward.
    spread_mm = (to_mm - from_mm - 1) * float(1 - fabric.shrinkage)
    return Strip(
        width_mm=float(remnant.usable_width_mm),
        gap_mm=float(workroom.block_gap_mm),
        longest_mm=min(spread_mm, float(workroom.table_length_mm)) - 2 * fabric.end_allowance_mm,
    )


def _smallest(
    lines: Iterable[TicketLine], shapes: Shapes, fabric: FabricSpec, strip: Strip
) -> list[NestBlock]:
    """The smallest blocks, as many as the strip could hold if none of it were wasted."""
    assert strip.longest_mm is not None
    room_mm2 = strip.width_mm * max(strip.longest_mm, 0.0)
    found = []
    for line in sorted(lines, key=lambda line: _area_mm2(line, shapes)):
        shape = shapes[line.block, line.size]
        for sides, count in _together(line):
            set_mm2 = len(sides) * _area_mm2(line, shapes)
            fitting = min(count, int(room_mm2 // set_mm2))
            laid = laid_block(shape, sides[0])
            if fitting < 1 or laid.breadth_mm > strip.width_mm or laid.depth_mm > strip.longest_mm:
                continue
            room_mm2 -= fitting * set_mm2
            found += [_nest_block(shape, side, fitting, fabric) for side in sides]
    return found


def _together(line: TicketLine) -> Iterable[tuple[tuple[str, ...], int]]:
    """The sides of a line that go onto a remnant together, and how often there are."""
    if line.left and line.left == line.right:
        return ((("left", "right"), line.left),)
    counts = (("left", line.left), ("right", line.right), ("single", line.single))
    return (((side,), count) for side, count in counts if count)


def _area_mm2(line: TicketLine, shapes: Shapes) -> float:
    return polygon_area_mm2(shapes[line.block, line.size].cut_outline_mm)


def _nest_block(shape: BlockShape, side: str, count: int, fabric: FabricSpec) -> NestBlock:
    flip = -1.0 if side == "right" else 1.0
    return NestBlock(
        key=(shape.block, shape.size, side),
        name=f"{shape.block} {shape.size} {side}",
        outline=tuple((x, flip * y) for x, y in shape.cut_outline_mm),
        count=count,
        turns=allowed_turns(shape, fabric),
    )


def _as_laid(name: str, block: NestBlock) -> LaidBlock:
    xs, ys = zip(*block.outline, strict=True)
    return LaidBlock(
        block=name,
        size="",
        side="single",
        left_mm=min(xs),
        low_mm=min(ys),
        depth_mm=max(xs) - min(xs),
        breadth_mm=max(ys) - min(ys),
        area_mm2=polygon_area_mm2(block.outline),
    )


def _with_both_sides(
    places: Iterable[NestPlace], lines: Iterable[TicketLine]
) -> tuple[Placement, ...]:
    """The places as placements, without the sides of a pair that lie there alone."""
    pairs = {(line.block, line.size) for line in lines if line.left == line.right != 0}
    listed = list(places)
    counts = Counter(place.key for place in listed)
    allowed: Counter[tuple[str, ...]] = Counter()
    for block, size, side in counts:
        both = min(counts[block, size, "left"], counts[block, size, "right"])
        allowed[block, size, side] = both if (block, size) in pairs else counts[block, size, side]
    kept = []
    for place in listed:
        if allowed[place.key] > 0:
            allowed[place.key] -= 1
            block, size, side = place.key
            kept.append(
                Placement(
                    block=block,
                    size=size,
                    side=side,
                    x_mm=place.x_mm,
                    y_mm=place.y_mm,
                    rotation_deg=place.rotation_deg,
                    mirrored=side == "right",
                )
            )
    return tuple(kept)


def _lay(
    code: str, placed: Sequence[Placement], shapes: Shapes, width_mm: int, gap_mm: float
) -> Lay:
    laid = [laid_block(shapes[place.block, place.size], place.side) for place in placed]
    area_mm2 = sum(block.area_mm2 for block in laid)
    length_mm = max(
        x
        for place in placed
        for x, _ in placed_outline(place, shapes[place.block, place.size].cut_outline_mm)
    )
    return Lay(
        lay=code,
        mode=FACE_UP,
        plies=1,
        usable_width_mm=width_mm,
        length_mm=round(length_mm, 6),
        efficiency=area_mm2 / (length_mm * width_mm),
        lower_bound_mm=area_mm2 / width_mm,
        box_rows_mm=round(
            box_rows_mm(((b.depth_mm, b.breadth_mm) for b in laid), float(width_mm), gap_mm), 6
        ),
        placements=tuple(placed),
    )


def lines_less(lines: Iterable[TicketLine], placed: Counter[LaidKey]) -> tuple[TicketLine, ...]:
    """The lines without pieces that are placed already."""
    less = (
        replace(
            line,
            **{
                side: getattr(line, side) - placed[line.block, line.size, side]
                for side in ("left", "right", "single")
            },
        )
        for line in lines
    )
    return tuple(line for line in less if line.left or line.right or line.single)
