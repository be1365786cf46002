"""Who wants which jacket, for how much, by when."""

from __future__ import annotations

import datetime
from decimal import Decimal
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
    """One club's order, from the maker's draft to the hand-over. Its form is open to members while
    the state is open and the closing day is not over; the maker may change it until it is frozen
    into a run."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        OPEN = "open", "open"
        CLOSED = "closed", "closed"
        APPROVED = "approved", "approved"
        IN_PRODUCTION = "in_production", "in production"
        HANDED_OVER = "handed_over", "handed over"
        CANCELLED = "cancelled", "cancelled"

    class Payer(models.TextChoices):
        CLUB = "club", "the club pays"
        MEMBERS = "members", "members pay"

    #: States in which nothing is frozen yet.
    EDITABLE: ClassVar[tuple[str, ...]] = (
        State.DRAFT,
        State.OPEN,
        State.CLOSED,
        State.APPROVED,
    )

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    club = models.ForeignKey(Club, models.PROTECT, related_name="team_orders")
    title = models.CharField(max_length=80, validators=[ONE_LINE])
    deadline = models.DateField()
    palette = models.ManyToManyField(FabricColor, related_name="team_orders")
    note = models.TextField(blank=True, max_length=2000)
    state = models.CharField(max_length=13, choices=State.choices, default=State.OPEN)
    created_at = models.DateTimeField(auto_now_add=True)

    closes_on = models.DateField(
        null=True, blank=True, help_text="Last day on which members may order or change."
    )
    names_allowed = models.BooleanField(default=True)
    sizes = models.ManyToManyField(
        PatternSize, blank=True, related_name="+", help_text="None chosen: every size."
    )
    free_blocks = models.ManyToManyField(
        Block, blank=True, related_name="+", help_text="Blocks whose color a member may choose."
    )
    welcome = models.TextField(blank=True, max_length=2000, help_text="What members read first.")
    coordinator_email = models.EmailField(blank=True)
    price = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="Price of one jacket, tax included.",
    )
    payer = models.CharField(max_length=7, choices=Payer.choices, default=Payer.CLUB)
    discount = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        default=Decimal(0),
        help_text="Taken off the whole order.",
    )
    repeats = models.ForeignKey(
        "self", models.SET_NULL, null=True, blank=True, related_name="repeated_by"
    )
    handed_over_on = models.DateField(null=True, blank=True)
    erase_after_days = models.PositiveIntegerField(
        default=90, help_text="Members' data is kept this many days after the hand-over."
    )
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("deadline", "code")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(price__isnull=True) | Q(price__gte=0), name="order_price"
            ),
            models.CheckConstraint(condition=Q(discount__gte=0), name="order_discount"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.club.name}"

    def get_absolute_url(self) -> str:
        return reverse("orders:team_order", args=[self.code])

    @property
    def is_editable(self) -> bool:
        return self.state in self.EDITABLE

    def takes_members(self, today: datetime.date) -> bool:
        """Whether members may order or change today."""
        in_time = self.closes_on is None or today <= self.closes_on
        return self.state == self.State.OPEN and in_time


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
    discount = models.DecimalField(max_digits=12, decimal_places=3, default=Decimal(0))
    form_key = models.UUIDField(
        null=True, blank=True, unique=True, help_text="One form, one jacket: a double tap is one."
    )

    class Meta:
        ordering = ("team_order", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(discount__gte=0), name="jacket_discount"),
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


class Expected(models.Model):
    """A name on the club's roster, so that the coordinator sees who has not answered."""

    team_order = models.ForeignKey(TeamOrder, models.CASCADE, related_name="expected")
    name = models.CharField(max_length=80, validators=[ONE_LINE])

    class Meta:
        ordering = ("team_order", "name")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint("team_order", Lower("name"), name="expected_once"),
        ]

    def __str__(self) -> str:
        return self.name


class AccessLink(models.Model):
    """A secret link. The token is made from the site's secret key and `nonce`, never stored; it is
    found by its digest. A revoked link stays, so that it can be told from one never given out only
    by the maker."""

    class Kind(models.TextChoices):
        COORDINATOR = "coordinator", "the coordinator"
        MEMBERS = "members", "all members"
        MEMBER = "member", "one member"

    team_order = models.ForeignKey(TeamOrder, models.CASCADE, related_name="links")
    kind = models.CharField(max_length=11, choices=Kind.choices)
    jacket_order = models.ForeignKey(
        JacketOrder, models.CASCADE, null=True, blank=True, related_name="links"
    )
    nonce = models.CharField(max_length=32)
    digest = models.CharField(max_length=64, unique=True)
    short_code = models.CharField(max_length=12, null=True, blank=True, unique=True)
    created_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("team_order", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["team_order", "kind"],
                condition=Q(revoked_at__isnull=True, jacket_order__isnull=True),
                name="one_live_link_per_kind",
            ),
            models.UniqueConstraint(
                fields=["jacket_order"],
                condition=Q(revoked_at__isnull=True),
                name="one_live_link_per_jacket_order",
            ),
            models.CheckConstraint(
                condition=Q(kind="member", jacket_order__isnull=False)
                | (~Q(kind="member") & Q(jacket_order__isnull=True)),
                name="member_link_has_its_jacket_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team_order} {self.kind}"


class Payment(models.Model):
    """Money that came in or went back; rows are only ever added, a mistake is paid back."""

    class Kind(models.TextChoices):
        DEPOSIT = "deposit", "deposit"
        PAYMENT = "payment", "payment"
        REFUND = "refund", "refund"

    team_order = models.ForeignKey(TeamOrder, models.PROTECT, related_name="payments")
    jacket_order = models.ForeignKey(
        JacketOrder, models.SET_NULL, null=True, blank=True, related_name="payments"
    )
    receipt = models.CharField(max_length=20, unique=True)
    kind = models.CharField(max_length=7, choices=Kind.choices)
    amount = models.DecimalField(max_digits=12, decimal_places=3)
    paid_on = models.DateField()
    note = models.CharField(max_length=200, blank=True, validators=[ONE_LINE])
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("team_order", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="payment_amount"),
        ]

    def __str__(self) -> str:
        return self.receipt


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
    by_link = models.CharField(
        max_length=11,
        blank=True,
        choices=AccessLink.Kind.choices,
        help_text="Who changed it without a log-in: the kind of the secret link.",
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
