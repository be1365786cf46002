"""Many tags one after the other for one step: the choices, and a list of codes as one form."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib.auth.models import User

from production.models import Run, Tap
from production.planning.standing import STAGES, WORK
from production.scanning.codes import read_code
from production.scanning.taps import NEXT, TapAsked, tap
from production.tracking import Action

MOST_CODES = 200


@dataclass(frozen=True, slots=True)
class BatchStep:
    """A step as it is chosen for a batch; `value` is 'action:stage'."""

    value: str
    words: str

    @property
    def action(self) -> str:
        return self.value.partition(":")[0]

    @property
    def stage(self) -> str:
        return self.value.partition(":")[2]


def batch_steps() -> tuple[BatchStep, ...]:
    steps = [BatchStep(NEXT, "the next step of each")]
    for stage in STAGES[:-1]:
        steps.append(BatchStep(f"{Action.START}:{stage}", f"{WORK[stage]} started"))
        steps.append(BatchStep(f"{Action.DONE}:{stage}", f"{WORK[stage]} done"))
    return (*steps, BatchStep(f"{Action.DONE}:{STAGES[-1]}", "handed over"))


class BatchForm(forms.Form):
    """A list of tags, one a line, as the page without its script sends it."""

    step = forms.ChoiceField(
        label="What was done", choices=[(step.value, step.words) for step in batch_steps()]
    )
    vouch = forms.BooleanField(
        required=False, label="I have seen all blocks of these jackets on the table"
    )
    codes = forms.CharField(
        label="Tags, one a line",
        widget=forms.Textarea(attrs={"rows": 6, "autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": "Scan or type at least one tag."},
    )
    run = forms.ModelChoiceField(
        queryset=Run.objects.only("code"),
        to_field_name="code",
        required=False,
        widget=forms.HiddenInput,
    )
    tap_key = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def clean_codes(self) -> list[str]:
        lines = [line.strip() for line in self.cleaned_data["codes"].splitlines()]
        codes = [line for line in lines if line]
        if len(codes) > MOST_CODES:
            raise forms.ValidationError(
                f"These are {len(codes)} tags; record at most {MOST_CODES} at once."
            )
        return codes

    def asked(self) -> list[TapAsked]:
        """The taps in order. The same list sent twice has the same keys, and a tag that stands in
        it twice is the same scan."""
        given: dict[str, Any] = self.cleaned_data
        step = BatchStep(given["step"], "")
        base = given["tap_key"] or uuid.uuid4()
        first: dict[str, uuid.UUID] = {}
        asked = []
        for number, code in enumerate(given["codes"]):
            key = uuid.uuid5(base, f"{step.value} {given['vouch']} {number} {code}")
            before = first.setdefault(read_code(code).casefold(), key)
            asked.append(
                TapAsked(
                    key=key,
                    way=Tap.Way.BATCH,
                    code=code,
                    action=step.action,
                    stage=step.stage,
                    vouch=given["vouch"] and vouches_in_batch(step),
                    run=given["run"].code if given["run"] else "",
                    same_as=None if before == key else before,
                )
            )
        return asked


def vouches_in_batch(step: BatchStep) -> bool:
    """The box on the page speaks of blocks on the table, so it says nothing of a later stage."""
    return step.action == NEXT or step.stage == STAGES[0]


def take_batch(form: BatchForm, by: User) -> list[Tap]:
    return [tap(asked, by) for asked in form.asked()]
