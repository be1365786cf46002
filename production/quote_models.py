"""What a club was offered, and that it was taken as it was."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from orders.models import ONE_LINE, TeamOrder


class Quote(models.Model):
    """`snapshot` is what it was reckoned from, `terms` the shares and choices of the day, `figures`
    the prices; none of them changes once it is sent, so that an accepted quote is kept as it was.
    """

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        SENT = "sent", "sent"
        ACCEPTED = "accepted", "accepted"
        DECLINED = "declined", "declined"

    code = models.CharField(max_length=20, unique=True)
    team_order = models.ForeignKey(TeamOrder, models.PROTECT, related_name="quotes")
    state = models.CharField(max_length=8, choices=State.choices, default=State.DRAFT)
    currency = models.CharField(max_length=3)
    terms = models.JSONField()
    snapshot = models.JSONField()
    figures = models.JSONField()
    not_included = models.TextField(blank=True, max_length=1000)
    words = models.TextField(blank=True, max_length=2000, help_text="To the club, in plain words.")
    quantity = models.PositiveIntegerField(
        null=True, blank=True, help_text="Of jackets, as accepted."
    )
    quoted_on = models.DateField()
    valid_until = models.DateField()
    sent_at = models.DateTimeField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=200, blank=True, validators=[ONE_LINE])
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["team_order"],
                condition=Q(state="accepted"),
                name="one_accepted_quote_per_order",
            ),
            models.CheckConstraint(
                condition=Q(valid_until__gte=models.F("quoted_on")), name="quote_is_valid_some_days"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["draft", "sent"], answered_at__isnull=True)
                | Q(state__in=["accepted", "declined"], answered_at__isnull=False),
                name="quote_answered_when_it_was",
            ),
            models.CheckConstraint(
                condition=Q(state="draft") | Q(sent_at__isnull=False), name="quote_sent_when_it_was"
            ),
            models.CheckConstraint(
                condition=~Q(state="accepted") | Q(quantity__gt=0), name="quote_accepted_quantity"
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("production:quote", args=[self.code])
