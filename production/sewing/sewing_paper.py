"""Operation sheets as PDF."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from django.urls import reverse

from production.models import Run
from production.sewing.sewing_state import SheetOf, sheets_of_run

if TYPE_CHECKING:
    from production.documents.sewing_sheet import SheetPaper


def papers_of(sheets: Iterable[SheetOf], address: Callable[[str], str]) -> list[SheetPaper]:
    """The sheets for the printer; `address` is what the code of a jacket opens."""
    from production.documents.sewing_sheet import JacketLine, SheetPaper

    return [
        SheetPaper(
            one.sheet,
            tuple(
                JacketLine(
                    jacket.code,
                    jacket.jacket_order.member,
                    jacket.jacket_order.name_on_jacket,
                    jacket.jacket_order.note,
                    address(jacket.code),
                )
                for jacket in one.jackets
            ),
            one.pictures,
            one.fills,
        )
        for one in sheets
    ]


def write_for_run(run: Run, folder: Path, base: str) -> list[Path]:
    """Writes the sheets of all jackets of a run into one file; jackets sewn alike share a sheet."""
    from production.documents import sewing_sheet

    path = folder / f"sewing-sheets-{run.code}.pdf"
    papers = papers_of(
        sheets_of_run(run), lambda code: base + reverse("production:jacket", args=[code])
    )
    sewing_sheet.write(path, run.code, papers)
    return [path]
