"""People with their week, days off and extra hours, and the machines; the maker changes them."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.roles import is_maker, maker_only
from patterns.services import workroom
from production.models import DaysOff, ExtraHours, Machine, Person
from production.people import people as services
from production.people import people_state as state
from production.people.people import PeopleError
from production.people.people_forms import DaysOffForm, ExtraHoursForm, MachineForm, PersonForm
from production.people.week_svg import hours_shown, week_svg

FROM_NOW_ON = "The next schedule counts on it."
form_page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def people(request: HttpRequest) -> HttpResponse:
    rows = state.people_rows()
    shown = hours_shown(row.days for row in rows)
    context = {
        "rows": [(row, week_svg(row.days, shown)) for row in rows],
        "left": Person.objects.filter(has_left=True),
        "holidays": state.days_off_to_come().filter(person=None),
        "cannot": state.cannot_be_done(),
        "kinds": [kind for kind in state.machine_kinds() if not kind.machines],
        "room": workroom(),
    }
    return render(request, "production/people/list.html", context)


@maker_only
@form_page
def new_person(request: HttpRequest) -> HttpResponse:
    return _edit(request, Person(), "Add a person")


@maker_only
@form_page
def person(request: HttpRequest, number: int) -> HttpResponse:
    if request.method != "POST":
        return _edit(request, get_object_or_404(Person, pk=number), None)
    with transaction.atomic():
        # Held until it is saved, so that what the form was opened on is compared with what is.
        found = get_object_or_404(Person.objects.select_for_update(), pk=number)
        return _edit(request, found, None)


def _edit(request: HttpRequest, found: Person, heading: str | None) -> HttpResponse:
    heading = heading or found.name
    form = PersonForm(request.POST if request.method == "POST" else None, instance=found)
    if form.is_valid():
        kept = form.save(commit=False)
        skills = form.cleaned_data.get("skills", found.skills)
        try:
            services.keep_person(kept, skills, form.week())
        except PeopleError as error:
            form.add_error("name", str(error))
        else:
            messages.success(request, f"{kept.name} is saved. {FROM_NOW_ON}")
            _say_what_nobody_can_do(request)
            return redirect("production:people")
    context = {"form": form, "heading": heading, "person": found}
    return render(request, "production/people/person.html", context)


@maker_only
@require_POST
def leave(request: HttpRequest, number: int) -> HttpResponse:
    left = services.set_left(get_object_or_404(Person, pk=number), has_left=True)
    still = f" The log-in {left.user} still works." if left.user else ""
    messages.success(request, f"{left.name} has left and is no longer planned.{still}")
    _say_what_nobody_can_do(request)
    return redirect("production:people")


@maker_only
@require_POST
def come_back(request: HttpRequest, number: int) -> HttpResponse:
    back = services.set_left(get_object_or_404(Person, pk=number), has_left=False)
    messages.success(request, f"{back.name} is back. {FROM_NOW_ON}")
    return redirect("production:people")


def _say_what_nobody_can_do(request: HttpRequest) -> None:
    for words in state.cannot_be_done():
        messages.warning(request, words)


@form_page
def days_off(request: HttpRequest) -> HttpResponse:
    off, extra = DaysOffForm(auto_id="off_%s"), ExtraHoursForm(auto_id="extra_%s")
    if request.method == "POST":
        if not is_maker(request.user):
            raise PermissionDenied("The maker enters days off and extra hours.")
        if "hours" in request.POST:
            extra = ExtraHoursForm(request.POST, auto_id="extra_%s")
            if extra.is_valid() and _added(extra, lambda: _extra(extra)):
                messages.success(request, f"Saved. {FROM_NOW_ON}")
                return redirect("production:days_off")
        else:
            off = DaysOffForm(request.POST, auto_id="off_%s")
            if off.is_valid() and _added(off, lambda: _off(off)):
                messages.success(request, f"Saved. {FROM_NOW_ON}")
                return redirect("production:days_off")
    context = {
        "off": off,
        "extra": extra,
        "days": state.days_off_to_come(),
        "hours": state.extra_hours_to_come(),
        "anybody": Person.objects.filter(has_left=False).exists(),
    }
    return render(request, "production/people/days_off.html", context)


def _added(form: forms.Form, save: Callable[[], object]) -> bool:
    """Whether the service went through; what it refuses becomes an error of the form."""
    try:
        save()
    except PeopleError as error:
        form.add_error(None, str(error))
        return False
    return True


def _off(form: DaysOffForm) -> object:
    data = form.cleaned_data
    last = data["last"] or data["first"]
    return services.take_days_off(data["person"], data["first"], last, data["words"])


def _extra(form: ExtraHoursForm) -> object:
    data = form.cleaned_data
    return services.add_extra_hours(data["person"], data["day"], data["hours"], data["words"])


@maker_only
@require_POST
def strike_days_off(request: HttpRequest, number: int) -> HttpResponse:
    DaysOff.objects.filter(pk=number).delete()
    messages.success(request, f"The days count as worked again. {FROM_NOW_ON}")
    return redirect("production:days_off")


@maker_only
@require_POST
def strike_extra_hours(request: HttpRequest, number: int) -> HttpResponse:
    ExtraHours.objects.filter(pk=number).delete()
    messages.success(request, f"The extra hours are off again. {FROM_NOW_ON}")
    return redirect("production:days_off")


@form_page
def machines(request: HttpRequest) -> HttpResponse:
    form = MachineForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        if not is_maker(request.user):
            raise PermissionDenied("The maker lists machines.")
        if form.is_valid() and _added(form, lambda: services.add_machine(**form.cleaned_data)):
            messages.success(request, f"{form.cleaned_data['name']} is listed. {FROM_NOW_ON}")
            return redirect("production:machines")
    context = {"form": form, "kinds": state.machine_kinds(), "cannot": state.cannot_be_done()}
    return render(request, "production/people/machines.html", context)


@maker_only
@require_POST
def use_machine(request: HttpRequest, number: int) -> HttpResponse:
    found = get_object_or_404(Machine, pk=number)
    stored = services.set_in_use(found, in_use=request.POST.get("use") == "1")
    words = "out of use" if stored.is_out_of_use else "in use again"
    messages.success(request, f"{stored.name} is {words}. {FROM_NOW_ON}")
    _say_what_nobody_can_do(request)
    return redirect("production:machines")


@maker_only
@require_POST
def strike_machine(request: HttpRequest, number: int) -> HttpResponse:
    found = get_object_or_404(Machine, pk=number)
    name = found.name
    found.delete()
    messages.success(request, f"{name} is no longer listed. {FROM_NOW_ON}")
    _say_what_nobody_can_do(request)
    return redirect("production:machines")
