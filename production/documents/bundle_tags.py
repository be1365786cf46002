"""Bundle tags: one for each jacket, eight on a sheet, to be cut apart and pinned to the bundle."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import msgspec
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill, Picture, View
from production.documents.drawings import draw_picture, picture_extent, swatch
from production.documents.paper import (
    LEAST_SIZE,
    Target,
    counted,
    draw_qr,
    found,
    pdf,
    plan_id,
    put_text,
    qr_edge,
    qr_quiet,
    save,
    wrapped,
)
from production.errors import DocumentError
from production.planning.explode import SIDES, shapes_by_key
from production.planning.lengths import small_length
from production.planning.materials import ZipperChoice, zipper_choice, zipper_length
from production.planning.plan import Plan
from production.planning.snapshot import JacketSpec, RunSnapshot

COLUMNS, ROWS = 2, 4
PER_SHEET = COLUMNS * ROWS
TAG_WIDTH, TAG_HEIGHT = A4[0] / COLUMNS, A4[1] / ROWS
#: Printers leave about 5 mm blank at the edge of the sheet (common practice, no source).
INSET, PAD = 7 * MM, 6 * MM
INNER = TAG_WIDTH - 2 * INSET

SIZE_WIDTH = 26 * MM
PICTURE_HEIGHT = 19 * MM
SWATCH, LINE = 14.0, 9.2


@dataclass(frozen=True, slots=True)
class TagView:
    """What stands on one tag. `colors` gives each fabric color with its blocks, in the order of
    the jacket."""

    jacket: JacketSpec
    address: str
    club: str
    size_name: str
    look: str
    colors: tuple[tuple[Fill, tuple[str, ...]], ...]
    pieces: int
    zipper: str
    front: Picture | None

    @property
    def fills(self) -> dict[str, Fill]:
        return {block: fill for fill, blocks in self.colors for block in blocks}


def write(target: Target, snapshot: RunSnapshot, plan: Plan, tag_url: Callable[[str], str]) -> None:
    """Writes the tags of a run as one PDF, in the order of the plan's jackets.

    `tag_url` gives the address that the QR code of a jacket opens. Raises DocumentError when the
    plan has no jackets or is not the snapshot's, and writes nothing.
    """
    if not plan.jackets:
        raise DocumentError(f"Run {plan.run} has no jackets, so there are no tags to print.")
    tags = _tag_views(snapshot, plan, tag_url)
    source = f"Run {plan.run}, plan {plan_id(plan)}"

    def sheet(some: Sequence[TagView]) -> Callable[[Canvas], None]:
        return lambda canvas: _draw_sheet(canvas, some, source)

    sheets = [sheet(tags[at : at + PER_SHEET]) for at in range(0, len(tags), PER_SHEET)]
    save(target, pdf(f"Bundle tags of run {plan.run}", A4, sheets))


def _tag_views(snapshot: RunSnapshot, plan: Plan, tag_url: Callable[[str], str]) -> list[TagView]:
    jackets = {jacket.code: jacket for jacket in snapshot.jackets}
    clubs = {order.code: order.club for order in snapshot.orders}
    sizes = {size.code: size for size in snapshot.sizes}
    blockings = {blocking.code: blocking for blocking in snapshot.blockings}
    fills = {
        color.code: Fill(color.hex_color, color.hatch, color.name)
        for color in snapshot.fabric_colors
    }
    pairings = {
        f"{block} {size}": shape.pairing
        for (block, size), shape in shapes_by_key(snapshot.shapes).items()
    }
    tags = []
    for planned in plan.jackets:
        jacket = found(jackets, planned.code, "jacket")
        size = found(sizes, jacket.size, "size")
        blocking = blockings.get(jacket.blocking)
        name = blocking.name if blocking else jacket.blocking
        pictures = blocking.pictures if blocking else ()
        tags.append(
            TagView(
                jacket=jacket,
                address=tag_url(jacket.code),
                club=found(clubs, jacket.team_order, "team order"),
                size_name=size.name,
                look=f"{name}, {jacket.colorway}",
                colors=_by_color(jacket, fills),
                pieces=sum(
                    len(SIDES[found(pairings, f"{block} {jacket.size}", "block")])
                    for block, _ in jacket.blocks
                ),
                zipper=_zipper_words(
                    zipper_choice(snapshot, size, jacket.zipper_color),
                    snapshot.workroom.length_unit,
                ),
                front=next((pic for pic in pictures if pic.view is View.FRONT), None),
            )
        )
    return tags


def _by_color(
    jacket: JacketSpec, fills: Mapping[str, Fill]
) -> tuple[tuple[Fill, tuple[str, ...]], ...]:
    blocks: dict[str, list[str]] = {}
    for block, color in jacket.blocks:
        blocks.setdefault(color, []).append(block)
    return tuple(
        (found(fills, color, "fabric color"), tuple(some)) for color, some in blocks.items()
    )


def _zipper_words(zipper: ZipperChoice, unit: str) -> str:
    color = zipper.sold.color_name
    if zipper.made:
        return f"zipper {zipper_length(zipper.finished_mm, unit)} {color}"
    words = f"zipper {zipper_length(zipper.sold.length_mm, unit)} {color}"
    if not zipper.shorten_mm:
        return words
    return f"{words}, shorten {small_length(zipper.shorten_mm, unit)}"


def _draw_sheet(canvas: Canvas, tags: Iterable[TagView], source: str) -> None:
    _draw_cut_lines(canvas)
    for at, tag in enumerate(tags):
        left = at % COLUMNS * TAG_WIDTH
        top = A4[1] - at // COLUMNS * TAG_HEIGHT
        _draw_tag(canvas, tag, left + INSET, top - PAD, source)


def _draw_cut_lines(canvas: Canvas) -> None:
    canvas.setStrokeGray(0.5)
    canvas.setLineWidth(0.25)
    canvas.lines([(at * TAG_WIDTH, 0, at * TAG_WIDTH, A4[1]) for at in range(1, COLUMNS)])
    canvas.lines([(0, at * TAG_HEIGHT, A4[0], at * TAG_HEIGHT) for at in range(1, ROWS)])


def _draw_tag(canvas: Canvas, tag: TagView, left: float, top: float, source: str) -> None:
    jacket, right = tag.jacket, left + INNER
    low = top - TAG_HEIGHT + 2 * PAD
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    put_text(canvas, left, top - 13, jacket.code, 17, bold=True, width=INNER - SIZE_WIDTH - 6)
    put_text(canvas, right, top - 25, jacket.size, 32, bold=True, width=SIZE_WIDTH, align="right")
    put_text(canvas, right, top - 35, tag.size_name, 7.5, width=SIZE_WIDTH, align="right")
    edge, quiet = qr_edge(tag.address), qr_quiet(tag.address)
    # The symbol stands flush with the text; its quiet zone lies in the margin of the tag.
    draw_qr(canvas, tag.address, left - quiet, top - 18)
    foot = top - 18 - edge
    _draw_names(canvas, tag, left + edge - quiet, top - 40, right, foot)
    if tag.front:
        right -= picture_extent(tag.front, PICTURE_HEIGHT)[0]
        _draw_front(canvas, tag.front, tag.fills, right, low - 2)
    _draw_foot(canvas, tag, left, foot, right - left, low)
    put_text(canvas, left, low, source, LEAST_SIZE)


def _draw_front(
    canvas: Canvas, picture: Picture, fills: Mapping[str, Fill], left: float, low: float
) -> None:
    """Like jackets share one drawing in the document, or the tags of a big run would take megabytes
    and minutes."""
    look = hashlib.sha256(msgspec.json.encode((picture, sorted(fills.items())))).hexdigest()
    if not canvas.hasForm(look):
        width, height = picture_extent(picture, PICTURE_HEIGHT)
        canvas.beginForm(look, 0, 0, width, height)
        draw_picture(canvas, picture, fills, 0, height, height)
        canvas.endForm()
    canvas.saveState()
    canvas.translate(left, low)
    canvas.doForm(look)
    canvas.restoreState()


def _draw_names(
    canvas: Canvas, tag: TagView, left: float, top: float, right: float, low: float
) -> None:
    """Beside the QR code: for whom the jacket is and how it looks; the note has the room left."""
    jacket, width = tag.jacket, right - left
    name = f"name on jacket: {jacket.name_on_jacket}" if jacket.name_on_jacket else ""
    y = top
    for line in wrapped(jacket.member, 11, width, 2, bold=True):
        y -= 12
        put_text(canvas, left, y, line, 11, bold=True)
    y -= 2
    for words, bold in ((tag.club, False), (tag.look, False), (name, True)):
        if words:
            y -= LINE + 0.6
            put_text(canvas, left, y, words, 8, bold=bold, width=width)
    if jacket.note:
        lines = max(1, int((y - low) // LINE))
        for line in wrapped(f"Note: {jacket.note}", 7.5, width, lines):
            y -= LINE
            put_text(canvas, left, y, line, 7.5)


def _draw_foot(
    canvas: Canvas, tag: TagView, left: float, top: float, width: float, low: float
) -> None:
    """Below the QR code: the blocks by color, and what else belongs to the bundle."""
    most = int((top - low - LEAST_SIZE) // LINE) - 1
    for fill, words in _color_rows(tag, width, most):
        top -= LINE
        if fill:
            swatch(canvas, fill, left, top - 1, SWATCH, 6.5)
        put_text(canvas, left + SWATCH + 3, top, words, 7.5)
    bundle = f"{counted(tag.pieces, 'piece')}, {tag.zipper}"
    put_text(canvas, left, top - LINE - 1, bundle, 8, bold=True, width=width)


def _color_rows(tag: TagView, width: float, most: int) -> list[tuple[Fill | None, str]]:
    """Each color on a line of its own, with its swatch; all in one paragraph where they take more
    lines than there are."""
    room = width - SWATCH - 6
    words = [(fill, f"{fill.name}: {' '.join(blocks)}") for fill, blocks in tag.colors]
    rows: list[tuple[Fill | None, str]] = []
    for fill, text in words:
        first, *more = wrapped(text, 7.5, room)
        rows += [(fill, first), *((None, line) for line in more)]
    if len(rows) <= most:
        return rows
    together = "; ".join(text for _, text in words)
    return [(None, line) for line in wrapped(together, 7.5, room, most)]
