"""What a member is asked: a name, a colorway, a size. Measures are asked apart and never stored."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.utils.safestring import SafeString

from orders.facts import JacketFacts
from orders.forms import JacketOrderForm, LineField, SizeField
from orders.member_services import kept_choices, offered_sizes
from orders.models import Colorway, JacketOrder, TeamOrder
from orders.queries import Look, look_of, look_of_colorway
from patterns.geometry.fit import Advice, advise, read_length_mm
from patterns.geometry.outline import PatternError
from patterns.models import FabricColor, PatternSize
from patterns.queries import body_of, ease_of

AGAIN = "The form has lost its mark. Load the page again; what you typed comes back."


class MemberSizeField(SizeField):
    def label_from_instance(self, obj: PatternSize) -> str:
        return obj.code


class MemberForm(JacketOrderForm):
    """A member's own line. Only free blocks ask for a color, and the size is one of the chosen
    colorway's pattern."""

    member = LineField(
        label="Your name",
        max_length=80,
        help_text="First and last name, as your club knows you.",
        error_messages={"required": "Type your name."},
        widget=forms.TextInput({"autocomplete": "name"}),
    )
    colorway = forms.ModelChoiceField(
        Colorway.objects.none(),
        label="Your jacket",
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={
            "required": "Choose how your jacket looks.",
            "invalid_choice": "Choose one of the colorways shown.",
        },
    )
    size = MemberSizeField(
        PatternSize.objects.none(),
        label="Your size",
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={
            "required": "Choose your size.",
            "invalid_choice": "Choose one of the sizes shown.",
        },
    )
    form_key = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid.uuid4,
        error_messages={"required": AGAIN, "invalid": AGAIN},
    )

    def __init__(
        self,
        *args: Any,
        team_order: TeamOrder,
        colorways: Sequence[Colorway],
        colorway: Colorway | None,
        jacket_order: JacketOrder | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(
            *args, team_order=team_order, colorway=colorway, jacket_order=jacket_order, **kwargs
        )
        if colorway:
            self.initial.setdefault("colorway", colorway.pk)
        self.colorways = colorways
        self.line = jacket_order
        patterns = {one.blocking.pattern for one in colorways}
        self.one_pattern = len(patterns) == 1
        self.pattern = (
            colorway.blocking.pattern if colorway else patterns.pop() if self.one_pattern else None
        )
        fields: dict[str, Any] = self.fields
        fields["size"].queryset = self._sizes(team_order)
        free = set(team_order.free_blocks.all())
        for block in [block for block in self.own if block not in free]:
            del fields[self.own.pop(block)]
        for name in self.own.values():
            fields[name].error_messages["invalid_choice"] = "Choose one of the colors offered."
        del fields["note"]
        if not team_order.names_allowed:
            del fields["name_on_jacket"]
        if jacket_order:
            del fields["form_key"]

    def _sizes(self, team_order: TeamOrder) -> Any:
        if self.pattern is None:
            return PatternSize.objects.none()
        keys = set(offered_sizes(team_order, self.pattern).values_list("pk", flat=True))
        if self.line:
            keys.add(self.line.size_id)
        return self.pattern.sizes.filter(pk__in=keys)

    def sizes(self) -> list[PatternSize]:
        size: Any = self.fields["size"]
        return list(size.queryset)

    def colorway_tiles(self) -> list[tuple[forms.boundfield.BoundWidget, SafeString]]:
        """Each choice with the front of its jacket."""
        return [
            (radio, look_of_colorway(one, uid=f"tile{one.pk}").pictures[0][1])
            for radio, one in zip(self["colorway"], self.colorways, strict=True)
        ]

    def look(self, *, uid: str) -> Look | None:
        """The chosen colorway, over it what the maker has set for this jacket, over it the colors
        chosen so far."""
        if not self.chosen:
            return None
        fills = {fill.block.code: fill.fabric_color for fill in self.chosen.fills.all()}
        if self.line and self.line.colorway == self.chosen:
            fills |= {block.code: color for block, color in kept_choices(self.line).items()}
        for block, name in self.own.items():
            fills[block.code] = self._own_color(name) or fills[block.code]
        return look_of(
            self.chosen.blocking,
            fills,
            self.chosen.zipper_color,
            self.chosen.topstitch_thread,
            uid=uid,
        )

    def _own_color(self, name: str) -> FabricColor | None:
        """What a select holds so far; None while it is empty or names nothing on offer."""
        try:
            color: FabricColor | None = self.fields[name].clean(self[name].value())
        except forms.ValidationError:
            return None
        return color

    def facts(self) -> JacketFacts:
        data = self.cleaned_data
        return JacketFacts(
            member=data["member"],
            size=data["size"],
            colorway=data["colorway"],
            name_on_jacket=data.get("name_on_jacket", ""),
            choices={block: data[name] for block, name in self.own.items() if data[name]},
        )


class LengthField(forms.CharField):
    """A length as typed, in mm; `measure` is a key of fit.MEASURES."""

    def __init__(self, measure: str, **kwargs: Any) -> None:
        self.measure = measure
        widget = forms.TextInput({"autocomplete": "off", "data-measure": ""})
        super().__init__(required=False, max_length=20, widget=widget, **kwargs)

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_length_mm(text, self.measure)
        except PatternError as error:
            raise forms.ValidationError(str(error)) from error


class MeasureForm(forms.Form):
    """Asked for the advice alone: nothing of it goes further than the page that answers."""

    chest_mm = LengthField(
        "chest_mm",
        label="Chest",
        help_text="Over a shirt, once around at the widest place, the tape level and not tight.",
    )
    height_mm = LengthField("height_mm", label="Height", help_text="Without shoes.")
    arm_mm = LengthField(
        "arm_mm", label="Arm", help_text="From the bone on top of the shoulder to the wrist."
    )
    flat_width_mm = LengthField(
        "flat_width_mm",
        label="A jacket that fits",
        help_text="Closed and laid flat: straight across from armpit to armpit.",
    )

    def advice(self, sizes: Iterable[PatternSize]) -> Advice | None:
        """The advice for what was typed; what is wrong stands at its field."""
        offered = list(sizes)
        if not self.is_valid():
            return None
        try:
            if not offered:
                raise PatternError("Choose a colorway first: the sizes hang on it.")
            ease = ease_of(offered[0].pattern)
            return advise([body_of(size) for size in offered], ease, **self.cleaned_data)
        except PatternError as error:
            self.add_error("chest_mm", str(error))
            return None


class JoinForm(forms.Form):
    code = forms.CharField(
        label="Code from the board",
        max_length=40,
        help_text="Ten letters and digits. Capitals, blanks and dashes do not matter.",
        widget=forms.TextInput(
            {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )
