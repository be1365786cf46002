"""A roster file as a table of text: CSV or XLSX, read with care and nothing guessed."""

from __future__ import annotations

import codecs
import re
import zipfile
import zlib
from dataclasses import dataclass
from io import BytesIO, StringIO
from pathlib import PurePath
from typing import TYPE_CHECKING, BinaryIO
from xml.etree.ElementTree import ParseError

from orders.errors import RosterError
from orders.lines import one_line

if TYPE_CHECKING:
    from pandas import DataFrame

PASTED = "the pasted text"
MAX_BYTES = 5 * 1024 * 1024
MAX_UNPACKED_BYTES = 50 * 1024 * 1024
MAX_ROWS = 10_000
MAX_COLUMNS = 60
CSV_SUFFIXES = {".csv", ".tsv", ".txt"}
#: What openpyxl lets through when a workbook is damaged somewhere inside.
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    ParseError,
    AttributeError,
    EOFError,
    IndexError,
    KeyError,
    NotImplementedError,
    OSError,
    TypeError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class Row:
    """`number` is the row's number in the file as a spreadsheet shows it; the header is row 1."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Trimmed text; every row has as many cells as the header, and blank rows are left out."""

    header: tuple[str, ...]
    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        if any(len(row.cells) != len(self.header) for row in self.rows):
            raise ValueError("Every row of a table has as many cells as its header.")


def read_table(file: BinaryIO, name: str) -> Table:
    """The table in a CSV or XLSX file called `name`; RosterError says why it is not one."""
    content = file.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        raise RosterError(f"{name} is larger than 5 MB; a roster holds names and sizes only.")
    if not content.strip():
        raise RosterError(f"{name} is empty; its first row must name the columns.")
    suffix = PurePath(name).suffix.casefold()
    if suffix == ".xlsx":
        frame = _read_xlsx(content, name)
    elif suffix in CSV_SUFFIXES:
        frame = _read_csv(content, name)
    else:
        raise RosterError(f"{name} is neither a CSV nor an XLSX file; save the roster as one.")
    return _table(frame, name)


def read_pasted(text: str) -> Table:
    """The table in cells pasted from a sheet: separated by tabs, semicolons or commas."""
    return _table(_read_csv(text.strip("\r\n").encode(), PASTED), PASTED)


def _table(frame: DataFrame, name: str) -> Table:
    frame = frame.fillna("").map(one_line)
    header, *rows = (tuple(cells) for cells in frame.itertuples(index=False, name=None))
    width = max((column for column, title in enumerate(header, 1) if title), default=0)
    if not width:
        raise RosterError(f"Row 1 of {name} is blank; it must name the columns.")
    if width > MAX_COLUMNS:
        raise RosterError(f"{name} has more than {MAX_COLUMNS} columns.")
    for number, cells in enumerate(rows, 2):
        if any(cells[width:]):
            raise RosterError(
                f"Row {number} of {name} has more cells than row 1 has columns; a text with a "
                "comma in it belongs in quotation marks."
            )
    filled = [Row(number, cells[:width]) for number, cells in enumerate(rows, 2) if any(cells)]
    if len(rows) > MAX_ROWS:
        raise RosterError(f"{name} has more than {MAX_ROWS} rows.")
    if not filled:
        raise RosterError(f"{name} names its columns but has no row with a member.")
    return Table(header[:width], tuple(filled))


def _read_csv(content: bytes, name: str) -> DataFrame:
    import pandas as pd

    text = _decoded(content, name)
    lines = re.split(r"\r\n|\r|\n", text)
    if len(lines) > MAX_ROWS + 2:
        raise RosterError(f"{name} has more than {MAX_ROWS} rows.")
    if lines[0].count('"') % 2:
        raise RosterError(f"Row 1 of {name} opens a quotation mark that is never closed.")
    separator = max(",;\t", key=lines[0].count)
    if lines[0].count(separator) >= MAX_COLUMNS:
        raise RosterError(f"{name} has more than {MAX_COLUMNS} columns.")
    widest = max(line.count(separator) for line in lines) + 1
    try:
        return pd.read_csv(
            StringIO(text),
            sep=separator,
            header=None,
            names=range(min(widest, MAX_COLUMNS + 1)),
            index_col=False,
            dtype=str,
            na_filter=False,
            skip_blank_lines=False,
        )
    except pd.errors.ParserError as error:
        raise RosterError(_in_our_words(str(error), name)) from error


def _in_our_words(parser_error: str, name: str) -> str:
    if wide := re.search(r"in line (\d+), saw", parser_error):
        return f"Line {wide[1]} of {name} has more than {MAX_COLUMNS} columns."
    if open_quote := re.search(r"EOF inside string starting at row (\d+)", parser_error):
        row = int(open_quote[1]) + 1
        return f"Row {row} of {name} opens a quotation mark that is never closed."
    return f"{name} is no table in rows and columns; save the roster as CSV once more."


def _decoded(content: bytes, name: str) -> str:
    # UTF-16 only by its mark: without one nearly any text could be read as it.
    marked = content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text and not content.startswith(b"PK\x03\x04"):
            return text
    raise RosterError(f"{name} is not a CSV file: it is no text in UTF-8, UTF-16 or Windows-1252.")


def _read_xlsx(content: bytes, name: str) -> DataFrame:
    import pandas as pd
    from openpyxl import load_workbook

    _check_unpacked_size(content, name)
    try:
        # Formulas stay formulas, so that they can be refused; a computed value can change.
        book = load_workbook(BytesIO(content), read_only=True, keep_links=False)
        rows = [
            [_cell_text(cell) for cell in cells]
            for sheet in book.worksheets[:1]
            for cells in sheet.iter_rows(
                max_row=MAX_ROWS + 2, max_col=MAX_COLUMNS + 1, values_only=True
            )
        ]
        book.close()
    except DAMAGED as error:
        raise RosterError(f"{name} is damaged or not an XLSX file; save it once more.") from error
    if not rows:
        raise RosterError(f"{name} is empty; its first row must name the columns.")
    while len(rows) > 1 and not any(rows[-1]):
        rows.pop()
    return pd.DataFrame(rows, dtype=str)


def _check_unpacked_size(content: bytes, name: str) -> None:
    """A small file can unpack to gigabytes; its own list of contents says so beforehand."""
    try:
        members = zipfile.ZipFile(BytesIO(content)).infolist()
    except (zipfile.BadZipFile, ValueError) as error:
        raise RosterError(f"{name} is damaged or not an XLSX file; save it once more.") from error
    if sum(member.file_size for member in members) > MAX_UNPACKED_BYTES:
        raise RosterError(f"{name} unpacks to more than 50 MB and was not opened.")


def _cell_text(value: object) -> str:
    """A cell as its sheet shows it: 8 and not 8.0, a date without its midnight."""
    from datetime import datetime

    from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

    if value is None:
        return ""
    if isinstance(value, ArrayFormula | DataTableFormula):
        return "=formula"
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime):
        return value.isoformat(" ").removesuffix(" 00:00:00")
    return str(value)
