"""A bolt drawn to scale as SVG: what is cut, planned and free, with its flaws."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from production.models import Flaw, LayPly
from production.planning.lengths import IMPERIAL, MM_PER_YARD, cloth_length
from production.stock.cloth_queries import LotStory

INK, PAPER, CHALK, BAD = "#26221c", "#fffdf8", "#1f5f8b", "#9c2a1f"
MARGIN_MM = 90.0
LABEL_MM, LETTER_WIDTH = 90.0, 0.62
#: A flaw is drawn no smaller than this, or it would not be seen.
SMALLEST_MARK_MM = 60.0


def bolt_svg(story: LotStory, unit: str) -> str:
    """The bolt with its outer end to the left, seen with the right side up."""
    lot = story.lot
    width, height = story.end_mm + 2 * MARGIN_MM, lot.usable_width_mm + 3 * MARGIN_MM
    said = (
        f"{lot}: {cloth_length(story.end_mm, unit)} by {lot.usable_width_mm} mm, "
        f"{len(lot.flaws.all())} flaws, {len(story.plies)} plies"
    )
    return "".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'role="img" aria-label="{escape(said)}" font-family="sans-serif" class="bolt-svg">',
            '<defs><pattern id="cut-away" width="60" height="60" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><path d="M0 0V60" stroke="{INK}" stroke-width="8" '
            'stroke-opacity="0.35"/></pattern></defs>',
            _stretch(0, story.end_mm, lot.usable_width_mm, lot.fabric_color.hex_color),
            *(_ply(ply, lot.usable_width_mm) for ply in story.plies),
            *(_flaw(number, flaw, lot.usable_width_mm) for number, flaw in _numbered(story)),
            _ruler(story.end_mm, lot.usable_width_mm, unit),
            "</svg>",
        )
    )


def _numbered(story: LotStory) -> Iterable[tuple[int, Flaw]]:
    return enumerate(story.lot.flaws.all(), start=1)


def _stretch(start_mm: int, end_mm: int, width_mm: int, fill: str) -> str:
    return (
        f'<rect x="{MARGIN_MM + start_mm:.0f}" y="{MARGIN_MM:.0f}" width="{end_mm - start_mm}" '
        f'height="{width_mm}" fill="{escape(fill)}" stroke="{INK}" stroke-width="6"/>'
    )


def _ply(ply: LayPly, width_mm: int) -> str:
    assert ply.start_mm is not None
    end_mm = ply.start_mm + ply.takes_mm
    words = f"{ply.lay.code}, ply {ply.number}"
    cut = _stretch(ply.start_mm, end_mm, width_mm, "url(#cut-away)") if ply.cut_at else ""
    x, y = MARGIN_MM + ply.start_mm + ply.takes_mm / 2, MARGIN_MM + width_mm / 2
    short = f"{ply.lay.code.rpartition('-')[2]} / {ply.number}"
    size = min(LABEL_MM * 1.4, ply.takes_mm * 0.9 / (len(short) * LETTER_WIDTH))
    return (
        f"<g><title>{escape(words)}, {'cut' if ply.cut_at else 'planned'}</title>"
        f"{_stretch(ply.start_mm, end_mm, width_mm, PAPER)}{cut}"
        f'<text x="{x:.0f}" y="{y:.0f}" font-size="{size:.0f}" text-anchor="middle" '
        f'dominant-baseline="central" fill="{INK}" stroke="{PAPER}" stroke-width="{size / 4:.0f}" '
        f'paint-order="stroke">{escape(short)}</text></g>'
    )


def _flaw(number: int, flaw: Flaw, width_mm: int) -> str:
    length, breadth = (max(mm, SMALLEST_MARK_MM) for mm in (flaw.length_mm, flaw.width_mm))
    x = MARGIN_MM + flaw.at_mm + flaw.length_mm / 2 - length / 2
    # Positions across count from the lower selvedge, SVG counts downwards.
    middle = MARGIN_MM + width_mm - flaw.across_mm - flaw.width_mm / 2
    y = middle - breadth / 2
    words = f"Flaw {number}: {flaw.words or ('hole' if flaw.is_hole else 'flaw')}"
    return (
        f"<g><title>{escape(words)}</title>"
        f'<rect x="{x:.0f}" y="{y:.0f}" width="{length:.0f}" height="{breadth:.0f}" fill="{PAPER}" '
        f'stroke="{BAD}" stroke-width="16"/>'
        f'<text x="{x + length + 24:.0f}" y="{middle:.0f}" font-size="{LABEL_MM:.0f}" '
        f'dominant-baseline="central" fill="{BAD}" stroke="{PAPER}" stroke-width="24" '
        f'paint-order="stroke" font-weight="700">{number}</text></g>'
    )


def _ruler(end_mm: int, width_mm: int, unit: str) -> str:
    step = float(MM_PER_YARD) if unit == IMPERIAL else 1000.0
    y = MARGIN_MM + width_mm
    return "".join(
        f'<path d="M{MARGIN_MM + number * step:.0f} {y:.0f}v36" stroke="{INK}" stroke-width="6"/>'
        f'<text x="{MARGIN_MM + number * step:.0f}" y="{y + 120:.0f}" font-size="{LABEL_MM:.0f}" '
        f'text-anchor="middle" fill="{INK}">{number}</text>'
        for number in range(int(end_mm // step) + 1)
    )
