"""What the order pages ask: shape and words are checked here, the order's rules in services."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django import forms

from orders.facts import ColorwayFacts, JacketFacts
from orders.lines import one_line
from orders.models import ONE_LINE, Colorway, JacketOrder, TeamOrder
from orders.queries import Look, look_of, zipper_colors
from patterns.models import Block, Blocking, PatternSize, ThreadColor

FILL = "fill_"
OWN = "own_"


class LineField(forms.CharField):
    """One line of text, tidied before it is judged, so that no length counts what nobody sees."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(validators=[ONE_LINE], **kwargs)

    def to_python(self, value: Any) -> Any:
        return one_line(super().to_python(value) or "")


class EditForm(forms.Form):
    """A form over values stored before: it carries a mark of what it was opened on, and when that
    has changed meanwhile on another page, the first save says so instead of writing over it."""

    def __init__(self, *args: Any, stored: dict[str, Any] | None, **kwargs: Any) -> None:
        self.mark = sha256(repr(stored).encode()).hexdigest()[:16] if stored else ""
        self.overtaken = False
        if stored:
            kwargs.setdefault("initial", stored)
        super().__init__(*args, **kwargs)

    @property
    def seen(self) -> str:
        """The mark to send along; once told of the change, the maker may save over it."""
        opened_on = self.data.get("seen") or self.initial.get("seen")
        return str(self.mark if self.overtaken else opened_on or self.mark)

    def clean(self) -> None:
        seen = self.data.get("seen")
        self.overtaken = bool(self.mark and seen and seen != self.mark)
        if self.overtaken:
            raise forms.ValidationError(
                "This was changed on another page meanwhile. What is typed here is kept: look at "
                "the changes first, then save again to put it over them."
            )


class ColorwayForm(EditForm):
    """One choice of color for each block of a blocking that is chosen beforehand."""

    name = LineField(max_length=40)

    def __init__(
        self,
        *args: Any,
        team_order: TeamOrder,
        blocking: Blocking,
        colorway: Colorway | None = None,
        **kwargs: Any,
    ) -> None:
        self.blocking = blocking
        self.blocks = list(blocking.blocks.all())
        super().__init__(*args, stored=_colorway_stored(colorway) if colorway else None, **kwargs)
        palette = team_order.palette.all()
        for block in self.blocks:
            self.fields[f"{FILL}{block.code}"] = forms.ModelChoiceField(
                palette, label=str(block), empty_label="choose a color"
            )
        self.fields["zipper_color"] = forms.ChoiceField(
            label="Zipper tape", choices=[("", "choose a color"), *zipper_colors().items()]
        )
        self.fields["topstitch_thread"] = forms.ModelChoiceField(
            ThreadColor.objects.all(),
            label="Topstitch thread",
            required=False,
            empty_label="matching the block it lies on",
        )

    def look(self, *, uid: str) -> Look:
        """What is chosen so far; a block without a color stays white."""
        chosen = {block.code: _chosen(self[f"{FILL}{block.code}"]) for block in self.blocks}
        return look_of(
            self.blocking,
            {code: color for code, color in chosen.items() if color},
            str(self["zipper_color"].value() or ""),
            _chosen(self["topstitch_thread"]),
            uid=uid,
        )

    def facts(self) -> ColorwayFacts:
        data = self.cleaned_data
        return ColorwayFacts(
            name=data["name"],
            blocking=self.blocking,
            zipper_color=data["zipper_color"],
            topstitch_thread=data["topstitch_thread"],
            fills={block: data[f"{FILL}{block.code}"] for block in self.blocks},
        )


def _chosen(field: forms.BoundField) -> Any:
    """The row chosen in a select, or None while it is empty or names no row on offer."""
    choices: Any = field.field
    try:
        return choices.clean(field.value())
    except forms.ValidationError:
        return None


def _colorway_stored(colorway: Colorway) -> dict[str, Any]:
    return {
        "name": colorway.name,
        "zipper_color": colorway.zipper_color,
        "topstitch_thread": colorway.topstitch_thread_id,
        **{f"{FILL}{fill.block.code}": fill.fabric_color_id for fill in colorway.fills.all()},
    }


class SizeField(forms.ModelChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, obj: PatternSize) -> str:
        return f"{obj.code} — {obj.name}" if obj.name != obj.code else obj.code


class JacketOrderForm(EditForm):
    """A member's line; the own colors offered are those of the chosen colorway's blocks."""

    member = LineField(max_length=80)
    colorway = forms.ModelChoiceField(Colorway.objects.none(), empty_label="choose a colorway")
    size = SizeField(PatternSize.objects.none(), empty_label="choose a size")
    name_on_jacket = LineField(required=False, max_length=24, help_text="At most 24 letters.")
    note = LineField(required=False, max_length=200)

    def __init__(
        self,
        *args: Any,
        team_order: TeamOrder,
        colorway: Colorway | None,
        jacket_order: JacketOrder | None = None,
        **kwargs: Any,
    ) -> None:
        if colorway and not jacket_order:
            kwargs.setdefault("initial", {"colorway": colorway.pk})
        stored = _jacket_stored(jacket_order) if jacket_order else None
        super().__init__(*args, stored=stored, **kwargs)
        self.chosen = colorway
        colorways = team_order.colorways.select_related("blocking")
        fields: dict[str, Any] = self.fields
        fields["colorway"].queryset = colorways
        fields["size"].queryset = PatternSize.objects.filter(
            pattern__blockings__colorways__team_order=team_order
        ).distinct()
        palette = team_order.palette.all()
        self.own: dict[Block, str] = {}
        for fill in colorway.fills.all() if colorway else ():
            self.own[fill.block] = name = f"{OWN}{fill.block.code}"
            fields[name] = forms.ModelChoiceField(
                palette,
                label=str(fill.block),
                required=False,
                empty_label=f"{fill.fabric_color.name}, as colorway",
            )

    def clean(self) -> None:
        super().clean()
        # Without JavaScript the blocks asked for can be those of the colorway chosen before.
        blocks = {fill.block.code for fill in self.chosen.fills.all()} if self.chosen else set()
        asked = [name for name, color in self.data.items() if name.startswith(OWN) and color]
        lost = [code for name in asked if (code := name.removeprefix(OWN)) not in blocks]
        if lost and self.chosen:
            raise forms.ValidationError(
                f"{self.chosen} has no block {', '.join(lost)}. Its own blocks are shown now: "
                "choose the own colors once more, then save."
            )

    def own_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.own.values()]

    def look(self, *, uid: str) -> Look | None:
        """The chosen colorway with the own colors chosen so far."""
        if not self.chosen:
            return None
        own = {block.code: _chosen(self[name]) for block, name in self.own.items()}
        fills = {fill.block.code: fill.fabric_color for fill in self.chosen.fills.all()}
        return look_of(
            self.chosen.blocking,
            fills | {code: color for code, color in own.items() if color},
            self.chosen.zipper_color,
            self.chosen.topstitch_thread,
            uid=uid,
        )

    def facts(self) -> JacketFacts:
        data = self.cleaned_data
        return JacketFacts(
            member=data["member"],
            size=data["size"],
            colorway=data["colorway"],
            name_on_jacket=data["name_on_jacket"],
            note=data["note"],
            choices={block: data[name] for block, name in self.own.items() if data[name]},
        )


def _jacket_stored(jacket_order: JacketOrder) -> dict[str, Any]:
    return {
        "member": jacket_order.member,
        "colorway": jacket_order.colorway_id,
        "size": jacket_order.size_id,
        "name_on_jacket": jacket_order.name_on_jacket,
        "note": jacket_order.note,
        **{f"{OWN}{own.block.code}": own.fabric_color_id for own in jacket_order.choices.all()},
    }
