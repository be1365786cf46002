"""What the table sends: where each block lies, which are pinned, and which state was seen."""

from __future__ import annotations

from typing import Any

import msgspec
from django import forms

from production.planning.cutting.hand_moves import Position


class PositionsForm(forms.Form):
    """Positions are [x, y, degrees] each, in the order of the lay; pins are their numbers."""

    positions = forms.CharField(widget=forms.HiddenInput)
    pins = forms.CharField(widget=forms.HiddenInput, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def clean_positions(self) -> tuple[Position, ...]:
        triples = self._decoded("positions", list[tuple[float, float, float]])
        return tuple(Position(*triple) for triple in triples)

    def clean_pins(self) -> frozenset[int]:
        if not self.cleaned_data["pins"]:
            return frozenset()
        return frozenset(self._decoded("pins", list[int]))

    def _decoded(self, field: str, kind: Any) -> Any:
        try:
            return msgspec.json.decode(self.cleaned_data[field], type=kind)
        except msgspec.DecodeError as error:
            raise forms.ValidationError(
                "The page sent something that is not a lay. Open the lay again."
            ) from error
