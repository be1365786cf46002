"""What comes in from the report pages."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms

from orders.models import ONE_LINE
from production.models import StockLot
from production.tracking import REASON_LENGTH

DYE_LOT_LENGTH = StockLot._meta.get_field("dye_lot").max_length


class CutForm(forms.Form):
    """One tap on a lay's page: a ply, all that are left, or one to take back."""

    #: The lay as it was shown: another way to cut stores its lays anew, under the same codes.
    seen = forms.IntegerField(required=False)
    ply = forms.IntegerField(required=False)
    undo = forms.IntegerField(required=False)
    lot = forms.CharField(required=False)
    dye_lot = forms.CharField(
        required=False,
        max_length=DYE_LOT_LENGTH,
        validators=[ONE_LINE],
        label="Dye lot of a bolt that is not on the list",
    )


class MissingForm(forms.Form):
    """A piece that is short or spoiled; `pieces` are (block|side, words)."""

    piece = forms.ChoiceField(label="Which piece")
    reason = forms.CharField(
        label="What is wrong with it",
        max_length=REASON_LENGTH,
        validators=[ONE_LINE],
        help_text="For example: hole in the cloth, cut 2 cm short.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, pieces: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choices(self.fields["piece"], pieces)

    def chosen(self) -> tuple[str, str]:
        """The block and the side."""
        block, _, side = self.cleaned_data["piece"].rpartition("|")
        return block, side


class MissingOfLayForm(MissingForm):
    """The same for a piece of a lay: which jacket waits, and which ply it was."""

    jacket = forms.ChoiceField(label="Which jacket waits for it", widget=forms.RadioSelect)
    ply = forms.TypedChoiceField(label="Which ply", required=False, coerce=int, empty_value=None)
    field_order = ("piece", "jacket", "ply", "reason")

    def __init__(
        self,
        *args: Any,
        jackets: Iterable[tuple[str, str]],
        plies: Iterable[int],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        _choices(self.fields["jacket"], jackets)
        words = ((str(number), f"ply {number}") for number in plies)
        _choices(self.fields["ply"], [("", "not known"), *words])


def _choices(field: forms.Field, choices: Iterable[tuple[str, str]]) -> None:
    assert isinstance(field, forms.ChoiceField)
    field.choices = list(choices)
