"""A whole lay at full size: as one long page, or in tiles for an ordinary printer."""

from __future__ import annotations

import math
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.pagesizes import A3, A4, LETTER, landscape
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.outline import bounds
from production.documents.drawings import ring_path
from production.documents.full_drawing import (
    FINE_MM,
    TEST_SQUARE_MM,
    Window,
    draw_full,
    draw_lines,
    draw_test_square,
    in_millimetres,
    meets,
)
from production.documents.paper import LEAST_SIZE, Target, letters, put_text, save, wrapped
from production.errors import DocumentError
from production.planning.cutting.full_lay import (
    EDGE_MM,
    LONGEST_PLAIN_PAGE_MM,
    FullLay,
    arrow_lines,
)

#: Above the lay on one long page, for the words and the test square.
ABOVE_MM = TEST_SQUARE_MM + 30.0

#: Most printers leave 5 mm of the paper blank (common practice, no source).
MARGIN_MM = 10.0
#: How far a tile shows what its neighbor shows too.
OVERLAP_MM = 10.0
MARK_MM = 6.0
PAPERS: dict[str, tuple[float, float]] = {
    "a4": landscape(A4),
    "a3": landscape(A3),
    "letter": landscape(LETTER),
}
#: Beyond this, a pile of paper is no use to anyone (invented).
MOST_TILES = 900


def write_long_page(target: Target, full: FullLay) -> None:
    """The lay on one page at 1:1. A page longer than 5.08 m gets a larger unit (UserUnit of PDF
    1.6); programs that do not know it show the page smaller, which its words and the test square
    tell."""
    width_mm = full.spread_mm + 2 * EDGE_MM
    height_mm = full.lay.usable_width_mm + 2 * EDGE_MM + ABOVE_MM
    unit = float(max(1, math.ceil(max(width_mm, height_mm) / LONGEST_PLAIN_PAGE_MM)))
    content = BytesIO()
    size = (width_mm * MM / unit, height_mm * MM / unit)
    canvas = _canvas(content, size, f"{full.title}, full size")
    in_millimetres(canvas, EDGE_MM + full.end_mm, EDGE_MM, unit)
    draw_full(canvas, full)
    _draw_head(canvas, full, _unit_words(unit))
    canvas.showPage()
    if unit > 1:
        _set_user_unit(canvas, unit)
    canvas.save()
    save(target, content.getvalue())


def _canvas(content: BytesIO, size: tuple[float, float], title: str) -> Canvas:
    canvas = Canvas(content, pagesize=size, invariant=1, lang="en", pdfVersion=(1, 6))
    canvas.setTitle(title)
    canvas.setAuthor("Jacket Muster")
    return canvas


def _set_user_unit(canvas: Canvas, unit: float) -> None:
    # reportlab knows no UserUnit of its own, but writes what a page's dictionary names.
    page = canvas._doc.Pages[-1]  # type: ignore[attr-defined]
    page.__NoDefault__ = [*page.__NoDefault__, "UserUnit"]
    page.UserUnit = unit


def _unit_words(unit: float) -> tuple[str, ...]:
    if unit == 1:
        return ()
    return (
        f"this page counts in units of {unit:g} points: a program that shows the square at "
        f"{100 / unit:.0f} mm does not know them, so enlarge to {100 * unit:.0f} %",
    )


def _draw_head(canvas: Canvas, full: FullLay, more: tuple[str, ...]) -> None:
    """The test square, what lies here, and which way the nap runs, above the cloth."""
    bottom = full.lay.usable_width_mm + 15
    draw_test_square(canvas, 0, bottom)
    canvas.setFont(letters().bold, 22)
    canvas.drawString(TEST_SQUARE_MM + 20, bottom + 70, full.title)
    canvas.setFont(letters().regular, 14)
    for number, words in enumerate((*_facts(full), *more)):
        canvas.drawString(TEST_SQUARE_MM + 20, bottom + 52 - 18 * number, words)
    canvas.setLineWidth(1)
    start = (TEST_SQUARE_MM + 20, bottom + 2)
    draw_lines(canvas, arrow_lines(start, (start[0] + 200, start[1]), 20, both=full.two_way))


def _facts(full: FullLay) -> tuple[str, str]:
    lay = full.lay
    nap = "grain; the nap may run either way" if full.two_way else "grain and nap run this way"
    return (
        f"{lay.plies} {'ply' if lay.plies == 1 else 'plies'}, {lay.mode.replace('_', ' ')}, blocks "
        f"{lay.length_mm:.0f} mm long on {lay.usable_width_mm} mm, spread {full.spread_mm:.0f} mm",
        f"full size, 1:1; {nap}",
    )


@dataclass(frozen=True, slots=True)
class Tile:
    """What one sheet shows: row 1 lies at the near edge of the cloth, column 1 at its start."""

    row: int
    column: int
    window: Window

    @property
    def name(self) -> str:
        return f"row {self.row}, column {self.column}"


@dataclass(frozen=True, slots=True)
class Tiling:
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    left_out: tuple[Tile, ...]

    def goes_on_from(self, tile: Tile) -> tuple[bool, bool]:
        """Whether there are sheets, printed or left out as blank, on its right and above it."""
        return tile.column < self.columns, tile.row < self.rows


def tiling(full: FullLay, paper: str) -> Tiling:
    """The sheets that cover a lay; those that no block reaches into are left out."""
    sheet_mm = [side / MM - 2 * MARGIN_MM for side in PAPERS[paper]]
    step_x, step_y = (side - OVERLAP_MM for side in sheet_mm)
    columns = max(1, math.ceil((full.spread_mm - OVERLAP_MM) / step_x))
    rows = max(1, math.ceil((full.lay.usable_width_mm - OVERLAP_MM) / step_y))
    boxes = [bounds(block.cut) for block in full.blocks]
    tiles: list[Tile] = []
    left_out: list[Tile] = []
    for row in range(rows):
        for column in range(columns):
            x, y = column * step_x - full.end_mm, row * step_y
            tile = Tile(row + 1, column + 1, (x, y, x + sheet_mm[0], y + sheet_mm[1]))
            shows = any(meets(box, tile.window) for box in boxes)
            (tiles if shows else left_out).append(tile)
    return Tiling(rows, columns, tuple(tiles), tuple(left_out))


def write_tiles(target: Target, full: FullLay, paper: str) -> None:
    """The lay in sheets of a4, a3 or letter paper behind a sheet that shows how they lie.

    Raises DocumentError for a paper that is not known and for more sheets than anyone glues.
    """
    if paper not in PAPERS:
        raise DocumentError(f"There is no paper '{paper}' here: choose {', '.join(PAPERS)}.")
    cut = tiling(full, paper)
    if len(cut.tiles) > MOST_TILES:
        raise DocumentError(
            f"Lay {full.lay.lay} would take {len(cut.tiles)} sheets of {paper}: print it on a "
            "larger paper or as one long page."
        )
    content = BytesIO()
    canvas = _canvas(content, PAPERS[paper], f"{full.title}, full size in tiles")
    pages = len(cut.tiles) + 1
    _draw_overview(canvas, full, cut, paper)
    _put_foot(canvas, f"page 1 of {pages}")
    canvas.showPage()
    for number, tile in enumerate(cut.tiles, 2):
        _draw_tile(canvas, full, cut, tile)
        # Above the drawing: the edges below and on the left are cut off before sheets are joined.
        at = PAPERS[paper][1] - 6.5 * MM
        words = f"{full.lay.lay}, {tile.name}, page {number} of {pages}"
        put_text(canvas, (MARGIN_MM + 20) * MM, at, words, 8)
        canvas.showPage()
    canvas.save()
    save(target, content.getvalue())


def _put_foot(canvas: Canvas, words: str) -> None:
    put_text(canvas, (MARGIN_MM + 20) * MM, 4.5 * MM, words, 8)


def _draw_tile(canvas: Canvas, full: FullLay, cut: Tiling, tile: Tile) -> None:
    left, bottom, right, top = tile.window
    canvas.saveState()
    in_millimetres(canvas, MARGIN_MM - left, MARGIN_MM - bottom)
    clip = canvas.beginPath()
    clip.rect(left, bottom, right - left, top - bottom)
    canvas.saveState()
    canvas.clipPath(clip, stroke=0, fill=0)
    draw_full(canvas, full, tile.window)
    canvas.restoreState()
    _draw_crop_marks(canvas, tile.window, *cut.goes_on_from(tile))
    canvas.restoreState()


def _draw_crop_marks(canvas: Canvas, window: Window, on_right: bool, above: bool) -> None:
    """Outside the corners of what is shown, and dashed where the sheet of a neighbor on the right
    or above begins."""
    left, bottom, right, top = window
    canvas.setLineWidth(FINE_MM)
    for x, out in ((left, -MARK_MM), (right, MARK_MM)):
        canvas.lines([(x, y, x + out, y) for y in (bottom, top)])
    for y, out in ((bottom, -MARK_MM), (top, MARK_MM)):
        canvas.lines([(x, y, x, y + out) for x in (left, right)])
    canvas.setDash(1, 2)
    inner_x, inner_y = right - OVERLAP_MM, top - OVERLAP_MM
    if on_right:
        canvas.line(inner_x, bottom, inner_x, top)
    if above:
        canvas.line(left, inner_y, right, inner_y)
    canvas.setDash()


HOW_TO_JOIN = (
    "Print at 100 %, without fitting to the page, and measure the square first. Cut each sheet at "
    "its crop marks on the left and at the bottom, and lay these edges on the dashed lines of the "
    "sheets before it: columns run along the spread from its start, rows from the near edge of the "
    "cloth."
)


def _draw_overview(canvas: Canvas, full: FullLay, cut: Tiling, paper: str) -> None:
    width, height = PAPERS[paper]
    left, top = MARGIN_MM * MM, height - MARGIN_MM * MM
    put_text(canvas, left, top - 16, full.title, 16, bold=True, width=width - 2 * left)
    y = top - 32
    room = width - 3 * left - TEST_SQUARE_MM * MM
    for words in (*_facts(full), HOW_TO_JOIN, _sheets_in_words(cut, paper)):
        for line in wrapped(words, 9, room):
            put_text(canvas, left, y, line, 9)
            y -= 12
    canvas.saveState()
    in_millimetres(canvas, 0, 0)
    square_mm = (width / MM - MARGIN_MM - TEST_SQUARE_MM, (top - 24) / MM - TEST_SQUARE_MM)
    draw_test_square(canvas, *square_mm)
    canvas.restoreState()
    below = min(y, square_mm[1] * MM) - 12
    _draw_map(canvas, full, cut, (left, MARGIN_MM * MM, width - left, below))


def _sheets_in_words(cut: Tiling, paper: str) -> str:
    words = f"{len(cut.tiles)} sheets of {paper.upper() if paper != 'letter' else 'Letter'}"
    words += f" in {cut.rows} rows and {cut.columns} columns"
    if cut.left_out:
        words += f"; {len(cut.left_out)} blank ones are left out and crossed below"
    return f"{words}."


def _draw_map(canvas: Canvas, full: FullLay, cut: Tiling, room: Window) -> None:
    """The blocks in small, and over them the sheets by row and column."""
    right = max(tile.window[2] for tile in (*cut.tiles, *cut.left_out))
    high = max(tile.window[3] for tile in (*cut.tiles, *cut.left_out))
    scale = min((room[2] - room[0]) / (right + full.end_mm), (room[3] - room[1]) / high)
    canvas.saveState()
    canvas.translate(room[0] + full.end_mm * scale, room[1])
    canvas.setLineWidth(0.3)
    canvas.setFillGray(0.92)
    for block in full.blocks:
        canvas.drawPath(
            ring_path(canvas, [(x * scale, y * scale) for x, y in block.cut]), stroke=1, fill=1
        )
    canvas.setFillGray(0)
    for tile, blank in (*((t, False) for t in cut.tiles), *((t, True) for t in cut.left_out)):
        x0, y0, x1, y1 = (side * scale for side in tile.window)
        canvas.setLineWidth(0.6)
        canvas.rect(x0, y0, x1 - x0, y1 - y0, stroke=1, fill=0)
        if blank:
            canvas.lines([(x0, y0, x1, y1), (x0, y1, x1, y0)])
        elif x1 - x0 > 22:
            put_text(canvas, x0 + 2, y0 + 2, f"{tile.row}.{tile.column}", LEAST_SIZE)
    canvas.restoreState()
