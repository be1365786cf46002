"""The forms of a team order as such: opening and editing it, and ordering it again."""

from __future__ import annotations

import dataclasses
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.safestring import SafeString

from orders.facts import TeamOrderFacts
from orders.forms import EditForm, LineField
from orders.models import ONE_LINE, Club, JacketOrder, TeamOrder
from orders.money_forms import AmountField
from orders.queries import (
    blocks_to_free,
    facts_of,
    members_to_repeat,
    suggested_code,
)
from orders.repeat import RepeatFacts
from orders.rules import is_taken
from orders.templatetags.cloth import chip
from patterns.models import CODE, Block, FabricColor, PatternSize


class PaletteField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # no class_getitem
    def label_from_instance(self, obj: FabricColor) -> SafeString:
        return chip(obj)


class SizesField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    def __init__(self, age_group: str, **kwargs: Any) -> None:
        sizes = PatternSize.objects.filter(age_group=age_group)
        super().__init__(sizes, required=False, widget=forms.CheckboxSelectMultiple, **kwargs)

    def label_from_instance(self, obj: PatternSize) -> str:
        return obj.code


class FreeBlocksField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, obj: Block) -> str:
        return f"{obj.blocking.name}: {obj}"


def day_field(**kwargs: Any) -> forms.DateField:
    return forms.DateField(widget=forms.DateInput(attrs={"type": "date"}), **kwargs)


def not_past(day: date | None, words: str) -> date | None:
    if day and day < timezone.localdate():
        raise forms.ValidationError(f"{words}; name a day from today on.")
    return day


class TeamOrderForm(EditForm):
    """A team order in groups of fields; the free blocks are asked once there are colorways."""

    club = forms.ModelChoiceField(
        Club.objects.all(), required=False, empty_label="a new club, named below"
    )
    new_club = LineField(label="Name of a new club", required=False, max_length=80)
    contact = LineField(
        label="Club's contact",
        required=False,
        max_length=120,
        help_text="Who answers for the order. Left empty, what is stored for the club stays.",
    )
    title = LineField(max_length=80, help_text="What the jackets are for.")
    deadline = day_field(help_text="The day they are handed over.")
    closes_on = day_field(
        label="Closing day",
        required=False,
        help_text="The last day on which members may order or change. Left empty, the form stays "
        "open until you close it.",
    )
    code = forms.CharField(
        max_length=20,
        required=False,
        validators=[CODE],
        help_text="Stands on every ticket. Left empty, it is made of the club and the year.",
    )
    palette = PaletteField(
        FabricColor.objects.all(),
        widget=forms.CheckboxSelectMultiple,
        help_text="The fabric colors that the club may choose from.",
    )
    youth_sizes = SizesField(PatternSize.AgeGroup.YOUTH)
    adult_sizes = SizesField(PatternSize.AgeGroup.ADULT)
    names_allowed = forms.BooleanField(
        label="Members may have a name on the jacket", required=False, initial=True
    )
    free_blocks = FreeBlocksField(
        Block.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Blocks whose color members may choose",
        help_text="None ticked: every jacket looks as its colorway.",
    )
    price = forms.DecimalField()
    payer = forms.ChoiceField(
        label="Who pays",
        choices=TeamOrder.Payer.choices,
        initial=TeamOrder.Payer.CLUB,
        widget=forms.RadioSelect,
    )
    discount = forms.DecimalField()
    welcome = forms.CharField(
        label="Welcome text",
        required=False,
        max_length=2000,
        widget=forms.Textarea({"rows": 4}),
        help_text="What members read first, above the form.",
    )
    coordinator_email = forms.EmailField(
        label="Coordinator's e-mail",
        required=False,
        help_text="The reminder of who is missing goes there; members do not see it.",
    )
    erase_after_days = forms.IntegerField(
        label="Days that members' data is kept",
        initial=90,
        min_value=0,
        max_value=3650,
        help_text="Counted from the hand-over.",
    )
    note = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea({"rows": 3}),
        help_text="For the workroom; neither the club nor members see it.",
    )

    def __init__(self, *args: Any, team_order: TeamOrder | None = None, **kwargs: Any) -> None:
        self.team_order = team_order
        stored = _team_order_stored(team_order) if team_order else None
        super().__init__(*args, stored=stored, **kwargs)
        fields: dict[str, Any] = self.fields
        # Their decimals are those of the workroom's currency.
        fields["price"] = AmountField(
            "Price of one jacket",
            min_value=0,
            required=False,
            help_text="Tax included. Left empty, members see no price.",
        )
        fields["discount"] = AmountField(
            "Discount", min_value=0, required=False, help_text="Taken off the whole order."
        )
        blocks = blocks_to_free(team_order) if team_order else Block.objects.none()
        if blocks:
            fields["free_blocks"].queryset = blocks
        else:
            del fields["free_blocks"]

    def clean_deadline(self) -> Any:
        deadline = self.cleaned_data["deadline"]
        kept = self.team_order is not None and deadline == self.team_order.deadline
        return deadline if kept else not_past(deadline, "The deadline is past")

    def clean_closes_on(self) -> Any:
        closes_on = self.cleaned_data["closes_on"]
        kept = self.team_order is not None and closes_on == self.team_order.closes_on
        return closes_on if kept else not_past(closes_on, "The closing day is past")

    def clean(self) -> None:
        super().clean()
        club, new_club = self.cleaned_data.get("club"), self.cleaned_data.get("new_club")
        if club and new_club:
            self.add_error("new_club", "Choose a club or name a new one, not both.")
        elif not club and new_club:
            if is_taken(new_club, Club.objects.values_list("name", flat=True)):
                self.add_error("new_club", f"{new_club} is known; choose it from the list.")
        elif not club and "new_club" not in self.errors and "club" not in self.errors:
            self.add_error("club", "Choose a club or name a new one.")

    def facts(self) -> TeamOrderFacts:
        data = self.cleaned_data
        club = data["club"] or Club(name=data["new_club"])
        return TeamOrderFacts(
            code=data["code"] or suggested_code(club.name, data["deadline"]),
            club=club,
            title=data["title"],
            deadline=data["deadline"],
            palette=tuple(data["palette"]),
            note=data["note"],
            contact=data["contact"],
            closes_on=data["closes_on"],
            names_allowed=data["names_allowed"],
            sizes=(*data["youth_sizes"], *data["adult_sizes"]),
            free_blocks=tuple(data.get("free_blocks", ())),
            welcome=data["welcome"],
            coordinator_email=data["coordinator_email"],
            price=data["price"],
            payer=data["payer"],
            discount=data["discount"] or Decimal(0),
            erase_after_days=data["erase_after_days"],
        )


def _team_order_stored(team_order: TeamOrder) -> dict[str, object]:
    stored = facts_of(team_order)
    return {
        **{field.name: getattr(stored, field.name) for field in dataclasses.fields(stored)},
        "deadline": stored.deadline.isoformat(),
        "closes_on": stored.closes_on and stored.closes_on.isoformat(),
        "discount": stored.discount or "",
        "youth_sizes": stored.sizes,
        "adult_sizes": stored.sizes,
    }


class StayingField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, obj: JacketOrder) -> str:
        return f"{obj.member}, {obj.size}, {obj.colorway}"


class RepeatForm(forms.Form):
    """What differs when an order is made again, and who is still there."""

    title = forms.CharField(max_length=80, validators=[ONE_LINE])
    deadline = day_field(help_text="The day they are handed over.")
    closes_on = day_field(
        label="Closing day",
        required=False,
        help_text="The last day on which members may order or change, if there is one.",
    )
    code = forms.CharField(
        max_length=20,
        required=False,
        validators=[CODE],
        help_text="Left empty, it is made of the club and the year.",
    )
    step_up = forms.BooleanField(
        label="Youth sizes one step up",
        required=False,
        help_text="After the largest youth size comes the adult size whose chest is next above. "
        "Adult sizes stay.",
    )
    staying = StayingField(
        JacketOrder.objects.none(),
        label="Members who order again",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Take the tick from those who left.",
    )

    def __init__(self, *args: Any, team_order: TeamOrder, **kwargs: Any) -> None:
        self.team_order = team_order
        members = members_to_repeat(team_order)
        kwargs.setdefault("initial", {"title": team_order.title, "staying": members})
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["staying"].queryset = members
        if not members:
            del fields["staying"]

    def clean_deadline(self) -> Any:
        return not_past(self.cleaned_data["deadline"], "The deadline is past")

    def clean_closes_on(self) -> Any:
        return not_past(self.cleaned_data["closes_on"], "The closing day is past")

    def facts(self) -> RepeatFacts:
        data = self.cleaned_data
        return RepeatFacts(
            code=data["code"] or suggested_code(self.team_order.club.name, data["deadline"]),
            title=data["title"],
            deadline=data["deadline"],
            closes_on=data["closes_on"],
            staying=tuple(data.get("staying", ())),
            step_up=data["step_up"],
        )
