"""A roster as a file: the order's jackets in the roster's own columns, and a sheet to fill in."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import BytesIO, StringIO
from typing import TYPE_CHECKING

from orders.roster import Accepted, RosterRow
from orders.roster_cells import color_words
from orders.roster_columns import BLOCK, COLUMNS
from orders.roster_guard import guarded

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

TEMPLATE_ROWS = 200
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WIDTHS = {"member": 28, "size": 10, "colorway": 18, "name_on_jacket": 20, "note": 30}

Rows = list[list[str]]


def as_rows(accepted: Accepted) -> Rows:
    """The order's jackets under the roster's columns, every cell guarded; a block has a column
    when a jacket has a color of its own there."""
    chosen = {block for jacket in accepted.jackets for block, _ in jacket.choices}
    blocks = [block for block in accepted.blocks if block in chosen]
    words = color_words(accepted.colors)
    rows = [[*COLUMNS, *(f"{BLOCK}{block}" for block in blocks)]]
    rows += [_cells(jacket, blocks, words) for jacket in accepted.jackets]
    return [[guarded(cell) for cell in row] for row in rows]


def _cells(jacket: RosterRow, blocks: Sequence[str], words: dict[str, str]) -> list[str]:
    own = dict(jacket.choices)
    colors = [words.get(own[block], own[block]) if block in own else "" for block in blocks]
    return [*(getattr(jacket, column) for column in COLUMNS), *colors]


def as_csv(rows: Rows) -> bytes:
    """With the mark that makes spreadsheets read the text as UTF-8."""
    out = StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue().encode("utf-8-sig")


def as_xlsx(rows: Rows) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    sheet = _sheet(book, "Roster")
    for row in rows:
        sheet.append(row)
    _style(sheet, rows[0], len(rows))
    return _saved(book)


def template_xlsx(accepted: Accepted, names: Iterable[str], title: str) -> bytes:
    """An empty roster with lists to choose from; `names` stand in its first rows, for they are
    expected and have no jacket yet."""
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    book = Workbook()
    sheet = _sheet(book, "Roster")
    columns = [*COLUMNS, *(f"{BLOCK}{block}" for block in accepted.choosable)]
    sheet.append(columns)
    for name in names:
        sheet.append([guarded(name)])
    last = max(TEMPLATE_ROWS, sheet.max_row) + 1
    _style(sheet, columns, last)
    lists = _lists(book, accepted)
    for place, column in enumerate(columns):
        source = lists.get(BLOCK if column.startswith(BLOCK) else column)
        if source:
            choice = DataValidation("list", formula1=source, allow_blank=True)
            choice.showErrorMessage = True
            choice.error = "Choose one from the list."
            letter = get_column_letter(place + 1)
            choice.add(f"{letter}2:{letter}{last}")
            sheet.add_data_validation(choice)
    _explain(book, accepted, title)
    return _saved(book)


def _sheet(book: Workbook, title: str) -> Worksheet:
    sheet: Worksheet = book.worksheets[0]
    sheet.title = title
    return sheet


def _style(sheet: Worksheet, columns: Sequence[str], last: int) -> None:
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter

    sheet.freeze_panes = "B2"
    for place, column in enumerate(columns, 1):
        head = sheet.cell(1, place)
        head.font = Font(bold=True)
        head.fill = PatternFill("solid", fgColor="EFE8D8")
        sheet.column_dimensions[get_column_letter(place)].width = WIDTHS.get(column, 14)
        for row in range(2, last + 1):
            # As text, or a sheet turns size 8 into a number and 3-4 into a day.
            sheet.cell(row, place).number_format = "@"


def _lists(book: Workbook, accepted: Accepted) -> dict[str, str]:
    """The lists on a sheet of their own: written into the cell they may have 255 signs at most."""
    from openpyxl.utils import get_column_letter

    sheet = book.create_sheet("Lists")
    sheet.sheet_state = "hidden"
    words = color_words(accepted.colors)
    lists = {
        "size": [size for colorway in accepted.colorways for size in colorway.sizes],
        "colorway": [colorway.name for colorway in accepted.colorways],
        BLOCK: [words[code] for code, _ in accepted.colors],
    }
    places = {}
    for place, (name, choices) in enumerate(lists.items(), 1):
        cells = list(dict.fromkeys(map(guarded, choices)))
        for row, choice in enumerate(cells, 1):
            sheet.cell(row, place, choice).number_format = "@"
        letter = get_column_letter(place)
        if cells:
            places[name] = f"Lists!${letter}$1:${letter}${len(cells)}"
    return places


def _explain(book: Workbook, accepted: Accepted, title: str) -> None:
    sheet = book.create_sheet("How to fill it in")
    sheet.column_dimensions["A"].width = 22
    sheet.column_dimensions["B"].width = 90
    for row in _explanations(accepted, title):
        sheet.append([guarded(cell) for cell in row])


def _explanations(accepted: Accepted, title: str) -> Rows:
    names = (
        "What stands on the jacket, at most 24 letters. Empty: no name."
        if accepted.names_allowed
        else "Leave it empty: this order has no names on its jackets."
    )
    rows = [
        ["Order", title],
        ["Sheet", "Fill in the sheet Roster, one row for each member, and save it as it is."],
        ["member", "The member's name; nobody twice. A name alone means: has not chosen yet."],
        ["size", "From the list."],
        ["colorway", "From the list."],
        ["name_on_jacket", names],
        ["note", "For the maker, at most 200 letters."],
        [f"{BLOCK}…", "Only where one jacket differs from its colorway: a color from the list."],
    ]
    return rows + [
        [f"colorway {colorway.name}", f"sizes {', '.join(colorway.sizes)}"]
        for colorway in accepted.colorways
    ]


def _saved(book: Workbook) -> bytes:
    out = BytesIO()
    book.save(out)
    return out.getvalue()
