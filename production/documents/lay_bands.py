"""The lays and the block drawings of a cut ticket."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.drawings import block_extent, block_scale, draw_block
from production.documents.lay_diagrams import (
    GOOD_SCALES,
    MOST_STRIPS,
    LayDiagram,
    draw_lay,
    lay_diagram,
)
from production.documents.paper import (
    LEAST_SIZE,
    Band,
    counted,
    put_text,
    text_width,
    tick_box,
    wrapped,
)
from production.documents.ticket_view import WIDTH, TicketView, Words, heading_band, rowed
from production.errors import DocumentError
from production.planning.cutting.lays import FOLDED, cloth_width_mm, laid_out, spread_count
from production.planning.lengths import small_length, table_length
from production.planning.plan import Lay
from production.planning.snapshot import BlockShape

INFO_WIDTH = 58 * MM
BOXES_HEIGHT, ABOVE_LARGE, ABOVE_LINE = 36.0, 18.0, 10.0
FACT_GAP, KEY_LINE = 3.2, 9.0
GAP = 7 * MM
#: A diagram higher than this leaves no room for its key and a heading.
TALLEST = 140 * MM

#: How plies are laid, by mode and by whether the nap may run either way (common practice, no
#: source).
SPREAD_WORDS = {
    ("face_up", False): "face up: every ply right side up, all naps the same way",
    ("face_up", True): "face up: every ply right side up",
    ("face_to_face", False): (
        "face to face: first ply right side up, next one right side down on it, and so on; cut off "
        "each ply and start again from the same end, so that all naps run the same way"
    ),
    ("face_to_face", True): (
        "face to face: first ply right side up, next one right side down on it, and so on; the "
        "cloth may go to and fro"
    ),
    ("folded", False): (
        "folded lengthwise, right side inside: fold along the far edge, selvedges at the near "
        "edge, all naps the same way"
    ),
    ("folded", True): (
        "folded lengthwise, right side inside: fold along the far edge, selvedges at the near edge"
    ),
}
NOTCHES = "mark every notch before a block leaves its ply"
NARROW = ", narrower than the fabric: spread it from the cloth named for it"
TICKS = ("spread", "plies counted", "cut", "bundled")

LARGEST_BLOCK = (54 * MM, 42 * MM)
CAPTION, BLOCK_GAP = 22.0, 4 * MM


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a lay says: its large words, a note on how it was laid out, and the rest."""

    large: tuple[Words, ...]
    note: str
    small: tuple[str, ...]

    def beside(self) -> list[Words]:
        """In lines for the column left of the drawing."""
        room = INFO_WIDTH - 3 * MM
        note = wrapped(self.note, 8, room, bold=True) if self.note else []
        return [
            *self.large,
            *((line, 8, True) for line in note),
            *((line, 8, False) for words in self.small for line in wrapped(words, 8, room)),
        ]

    def above(self) -> list[Words]:
        """In lines for the full width, below the large words."""
        note = wrapped(self.note, 8, WIDTH, bold=True) if self.note else []
        small = wrapped("; ".join(self.small), 8, WIDTH)
        return [*((line, 8, True) for line in note), *((line, 8, False) for line in small)]


@dataclass(frozen=True, slots=True)
class _LayCell:
    """A lay with its facts beside or above the drawing; short lays share a row."""

    diagram: LayDiagram
    facts: _Facts
    beside: bool

    @property
    def width(self) -> float:
        return self.diagram.width + INFO_WIDTH if self.beside else WIDTH

    @property
    def key_lines(self) -> list[str]:
        entries = (f"{at} = {block}" for at, block in enumerate(self.diagram.key, 1))
        words = "; ".join(entry.replace(" ", "\xa0") for entry in entries)
        room = self.diagram.width if self.beside else WIDTH
        return wrapped(words, LEAST_SIZE, room) if words else []

    @property
    def info_height(self) -> float:
        if self.beside:
            return sum(size + FACT_GAP for _, size, _ in self.facts.beside()) + BOXES_HEIGHT
        return ABOVE_LARGE + ABOVE_LINE * len(self.facts.above())

    @property
    def height(self) -> float:
        drawn = self.diagram.height + KEY_LINE * len(self.key_lines) + 4
        return max(drawn, self.info_height) if self.beside else drawn + self.info_height


def lay_bands(view: TicketView) -> list[Band]:
    """The lays in order, each with its drawing; none for a ticket without lays."""
    cells = [_lay_cell(view, lay) for lay in view.ticket.lays]
    if not cells:
        return []
    gap = small_length(view.snapshot.workroom.block_gap_mm, view.unit)
    note = (
        f"{counted(len(cells), 'lay')}; each block names its code, size and hand (L left, R "
        f"right), right ones are shaded; blocks lie {gap} or more apart; {NOTCHES}"
    )
    rows = rowed(cells, [cell.width + GAP for cell in cells])
    return [heading_band("Lay and cut", note), *(_lay_row(view, row) for row in rows)]


def _lay_cell(view: TicketView, lay: Lay) -> _LayCell:
    """Its words beside the drawing, or above it when the spread is too long for that."""
    end_mm, shapes = view.fabric.end_allowance_mm, view.shapes
    beside = lay_diagram(lay, end_mm, shapes, WIDTH - INFO_WIDTH, TALLEST, most_strips=1)
    if beside and beside.scale <= GOOD_SCALES[0]:
        return _LayCell(beside, _lay_facts(view, beside), beside=True)
    above = lay_diagram(lay, end_mm, shapes, WIDTH, TALLEST, most_strips=MOST_STRIPS)
    if not above:
        raise DocumentError(
            f"Lay {lay.lay} is {lay.length_mm / 1000:.1f} m long and does not fit on a page: "
            "make the workroom's table shorter and plan the run again."
        )
    return _LayCell(above, _lay_facts(view, above), beside=False)


def _lay_row(view: TicketView, row: Sequence[_LayCell]) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        for cell in row:
            _draw_cell(canvas, view, cell, left, top)
            left += cell.width + GAP

    return Band(max(cell.height for cell in row) + 2 * MM, draw)


def _draw_cell(canvas: Canvas, view: TicketView, cell: _LayCell, left: float, top: float) -> None:
    if cell.beside:
        _draw_facts_beside(canvas, cell.facts.beside(), left, top)
        left += INFO_WIDTH
    else:
        _draw_facts_above(canvas, cell.facts, left, top)
        top -= cell.info_height
    draw_lay(canvas, cell.diagram, left, top - 2, two_way=view.two_way, unit=view.unit)
    top -= cell.diagram.height + 2
    for number, line in enumerate(cell.key_lines, 1):
        put_text(canvas, left, top - KEY_LINE * number, line, LEAST_SIZE)


def _lay_facts(view: TicketView, diagram: LayDiagram) -> _Facts:
    lay, unit = diagram.lay, view.unit
    note = view.lay_notes.get(lay.lay, "")
    ends = small_length(diagram.end_mm, unit)
    width = table_length(lay.usable_width_mm, unit, up=False)
    # The two halves of a folded cloth of odd width are 1 mm less than it.
    is_narrow = cloth_width_mm(lay) < view.fabric.usable_width_mm - 1
    pieces = sum(laid_out((lay,)).values())
    return _Facts(
        large=(
            (lay.lay, 11, True),
            (_plies_in_words(lay), 13, True),
            (f"Spread {table_length(diagram.spread_mm, unit)} long", 11, True),
        ),
        note=note[:1].upper() + note[1:],
        small=(
            SPREAD_WORDS[lay.mode, view.two_way],
            f"lay {table_length(lay.length_mm, unit)} and {ends} at each end",
            f"{'folded' if lay.mode == FOLDED else 'usable'} width {width}"
            + (NARROW if is_narrow else ""),
            f"{counted(len(lay.placements), 'piece')} a ply, {pieces} in all",
            f"efficiency {100 * lay.efficiency:.0f} %, drawn 1:{diagram.scale}",
        ),
    )


def _plies_in_words(lay: Lay) -> str:
    plies = counted(lay.plies, "ply", "plies")
    if lay.mode != FOLDED:
        return plies
    return f"{plies} = {counted(spread_count(lay), 'length')} folded"


def _draw_facts_beside(canvas: Canvas, facts: Sequence[Words], left: float, top: float) -> None:
    for words, size, bold in facts:
        top -= size + FACT_GAP
        put_text(canvas, left, top, words, size, bold=bold, width=INFO_WIDTH - 3 * MM)
    for number, words in enumerate(TICKS):
        x, y = left + (number % 2) * 26 * MM, top - 17 - (number // 2) * 14
        tick_box(canvas, x, y - 1.5)
        put_text(canvas, x + 4.4 * MM, y, words, 8)


def _draw_facts_above(canvas: Canvas, facts: _Facts, left: float, top: float) -> None:
    x, right = left, left + WIDTH
    for words, size, _ in facts.large:
        x += put_text(canvas, x, top - 14, words, size, bold=True) + 6 * MM
    for words in reversed(TICKS):
        right -= put_text(canvas, right, top - 14, words, 8, align="right") + 4.4 * MM
        tick_box(canvas, right, top - 15.5)
        right -= 5 * MM
    for number, (words, size, bold) in enumerate(facts.above(), 1):
        y = top - ABOVE_LARGE + 2 - ABOVE_LINE * number
        put_text(canvas, left, y, words, size, bold=bold)


@dataclass(frozen=True, slots=True)
class _Drawing:
    """A block in the one size that is drawn, with its two lines of caption."""

    shape: BlockShape
    scale: int
    title: str
    note: str

    @property
    def width(self) -> float:
        words = max(text_width(self.title, 8, bold=True), text_width(self.note, LEAST_SIZE))
        return max(block_extent(self.shape, self.scale)[0], min(words, 80 * MM))

    @property
    def height(self) -> float:
        return block_extent(self.shape, self.scale)[1] + CAPTION


def block_bands(view: TicketView) -> list[Band]:
    """Each block once, in the middle one of the sizes that are cut, all to one scale."""
    shapes = _middle_shapes(view)
    scale = block_scale(shapes, *LARGEST_BLOCK)
    drawings = [_drawing(view, shape, scale) for shape in shapes]
    drawings.sort(key=lambda drawing: -drawing.height)  # rows of like heights waste least paper
    rows = rowed(drawings, [drawing.width + BLOCK_GAP for drawing in drawings])
    room = view.snapshot.workroom
    seam, hem = (
        small_length(mm, view.unit) for mm in (room.seam_allowance_mm, room.hem_allowance_mm)
    )
    note = (
        f"drawn 1:{scale}, not for tracing; cut line solid, stitching line dashed, strokes between "
        f"them are notches, arrow is the grainline; seam allowance {seam}, hem {hem}, both cut on"
    )
    head = heading_band("The blocks", note)
    return [head, *(_drawing_row(view, row, head) for row in rows)]


def _middle_shapes(view: TicketView) -> list[BlockShape]:
    sizes: dict[str, list[str]] = {}
    for line in view.ticket.lines:
        sizes.setdefault(line.block, []).append(line.size)
    order = view.sizes
    return [
        view.shapes[block, sorted(some, key=order.index)[(len(some) - 1) // 2]]
        for block, some in sizes.items()
    ]


def _drawing(view: TicketView, shape: BlockShape, scale: int) -> _Drawing:
    hands = {"pair": "left of a pair", "fold": "whole, cut open"}
    width, height = (side * scale / MM for side in block_extent(shape, scale))
    measure = f"{small_length(width, view.unit)} × {small_length(height, view.unit)}"
    hand = hands.get(shape.pairing, "single")
    return _Drawing(
        shape, scale, f"{shape.block} {shape.name}", f"size {shape.size}, {hand}, {measure}"
    )


def _drawing_row(view: TicketView, row: Sequence[_Drawing], head: Band) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        for drawing in row:
            put_text(canvas, left, top - 9, drawing.title, 8, bold=True, width=drawing.width)
            put_text(canvas, left, top - 18, drawing.note, LEAST_SIZE, width=drawing.width)
            draw_block(
                canvas, drawing.shape, left, top - CAPTION, drawing.scale, two_way=view.two_way
            )
            left += drawing.width + BLOCK_GAP

    return Band(max(drawing.height for drawing in row) + 2 * MM, draw, head)
