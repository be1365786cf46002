"""The operation sheet of one jacket beside the machine, and on paper; all those of a run."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from patterns.geometry.picture_svg import picture_svg
from patterns.pictures import VIEW_NAMES
from production import queries
from production.errors import ProductionError
from production.models import Jacket
from production.planning.plan import PlanError
from production.sewing.sewing_paper import papers_of
from production.sewing.sewing_state import SheetOf, find_jacket, sheet_of, sheets_of_run


@require_safe
def sewing_sheet(request: HttpRequest, code: str) -> HttpResponse:
    try:
        jacket = find_jacket(code)
        found = sheet_of(jacket)
    except Jacket.DoesNotExist:
        return _unknown_jacket(request, code)
    except PlanError as error:
        messages.error(request, str(error))
        return redirect("production:jacket", code)
    context = {
        "jacket": jacket,
        "line": jacket.jacket_order,
        "found": found,
        "sheet": found.sheet,
        "unit": found.sheet.unit,
        "pictures": _pictures(found),
    }
    return render(request, "production/sewing/sheet.html", context)


@require_safe
def sewing_sheet_pdf(request: HttpRequest, code: str) -> HttpResponse | FileResponse:
    try:
        jacket = find_jacket(code)
        return _pdf(request, [sheet_of(jacket)], jacket.run.code, f"sewing-sheet-{code}")
    except Jacket.DoesNotExist:
        return _unknown_jacket(request, code)
    except PlanError as error:
        messages.error(request, str(error))
        return redirect("production:jacket", code)


@require_safe
def sewing_sheets_pdf(request: HttpRequest, code: str) -> HttpResponse | FileResponse:
    run = queries.run_or_404(code)
    try:
        return _pdf(request, sheets_of_run(run), code, f"sewing-sheets-{code}")
    except (PlanError, ProductionError) as error:
        messages.error(request, str(error))
        return redirect(run)


def _pdf(request: HttpRequest, sheets: Iterable[SheetOf], run: str, name: str) -> FileResponse:
    from production.documents import sewing_sheet as document

    page = io.BytesIO()
    document.write(page, run, papers_of(sheets, _address(request)))
    page.seek(0)
    return FileResponse(page, filename=f"{name}.pdf", content_type="application/pdf")


def _address(request: HttpRequest) -> Callable[[str], str]:
    return lambda code: request.build_absolute_uri(reverse("production:jacket", args=[code]))


def _unknown_jacket(request: HttpRequest, code: str) -> HttpResponse:
    return render(request, "production/jacket_unknown.html", {"code": code}, status=404)


def _pictures(found: SheetOf) -> list[tuple[str, SafeString]]:
    return [
        (
            VIEW_NAMES[picture.view],
            # The SVG is our own text with every name escaped in it.
            mark_safe(
                picture_svg(
                    picture,
                    found.fills,
                    zipper_hex=found.zipper_hex,
                    thread_hex=found.topstitch_hex,
                    title=f"{found.sheet.blocking}, {VIEW_NAMES[picture.view].lower()}",
                    uid=f"sheet-{picture.view}",
                )
            ),
        )
        for picture in found.pictures
    ]
