"""Who works in the workroom, when, at which machines."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower


class Person(models.Model):
    """Someone who works in the workroom, with or without a log-in. `skills` are those that
    operations name; who has left stays in the history and is no longer planned."""

    name = models.CharField(max_length=60)
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="person"
    )
    can_cut = models.BooleanField(default=True)
    can_sew = models.BooleanField(default=True)
    can_finish = models.BooleanField(default=True)
    skills = models.JSONField(default=list, blank=True, help_text="Names of skills, as text.")
    position = models.PositiveSmallIntegerField(default=0)
    has_left = models.BooleanField(default=False)

    class Meta:
        ordering = ("position", "name")
        verbose_name_plural = "people"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(Lower("name"), name="person_name_once"),
            models.CheckConstraint(condition=~Q(name=""), name="person_is_named"),
        ]

    def __str__(self) -> str:
        return self.name


class WorkSpell(models.Model):
    """A stretch of a weekday on which a person works, week by week; 1 is Monday."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="spells")
    weekday = models.PositiveSmallIntegerField()
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ("person", "weekday", "starts")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(starts__lt=F("ends")), name="work_spell_lasts"),
            models.CheckConstraint(
                condition=Q(weekday__gte=1, weekday__lte=7), name="work_spell_weekday"
            ),
            models.UniqueConstraint(fields=["person", "weekday", "starts"], name="work_spell_once"),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.weekday} {self.starts:%H:%M}"


class DaysOff(models.Model):
    """Days on which a person does not work, or nobody where no person is named."""

    person = models.ForeignKey(
        Person, models.CASCADE, null=True, blank=True, related_name="days_off"
    )
    first = models.DateField()
    last = models.DateField()
    words = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ("first", "pk")
        verbose_name_plural = "days off"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(first__lte=F("last")), name="days_off_in_order"),
        ]

    def __str__(self) -> str:
        return f"{self.person or 'everybody'} {self.first}"


class ExtraHours(models.Model):
    """Work on one day beyond a person's week; it counts on a day off too."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="extra_hours")
    day = models.DateField()
    starts = models.TimeField()
    ends = models.TimeField()
    words = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ("day", "starts")
        verbose_name_plural = "extra hours"
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(starts__lt=F("ends")), name="extra_hours_last"),
            models.UniqueConstraint(fields=["person", "day", "starts"], name="extra_hours_once"),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.day}"


class Machine(models.Model):
    """A machine of the kind that operations name. A kind of which no machine is listed is never
    the narrow place."""

    kind = models.CharField(max_length=40)
    name = models.CharField(max_length=60, unique=True)
    is_out_of_use = models.BooleanField(default=False)

    class Meta:
        ordering = ("kind", "name")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(kind="") & ~Q(name=""), name="machine_is_named"),
        ]

    def __str__(self) -> str:
        return self.name
