"""What comes in from the time-study pages."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django import forms

from orders.forms import LineField
from patterns.models import Operation
from production.planning.minutes.time_study import Minutes

AGAIN = "Load the page again and store the reading from there; it was not stored."
#: A watch that ran longer was forgotten. Invented.
LONGEST_SECONDS = 36_000


class BeginForm(forms.Form):
    operation = forms.ModelChoiceField(
        Operation.objects.all(),
        empty_label="choose the operation",
        error_messages={"required": "Choose the operation that is timed."},
    )
    who = LineField(
        max_length=60,
        required=False,
        label="Whose work",
        help_text="Empty: your own.",
    )
    note = LineField(max_length=200, required=False)


def _seconds(label: str, least: Decimal, **kwargs: Any) -> forms.DecimalField:
    told = f"Enter seconds from {least} to {LONGEST_SECONDS}."
    return forms.DecimalField(
        label=label,
        min_value=least,
        max_value=LONGEST_SECONDS,
        decimal_places=1,
        error_messages={
            "required": "Let the watch run, or enter the seconds of work.",
            "min_value": told,
            "max_value": told,
            "max_decimal_places": "Enter seconds with one decimal at most.",
        },
        widget=forms.NumberInput(attrs={"inputmode": "decimal"}),
        **kwargs,
    )


class ReadingForm(forms.Form):
    """A reading; `by_metre` asks for the metres too."""

    seconds = _seconds("Seconds of work", Decimal("0.1"), help_text="Breaks already taken off.")
    break_seconds = _seconds("Seconds of breaks", Decimal(0), required=False)
    rating = forms.IntegerField(
        min_value=25,
        max_value=200,
        initial=100,
        help_text="50 very slow, 75 steady, 100 brisk and businesslike, 125 very fast.",
        error_messages={
            "min_value": "Enter a rating from 25 to 200.",
            "max_value": "Enter a rating from 25 to 200.",
        },
    )
    count = forms.IntegerField(
        min_value=1,
        max_value=10_000,
        initial=1,
        error_messages={
            "min_value": "Enter how many were done, 1 or more.",
            "max_value": "Enter how many were done, at most 10000.",
        },
    )
    metres = forms.DecimalField(
        label="Metres of seam in all",
        min_value=Decimal("0.001"),
        max_value=10_000,
        decimal_places=3,
        error_messages={
            "required": "Enter the metres that were sewn in this time.",
            "min_value": "Enter metres above 0.",
            "max_value": "Enter at most 10000 metres.",
            "max_decimal_places": "Enter metres to the millimetre: three decimals at most.",
        },
        widget=forms.NumberInput(attrs={"inputmode": "decimal"}),
    )
    form_key = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid.uuid4,
        error_messages={"required": AGAIN, "invalid": AGAIN},
    )

    def __init__(self, *args: Any, counted: str, by_metre: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["count"].label = counted
        if not by_metre:
            del self.fields["metres"]

    def clean_break_seconds(self) -> Any:
        return self.cleaned_data["break_seconds"] or 0

    def facts(self) -> dict[str, Any]:
        """The reading's own fields, without the key of the form."""
        return {name: value for name, value in self.cleaned_data.items() if name != "form_key"}


class MarkForm(forms.Form):
    """Leave a reading out, or take it in again."""

    why = LineField(max_length=120, required=False)


class CloseForm(forms.Form):
    """Accept the proposal that was seen, or drop the study."""

    each = forms.DecimalField(required=False)
    per_metre = forms.DecimalField(required=False)

    def seen(self) -> Minutes:
        data = self.cleaned_data
        return Minutes(data["each"] or Decimal(0), data["per_metre"] or Decimal(0))
