"""Forms over what is stored, that do not write over what another page stored meanwhile."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django import forms

OVERTAKEN = (
    "This was changed on another page meanwhile. What is typed here is kept: look at the changes "
    "first, then save again to put it over them."
)


class SeenForm(forms.BaseForm):
    """Carries a mark of the values that it was opened on, to be sent along as `seen`; where they
    are others by now, the first save says so. A form of something new has no mark."""

    is_new = False
    overtaken = False

    @property
    def mark(self) -> str:
        row = getattr(self, "instance", None)
        if self.is_new or (row is not None and row._state.adding):
            return ""
        values = [
            (name, str(self.get_initial_for_field(field, name)))
            for name, field in self.fields.items()
        ]
        return sha256(repr(values).encode()).hexdigest()[:16]

    @property
    def seen(self) -> str:
        """The mark to send along; once told of the change, one may save over it."""
        return self.mark if self.overtaken else self.data.get("seen") or self.mark

    def clean(self) -> dict[str, Any] | None:
        data = super().clean()
        seen = self.data.get("seen")
        self.overtaken = bool(seen and self.mark and seen != self.mark)
        if self.overtaken:
            self.add_error(None, OVERTAKEN)
        return data
