"""All lays of one way to cut a ticket in one small picture, drawn to one scale."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from production.cutting.lay_svg import INK, PAPER, Outlines
from production.planning.cutting.lays import placed_outline
from production.planning.lengths import cloth_length
from production.planning.plan import Lay, Placement

LABEL_MM, GAP_MM = 240, 120


def picture_size_mm(lays: Sequence[Lay], width_mm: int) -> tuple[int, int]:
    """Width and height of the picture, so that a page can leave room for it."""
    return width_mm, sum(LABEL_MM + lay.usable_width_mm + GAP_MM for lay in lays)


def small_picture(
    lays: Sequence[Lay], outlines: Outlines, *, hex_color: str, width_mm: int, unit: str
) -> str:
    """SVG of the lays one below the other, x along the spread; `width_mm` is the width of the
    picture, the same for all that are compared."""
    parts: list[str] = []
    top = 0
    for lay in lays:
        parts.append(_label(lay, top, unit))
        parts.append(_cloth(lay, outlines, top + LABEL_MM, hex_color))
        top += LABEL_MM + lay.usable_width_mm + GAP_MM
    width_mm, height_mm = picture_size_mm(lays, width_mm)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_mm} {height_mm}" '
        f'font-family="sans-serif">{"".join(parts)}</svg>'
    )


def _label(lay: Lay, top: float, unit: str) -> str:
    number = lay.lay.rpartition("-")[2]
    plies = f"{lay.plies} {'ply' if lay.plies == 1 else 'plies'}"
    words = f"{number}: {plies}, {cloth_length(lay.length_mm, unit)}"
    return (
        f'<text x="10" y="{top + LABEL_MM - 60:.0f}" font-size="200" fill="{INK}">'
        f"{escape(words)}</text>"
    )


def _cloth(lay: Lay, outlines: Outlines, top: float, hex_color: str) -> str:
    blocks = "".join(_block(place, outlines, lay, top) for place in lay.placements)
    return (
        f'<rect x="0" y="{top:.0f}" width="{lay.length_mm:.0f}" height="{lay.usable_width_mm}" '
        f'fill="{escape(hex_color)}"/><g fill="{PAPER}" stroke="{INK}" stroke-width="8">'
        f"{blocks}</g>"
    )


def _block(place: Placement, outlines: Outlines, lay: Lay, top: float) -> str:
    ring = placed_outline(place, outlines[place.block, place.size])
    bottom = top + lay.usable_width_mm
    return '<path d="M' + "L".join(f"{x:.0f} {bottom - y:.0f}" for x, y in ring) + 'Z"/>'
