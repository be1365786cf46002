"""A lay drawn as SVG: cut outlines on the cloth as it lies on the table, seen from above."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from html import escape

from production.planning.cutting.lays import placed_outline
from production.planning.lengths import IMPERIAL, MM_PER_YARD, cloth_length
from production.planning.plan import Lay, Placement, PlannedBlock
from production.planning.snapshot import Line, Point

INK, PAPER, CHALK, FAULT = "#2b2722", "#fbf8f1", "#2f5d8a", "#9c2a1f"
SIDES = {"left": "L", "right": "R", "single": ""}
MARGIN_MM = 90.0
LARGEST_LABEL_MM, SMALLEST_LABEL_MM = 70.0, 20.0
#: Where a label does not fit, smaller ones are tried.
SHRINKING = (1.0, 0.85, 0.7, 0.55)
LETTER_WIDTH = 0.62  # of the letter's height; common for a sans-serif face, no source

Outlines = Mapping[tuple[str, str], Line]


def outlines_of(blocks: tuple[PlannedBlock, ...]) -> Outlines:
    return {(block.block, block.size): block.cut_outline_mm for block in blocks}


def lay_svg(lay: Lay, outlines: Outlines, *, hex_color: str, one_way: bool, unit: str) -> str:
    """The lay with x along the spread to the right. Right blocks are hatched, since they are the
    left ones turned over; the block of placement n bears data-at="n". Raises KeyError for a
    placement without an outline."""
    width, height = lay.length_mm + 2 * MARGIN_MM, lay.usable_width_mm + 2 * MARGIN_MM
    name = escape(lay.lay)
    said = (
        f"Lay {lay.lay}: {len(lay.placements)} blocks on {cloth_length(lay.length_mm, unit)} "
        f"by {cloth_length(lay.usable_width_mm, unit)}"
    )
    blocks = enumerate(lay.placements)
    return "".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'role="img" aria-label="{escape(said)}" font-family="sans-serif" class="lay-svg">',
            f"<defs>{_hatch(f'hatch-{name}', CHALK, 26, 45)}",
            f"{_hatch(f'fault-{name}', FAULT, 34, -45)}</defs>",
            f'<rect x="{MARGIN_MM}" y="{MARGIN_MM}" width="{lay.length_mm:.1f}" '
            f'height="{lay.usable_width_mm}" fill="{escape(hex_color)}" stroke="{INK}" '
            'stroke-width="4" class="lay-cloth"/>',
            _fold(lay) if lay.mode == "folded" else "",
            *(_block(at, place, outlines, lay, f"hatch-{name}") for at, place in blocks),
            _ruler(lay, unit),
            _nap(lay) if one_way else "",
            "</svg>",
        )
    )


def _hatch(name: str, color: str, step: int, turn: int) -> str:
    return (
        f'<pattern id="{name}" width="{step}" height="{step}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({turn})"><path d="M0 0V{step}" stroke="{color}" '
        f'stroke-width="{step / 5:.0f}" stroke-opacity="0.45"/></pattern>'
    )


def _fold(lay: Lay) -> str:
    """The far edge of a folded lay is its fold."""
    x, y = MARGIN_MM + lay.length_mm, MARGIN_MM
    return (
        f'<path d="M{MARGIN_MM} {y - 9}H{x:.1f}" stroke="{INK}" stroke-width="5" '
        f'stroke-dasharray="40 14"/><text x="{x:.1f}" y="{y - 22}" font-size="52" '
        f'text-anchor="end" fill="{INK}">fold</text>'
    )


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of words centered at a point; `upright` ones read from below upwards."""

    lines: tuple[str, ...]
    at: Point
    size_mm: float
    upright: bool = False


def fitted_label(
    block: str,
    rest: str,
    ring: Line,
    *,
    largest_mm: float = LARGEST_LABEL_MM,
    smallest_mm: float = SMALLEST_LABEL_MM,
) -> Label:
    """The largest label that fits into a closed ring: level or upright, on one line or on two."""
    best = Label((f"{block} {rest}",), ring[0], 0.0)
    for upright in (False, True):
        turned = tuple((y, x) for x, y in ring) if upright else ring
        for (x, y), room, clear in _places(turned):
            for lines in ((f"{block} {rest}",), (block, rest)):
                longest = max(len(line) for line in lines) * LETTER_WIDTH
                most = min(largest_mm, room * 0.9 / longest, clear * 0.8 / len(lines))
                for size in (most * part for part in SHRINKING):
                    if size <= best.size_mm:
                        break
                    if _holds(turned, (x, y), lines, size):
                        best = Label(lines, (y, x) if upright else (x, y), size, upright)
                        break
    return replace(best, size_mm=max(best.size_mm, smallest_mm))


def _holds(ring: Line, middle: Point, lines: tuple[str, ...], size_mm: float) -> bool:
    """Whether a ring is as broad as the lines at the upper and the lower edge of each: a block that
    tapers has less room on one side of its middle than on the other."""
    x, y = middle
    half = max(map(len, lines)) * LETTER_WIDTH * size_mm / 2
    line_ys = (y + (number - (len(lines) - 1) / 2) * size_mm for number in range(len(lines)))
    return all(
        any(a <= x - half and x + half <= b for a, b in _inside(ring, line_y + aside))
        for line_y in line_ys
        for aside in (-0.4 * size_mm, 0.4 * size_mm)
    )


def _places(ring: Line) -> Iterable[tuple[Point, float, float]]:
    """Middles of the level lines inside a ring, each with the line's length and with the room
    across it, the same above and below."""
    low, high = min(y for _, y in ring), max(y for _, y in ring)
    across = tuple((y, x) for x, y in ring)
    for tenth in (5, 4, 6, 3, 7):
        y = low + (high - low) * tenth / 10
        for start, end in _inside(ring, y):
            x = (start + end) / 2
            clear = max(
                (2 * min(y - below, above - y) for below, above in _inside(across, x)), default=0.0
            )
            yield (x, y), end - start, clear


def _inside(ring: Line, y: float) -> Iterable[tuple[float, float]]:
    """From where to where a level line at height y runs inside a closed ring."""
    crossings = sorted(
        x1 + (y - y1) * (x2 - x1) / (y2 - y1)
        for (x1, y1), (x2, y2) in zip(ring, (*ring[1:], ring[0]), strict=True)
        if (y1 <= y) != (y2 <= y)
    )
    return zip(crossings[::2], crossings[1::2], strict=True)


def _block(at: int, placement: Placement, outlines: Outlines, lay: Lay, hatch: str) -> str:
    # Upside down on the screen is upside down on the cloth: SVG counts y downwards.
    ring = tuple(
        (x + MARGIN_MM, lay.usable_width_mm - y + MARGIN_MM)
        for x, y in placed_outline(placement, outlines[placement.block, placement.size])
    )
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in ring) + "Z"
    rest = f"{placement.size} {SIDES[placement.side]}".strip()
    title = f"{placement.block} size {placement.size}, {placement.side}"
    over = f'<path d="{path}" fill="url(#{hatch})"/>' if placement.mirrored else ""
    return (
        f'<g class="lay-block" data-at="{at}"><title>{escape(title)}</title>'
        f'<path d="{path}" fill="{PAPER}" stroke="{INK}" stroke-width="3"/>'
        f"{over}{_label(fitted_label(placement.block, rest, ring))}</g>"
    )


def _label(label: Label) -> str:
    (x, y), size = label.at, label.size_mm
    turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if label.upright else ""
    first = y - size * (len(label.lines) - 1) / 2
    return "".join(
        f'<text x="{x:.1f}" y="{first + number * size:.1f}" font-size="{size:.0f}" '
        f'text-anchor="middle" dominant-baseline="central" fill="{INK}" stroke="{PAPER}" '
        f'stroke-width="{size / 5:.0f}" paint-order="stroke"{turn}>{escape(line)}</text>'
        for number, line in enumerate(label.lines)
    )


def _ruler(lay: Lay, unit: str) -> str:
    step = float(MM_PER_YARD) if unit == IMPERIAL else 1000.0
    y = lay.usable_width_mm + MARGIN_MM
    ticks = "".join(
        f'<path d="M{MARGIN_MM + n * step:.1f} {y}v24" stroke="{INK}" stroke-width="4"/>'
        f'<text x="{MARGIN_MM + n * step:.1f}" y="{y + 76}" font-size="52" text-anchor="middle" '
        f'fill="{INK}">{n}</text>'
        for n in range(int(lay.length_mm // step) + 1)
    )
    return f"<g>{ticks}</g>"


def _nap(lay: Lay) -> str:
    y = MARGIN_MM / 2
    arrow_mm = max(min(420.0, lay.length_mm - 70), 60.0)  # a short lay has room for a short arrow
    return (
        f'<path d="M{MARGIN_MM} {y}h{arrow_mm:.0f}m-44 -24l44 24l-44 24" fill="none" '
        f'stroke="{CHALK}" stroke-width="8"/>'
        f'<text x="{MARGIN_MM + arrow_mm + 30:.0f}" y="{y}" font-size="52" '
        f'dominant-baseline="central" fill="{CHALK}">nap</text>'
    )
