"""Labels for a delivery: one for the bag of each jacket, one for each parcel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.units import mm as MM
from reportlab.pdfgen.canvas import Canvas

from production.documents.label_sheets import Label, Space, label_pdf
from production.documents.paper import (
    LEAST_SIZE,
    Target,
    counted,
    draw_qr,
    put_text,
    qr_edge,
    qr_quiet,
    save,
    wrapped,
)
from production.errors import DocumentError

SIZE_WIDTH = 30 * MM


@dataclass(frozen=True, slots=True)
class BagLabel:
    """`address` is what the QR code opens, `parcel` in which of the parcels it goes, from 1."""

    member: str
    size: str
    size_name: str
    colorway: str
    name_on_jacket: str
    code: str
    address: str
    parcel: int


@dataclass(frozen=True, slots=True)
class ParcelLabels:
    """The labels of one delivery, sent by `sender`. `ordered` counts the jackets of the whole
    order, `parcels` the boxes that they are packed into."""

    order: str
    title: str
    club: str
    sender: str
    number: int
    ordered: int
    parcels: int
    bags: tuple[BagLabel, ...]

    @property
    def name(self) -> str:
        return f"Labels {self.order}, delivery {self.number}"


def shared_out(jackets: int, parcels: int) -> list[int]:
    """The parcel, from 1, of each jacket in their order: parcels filled one after the other, as
    evenly as can be; no parcel stays empty while there are jackets for it."""
    parcels = max(1, min(parcels, jackets))
    low, more = divmod(jackets, parcels)
    return [
        parcel
        for parcel in range(1, parcels + 1)
        for _ in range(low + 1 if parcel <= more else low)
    ]


def write(target: Target, listed: ParcelLabels, paper: str = "a4") -> None:
    """Writes the labels of the parcels, then those of the bags. Raises DocumentError when there is
    no jacket."""
    if not listed.bags:
        raise DocumentError(
            f"No jacket of order {listed.order} waits to be handed over, so there is nothing to "
            "label. A delivery that was made has its labels on its own page."
        )
    labels: list[Label] = [_parcel(listed, parcel) for parcel in range(1, listed.parcels + 1)]
    labels += [_bag(listed, bag) for bag in listed.bags]
    save(target, label_pdf(listed.name, labels, paper))


def _bag(listed: ParcelLabels, bag: BagLabel) -> Label:
    def draw(canvas: Canvas, space: Space) -> None:
        left, top, width = space.left, space.top, space.width
        right, low = left + width, top - space.height
        y = top
        for line in wrapped(bag.member, 15, width - SIZE_WIDTH - 4, 2, bold=True):
            y -= 17
            put_text(canvas, left, y, line, 15, bold=True)
        put_text(canvas, right, top - 26, bag.size, 32, bold=True, width=SIZE_WIDTH, align="right")
        put_text(canvas, right, top - 37, bag.size_name, 8, width=SIZE_WIDTH, align="right")
        edge, quiet = qr_edge(bag.address), qr_quiet(bag.address)
        # The symbol stands flush with the foot; its quiet zone lies in the margin of the label.
        draw_qr(canvas, bag.address, left - quiet, low + edge - quiet)
        _bag_words(canvas, listed, bag, left + edge - quiet, low, right)

    return draw


def _bag_words(
    canvas: Canvas, listed: ParcelLabels, bag: BagLabel, left: float, low: float, right: float
) -> None:
    """Beside the QR code, from the foot upwards."""
    named = f"name on jacket: {bag.name_on_jacket}" if bag.name_on_jacket else ""
    lines = [
        (f"Delivery {listed.number}, parcel {bag.parcel} of {listed.parcels}", 8, False),
        (bag.code, 11, True),
        (named, 8, True),
        (bag.colorway, 9, False),
        (listed.club, 9, True),
    ]
    y = low + 1.0
    for text, points, bold in lines:
        if text:
            put_text(canvas, left, y, text, points, bold=bold, width=right - left)
            y += points + 4


def _parcel(listed: ParcelLabels, parcel: int) -> Label:
    bags = [bag for bag in listed.bags if bag.parcel == parcel]

    def draw(canvas: Canvas, space: Space) -> None:
        left, width = space.left, space.width
        y = space.top - 8
        put_text(canvas, left, y, f"From {listed.sender}", LEAST_SIZE, width=width)
        for line in wrapped(listed.club, 17, width, 2, bold=True):
            y -= 20
            put_text(canvas, left, y, line, 17, bold=True)
        y -= 15
        put_text(canvas, left, y, f"{listed.order}, {listed.title}", 9, width=width)
        y -= 34
        put_text(
            canvas, left, y, f"Parcel {parcel} of {listed.parcels}", 22, bold=True, width=width
        )
        y -= 17
        words = (
            f"Delivery {listed.number}: {counted(len(bags), 'jacket')} of {listed.ordered} ordered"
        )
        put_text(canvas, left, y, words, 10, width=width)
        low = space.top - space.height
        for place, sizes in enumerate(reversed(wrapped(_sizes(bags), 8, width, 2))):
            put_text(canvas, left, low + 1 + 10 * place, sizes, 8)

    return draw


def _sizes(bags: Sequence[BagLabel]) -> str:
    """How many of each size; no names stand outside a parcel."""
    sizes = dict.fromkeys(bag.size for bag in bags)
    return ", ".join(f"{sum(bag.size == size for bag in bags)} × {size}" for size in sizes)
