"""What comes in from the production pages."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms

from orders.models import ONE_LINE, TeamOrder
from production.planning.standing import STAGES, WORK, mending_stages
from production.queries import orders_to_plan
from production.scanning.taps import TapAsked
from production.tracking import REASON_LENGTH, Action


class RecordForm(forms.Form):
    """One tap on a jacket's page. The hidden fields say what the page was showing, and `tap_key`
    that it is the same tap when it arrives twice."""

    action = forms.ChoiceField(choices=[(action.value, action.value) for action in Action])
    stage = forms.ChoiceField(choices=[(stage, WORK[stage]) for stage in STAGES])
    reason = forms.CharField(
        max_length=REASON_LENGTH, required=False, validators=[ONE_LINE], label="What to mend"
    )
    seen = forms.CharField(required=False)
    undoes = forms.IntegerField(required=False)
    after = forms.IntegerField(required=False)
    vouch = forms.BooleanField(required=False)
    tap_key = forms.UUIDField(required=False)

    def asked(self, code: str) -> TapAsked:
        """The tap on the jacket's page. A page that was gone back to has its old key still, so
        what was asked for is a part of the tap's own one."""
        step = dict(self.cleaned_data)
        key = step.pop("tap_key") or uuid.uuid4()
        told = " ".join(str(each) for each in (code, *step.values()))
        return TapAsked(key=uuid.uuid5(key, told), way="page", code=code, **step)


class SendBackForm(forms.Form):
    stage = forms.ChoiceField(label="Back to")
    reason = forms.CharField(
        label="What is to be mended",
        max_length=REASON_LENGTH,
        help_text="Shown until it is mended. For example: zipper wave at the hem.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, stage: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        field = self.fields["stage"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(reached, WORK[reached]) for reached in reversed(mending_stages(stage))]


class NewRunForm(forms.Form):
    team_orders: forms.ModelMultipleChoiceField[TeamOrder] = forms.ModelMultipleChoiceField(
        queryset=TeamOrder.objects.none(),
        to_field_name="code",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Choose at least one team order.",
            "invalid_choice": "%(value)s cannot be planned: it is no open team order with jackets.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["team_orders"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = orders_to_plan()
