"""The bands of a cut ticket: what and for whom, how many of each block, where the color sits."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Part, Picture, View
from production.documents.drawings import arrow, draw_picture, picture_extent
from production.documents.paper import (
    Band,
    counted,
    day_in_words,
    put_text,
    tick_box,
    wrapped,
)
from production.documents.ticket_view import WIDTH, TicketView, Words, heading_band, rowed
from production.planning.cutting.lays import over_cut
from production.planning.inspecting.sampling import LARGEST_LOT, PLAN_WORDS, sample_of
from production.planning.lengths import cloth_length, small_length, table_length
from production.planning.plan import TicketLine
from production.planning.snapshot import (
    BlockingSpec,
    JacketSpec,
)

SAFETY = (
    "Rotary cutter: close the blade after every cut and cut away from the hand; "
    "follow the machine's manual and local rules."
)
NAP_WORDS = {
    False: "One-way nap: lay every block the same way",
    True: "Two-way nap: a block may be turned about",
}
#: More orders than this are named by their codes alone.
ORDERS_IN_FULL = 4
#: A table of more sizes is broken into several.
SIZES_PER_TABLE = 14
#: Beyond this many ways to wear the color, a blocking is shown once with all of them.
WAYS_IN_FULL = 3
#: Jackets that wear the color in a way of their own are named up to this many.
CODES_IN_FULL = 2
PICTURE_HEIGHT = 28 * MM
NAME_WIDTH, HAND_WIDTH, ROW = 66 * MM, 16 * MM, 13.2


def fact_band(view: TicketView) -> Band:
    """Three columns: for whom, which cloth and how it lies, how much."""
    column = WIDTH / 3
    width = column - 6 * MM
    columns = [
        _lines(_order_words(view), width),
        _lines(_cloth_words(view), width),
        _lines(_amount_words(view), width),
    ]
    height = max(sum(size + 3.4 for _, size, _ in lines) for lines in columns) + 8

    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setLineWidth(0.8)
        canvas.line(left, top, left + WIDTH, top)
        for at, lines in enumerate(columns):
            y = top - 3
            for words, size, bold in lines:
                y -= size + 3.4
                x = left + at * column
                taken = put_text(canvas, x, y, words, size, bold=bold, width=width)
                if words in NAP_WORDS.values():
                    start = x + taken + 5
                    arrow(canvas, (start, y + 2.6), (start + 26, y + 2.6), both=view.two_way)

    return Band(height, draw)


def _lines(words: Iterable[Words], width: float) -> list[Words]:
    return [
        (line, size, bold)
        for text, size, bold in words
        for line in wrapped(text, size, width, 2, bold=bold)
    ]


def _order_words(view: TicketView) -> Iterator[Words]:
    """Only the team orders that have a jacket with this color."""
    jackets = Counter(jacket.team_order for jacket in view.jackets)
    orders = [order for order in view.snapshot.orders if order.code in jackets]
    for order in orders[:ORDERS_IN_FULL]:
        yield order.club, 9.5, True
        jacket_count = counted(jackets[order.code], "jacket")
        yield f"{order.code}, {jacket_count}, due {day_in_words(order.deadline)}", 8, False
        yield order.title, 8, False
    if rest := orders[ORDERS_IN_FULL:]:
        yield f"and {len(rest)} more: {', '.join(order.code for order in rest)}", 8, False


def _cloth_words(view: TicketView) -> Iterator[Words]:
    yield view.fabric.name, 9.5, True
    yield view.fabric.fiber, 8, False
    width = table_length(view.fabric.usable_width_mm, view.unit, up=False)
    yield f"Usable width {width}", 9.5, True
    yield NAP_WORDS[view.two_way], 8, False
    if all(lay.mode == "face_up" for lay in view.ticket.lays):
        yield "Right side up: lay every ply with its right side up", 8, False
    else:
        yield "Right side: each lay below says which side is up", 8, False


def _amount_words(view: TicketView) -> Iterator[Words]:
    ticket = view.ticket
    yield f"{counted(view.pieces, 'piece')} in all", 13, True
    yield (
        f"for {counted(len(view.jackets), 'jacket')}, in {counted(len(ticket.lays), 'lay')}",
        8,
        False,
    )
    if spare := over_cut(ticket.lines, ticket.lays).total():
        yield f"and {counted(spare, 'piece')} over-cut for spare parts", 8, True
    yield f"Fabric needed {cloth_length(ticket.fabric_needed_mm, view.unit)}", 9.5, True
    shrinkage = f"{float(100 * view.fabric.shrinkage):g}"
    ends = small_length(view.fabric.end_allowance_mm, view.unit)
    yield f"with {ends} at each end of a ply and {shrinkage} % for shrinkage", 8, False
    yield f"from stock {cloth_length(ticket.from_stock_mm, view.unit)}", 9.5, False
    yield f"to buy {cloth_length(ticket.to_buy_mm, view.unit)}", 9.5, False


def withdrawn_bands(view: TicketView) -> list[Band]:
    """What supplements withdrew since the ticket was first printed; none where nothing was."""
    if not view.withdrawn:
        return []
    note = "one of each; the counts below are as they were printed first"
    head = heading_band("Do not cut", note)

    def line_of(line: str) -> Callable[[Canvas, float, float], None]:
        def draw(canvas: Canvas, left: float, top: float) -> None:
            put_text(canvas, left, top - 9.5, line, 9, bold=True, width=WIDTH)

        return draw

    words = "; ".join(view.withdrawn)
    return [head, *(Band(ROW, line_of(line), head) for line in wrapped(words, 9, WIDTH, bold=True))]


def safety_band() -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setLineWidth(0.8)
        canvas.rect(left, top - 18, WIDTH, 15, stroke=1, fill=0)
        put_text(canvas, left + 6, top - 13.2, SAFETY, 8, bold=True, width=WIDTH - 12)

    return Band(21.0, draw)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the table of counts; `boxes` puts a box to tick beside each count but the total."""

    code: str
    name: str
    hand: str
    cells: tuple[str, ...]
    bold: bool = False
    boxes: bool = False


def count_bands(view: TicketView) -> list[Band]:
    """Tables of counts, block and hand down, sizes across, a box to tick beside each count."""
    sizes = view.sizes
    bands: list[Band] = []
    for start in range(0, len(sizes), SIZES_PER_TABLE):
        some = sizes[start : start + SIZES_PER_TABLE]
        note = "" if len(sizes) <= SIZES_PER_TABLE else f"sizes {some[0]} to {some[-1]}"
        bands += [heading_band("Cut these", note), *_table(view, some)]
    return bands


def _table(view: TicketView, sizes: Sequence[str]) -> list[Band]:
    head = _row_band(_Row("Block", "", "Hand", (*sizes, "total"), bold=True), None, with_next=True)
    bands, sums = [head], Counter[str]()
    for code, name, hand, counts in _hands(view, sizes):
        words = tuple(str(counts[size]) if counts[size] else "" for size in sizes)
        row = _Row(code, name, hand, (*words, str(counts.total())), boxes=True)
        bands.append(_row_band(row, head))
        sums += counts
    totals = (*(str(sums[size]) for size in sizes), str(sums.total()))
    return [*bands, _row_band(_Row("All blocks", "", "", totals, bold=True), head)]


def _hands(view: TicketView, sizes: Sequence[str]) -> Iterator[tuple[str, str, str, Counter[str]]]:
    """(code, name, hand, count by size) in the order of the ticket; hands not cut are left out."""
    lines: dict[str, list[TicketLine]] = {}
    for line in view.ticket.lines:
        lines.setdefault(line.block, []).append(line)
    for block, some in lines.items():
        name = view.shapes[block, some[0].size].name
        for hand in ("left", "right", "single"):
            counts = Counter({ln.size: getattr(ln, hand) for ln in some if ln.size in sizes})
            if counts.total():
                yield block, name, hand, counts


def _row_band(row: _Row, head: Band | None, *, with_next: bool = False) -> Band:
    return Band(ROW, lambda c, left, top: _draw_row(c, row, left, top), head, with_next)


def _draw_row(canvas: Canvas, row: _Row, left: float, top: float) -> None:
    base = top - ROW + 4
    code_width = put_text(canvas, left, base, row.code, 9, bold=True, width=34 * MM)
    at = left + max(code_width + 5, 14 * MM)
    put_text(canvas, at, base, row.name, 9, width=left + NAME_WIDTH - at - 4)
    put_text(canvas, left + NAME_WIDTH, base, row.hand, 9, bold=row.bold)
    column = min(19 * MM, (WIDTH - NAME_WIDTH - HAND_WIDTH) / len(row.cells))
    for number, cell in enumerate(row.cells, 1):
        right = left + NAME_WIDTH + HAND_WIDTH + number * column
        last = number == len(row.cells)
        edge = right - 5.2 * MM
        put_text(
            canvas,
            edge,
            base,
            cell,
            10,
            bold=row.bold or last,
            width=column - 6 * MM,
            align="right",
        )
        if row.boxes and cell and not last:
            tick_box(canvas, edge + 1 * MM, base - 1.2)
    canvas.setLineWidth(0.8 if row.bold else 0.25)
    canvas.line(left, top - ROW, left + WIDTH, top - ROW)


@dataclass(frozen=True, slots=True)
class _Way:
    """One way in which jackets of a blocking wear the color."""

    views: tuple[Picture, ...]
    blocks: frozenset[str]
    words: str

    @property
    def width(self) -> float:
        wide = sum(picture_extent(view, PICTURE_HEIGHT)[0] + 2 * MM for view in self.views)
        return max(wide, 44 * MM)


def picture_bands(view: TicketView) -> list[Band]:
    """Small pictures of where the color sits; none for a run whose blockings have no pictures."""
    ways = [way for blocking in view.snapshot.blockings for way in _ways(view, blocking)]
    rows = rowed(ways, [way.width + 5 * MM for way in ways])
    if not rows:
        return []
    head = heading_band(
        "Where the color sits", f"{view.color.name} is filled in, other blocks are blank"
    )
    return [head, *(_picture_row(view, row, head) for row in rows)]


def _ways(view: TicketView, blocking: BlockingSpec) -> list[_Way]:
    worn: dict[frozenset[str], list[JacketSpec]] = {}
    for jacket in view.jackets:
        if jacket.blocking == blocking.code:
            worn.setdefault(view.blocks_of(jacket), []).append(jacket)
    if len(worn) > WAYS_IN_FULL:
        jackets = [jacket for some in worn.values() for jacket in some]
        every = frozenset().union(*worn)
        return _way(
            blocking, every, f"{counted(len(jackets), 'jacket')}; differs, see the bundle tags"
        )
    ways = []
    for blocks, jackets in worn.items():
        colorways = ", ".join(dict.fromkeys(jacket.colorway for jacket in jackets))
        words = f"{colorways}: {counted(len(jackets), 'jacket')}"
        if len(jackets) <= CODES_IN_FULL:
            words += f" ({', '.join(jacket.code for jacket in jackets)})"
        ways += _way(blocking, blocks, words)
    return ways


def _way(blocking: BlockingSpec, blocks: frozenset[str], words: str) -> list[_Way]:
    """Only the views that show a block of the color which no earlier view shows; a jacket whose
    front and back tell all needs no picture of its inside."""
    views, hidden = [], set(blocks)
    for picture in blocking.pictures:
        seen = {shape.block for shape in picture.shapes if shape.part is Part.BLOCK} & blocks
        if seen and (picture.view is not View.OPEN or seen & hidden):
            views.append(picture)
            hidden -= seen
    return [_Way(tuple(views), blocks, f"{blocking.name}, {words}")] if views else []


def _picture_row(view: TicketView, ways: Sequence[_Way], head: Band) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        for way in ways:
            at = left
            for picture in way.views:
                fills = dict.fromkeys(way.blocks, view.fill)
                draw_picture(canvas, picture, fills, at, top - 2, PICTURE_HEIGHT)
                at += picture_extent(picture, PICTURE_HEIGHT)[0] + 2 * MM
            for number, line in enumerate(wrapped(way.words, 7.5, way.width, 2)):
                put_text(canvas, left, top - PICTURE_HEIGHT - 12 - 9 * number, line, 7.5)
            left += way.width + 5 * MM

    return Band(PICTURE_HEIGHT + 26, draw, head)


def sign_off_band(view: TicketView) -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        base, at = top - 27, left
        canvas.setLineWidth(0.5)
        for words, width in (
            (f"Pieces counted, of {view.pieces}", 22 * MM),
            ("Cut by", 62 * MM),
            ("Date", 34 * MM),
            ("Checked by", 52 * MM),
        ):
            at += put_text(canvas, at, base, words, 9) + 2 * MM
            canvas.line(at, base - 1.5, at + width, base - 1.5)
            at += width + 5 * MM
        put_text(canvas, left, top - 42, sample_words(view.pieces), 8, width=WIDTH)

    return Band(46.0, draw)


def sample_words(pieces: int) -> str:
    """How many of the cut pieces to check, and when these are good enough."""
    lot = min(pieces, LARGEST_LOT)
    sample = sample_of(lot)
    if pieces > lot:
        check = f"of each {lot} pieces check {sample.pieces}"
    elif sample.is_all:
        check = f"check all {counted(lot, 'piece')}"
    else:
        check = f"check {sample.pieces} of {lot} pieces"
    return f"Sample: {check}; accept up to {sample.accepted} faulty. {PLAN_WORDS}"
