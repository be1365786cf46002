"""What is asked for a change after the freeze."""

from __future__ import annotations

from typing import Any

from django import forms

from orders.facts import JacketFacts
from orders.forms import JacketOrderForm
from orders.models import ONE_LINE, JacketOrder
from production.changing.changes import Cancel, TakeSpares

#: What the member's line says beside size and colors; it is not cut, so it does not change here.
KEPT = ("member", "name_on_jacket", "note")


class ChangedJacketForm(JacketOrderForm):
    """Another size, colorway or own colors of a frozen jacket."""

    def __init__(self, *args: Any, jacket_order: JacketOrder, **kwargs: Any) -> None:
        super().__init__(*args, jacket_order=jacket_order, **kwargs)
        self.line = jacket_order
        for name in KEPT:
            del self.fields[name]

    def facts(self) -> JacketFacts:
        for name in KEPT:
            self.cleaned_data[name] = getattr(self.line, name)
        return super().facts()


class CancelForm(forms.Form):
    reason = forms.CharField(
        required=False,
        max_length=120,
        validators=[ONE_LINE],
        help_text="Stands on the paper and in the order's changes. For example: left the club.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def facts(self) -> Cancel:
        return Cancel(self.cleaned_data["reason"])


class TakeSparesForm(forms.Form):
    """Nothing is asked: the spare parts that fit are taken."""

    def facts(self) -> TakeSpares:
        return TakeSpares()
