"""Taking a roster on the web, judged and shown first, then stored; and giving it out as a file.

The maker's pages and the coordinator's are the same; a Desk says whose it is.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import msgspec
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from orders.answers import muster
from orders.errors import RosterError
from orders.models import TeamOrder
from orders.pages import asking, find_team_order, for_open_order
from orders.roles import maker_only
from orders.roster import Accepted, Kind, fingerprint, judge
from orders.roster_columns import guessed, renamed
from orders.roster_file import Table
from orders.roster_forms import ColumnsForm, RosterForm
from orders.roster_out import XLSX_TYPE, as_csv, as_rows, as_xlsx, template_xlsx
from orders.roster_queries import accepted_by
from orders.roster_store import Differing, take_roster

if TYPE_CHECKING:
    from django.contrib.auth.models import User

VERDICTS_ON_PAGE = 300
TEMPLATE, CSV, XLSX = ROSTER_FILES = ("template.xlsx", "jackets.csv", "jackets.xlsx")
#: What one is looking for on a long roster comes first.
FIRST_SHOWN = [Kind.BAD, Kind.DIFFERS, Kind.NEW, Kind.EXPECTED, Kind.UNCHANGED]


@dataclass(frozen=True, slots=True)
class Desk:
    """Who takes the roster in, on which page, and where that leads."""

    team_order: TeamOrder
    page: str
    back: str
    files: dict[str, str]
    by: User | None = None
    by_link: str = ""
    template: str = "orders/roster.html"

    def accepted(self) -> Accepted:
        return accepted_by(self.team_order, from_club=bool(self.by_link))


@for_open_order
def roster(request: HttpRequest, team_order: TeamOrder) -> HttpResponse:
    return roster_page(request, _makers_desk(request, team_order))


@maker_only
@require_safe
def roster_file(request: HttpRequest, code: str, file: str) -> HttpResponse:
    return file_of(_makers_desk(request, find_team_order(code)), file)


def _makers_desk(request: HttpRequest, team_order: TeamOrder) -> Desk:
    return Desk(
        team_order,
        page=reverse("orders:roster", args=[team_order.code]),
        back=team_order.get_absolute_url(),
        files={
            name: reverse("orders:roster_file", args=[team_order.code, name])
            for name in ROSTER_FILES
        },
        by=asking(request),
    )


def roster_page(request: HttpRequest, desk: Desk, **context: Any) -> HttpResponse:
    """A table is read and judged row by row; its columns may be named; then the rows shown are
    stored."""
    if request.method != "POST":
        return _page(request, desk, RosterForm(), context)
    if "rows" in request.POST:
        return _store(request, desk, context)
    if "table" in request.POST:
        return _named_again(request, desk, context)
    form = RosterForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, desk, form, context)
    try:
        name, table = form.table()
        return _judged(request, desk, name, table, context)
    except RosterError as error:
        form.add_error(form.source, str(error))
        return _page(request, desk, form, context)


def _named_again(request: HttpRequest, desk: Desk, context: dict[str, Any]) -> HttpResponse:
    try:
        table = msgspec.json.decode(request.POST["table"], type=Table)
    except msgspec.DecodeError:
        messages.error(request, "The table was lost on the way; choose the file again.")
        return redirect(desk.page)
    return _judged(request, desk, _name(request), table, context)


def _judged(
    request: HttpRequest, desk: Desk, name: str, table: Table, context: dict[str, Any]
) -> HttpResponse:
    """Every row's verdict; beside it the columns, where they do not have the roster's own names."""
    accepted = desk.accepted()
    guesses = guessed(table.header, accepted.blocks)
    context |= {"name": name}
    # Pasted text stays in its field, to be mended there.
    form = RosterForm(initial={"pasted": request.POST.get("pasted", "")})
    if all(guess.sure for guess in guesses):
        return _page(request, desk, form, context | _verdicts(table, accepted))
    data = request.POST if "table" in request.POST else None
    columns = ColumnsForm(data, table=table, guesses=guesses, accepted=accepted)
    columns.is_valid()
    context |= {"columns": columns, "table": msgspec.json.encode(table).decode()}
    try:
        first_row_counts = columns.counts_first_row()
        named = renamed(table, columns.columns(), first_row_counts=first_row_counts)
        context |= _verdicts(named, accepted)
    except RosterError as error:
        context |= {"columns_error": str(error)}
    return _page(request, desk, form, context)


def _verdicts(table: Table, accepted: Accepted) -> dict[str, Any]:
    verdicts = judge(table, accepted)
    counts = Counter(verdict.kind for verdict in verdicts)
    shown = sorted(verdicts, key=lambda verdict: FIRST_SHOWN.index(verdict.kind))
    takes = not counts[Kind.BAD] and counts[Kind.UNCHANGED] < len(verdicts)
    return {
        "verdicts": shown[:VERDICTS_ON_PAGE],
        "count": len(verdicts),
        "bad": counts[Kind.BAD],
        "new": counts[Kind.NEW],
        "differs": counts[Kind.DIFFERS],
        "told": _told(counts),
        "rows": msgspec.json.encode(table).decode() if takes else "",
        "fingerprint": fingerprint(verdicts),
    }


def _told(counts: Counter[Kind]) -> str:
    return ", ".join(f"{counts[kind]} {kind.value}" for kind in FIRST_SHOWN if counts[kind])


def _store(request: HttpRequest, desk: Desk, context: dict[str, Any]) -> HttpResponse:
    name = _name(request)
    try:
        table = msgspec.json.decode(request.POST["rows"], type=Table)
    except msgspec.DecodeError:
        messages.error(request, "The checked rows were lost on the way; choose the file again.")
        return redirect(desk.page)
    try:
        taken = take_roster(
            desk.team_order,
            table,
            name,
            by=desk.by,
            by_link=desk.by_link,
            differing=Differing.CHANGE if request.POST.get("change") else Differing.KEEP,
            shown=request.POST.get("shown", ""),
        )
    except RosterError as error:
        messages.error(request, f"{error} {' '.join(map(str, error.problems[:3]))}")
        return _shown_again(request, desk, name, table, context)
    messages.success(request, f"From {name}: {taken.words()}.")
    return redirect(desk.back)


def _shown_again(
    request: HttpRequest, desk: Desk, name: str, table: Table, context: dict[str, Any]
) -> HttpResponse:
    """The rows that were not stored, judged by the order as it is by now."""
    try:
        return _judged(request, desk, name, table, context)
    except RosterError:  # said already: the table as a whole cannot be taken
        return redirect(desk.page)


def _name(request: HttpRequest) -> str:
    return "".join(filter(str.isprintable, request.POST.get("name", "")))[:100]


def _page(
    request: HttpRequest, desk: Desk, form: RosterForm, context: dict[str, Any]
) -> HttpResponse:
    context = {
        "team_order": desk.team_order,
        "desk": desk,
        "form": form,
        "accepted": context.get("accepted") or desk.accepted(),
        **context,
    }
    return render(request, desk.template, context)


def file_of(desk: Desk, file: str) -> HttpResponse:
    """The order's jackets as CSV or XLSX in the roster's columns, or the sheet to fill in."""
    accepted, code = desk.accepted(), desk.team_order.code
    if file == TEMPLATE:
        members = (jacket.member for jacket in accepted.jackets)
        missing = muster(accepted.expected, members).missing
        title = f"{code}, {desk.team_order.club.name}: {desk.team_order.title}"
        content, kind = template_xlsx(accepted, missing, title), XLSX_TYPE
    elif file == CSV:
        content, kind = as_csv(as_rows(accepted)), "text/csv; charset=utf-8"
    elif file == XLSX:
        content, kind = as_xlsx(as_rows(accepted)), XLSX_TYPE
    else:
        raise Http404(f"A roster is saved as {', '.join(ROSTER_FILES)}.")
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{code}-{file}"'
    return response
