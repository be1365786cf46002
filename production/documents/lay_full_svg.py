"""A whole lay as SVG at full size: its user units are true millimetres."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from production.documents.full_drawing import (
    HEAD_MM,
    TEST_SQUARE_MM,
    TEST_SQUARE_WORDS,
    words_of,
)
from production.documents.paper import Target, save
from production.planning.cutting.full_lay import EDGE_MM, FullBlock, FullLay, arrow_lines
from production.planning.snapshot import Line, Point

#: Above the lay, for the test square and the words.
ABOVE_MM = TEST_SQUARE_MM + 30.0


def write(target: Target, full: FullLay) -> None:
    save(target, full_svg(full).encode())


def full_svg(full: FullLay) -> str:
    """Groups by what a line is for: cloth, cut, stitch, notch, mark, grain, the test square as
    check, and text."""
    width = full.spread_mm + 2 * EDGE_MM
    height = full.lay.usable_width_mm + 2 * EDGE_MM + ABOVE_MM
    page = _Page(full)
    groups = {
        "cloth": page.cloth(),
        "cut": (page.path(b.cut, closed=True) for b in full.blocks),
        "stitch": (page.path(b.stitch, closed=True) for b in full.blocks),
        "notch": (page.path(stroke) for b in full.blocks for stroke in b.notches),
        "mark": (page.mark(line) for b in full.blocks for line in b.marks),
        "grain": page.arrows(),
        "check": page.test_square(),
        "text": page.texts(),
    }
    parts = [f'<g id="{name}" {LOOKS[name]}>{"".join(lines)}</g>' for name, lines in groups.items()]
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" '
        f'viewBox="0 0 {width:.3f} {height:.3f}"><title>{escape(full.title)}</title>'
        f"{''.join(parts)}</svg>\n"
    )


_LINE = 'fill="none" stroke="black"'
LOOKS = {
    "cloth": f'{_LINE} stroke-width="0.6"',
    "cut": f'{_LINE} stroke-width="0.6"',
    "stitch": f'{_LINE} stroke-width="0.3" stroke-dasharray="6 3"',
    "notch": f'{_LINE} stroke-width="0.6"',
    "mark": f'{_LINE} stroke-width="0.3" stroke-dasharray="1 3"',
    "grain": f'{_LINE} stroke-width="0.3"',
    "check": f'{_LINE} stroke-width="0.3"',
    "text": 'font-family="sans-serif" text-anchor="middle" dominant-baseline="central"',
}


class _Page:
    """Turns the lay's frame into the page's, where y runs down."""

    def __init__(self, full: FullLay) -> None:
        self.full = full
        self.low = full.lay.usable_width_mm + EDGE_MM + ABOVE_MM

    def at(self, point: Point) -> Point:
        return point[0] + EDGE_MM + self.full.end_mm, self.low - point[1]

    def path(self, line: Line, *, closed: bool = False) -> str:
        points = "L".join(f"{x:.3f} {y:.3f}" for x, y in map(self.at, line))
        return f'<path d="M{points}{"Z" if closed else ""}"/>'

    def cloth(self) -> Iterator[str]:
        length, width, end = (
            self.full.lay.length_mm,
            self.full.lay.usable_width_mm,
            self.full.end_mm,
        )
        ring = ((-end, 0.0), (length + end, 0.0), (length + end, width), (-end, width))
        yield self.path(ring, closed=True)
        for x in (0.0, length):
            yield self.path(((x, 0.0), (x, width)))

    def mark(self, line: Line) -> str:
        if len(line) > 1:
            return self.path(line)
        ((x, y),) = line
        return self.path(((x - 4, y), (x + 4, y))) + self.path(((x, y - 4), (x, y + 4)))

    def test_square(self) -> Iterator[str]:
        low = self.full.lay.usable_width_mm + 15.0
        high = low + TEST_SQUARE_MM
        ring = ((0.0, low), (TEST_SQUARE_MM, low), (TEST_SQUARE_MM, high), (0.0, high))
        yield self.path(ring, closed=True)

    def arrows(self) -> Iterator[str]:
        two_way, high = self.full.two_way, self.full.lay.usable_width_mm + 30
        for line in arrow_lines((120.0, high), (320.0, high), 16, both=two_way):
            yield self.path(line)
        for block in self.full.blocks:
            for line in arrow_lines(*block.grain, HEAD_MM, both=two_way):
                yield self.path(line)

    def texts(self) -> Iterator[str]:
        x, y = self.at((360.0, self.full.lay.usable_width_mm + 30))
        nap = "grain, nap either way" if self.full.two_way else "grain and nap run this way"
        yield (
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="18" text-anchor="start">'
            f"{escape(nap)}; {escape(self.full.title)}</text>"
        )
        x, y = self.at((TEST_SQUARE_MM / 2, self.full.lay.usable_width_mm + 65))
        yield f'<text x="{x:.1f}" y="{y:.1f}" font-size="4.5">{TEST_SQUARE_WORDS}</text>'
        for block in self.full.blocks:
            yield from self._words(block)

    def _words(self, block: FullBlock) -> Iterator[str]:
        label = words_of(block)
        x, y = self.at(label.at)
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if label.upright else ""
        first = y - label.size_mm * (len(label.lines) - 1) / 2
        for number, line in enumerate(label.lines):
            yield (
                f'<text x="{x:.1f}" y="{first + number * label.size_mm:.1f}" '
                f'font-size="{label.size_mm:.1f}"{turn}>{escape(line)}</text>'
            )
