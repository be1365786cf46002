"""What the cutting page asks."""

from __future__ import annotations

from django import forms

from production.models import LayPlan
from production.tasks import FIRST_SECONDS

LONGEST_SECONDS = 3600


class LookForm(forms.Form):
    """How long better lays are looked for."""

    seconds = forms.IntegerField(
        label="Seconds",
        min_value=1,
        max_value=LONGEST_SECONDS,
        initial=FIRST_SECONDS,
        help_text="A minute finds most of what there is; ten minutes find a little more.",
    )


class UseForm(forms.Form):
    """Which way is used, and the mark of what was shown of it."""

    aim = forms.ChoiceField(choices=LayPlan.Aim.choices)
    seen = forms.CharField(max_length=40)
