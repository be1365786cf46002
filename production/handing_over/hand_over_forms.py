"""What is asked when jackets are handed over."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from orders.models import ONE_LINE
from production.handing_over.deliveries import NAME_LENGTH
from production.handing_over.hand_over_state import RailOut, jackets_of
from production.handing_over.signature import SignatureError, Strokes, read_strokes
from production.models import Delivery, Jacket

AGAIN = "This page is not complete; open it once more."


class HandOverForm(forms.Form):
    jackets = forms.ModelMultipleChoiceField(
        Jacket.objects.none(),
        error_messages={
            "required": "Tick at least one jacket.",
            "invalid_choice": "A jacket that is not in this order was chosen.",
        },
    )
    received_by = forms.CharField(
        label="Who receives",
        required=False,
        max_length=NAME_LENGTH,
        validators=[ONE_LINE],
        help_text="Erased with the members' data.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    signed = forms.ChoiceField(
        label="Signed",
        choices=Delivery.Signed.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say how it is signed, or that it is not."},
    )
    signature = forms.CharField(required=False, widget=forms.HiddenInput)
    note = forms.CharField(required=False, max_length=200, validators=[ONE_LINE])
    form_key = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid.uuid4,
        error_messages={"required": AGAIN, "invalid": AGAIN},
    )

    def __init__(self, *args: Any, rail: RailOut, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rail = rail
        field: Any = self.fields["jackets"]
        # All of the order's, not only those that are ready: a second tap of the same form finds
        # them handed over, and the service says so better.
        field.queryset = jackets_of(rail.team_order)

    def clean_signature(self) -> Strokes:
        text = self.cleaned_data["signature"]
        try:
            return read_strokes(text)
        except SignatureError as error:
            raise ValidationError(str(error)) from error

    def ready(self) -> list[tuple[Jacket, bool]]:
        """Each jacket that is ready, and whether it is ticked: all of them at first."""
        chosen = set(map(str, self["jackets"].value() or ()))
        return [(one, not self.is_bound or str(one.pk) in chosen) for one in self.rail.ready]


class ParcelsForm(forms.Form):
    """Into how many boxes the jackets go."""

    parcels = forms.IntegerField(
        label="Parcels",
        min_value=1,
        max_value=40,
        initial=1,
        required=False,
        help_text="From 1 to 40, one label each beside those of the jackets.",
    )

    def count(self) -> int:
        return (self.cleaned_data.get("parcels") or 1) if self.is_valid() else 1
