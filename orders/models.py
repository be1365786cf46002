"""Who wants which jacket, for how much, by when."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from patterns.models import CODE, Block, Blocking, FabricColor, PatternSize, ThreadColor

ONE_LINE = RegexValidator(r"^[^\x00-\x1f\x7f]*$", "Use one line of text without control signs.")


class Club(models.Model):
    name = models.CharField(max_length=80, unique=True, validators=[ONE_LINE])
    contact = models.CharField(
        max_length=120, blank=True, validators=[ONE_LINE], help_text="Who answers for the order."
    )

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class TeamOrder(models.Model):
    """One club's order. It is open until the maker freezes it into a run."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        IN_PRODUCTION = "in_production", "in production"
        HANDED_OVER = "handed_over", "handed over"

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    club = models.ForeignKey(Club, models.PROTECT, related_name="team_orders")
    title = models.CharField(max_length=80, validators=[ONE_LINE])
    deadline = models.DateField()
    palette = models.ManyToManyField(FabricColor, related_name="team_orders")
    note = models.TextField(blank=True, max_length=2000)
    state = models.CharField(max_length=13, choices=State.choices, default=State.OPEN)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("deadline", "code")

    def __str__(self) -> str:
        return f"{self.code} {self.club.name}"

    def get_absolute_url(self) -> str:
        return reverse("orders:team_order", args=[self.code])

    @property
    def is_open(self) -> bool:
        return self.state == self.State.OPEN


class Colorway(models.Model):
    """Which fabric color each block of a blocking gets; zipper tape and topstitch thread."""

    team_order = models.ForeignKey(TeamOrder, models.CASCADE, related_name="colorways")
    name = models.CharField(max_length=40, validators=[ONE_LINE])
    blocking = models.ForeignKey(Blocking, models.PROTECT, related_name="colorways")
    zipper_color = models.CharField(max_length=20, help_text="Code of the zipper's tape color.")
    topstitch_thread = models.ForeignKey(
        ThreadColor,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="colorways",
        help_text="Empty: topstitching matches the block it lies on.",
    )

    class Meta:
        ordering = ("team_order", "name")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint("team_order", Lower("name"), name="colorway_name_once"),
        ]

    def __str__(self) -> str:
        return self.name


class ColorwayBlock(models.Model):
    colorway = models.ForeignKey(Colorway, models.CASCADE, related_name="fills")
    block = models.ForeignKey(Block, models.PROTECT, related_name="+")
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["colorway", "block"], name="colorway_block_once"),
        ]

    def __str__(self) -> str:
        return f"{self.block} {self.fabric_color}"


class JacketOrder(models.Model):
    """One member's line in a team order."""

    team_order = models.ForeignKey(TeamOrder, models.CASCADE, related_name="jacket_orders")
    member = models.CharField(max_length=80, validators=[ONE_LINE])
    size = models.ForeignKey(PatternSize, models.PROTECT, related_name="jacket_orders")
    # Restrict, not protect: a team order goes together with its colorways and lines.
    colorway = models.ForeignKey(Colorway, models.RESTRICT, related_name="jacket_orders")
    name_on_jacket = models.CharField(max_length=24, blank=True, validators=[ONE_LINE])
    note = models.CharField(max_length=200, blank=True, validators=[ONE_LINE])

    class Meta:
        ordering = ("team_order", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint("team_order", Lower("member"), name="member_once_per_order"),
            models.CheckConstraint(condition=~Q(member=""), name="member_named"),
        ]

    def __str__(self) -> str:
        return self.member


class BlockChoice(models.Model):
    """A member's own color for one block, instead of the colorway's."""

    jacket_order = models.ForeignKey(JacketOrder, models.CASCADE, related_name="choices")
    block = models.ForeignKey(Block, models.PROTECT, related_name="+")
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["jacket_order", "block"], name="choice_once"),
        ]

    def __str__(self) -> str:
        return f"{self.block} {self.fabric_color}"


class Amendment(models.Model):
    """One change of a team order, in words. Rows are only ever added; those of a deleted order stay
    and keep its code."""

    team_order = models.ForeignKey(
        TeamOrder, models.SET_NULL, null=True, blank=True, related_name="amendments"
    )
    deleted_order = models.CharField(max_length=20, blank=True)
    member = models.CharField(max_length=80, blank=True)
    words = models.CharField(max_length=500)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("-at", "-pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(team_order__isnull=False) | ~Q(deleted_order=""),
                name="amendment_names_its_order",
            ),
        ]

    def __str__(self) -> str:
        return self.words
