"""A block ready to cut, drawn upright: cut edge, stitching line, notches, marks, grain arrow."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape

from patterns.geometry.blocks import Block
from patterns.geometry.outline import Line, Point, bounds

INK = "#23211d"
CHALK = "#2f5d8a"
MARGIN_MM = 12.0


def upright(points: Sequence[Point]) -> Line:
    """Lay frame (grain along +x) to a page with the garment upright, y down."""
    return tuple((y, x) for x, y in points)


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def block_svg(block: Block, title: str) -> str:
    """Standalone SVG in millimetres, by presentation attributes only."""
    cut = upright(block.cut_outline_mm)
    left, top, right, bottom = bounds(cut)
    # The drawing is small on the page: the lettering grows with the block.
    letter = max(right - left, bottom - top) / 14
    box = (
        left - MARGIN_MM,
        top - MARGIN_MM,
        right - left + 2 * MARGIN_MM,
        bottom - top + 2 * MARGIN_MM,
    )
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" class="block-drawing"'
        f' viewBox="{box[0]:.1f} {box[1]:.1f} {box[2]:.1f} {box[3]:.1f}">',
        f"<title>{escape(title)}</title>",
        f'<polygon points="{_points(cut)}" fill="#fffdf7" stroke="{INK}" stroke-width="2.5"'
        ' vector-effect="non-scaling-stroke"/>',
        f'<polygon points="{_points(upright(block.stitch_outline_mm))}" fill="none"'
        f' stroke="{CHALK}" stroke-width="1.2" stroke-dasharray="5 4"'
        ' vector-effect="non-scaling-stroke"/>',
    ]
    for notch in block.notches:
        parts.append(
            f'<polyline points="{_points(upright((notch.stitch_point, notch.cut_point)))}"'
            f' stroke="{INK}" stroke-width="{1.5 * notch.count + 1:.1f}" fill="none"'
            ' vector-effect="non-scaling-stroke"/>'
        )
    for _, line in block.marks:
        parts.append(
            f'<polyline points="{_points(upright(line))}" stroke="{CHALK}" stroke-width="1"'
            ' stroke-dasharray="10 3 2 3" fill="none" vector-effect="non-scaling-stroke"/>'
        )
    parts.extend(_grain_arrow(block, letter))
    center_x, center_y = (left + right) / 2, (top + bottom) / 2
    parts.append(
        f'<text x="{center_x:.1f}" y="{center_y:.1f}" font-size="{letter:.1f}" fill="{INK}"'
        f' stroke="#fffdf7" stroke-width="{letter / 5:.1f}" paint-order="stroke"'
        f' font-family="sans-serif" text-anchor="middle">{escape(block.code)}</text></svg>'
    )
    return "".join(parts)


def _grain_arrow(block: Block, letter: float) -> list[str]:
    (x0, y0), (x1, y1) = upright(block.grainline)
    half, tall = letter / 4, letter / 2
    tip = ((x1, y1), (x1 - half, y1 - tall), (x1 + half, y1 - tall))
    return [
        f'<line x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}" stroke="{INK}"'
        ' stroke-width="1.5" vector-effect="non-scaling-stroke"/>',
        f'<polygon points="{_points(tip)}" fill="{INK}"/>',
    ]
