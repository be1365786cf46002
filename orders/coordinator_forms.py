"""What the coordinator's pages ask."""

from __future__ import annotations

from typing import Any

from django import forms

from orders.facts import JacketFacts
from orders.forms import EditForm, LineField, SizeField
from orders.lines import one_line
from orders.models import Colorway, JacketOrder, TeamOrder
from patterns.models import PatternSize

LONGEST_NAME = 80
MOST_NAMES = 1000


class JacketForm(EditForm):
    """A member's jacket as the coordinator fixes it; own colors and the note stay."""

    member = LineField(max_length=LONGEST_NAME)
    size = SizeField(PatternSize.objects.none(), empty_label="choose a size")
    colorway = forms.ModelChoiceField(Colorway.objects.none(), empty_label="choose a colorway")
    name_on_jacket = LineField(required=False, max_length=24, help_text="At most 24 letters.")

    def __init__(
        self,
        data: Any = None,
        *,
        team_order: TeamOrder,
        jacket: JacketOrder | None = None,
        member: str = "",
    ) -> None:
        self.jacket = jacket
        names = ("member", "size_id", "colorway_id", "name_on_jacket")
        stored = {name.removesuffix("_id"): getattr(jacket, name) for name in names if jacket}
        super().__init__(data, stored=stored or None, initial=stored or {"member": member})
        fields: dict[str, Any] = self.fields
        fields["colorway"].queryset = team_order.colorways.all()
        fields["size"].queryset = _sizes(team_order, jacket)
        if not team_order.names_allowed and not (jacket and jacket.name_on_jacket):
            del self.fields["name_on_jacket"]

    def facts(self) -> JacketFacts:
        data, jacket = self.cleaned_data, self.jacket
        blocks = {fill.block_id: fill.block for fill in data["colorway"].fills.all()}
        choices = jacket.choices.select_related("fabric_color") if jacket else ()
        return JacketFacts(
            member=data["member"],
            size=data["size"],
            colorway=data["colorway"],
            name_on_jacket=data.get("name_on_jacket", ""),
            note=jacket.note if jacket else "",
            choices={
                blocks[own.block_id]: own.fabric_color for own in choices if own.block_id in blocks
            },
        )


def _sizes(team_order: TeamOrder, jacket: JacketOrder | None) -> Any:
    """The sizes that the order offers, and the one that the jacket has."""
    made = PatternSize.objects.filter(pattern__blockings__colorways__team_order=team_order)
    offered = list(team_order.sizes.values_list("pk", flat=True))
    if offered:
        made = made.filter(pk__in=[*offered, *([jacket.size_id] if jacket else [])])
    return made.distinct()


class NamesForm(forms.Form):
    names = forms.CharField(
        label="Names on the club's roster",
        max_length=MOST_NAMES * LONGEST_NAME,
        widget=forms.Textarea({"rows": 6, "autocomplete": "off", "spellcheck": "false"}),
        help_text="One name in each line. Names that are there already are passed over.",
    )

    def clean_names(self) -> list[str]:
        """The names; a line that is none is told by its number."""
        lines = enumerate(self.cleaned_data["names"].splitlines(), 1)
        names = {number: name for number, line in lines if (name := one_line(line))}
        for number, name in names.items():
            if "\t" in name:
                raise forms.ValidationError(
                    f"Line {number} has several cells: paste the column of names alone, or take "
                    "the cells in as a roster."
                )
            if len(name) > LONGEST_NAME:
                raise forms.ValidationError(
                    f"Line {number} has {len(name)} letters; a name has at most {LONGEST_NAME}."
                )
            if not name.isprintable():
                raise forms.ValidationError(f"Line {number} has a control sign in it.")
        if len(names) > MOST_NAMES:
            raise forms.ValidationError(
                f"{len(names)} names at once are too many; put in at most {MOST_NAMES}."
            )
        return list(names.values())
