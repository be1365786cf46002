"""A thread sample as it is measured: in millimetres, or inches where the workroom has them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from orders.forms import LineField
from patterns.models import Operation
from production.planning.lengths import IMPERIAL, MM_PER_INCH
from production.planning.threads.thread_stitches import STITCHES

#: Longer samples and threads are a slip of the pen. Invented.
LONGEST_MM = 20_000
_TENTH_MM = Decimal("0.1")
LENGTHS = ("seam", "needle", "under")


def sewing_operations() -> Any:
    return Operation.objects.filter(
        driver=Operation.Driver.SEAM_METRE, stitch_type__in=STITCHES
    ).prefetch_related("thread_samples")


class SampleForm(forms.Form):
    """Lengths are given on in mm, to 0.1. What looks wrong but may be right is a warning, which
    `confirmed` lets pass."""

    operation = forms.ModelChoiceField(
        Operation.objects.none(),
        empty_label="choose the operation",
        error_messages={"required": "Choose the operation that the sample was sewn by."},
    )
    seam = forms.DecimalField(label="Length of the sample seam")
    needle = forms.DecimalField(label="Needle thread drawn out")
    under = forms.DecimalField(
        label="Bobbin or looper thread drawn out",
        help_text="All loopers together. 0 for a stitch of one thread.",
    )
    note = LineField(
        max_length=120,
        required=False,
        help_text="For example: two layers of fleece, new foot.",
    )
    confirmed = forms.BooleanField(
        label="I measured again; it is right", required=False, widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.mm, self.unit = (MM_PER_INCH, "in") if unit == IMPERIAL else (Decimal(1), "mm")
        self.warnings: list[str] = []
        fields: dict[str, Any] = self.fields
        fields["operation"].queryset = sewing_operations()
        for name in LENGTHS:
            fields[name].label += f" ({self.unit})"
            fields[name].widget.attrs |= {"inputmode": "decimal", "step": "any"}
        fields["seam"].help_text = "One row, without its ends. The longer, the surer."
        fields["needle"].help_text = "All needle threads of the row together."

    def clean_seam(self) -> Decimal:
        return self._length("seam", "The sample seam is to be longer than 0")

    def clean_needle(self) -> Decimal:
        return self._length("needle", "The needle thread is to be longer than 0")

    def clean_under(self) -> Decimal:
        if self.cleaned_data["under"] == 0:
            return Decimal(0)
        return self._length("under", "Thread drawn out is not below 0")

    def _length(self, name: str, told: str) -> Decimal:
        length_mm: Decimal = (self.cleaned_data[name] * self.mm).quantize(_TENTH_MM)
        if length_mm <= 0:
            raise forms.ValidationError(f"{told} {self.unit}: measure it again.")
        if length_mm > LONGEST_MM:
            raise forms.ValidationError(
                f"This is longer than {LONGEST_MM // 1000} m: look at the unit, {self.unit}."
            )
        return length_mm

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        stitch = STITCHES[data["operation"].stitch_type]
        under = stitch.threads - stitch.needles
        if bool(under) != bool(data["under"]):
            self.add_error(
                "under",
                "This stitch has a bobbin or looper: draw out its thread too."
                if under
                else "This stitch has one thread, in the needle: enter 0 here.",
            )
            return data
        self.warnings = [
            *self._short("needle", "needle", stitch.needles),
            *self._short("under", "bobbin or looper", under),
        ]
        return data

    def _short(self, name: str, words: str, threads: int) -> list[str]:
        """A thread runs along the seam at least once, unless the seam was stretched."""
        if self.cleaned_data[name] >= threads * self.cleaned_data["seam"]:
            return []
        many = f"{threads} threads of it run" if threads > 1 else "it runs"
        return [
            f"The {words} thread is shorter than the seam, though {many} along it at least once. "
            "Measure again, with the thread pulled straight."
        ]

    @property
    def may_be_kept(self) -> bool:
        return self.is_valid() and (not self.warnings or self.cleaned_data["confirmed"])
