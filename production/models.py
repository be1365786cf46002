"""Making the jackets: runs, jackets, cut tickets, lays, and what happened to each jacket."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from orders.models import JacketOrder, TeamOrder
from patterns.models import FabricColor


class Run(models.Model):
    """Team orders made together. `snapshot` holds everything the plan was computed from and
    `plan` the plan itself, so that a reprint next month equals today's."""

    code = models.CharField(max_length=20, unique=True)
    deadline = models.DateField()
    snapshot = models.JSONField()
    plan = models.JSONField()
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("deadline", "code")

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("production:run", args=[self.code])


class RunOrder(models.Model):
    """A team order belongs to one run at most."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="run_orders")
    team_order = models.OneToOneField(TeamOrder, models.PROTECT, related_name="run_order")

    def __str__(self) -> str:
        return f"{self.run} {self.team_order}"


class Supplement(models.Model):
    """A change after the freeze: what is cut in addition, for whom and why. `snapshot` and `plan`
    are those of the difference alone."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="supplements")
    team_order = models.ForeignKey(TeamOrder, models.PROTECT, related_name="supplements")
    number = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=500)
    snapshot = models.JSONField(null=True, blank=True)
    plan = models.JSONField(null=True, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("run", "number")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["run", "number"], name="supplement_once"),
        ]

    def __str__(self) -> str:
        return f"{self.run} supplement {self.number}"


class CutTicket(models.Model):
    """What is cut from one fabric color for one run, or for one supplement to it."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="cut_tickets")
    supplement = models.ForeignKey(
        Supplement, models.CASCADE, null=True, blank=True, related_name="cut_tickets"
    )
    code = models.CharField(max_length=24, unique=True)
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("run", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["run", "fabric_color"],
                condition=Q(supplement__isnull=True),
                name="one_ticket_per_color",
            ),
            models.UniqueConstraint(
                fields=["supplement", "fabric_color"], name="one_ticket_per_supplement_color"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("production:cut_ticket", args=[self.run.code, self.code])


class TicketLine(models.Model):
    """How many of one block in one size: pairs have as many left as right, others are single."""

    ticket = models.ForeignKey(CutTicket, models.CASCADE, related_name="lines")
    block = models.CharField(max_length=10)
    size = models.CharField(max_length=10)
    left = models.PositiveIntegerField(default=0)
    right = models.PositiveIntegerField(default=0)
    single = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("ticket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["ticket", "block", "size"], name="ticket_line_once"),
            models.CheckConstraint(condition=Q(left=F("right")), name="left_has_its_right"),
            models.CheckConstraint(
                condition=Q(left__gt=0, single=0) | Q(left=0, single__gt=0),
                name="pair_or_single",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.block} {self.size}"


class Jacket(models.Model):
    """One physical garment. `stage` is where it stands now; its events say how it got there."""

    class Stage(models.TextChoices):
        CUT = "cut", "cut"
        SEW = "sew", "sew"
        FINISH = "finish", "finish"
        HAND_OVER = "hand_over", "hand over"
        HANDED_OVER = "handed_over", "handed over"

    run = models.ForeignKey(Run, models.CASCADE, related_name="jackets")
    code = models.CharField(max_length=24, unique=True)
    jacket_order = models.OneToOneField(JacketOrder, models.PROTECT, related_name="jacket")
    size = models.CharField(max_length=10)
    stage = models.CharField(max_length=11, choices=Stage.choices, default=Stage.CUT)
    in_work = models.BooleanField(default=False)
    mend_reason = models.CharField(max_length=200, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    standard_minutes = models.JSONField(help_text="Standard minutes with allowance, by stage.")

    class Meta:
        ordering = ("run", "pk")

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("production:jacket", args=[self.code])


class JacketBlock(models.Model):
    """One block of one jacket stands on exactly one cut ticket line."""

    jacket = models.ForeignKey(Jacket, models.CASCADE, related_name="blocks")
    block = models.CharField(max_length=10)
    line = models.ForeignKey(TicketLine, models.CASCADE, related_name="jacket_blocks")

    class Meta:
        ordering = ("jacket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["jacket", "block"], name="block_on_one_ticket"),
        ]

    def __str__(self) -> str:
        return f"{self.jacket} {self.block}"


class SparePart(models.Model):
    """A cut piece that its jacket no longer needs; another jacket can take it. Rows stay."""

    class Side(models.TextChoices):
        LEFT = "left", "left"
        RIGHT = "right", "right"
        SINGLE = "single", "single"

    run = models.ForeignKey(Run, models.CASCADE, related_name="spare_parts")
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="spare_parts")
    block = models.CharField(max_length=10)
    size = models.CharField(max_length=10)
    side = models.CharField(max_length=6, choices=Side.choices)
    from_jacket = models.ForeignKey(Jacket, models.CASCADE, related_name="left_over")
    taken_by = models.ForeignKey(
        Jacket, models.SET_NULL, null=True, blank=True, related_name="taken_parts"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("run", "pk")

    def __str__(self) -> str:
        return f"{self.block} {self.size} {self.side}"


class Lay(models.Model):
    """A spread of plies cut together; `placements` as in the plan."""

    class Mode(models.TextChoices):
        FACE_UP = "face_up", "face up"

    ticket = models.ForeignKey(CutTicket, models.CASCADE, related_name="lays")
    code = models.CharField(max_length=28, unique=True)
    position = models.PositiveSmallIntegerField()
    mode = models.CharField(max_length=12, choices=Mode.choices)
    plies = models.PositiveSmallIntegerField()
    usable_width_mm = models.PositiveIntegerField()
    length_mm = models.FloatField()
    placements = models.JSONField()

    class Meta:
        ordering = ("ticket", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(plies__gt=0, length_mm__gt=0), name="lay_is_real"),
        ]

    def __str__(self) -> str:
        return self.code


class StageEvent(models.Model):
    """What happened to a jacket. Rows are only ever added; a mistake is undone by a new event."""

    class Kind(models.TextChoices):
        STARTED = "started", "started"
        DONE = "done", "done"
        SENT_BACK = "sent_back", "sent back to mend"
        UNDONE = "undone", "undone"

    jacket = models.ForeignKey(Jacket, models.CASCADE, related_name="events")
    kind = models.CharField(max_length=9, choices=Kind.choices)
    stage = models.CharField(max_length=11, choices=Jacket.Stage.choices)
    reason = models.CharField(max_length=200, blank=True)
    undoes = models.OneToOneField(
        "self", models.RESTRICT, null=True, blank=True, related_name="undone_by"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("jacket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=~Q(kind="sent_back") | ~Q(reason=""), name="mend_has_reason"
            ),
            models.CheckConstraint(
                condition=Q(kind="undone", undoes__isnull=False)
                | (~Q(kind="undone") & Q(undoes__isnull=True)),
                name="undo_names_its_event",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.jacket} {self.stage} {self.kind}"
