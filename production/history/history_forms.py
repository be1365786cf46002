"""What the history is narrowed to."""

from __future__ import annotations

import datetime

from django import forms
from django.contrib.auth.models import User
from django.core.validators import MaxValueValidator, MinValueValidator
from django.http import QueryDict

from production.history.history import Wanted
from production.history.lines import Kind, name
from production.models import Run

NOBODY = "0"
#: Days beyond are a slip of the pen, and their midnights may not even be told. Invented.
EARLIEST, LATEST = datetime.date(2000, 1, 1), datetime.date(2999, 12, 31)


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        validators=[
            MinValueValidator(EARLIEST, f"A day from {EARLIEST:%Y} on."),
            MaxValueValidator(LATEST, f"A day up to {LATEST:%Y}."),
        ],
    )


class HistoryForm(forms.Form):
    run = forms.ChoiceField(label="Run", required=False)
    jacket = forms.CharField(label="Jacket", required=False, max_length=24)
    person = forms.ChoiceField(label="Who", required=False)
    kind = forms.ChoiceField(
        label="What", required=False, choices=[("", "all"), *((kind, kind.words) for kind in Kind)]
    )
    first = _day("From")
    last = _day("To")

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data)
        runs = Run.objects.order_by("-pk").values_list("code", flat=True)
        self.fields["run"].choices = [("", "all"), *((code, code) for code in runs)]  # type: ignore[attr-defined]
        self.fields["person"].choices = [  # type: ignore[attr-defined]
            ("", "everybody"),
            *((str(user.pk), name(user)) for user in User.objects.order_by("username")),
            (NOBODY, name(None)),
        ]

    def wanted(self) -> Wanted:
        """What fits the fields; one that cannot be read narrows nothing, its error stands by it."""
        self.is_valid()
        fits = self.cleaned_data
        return Wanted(
            run=fits.get("run", ""),
            jacket=fits.get("jacket", "").strip(),
            by=int(fits["person"]) if fits.get("person") else None,
            first=fits.get("first"),
            last=fits.get("last"),
            kinds=(Kind(fits["kind"]),) if fits.get("kind") else tuple(Kind),
        )


class DaysForm(forms.Form):
    """Which days the summary is of; the last week unless told."""

    first = _day("From")
    last = _day("To")

    def days(self, today: datetime.date) -> tuple[datetime.date, datetime.date]:
        """At most MOST_DAYS, so that a slip of the pen does not read years."""
        self.is_valid()
        last = self.cleaned_data.get("last") or today
        first = self.cleaned_data.get("first") or last - datetime.timedelta(days=DAYS_SHOWN - 1)
        return max(first, last - datetime.timedelta(days=MOST_DAYS)), last


#: Days of the summary, unless others are asked for, and at most. Invented.
DAYS_SHOWN, MOST_DAYS = 7, 92
