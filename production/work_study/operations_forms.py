"""An operation as it is asked for: what it is, what drives it, its minutes, its seam and thread."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from orders.forms import LineField
from patterns.models import Operation, Seam, StyleLine
from production.edited_forms import SeenForm
from production.planning.plan import PlanError
from production.planning.threads.thread_stitches import stitch_of

#: field: (lowest, highest, unit); the highest are invented and wide.
BOUNDS: dict[str, tuple[object, object, str]] = {
    "minutes_each": (0, 1000, "minutes"),
    "minutes_per_metre": (0, 1000, "minutes"),
    "stitch_length_mm": (0.5, 10, "mm"),
    "seam_width_mm": (0, 50, "mm"),
    "rows": (1, 6, "rows"),
    "cloth_layers": (1, 12, "layers"),
}
#: Text that the same operation elsewhere has to repeat to the letter, with a list of what is there.
REPEATED = ("machine", "foot", "skill")
BY_METRE, NAMED, CHOSEN = (
    Operation.Driver.SEAM_METRE,
    Operation.Covers.NAMED,
    Operation.ThreadRule.CHOSEN,
)


class OperationForm(SeenForm, forms.ModelForm[Operation]):
    name = LineField(max_length=60)
    follows = forms.ModelChoiceField(
        Operation.objects.all(),
        label="Comes after",
        required=False,
        empty_label="first of all",
        help_text="The order of work decides how often thread, foot and stitch length change.",
    )
    machine = LineField(max_length=40, required=False)
    foot = LineField(max_length=40, required=False, label="Presser foot")
    skill = LineField(
        max_length=40, required=False, help_text="What one must be able to do, if anything."
    )
    reason = LineField(
        max_length=200,
        required=False,
        label="Why the minutes change",
        help_text="For example: timed on 12 jackets. Needed where minutes change.",
    )

    class Meta:
        model = Operation
        fields = (
            "code",
            "name",
            "stage",
            "driver",
            "covers",
            "seam",
            "minutes_each",
            "minutes_per_metre",
            "machine",
            "foot",
            "skill",
            "stitch_type",
            "stitch_length_mm",
            "seam_width_mm",
            "rows",
            "cloth_layers",
            "contrast_thread",
            "thread_rule",
            "chosen_thread",
            "takes_cones",
        )
        labels = {
            "driver": "Counted",
            "covers": "Which seams it sews",
            "seam": "Seam or style line",
            "minutes_each": "Minutes each time",
            "minutes_per_metre": "Minutes per metre of seam",
            "stitch_type": "Stitch type (ISO 4915)",
            "stitch_length_mm": "Stitch length (mm)",
            "seam_width_mm": "Width of the stitch (mm)",
            "rows": "Rows sewn at once",
            "cloth_layers": "Layers of cloth",
            "contrast_thread": "In the colorway's topstitch thread, where it has one",
            "thread_rule": "Color of the thread otherwise",
            "chosen_thread": "The one thread",
            "takes_cones": "Sews from cones, where the thread is sold on cones",
        }
        help_texts = {
            "code": "Letters, digits, dot, dash and underscore. It stays.",
            "minutes_each": "Without allowance. For seams: of each stretch of sewing, to begin and "
            "end it.",
            "seam": "For work on one named seam alone.",
            "stitch_type": "Thread is counted where there is one: 301 lockstitch, 504 overedge, …",
            "contrast_thread": "",
            "takes_cones": "",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.minutes_before = (self.instance.minutes_each, self.instance.minutes_per_metre)
        fields: dict[str, Any] = self.fields
        if self.instance.pk:
            del fields["code"]
            others = Operation.objects.exclude(pk=self.instance.pk)
            before = others.filter(position__lte=self.instance.position).last()
            fields["follows"].queryset = others
        else:
            del fields["reason"]
            before = Operation.objects.last()
        self.initial.setdefault("follows", before.pk if before else None)
        fields["seam"] = forms.ChoiceField(
            label=fields["seam"].label,
            help_text=fields["seam"].help_text,
            required=False,
            choices=seam_choices(self.instance.seam),
        )
        fields["chosen_thread"].empty_label = "none"
        fields["covers"].choices = [
            (value, "nothing: it sews no seam" if not value else label)
            for value, label in Operation.Covers.choices
        ]
        for name in REPEATED:
            fields[name].widget.attrs |= {"list": f"known-{name}", "autocomplete": "off"}
        for name, (least, most, unit) in BOUNDS.items():
            told = f"Enter {unit} from {least} to {most}."
            fields[name].validators = [
                MinValueValidator(least, told),
                MaxValueValidator(most, told),
            ]
            fields[name].widget.attrs |= {"inputmode": "decimal"}

    def known(self) -> list[tuple[str, list[str]]]:
        """For each repeated field the id of its list and what the other operations have there."""
        return [
            (
                f"known-{name}",
                list(
                    Operation.objects.exclude(**{name: ""})
                    .order_by(name)
                    .values_list(name, flat=True)
                    .distinct()
                ),
            )
            for name in REPEATED
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._clean_seams()
        self._clean_stitch()
        self._clean_thread()
        if self.instance.pk and "minutes_each" in data and "minutes_per_metre" in data:
            minutes = (data["minutes_each"], data["minutes_per_metre"])
            if minutes != self.minutes_before and not data.get("reason"):
                self.add_error("reason", "Say why the minutes change; the history keeps it.")
        return data

    def _clean_seams(self) -> None:
        data = self.cleaned_data
        by_metre = data.get("driver") == BY_METRE
        if by_metre and not data.get("covers"):
            self.add_error("covers", "Say which seams are counted by the metre.")
        if not by_metre and data.get("covers"):
            self.add_error(
                "covers", "Only work per metre of seam sews seams. Choose 'nothing' or count it so."
            )
        if not by_metre and data.get("minutes_per_metre"):
            self.add_error(
                "minutes_per_metre",
                "Only work per metre of seam takes minutes per metre. Enter 0 or count it so.",
            )
        is_named = data.get("covers") == NAMED
        if is_named and not data.get("seam"):
            self.add_error("seam", "Choose the seam or style line that it sews.")
        if not is_named and data.get("seam"):
            self.add_error(
                "seam",
                "A seam is chosen, but 'the seam that is named' is not. Choose both or none.",
            )

    def _clean_stitch(self) -> None:
        data = self.cleaned_data
        stitch = data.get("stitch_type")
        if not stitch:
            return
        try:
            stitch_of(stitch)
        except PlanError as error:
            self.add_error("stitch_type", str(error))
        if data.get("driver") != BY_METRE:
            self.add_error(
                "stitch_type",
                "Thread is counted along seams: count the work per metre of seam, or leave the "
                "stitch type empty.",
            )
        if "stitch_length_mm" in data and not data["stitch_length_mm"]:
            self.add_error("stitch_length_mm", "A stitch needs its length: from 0.5 to 10 mm.")

    def _clean_thread(self) -> None:
        data = self.cleaned_data
        is_chosen = data.get("thread_rule") == CHOSEN
        if is_chosen and not data.get("chosen_thread"):
            self.add_error("chosen_thread", "Choose the thread that all is sewn in.")
        if not is_chosen and data.get("chosen_thread"):
            self.add_error(
                "chosen_thread",
                "A thread is chosen, but the rule is another. Choose 'one thread for all' or none.",
            )


def seam_choices(present: str) -> list[Any]:
    """Seams of the patterns and style lines of the blockings by code; one that has gone since it
    was chosen is still offered."""
    seams = dict(Seam.objects.values_list("code", "name"))
    lines = {
        code: f"{name} ({blocking})"
        for code, name, blocking in StyleLine.objects.values_list("code", "name", "blocking__name")
    }
    choices: list[Any] = [
        ("", "none"),
        ("Seams", sorted(seams.items(), key=lambda pair: pair[1])),
        ("Style lines", sorted(lines.items(), key=lambda pair: pair[1])),
    ]
    if present and present not in {**seams, **lines}:
        choices.append((present, f"{present} (not in any pattern now)"))
    return choices
