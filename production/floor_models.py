"""The floor: taps on tags, what lies on the table, checks, plans of the days, hand-overs."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from orders.models import TeamOrder
from production.grows import GrowsOnly
from production.people_models import Person


def by_whom() -> models.ForeignKey:  # type: ignore[type-arg]
    return models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )


class Tap(GrowsOnly):
    """One tap or scan on the floor, whatever came of it. `key` is made by the device, so that a tap
    that arrives twice counts once. `at` is when it happened by the clock of the site; `device_at`
    what the device's own clock said. Rows are only ever added."""

    class Outcome(models.TextChoices):
        RECORDED = "recorded", "recorded"
        REPEATED = "repeated", "was recorded already"
        REFUSED = "refused", "refused"
        UNKNOWN = "unknown", "no such tag"

    class Way(models.TextChoices):
        PAGE = "page", "on the jacket's page"
        BATCH = "batch", "scanned one after the other"
        PHOTO = "photo", "read from a picture"
        QUEUE = "queue", "kept on the device and sent later"

    key = models.UUIDField(unique=True)
    way = models.CharField(max_length=5, choices=Way.choices)
    code = models.CharField(max_length=200, help_text="As it was read.")
    jacket = models.ForeignKey(
        "production.Jacket", models.CASCADE, null=True, blank=True, related_name="taps"
    )
    action = models.CharField(max_length=9)
    stage = models.CharField(max_length=11, blank=True)
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    event = models.ForeignKey(
        "production.StageEvent", models.PROTECT, null=True, blank=True, related_name="taps"
    )
    words = models.CharField(max_length=500)
    at = models.DateTimeField()
    device_at = models.DateTimeField(null=True, blank=True)
    clock_off_seconds = models.IntegerField(
        null=True, blank=True, help_text="How far the device's clock is ahead; below 0: behind."
    )
    received_at = models.DateTimeField(auto_now_add=True)
    by = by_whom()

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(outcome__in=["recorded", "repeated"], event__isnull=False)
                | (Q(outcome__in=["refused", "unknown"], event__isnull=True) & ~Q(words="")),
                name="tap_came_to_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.outcome}"


class BlockTick(models.Model):
    """A block of a jacket that someone saw on the table, where the tickets do not say so. It counts
    for the line that the block stands on; a change of color asks anew."""

    jacket = models.ForeignKey("production.Jacket", models.CASCADE, related_name="ticks")
    block = models.CharField(max_length=10)
    line = models.ForeignKey("production.TicketLine", models.CASCADE, related_name="ticks")
    at = models.DateTimeField(auto_now_add=True)
    by = by_whom()
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = by_whom()

    class Meta:
        ordering = ("jacket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["jacket", "block", "line"],
                condition=Q(taken_back_at=None),
                name="block_ticked_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.jacket} {self.block}"


class CheckPoint(models.Model):
    """Something that is looked at on a finished jacket. One that is no longer asked stays."""

    code = models.CharField(max_length=20, unique=True)
    words = models.CharField(max_length=80)
    mend_stage = models.CharField(
        max_length=6,
        default="sew",
        choices=[("cut", "cut"), ("sew", "sew"), ("finish", "finish")],
        help_text="Where a jacket goes back to when this is not right.",
    )
    position = models.PositiveSmallIntegerField(default=0)
    is_asked = models.BooleanField(default=True)

    class Meta:
        ordering = ("position", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(words=""), name="check_point_says_what"),
        ]

    def __str__(self) -> str:
        return self.words


class Inspection(GrowsOnly):
    """A jacket was looked over at the end of finishing. Without a fault it passed; with some it
    went back to be mended, by `mender` where one is named. `after_event` is the jacket's last
    event before it."""

    jacket = models.ForeignKey("production.Jacket", models.CASCADE, related_name="inspections")
    passed = models.BooleanField()
    points = models.JSONField(help_text="Words of the points that were looked at.")
    note = models.CharField(max_length=200, blank=True)
    mender = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="to_mend"
    )
    after_event = models.ForeignKey(
        "production.StageEvent", models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField()
    by = by_whom()

    class Meta:
        ordering = ("jacket", "pk")

    def __str__(self) -> str:
        return f"{self.jacket} {'passed' if self.passed else 'failed'}"


class InspectionFault(GrowsOnly):
    inspection = models.ForeignKey(Inspection, models.CASCADE, related_name="faults")
    point = models.ForeignKey(CheckPoint, models.PROTECT, related_name="faults")
    words = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ("inspection", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["inspection", "point"], name="fault_once"),
        ]

    def __str__(self) -> str:
        return f"{self.inspection} {self.point}"


class Pin(models.Model):
    """A change of the schedule by hand that stays when it is made anew: who does a stage of a
    jacket, and on which day it is begun. A pin that was lifted stays in the history."""

    jacket = models.ForeignKey("production.Jacket", models.CASCADE, related_name="pins")
    stage = models.CharField(max_length=6, choices=[(s, s) for s in ("cut", "sew", "finish")])
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="pins")
    day = models.DateField(null=True, blank=True)
    words = models.CharField(max_length=120, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = by_whom()
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = by_whom()

    class Meta:
        ordering = ("jacket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["jacket", "stage"],
                condition=Q(lifted_at=None),
                name="one_pin_per_jacket_and_stage",
            ),
            models.CheckConstraint(
                condition=Q(person__isnull=False) | Q(day__isnull=False), name="pin_holds_something"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.jacket} {self.stage}"


class FloorPlan(models.Model):
    """A schedule of everything that is left to do in the workroom, as it was made at a moment; the
    latest one is in use. `plan` is a `planning.floor.FloorSchedule`."""

    at = models.DateTimeField(auto_now_add=True)
    begins_on = models.DateField()
    plan = models.JSONField()
    late_jackets = models.PositiveIntegerField()
    gap_percent = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    seconds = models.FloatField()
    by = by_whom()

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"schedule of {self.at:%Y-%m-%d %H:%M}"


class Forecast(models.Model):
    """What was expected of a team order or, without one, of a whole run at a moment."""

    run = models.ForeignKey("production.Run", models.CASCADE, related_name="forecasts")
    team_order = models.ForeignKey(
        TeamOrder, models.CASCADE, null=True, blank=True, related_name="forecasts"
    )
    deadline = models.DateField()
    chance = models.DecimalField(max_digits=4, decimal_places=3)
    even_day = models.DateField(help_text="Ready by then at 50 %.")
    safe_day = models.DateField(help_text="Ready by then at 90 %.")
    minutes_left = models.DecimalField(max_digits=10, decimal_places=2)
    warned_to = models.EmailField(blank=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(chance__gte=0, chance__lte=1), name="forecast_chance"
            ),
            models.CheckConstraint(
                condition=Q(even_day__lte=F("safe_day")), name="forecast_days_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team_order or self.run} {self.chance}"


class Delivery(models.Model):
    """Jackets of one team order handed over together. The signature is the strokes drawn on the
    screen (lists of x, y between 0 and 1) or stands on paper."""

    class Signed(models.TextChoices):
        SCREEN = "screen", "on the screen"
        PAPER = "paper", "on paper"
        NONE = "none", "not signed"

    team_order = models.ForeignKey(TeamOrder, models.PROTECT, related_name="deliveries")
    number = models.PositiveSmallIntegerField()
    received_by = models.CharField(max_length=80, blank=True)
    signed = models.CharField(max_length=6, choices=Signed.choices)
    signature = models.JSONField(default=list, blank=True)
    note = models.CharField(max_length=200, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    at = models.DateTimeField()
    by = by_whom()

    class Meta:
        ordering = ("team_order", "number")
        verbose_name_plural = "deliveries"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["team_order", "number"], name="delivery_once"),
            models.CheckConstraint(
                condition=Q(signed="screen") & ~Q(signature=[])
                | ~Q(signed="screen") & Q(signature=[]),
                name="delivery_signature_is_drawn",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team_order} delivery {self.number}"


class DeliveredJacket(GrowsOnly):
    """A jacket in a delivery, by the event that handed it over. One that came back to be mended may
    be in a later delivery again."""

    delivery = models.ForeignKey(Delivery, models.CASCADE, related_name="jackets")
    jacket = models.ForeignKey("production.Jacket", models.PROTECT, related_name="deliveries")
    event = models.OneToOneField("production.StageEvent", models.PROTECT, related_name="delivered")

    class Meta:
        ordering = ("delivery", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["delivery", "jacket"], name="delivered_once"),
        ]

    def __str__(self) -> str:
        return f"{self.delivery} {self.jacket}"
