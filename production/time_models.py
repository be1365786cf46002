"""Minutes as they were measured, and the standards that changed by it."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from patterns.models import Operation
from production.grows import GrowsOnly


class TimeStudy(models.Model):
    """Readings of one operation, taken with the stopwatch; accepted, they set its standard."""

    class State(models.TextChoices):
        OPEN = "open", "being taken"
        ACCEPTED = "accepted", "accepted"
        DROPPED = "dropped", "dropped"

    operation = models.ForeignKey(Operation, models.CASCADE, related_name="time_studies")
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    who = models.CharField(max_length=60, blank=True, help_text="Whose work is timed.")
    note = models.CharField(max_length=200, blank=True)
    begun_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["operation", "by"],
                condition=Q(state="open"),
                name="one_open_time_study_of_each",
            ),
            models.CheckConstraint(
                condition=Q(state="open", ended_at__isnull=True)
                | (~Q(state="open") & Q(ended_at__isnull=False)),
                name="time_study_ends",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation} {self.begun_at:%Y-%m-%d}"


class Reading(models.Model):
    """One watched stretch of work: `seconds` on the watch with the breaks already off, the rating
    on the 0-100 scale, and how much was done in it (jackets, blocks, … and metres of seam)."""

    study = models.ForeignKey(TimeStudy, models.CASCADE, related_name="readings")
    seconds = models.DecimalField(max_digits=8, decimal_places=1)
    break_seconds = models.DecimalField(max_digits=8, decimal_places=1, default=0)
    rating = models.PositiveSmallIntegerField(default=100)
    count = models.PositiveIntegerField(default=1, help_text="Runs, jackets, blocks, … done.")
    metres = models.DecimalField(max_digits=8, decimal_places=3, default=0)
    is_left_out = models.BooleanField(default=False)
    why = models.CharField(max_length=120, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("study", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(seconds__gt=0, break_seconds__gte=0, metres__gte=0, count__gt=0),
                name="reading_from_zero",
            ),
            models.CheckConstraint(
                condition=Q(rating__gte=25, rating__lte=200), name="reading_rating"
            ),
            models.CheckConstraint(
                condition=Q(is_left_out=False) | ~Q(why=""), name="reading_left_out_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.study} {self.seconds} s"


class StandardChange(GrowsOnly):
    """A standard that was set anew: what it was, what it is, and why. Rows are only ever added."""

    operation = models.ForeignKey(Operation, models.CASCADE, related_name="standard_changes")
    study = models.ForeignKey(
        TimeStudy, models.PROTECT, null=True, blank=True, related_name="standard_changes"
    )
    each_before = models.DecimalField(max_digits=7, decimal_places=3)
    each_after = models.DecimalField(max_digits=7, decimal_places=3)
    metre_before = models.DecimalField(max_digits=7, decimal_places=3)
    metre_after = models.DecimalField(max_digits=7, decimal_places=3)
    reason = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(reason=""), name="standard_change_has_a_reason"),
            models.CheckConstraint(
                condition=~Q(each_before=F("each_after"), metre_before=F("metre_after")),
                name="standard_change_changes",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation} {self.at:%Y-%m-%d}"
