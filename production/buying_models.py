"""What is bought beside cloth, what came of it and went, and the orders to suppliers.

Quantities are in the unit of the ware: spools, cones, pieces, or metres. Money is decimal.
"""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from patterns.models import Elastic, FabricColor, Notion, Supplier, ThreadColor, Zipper
from production.grows import GrowsOnly


class Ware(models.Model):
    """One thing on the shelf that is no cloth: spools or cones of a thread, zippers of a color and
    length, elastic, a notion (in one size where it differs by size). `key` is the one that plans
    use for it, as `thread:spruce:spool`. How much is there is the sum of its movements."""

    class Unit(models.TextChoices):
        SPOOL = "spool", "spools"
        CONE = "cone", "cones"
        PIECE = "piece", "pieces"
        METRE = "m", "metres"

    key = models.CharField(max_length=60, unique=True)
    unit = models.CharField(max_length=5, choices=Unit.choices)
    size = models.CharField(max_length=10, blank=True)
    thread = models.ForeignKey(
        ThreadColor, models.PROTECT, null=True, blank=True, related_name="wares"
    )
    zipper = models.ForeignKey(Zipper, models.PROTECT, null=True, blank=True, related_name="wares")
    elastic = models.ForeignKey(
        Elastic, models.PROTECT, null=True, blank=True, related_name="wares"
    )
    notion = models.ForeignKey(Notion, models.PROTECT, null=True, blank=True, related_name="wares")

    class Meta:
        ordering = ("key",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(thread__isnull=False, zipper=None, elastic=None, notion=None)
                | Q(thread=None, zipper__isnull=False, elastic=None, notion=None)
                | Q(thread=None, zipper=None, elastic__isnull=False, notion=None)
                | Q(thread=None, zipper=None, elastic=None, notion__isnull=False),
                name="ware_is_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class WareMovement(GrowsOnly):
    """Wares that came or went, with their sign. Rows are only ever added."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "received"
        TAKEN = "taken", "taken for a run"
        BROUGHT_BACK = "brought_back", "brought back from a run"
        COUNTED = "counted", "counted anew"

    ware = models.ForeignKey(Ware, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    run = models.ForeignKey(
        "production.Run", models.SET_NULL, null=True, blank=True, related_name="ware_movements"
    )
    purchase_line = models.ForeignKey(
        "production.PurchaseLine",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="ware_movements",
    )
    reason = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("ware", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(quantity=0), name="ware_movement_moves"),
            models.CheckConstraint(
                condition=~Q(kind__in=["received", "brought_back"]) | Q(quantity__gt=0),
                name="ware_comes_with_plus",
            ),
            models.CheckConstraint(
                condition=~Q(kind="taken") | Q(quantity__lt=0), name="ware_goes_with_minus"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ware} {self.quantity:+}"


class Purchase(models.Model):
    """An order to a supplier, for a run or for the shelf. It is open while a line has not come
    whole and it is not closed."""

    code = models.CharField(max_length=20, unique=True)
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="purchases")
    run = models.ForeignKey(
        "production.Run", models.SET_NULL, null=True, blank=True, related_name="purchases"
    )
    ordered_on = models.DateField()
    expected_on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-pk",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(expected_on__gte=F("ordered_on")), name="purchase_comes_later"
            ),
        ]

    def __str__(self) -> str:
        return self.code


class PurchaseLine(models.Model):
    """So much of one fabric color, in mm, or of one ware, in its unit, at a price for the whole
    line; `received` grows as it comes."""

    purchase = models.ForeignKey(Purchase, models.CASCADE, related_name="lines")
    fabric_color = models.ForeignKey(
        FabricColor, models.PROTECT, null=True, blank=True, related_name="purchase_lines"
    )
    ware = models.ForeignKey(
        Ware, models.PROTECT, null=True, blank=True, related_name="purchase_lines"
    )
    quantity = models.DecimalField(max_digits=12, decimal_places=3)
    price = models.DecimalField(max_digits=14, decimal_places=3)
    received = models.DecimalField(max_digits=12, decimal_places=3, default=0)

    class Meta:
        ordering = ("purchase", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(fabric_color__isnull=False, ware__isnull=True)
                | Q(fabric_color__isnull=True, ware__isnull=False),
                name="purchase_line_is_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, price__gte=0, received__gte=0),
                name="purchase_line_from_zero",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.purchase} {self.fabric_color or self.ware}"
