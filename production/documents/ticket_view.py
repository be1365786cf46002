"""A cut ticket with all that its paper needs, and how the paper is divided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from patterns.geometry.picture import Fill
from production.documents.paper import Band, found, put_text
from production.planning.explode import shapes_by_key
from production.planning.plan import CutTicket, Plan
from production.planning.snapshot import (
    BlockShape,
    FabricColorSpec,
    FabricSpec,
    JacketSpec,
    RunSnapshot,
)

#: What a ticket's page holds across, in points.
WIDTH = 273 * MM

Thing = TypeVar("Thing")
#: Words, size in points, bold.
Words = tuple[str, float, bool]


@dataclass(frozen=True, slots=True)
class ClothRow:
    """Plies of a lay that are spread from one cloth, one behind another, all in words."""

    lay: str
    plies: str
    cloth: str
    start: str
    takes: str
    flaws: str = ""


@dataclass(frozen=True, slots=True)
class PaperCloth:
    """From where the plies of a ticket are spread; `apart` are lines of words that say which dye
    lots are kept apart, none where one serves all, and `notes` what could not be kept to and why.
    """

    rows: tuple[ClothRow, ...] = ()
    apart: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TicketExtras:
    """What the tickets of a run say beyond its plan: `lay_notes` by the code of a lay what the
    cutter should know of how it was laid out, `cloth` by the code of a ticket what it is
    spread from, `withdrawn` by the code of a ticket what is not to be cut any more."""

    lay_notes: Mapping[str, str] = field(default_factory=dict)
    cloth: Mapping[str, PaperCloth] = field(default_factory=dict)
    withdrawn: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TicketView:
    """A ticket with what it needs from its run; `lay_notes` says by the code of a lay what
    the cutter should know of how it was laid out."""

    snapshot: RunSnapshot
    plan: Plan
    ticket: CutTicket
    fabric: FabricSpec
    color: FabricColorSpec
    shapes: Mapping[tuple[str, str], BlockShape]
    lay_notes: Mapping[str, str] = field(default_factory=dict)
    cloth: PaperCloth = PaperCloth()
    withdrawn: tuple[str, ...] = ()

    @property
    def fill(self) -> Fill:
        return Fill(self.color.hex_color, self.color.hatch, self.color.name)

    @property
    def unit(self) -> str:
        return self.snapshot.workroom.length_unit

    @property
    def two_way(self) -> bool:
        return self.ticket.nap == "two_way"

    @property
    def pieces(self) -> int:
        return sum(line.left + line.right + line.single for line in self.ticket.lines)

    @property
    def sizes(self) -> list[str]:
        """The sizes that are cut, from the smallest."""
        cut = {line.size for line in self.ticket.lines}
        return [size.code for size in self.snapshot.sizes if size.code in cut]

    def blocks_of(self, jacket: JacketSpec) -> frozenset[str]:
        """The blocks of a jacket that are cut from this color."""
        return frozenset(block for block, color in jacket.cut_blocks if color == self.color.code)

    @property
    def jackets(self) -> list[JacketSpec]:
        return [jacket for jacket in self.snapshot.jackets if self.blocks_of(jacket)]


def ticket_views(
    snapshot: RunSnapshot, plan: Plan, extras: TicketExtras | None = None
) -> list[TicketView]:
    """Each ticket with its fabric and shapes; DocumentError when the snapshot lacks one of them."""
    extras = extras or TicketExtras()
    fabrics = {fabric.code: fabric for fabric in snapshot.fabrics}
    colors = {color.code: color for color in snapshot.fabric_colors}
    shapes = shapes_by_key(snapshot.shapes)
    named = {f"{block} {size}": shape for (block, size), shape in shapes.items()}
    sizes = {size.code: size for size in snapshot.sizes}
    for ticket in plan.cut_tickets:
        for line in ticket.lines:
            found(sizes, line.size, "size")
            found(named, f"{line.block} {line.size}", "block")
        for lay in ticket.lays:
            for place in lay.placements:
                found(named, f"{place.block} {place.size}", "block")
    return [
        TicketView(
            snapshot,
            plan,
            ticket,
            found(fabrics, ticket.fabric, "fabric"),
            found(colors, ticket.fabric_color, "fabric color"),
            shapes,
            extras.lay_notes,
            extras.cloth.get(ticket.ticket, PaperCloth()),
            extras.withdrawn.get(ticket.ticket, ()),
        )
        for ticket in plan.cut_tickets
    ]


def heading_band(words: str, note: str = "") -> Band:
    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setLineWidth(0.8)
        canvas.line(left, top - 8, left + WIDTH, top - 8)
        taken = put_text(canvas, left, top - 19, words, 10, bold=True)
        put_text(canvas, left + taken + 8, top - 19, note, 7.5, width=WIDTH - taken - 8)

    return Band(25.0, draw, with_next=True)


def rowed(things: Sequence[Thing], widths: Sequence[float]) -> list[list[Thing]]:
    """Things dealt out to rows of at most WIDTH, in order."""
    rows: list[list[Thing]] = []
    left = 0.0
    for thing, width in zip(things, widths, strict=True):
        if not rows or width > left:
            rows.append([])
            left = WIDTH
        rows[-1].append(thing)
        left -= width
    return rows
