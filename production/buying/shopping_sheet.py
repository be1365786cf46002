"""The shopping list of a run as a spreadsheet: figures as figures, in the units of the workroom."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO
from typing import TYPE_CHECKING

from orders.roster_guard import guarded
from production.planning.lengths import IMPERIAL, MM_PER_YARD
from production.planning.supplies.shopping import CLOTH, METRE, ShoppingLine, ShoppingList

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

COLUMNS = (
    ("Supplier", 24),
    ("What", 36),
    ("Unit", 8),
    ("Needed", 11),
    ("Allowance", 11),
    ("Taken", 11),
    ("On hand", 11),
    ("Reserved", 11),
    ("On order", 11),
    ("To buy", 11),
    ("Price", 12),
    ("Order by", 12),
    ("Late", 8),
)
TO_BUY, PRICE, ORDER_BY = 10, 11, 12
#: Lengths are written to the thousandth of their unit.
FINE = Decimal("0.001")

Cell = str | Decimal | None


def as_xlsx(listed: ShoppingList, length_unit: str) -> bytes:
    """One sheet with a row for each line and a sum for each supplier, one with what the list takes
    for granted."""
    from openpyxl import Workbook

    book = Workbook()
    sheet: Worksheet = book.worksheets[0]
    sheet.title = "Shopping list"
    _head(sheet, listed.currency)
    for group in listed.groups:
        for line in group.lines:
            sheet.append(_row(group.supplier, line, length_unit))
            sheet.cell(sheet.max_row, ORDER_BY).number_format = "yyyy-mm-dd"
        sheet.append([guarded(group.supplier or "no supplier"), "In all"])
        sheet.cell(sheet.max_row, PRICE, group.total)
        _bold(sheet, sheet.max_row)
    sheet.append(["All suppliers", "In all"])
    sheet.cell(sheet.max_row, PRICE, listed.total)
    _bold(sheet, sheet.max_row)
    words = book.create_sheet("How it is reckoned")
    words.column_dimensions["A"].width = 120
    for sentence in (*listed.warnings, *listed.assumptions):
        words.append([guarded(sentence)])
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def _head(sheet: Worksheet, currency: str) -> None:
    from openpyxl.styles import PatternFill
    from openpyxl.utils import get_column_letter

    sheet.append([f"{name} ({currency})" if name == "Price" else name for name, _ in COLUMNS])
    _bold(sheet, 1)
    for place, (_, width) in enumerate(COLUMNS, 1):
        sheet.cell(1, place).fill = PatternFill("solid", fgColor="EFE8D8")
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.freeze_panes = "C2"


def _bold(sheet: Worksheet, row: int) -> None:
    from openpyxl.styles import Font

    for place in range(1, len(COLUMNS) + 1):
        sheet.cell(row, place).font = Font(bold=True)


def _row(supplier: str, line: ShoppingLine, length_unit: str) -> list[object]:
    stock = line.stock
    unit, of_one = _unit(line.sold.unit, length_unit)
    figures = (
        line.needed,
        line.allowance,
        stock.taken,
        stock.on_hand,
        stock.reserved,
        stock.on_order,
        line.to_buy,
    )
    return [
        guarded(supplier or "no supplier"),
        guarded(line.sold.name),
        unit,
        *((figure / of_one).quantize(FINE) for figure in figures),
        line.price,
        line.order_by if line.to_buy else None,
        "late" if line.is_late else None,
    ]


def _unit(unit: str, length_unit: str) -> tuple[str, Decimal]:
    """The unit that a figure is written in, and how much of ours one of it is."""
    if unit not in (CLOTH, METRE):
        return unit, Decimal(1)
    of_mm = Decimal(1) if unit == CLOTH else Decimal("0.001")
    if length_unit == IMPERIAL:
        yard_mm = Decimal(MM_PER_YARD.numerator) / MM_PER_YARD.denominator
        return "yd", yard_mm * of_mm
    return "m", 1000 * of_mm
