"""A whole lay as DXF (release 2010) at full size, for plotters and cutters."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from production.documents.full_drawing import (
    HEAD_MM,
    TEST_SQUARE_MM,
    TEST_SQUARE_WORDS,
    words_of,
)
from production.documents.paper import Target, save
from production.planning.cutting.full_lay import FullBlock, FullLay, arrow_lines

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

#: Layers with their colors of the AutoCAD Color Index, quoted from memory.
LAYERS = {
    "CLOTH": 8,
    "CUT": 7,
    "STITCH": 3,
    "NOTCH": 1,
    "MARK": 4,
    "GRAIN": 5,
    "CHECK": 6,
    "TEXT": 2,
}
TITLE_MM = 20.0


def write(target: Target, full: FullLay) -> None:
    """Millimetres, x along the spread; each block has one closed polyline on CUT."""
    import ezdxf
    from ezdxf import units

    drawing = ezdxf.new("R2010", units=units.MM)  # type: ignore[attr-defined]
    drawing.linetypes.add("STITCHES", [9.0, 6.0, -3.0])
    for name, color in LAYERS.items():
        drawing.layers.add(name, color=color)
    drawing.layers.get("STITCH").dxf.linetype = "STITCHES"
    space = drawing.modelspace()
    _add_cloth(space, full)
    for block in full.blocks:
        _add_block(space, block, full.two_way)
    text = io.StringIO()
    drawing.write(text)
    save(target, text.getvalue().encode())


def _add_cloth(space: Modelspace, full: FullLay) -> None:
    length, width, end = full.lay.length_mm, full.lay.usable_width_mm, full.end_mm
    on_cloth = {"layer": "CLOTH"}
    corners = [(-end, 0), (length + end, 0), (length + end, width), (-end, width)]
    space.add_lwpolyline(corners, close=True, dxfattribs=on_cloth)
    for x in (0, length):
        space.add_line((x, 0), (x, width), dxfattribs=on_cloth)
    _add_test_square(space, width + 15)
    nap = arrow_lines((120, width + 40), (320, width + 40), 20, both=full.two_way)
    for line in nap:
        space.add_lwpolyline(line, dxfattribs={"layer": "GRAIN"})
    space.add_text(full.title, height=TITLE_MM, dxfattribs={"layer": "TEXT"}).set_placement(
        (360, width + 30)
    )


def _add_test_square(space: Modelspace, low: float) -> None:
    side, middle = TEST_SQUARE_MM, low + TEST_SQUARE_MM / 2
    corners = [(0, low), (side, low), (side, low + side), (0, low + side)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "CHECK"})
    words = space.add_text(TEST_SQUARE_WORDS, height=3.5, dxfattribs={"layer": "TEXT"})
    words.set_placement((5, middle))


def _add_block(space: Modelspace, block: FullBlock, two_way: bool) -> None:
    space.add_lwpolyline(block.cut, close=True, dxfattribs={"layer": "CUT"})
    space.add_lwpolyline(block.stitch, close=True, dxfattribs={"layer": "STITCH"})
    for start, end in block.notches:
        space.add_line(start, end, dxfattribs={"layer": "NOTCH"})
    for line in block.marks:
        if len(line) > 1:
            space.add_lwpolyline(line, dxfattribs={"layer": "MARK"})
        else:
            space.add_point(line[0], dxfattribs={"layer": "MARK"})
    for line in arrow_lines(*block.grain, HEAD_MM, both=two_way):
        space.add_lwpolyline(line, dxfattribs={"layer": "GRAIN"})
    _add_words(space, block)


def _add_words(space: Modelspace, block: FullBlock) -> None:
    from ezdxf.enums import TextEntityAlignment

    label = words_of(block)
    for number, words in enumerate(label.lines):
        aside = ((len(label.lines) - 1) / 2 - number) * label.size_mm * 1.1
        x, y = label.at
        at = (x - aside, y) if label.upright else (x, y + aside)
        text = space.add_text(
            words,
            height=label.size_mm * 0.7,
            rotation=90 if label.upright else 0,
            dxfattribs={"layer": "TEXT"},
        )
        text.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)
