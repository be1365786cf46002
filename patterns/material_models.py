"""What a jacket is sewn from, who sells it, and in what measure it is sold.

Lengths are whole millimetres and money is decimal; prices are those of one unit as it is sold.
"""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import Q

from patterns.fields import CODE, HEX_COLOR, from_zero, positive


class Supplier(models.Model):
    """Who sells it, and how many days pass from the order to the goods."""

    name = models.CharField(max_length=60, unique=True)
    lead_days = models.PositiveSmallIntegerField(default=7)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


def sold_by() -> models.ForeignKey[Supplier | None, Supplier | None]:
    return models.ForeignKey(Supplier, models.SET_NULL, null=True, blank=True, related_name="+")


class ThreadColor(models.Model):
    """Sewing thread of one color, sold on spools of one length."""

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=40)
    hex_color = models.CharField(max_length=7, validators=[HEX_COLOR])
    spool_m = models.PositiveIntegerField()
    price_per_spool = models.DecimalField(max_digits=12, decimal_places=4)
    cone_m = models.PositiveIntegerField(
        null=True, blank=True, help_text="Empty: it is not sold on cones."
    )
    price_per_cone = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    supplier = sold_by()

    class Meta:
        ordering = ("name",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            positive("spool_m", "thread_spool_length"),
            models.CheckConstraint(condition=Q(price_per_spool__gte=0), name="thread_price"),
            models.CheckConstraint(
                condition=Q(cone_m__isnull=True, price_per_cone__isnull=True)
                | Q(cone_m__gt=0, price_per_cone__gte=0),
                name="thread_cone",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Fabric(models.Model):
    class Nap(models.TextChoices):
        ONE_WAY = "one_way", "one way"
        TWO_WAY = "two_way", "two way"

    class SoldIn(models.TextChoices):
        TENTH_METRE = "tenth_m", "tenths of a metre"
        EIGHTH_YARD = "eighth_yd", "eighths of a yard"
        BOLT = "bolt", "whole bolts"

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=60)
    fiber = models.CharField(max_length=60)
    usable_width_mm = models.PositiveIntegerField()
    nap = models.CharField(max_length=7, choices=Nap.choices)
    highest_plies = models.PositiveSmallIntegerField()
    shrinkage = models.DecimalField(max_digits=4, decimal_places=3)
    end_allowance_mm = models.PositiveIntegerField(help_text="Left at each end of a ply.")
    compressed_thickness_mm = models.DecimalField(max_digits=4, decimal_places=2)
    price_per_m = models.DecimalField(max_digits=12, decimal_places=4)
    sold_in = models.CharField(max_length=9, choices=SoldIn.choices, default=SoldIn.TENTH_METRE)
    bolt_length_mm = models.PositiveIntegerField(
        default=25_000, help_text="Of a whole bolt, where it is sold so."
    )
    supplier = sold_by()
    wash_celsius = models.PositiveSmallIntegerField(
        default=30, help_text="Highest temperature of the wash; 0: not washed."
    )
    may_tumble_dry = models.BooleanField(default=False, help_text="At low heat.")
    may_iron = models.BooleanField(
        default=False, help_text="At low heat; polyester fleece melts, so better not."
    )

    class Meta:
        ordering = ("name",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(wash_celsius__in=[0, 30, 40, 50, 60]), name="fabric_wash"
            ),
            positive("bolt_length_mm", "fabric_bolt_length"),
            positive("usable_width_mm", "fabric_usable_width"),
            positive("highest_plies", "fabric_highest_plies"),
            models.CheckConstraint(
                condition=Q(shrinkage__gte=0, shrinkage__lt=1), name="fabric_shrinkage"
            ),
            models.CheckConstraint(condition=Q(price_per_m__gte=0), name="fabric_price"),
        ]

    def __str__(self) -> str:
        return self.name


class FabricColor(models.Model):
    """A fabric in one color; `hatch` tells it apart where the hue cannot be seen."""

    class Hatch(models.TextChoices):
        NONE = "none", "plain"
        RISING = "rising", "rising lines"
        FALLING = "falling", "falling lines"
        LEVEL = "level", "level lines"
        UPRIGHT = "upright", "upright lines"
        DOTS = "dots", "dots"
        GRID = "grid", "grid"

    fabric = models.ForeignKey(Fabric, models.PROTECT, related_name="colors")
    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=40)
    hex_color = models.CharField(max_length=7, validators=[HEX_COLOR])
    hatch = models.CharField(max_length=8, choices=Hatch.choices, default=Hatch.NONE)
    thread = models.ForeignKey(ThreadColor, models.PROTECT, related_name="fabric_colors")

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class Zipper(models.Model):
    """A separating zipper in one tape color and one length as sold."""

    color_code = models.CharField(max_length=20, validators=[CODE])
    color_name = models.CharField(max_length=40)
    hex_color = models.CharField(max_length=7, validators=[HEX_COLOR])
    length_mm = models.PositiveIntegerField()
    price = models.DecimalField(max_digits=12, decimal_places=4)
    supplier = sold_by()

    class Meta:
        ordering = ("color_code", "length_mm")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["color_code", "length_mm"], name="zipper_once"),
            positive("length_mm", "zipper_length"),
            from_zero("price", name="zipper_price"),
        ]

    def __str__(self) -> str:
        return f"{self.color_name} {self.length_mm} mm"


class Elastic(models.Model):
    """Elastic by the metre; `stretch_factor` is its cut length as a share of the girth it holds."""

    class Place(models.TextChoices):
        HEM = "hem", "hem"
        CUFF = "cuff", "cuff"

    place = models.CharField(max_length=4, choices=Place.choices, unique=True)
    name = models.CharField(max_length=60)
    width_mm = models.PositiveSmallIntegerField()
    stretch_factor = models.DecimalField(max_digits=4, decimal_places=3)
    join_mm = models.PositiveSmallIntegerField(help_text="Overlap where the ends are sewn.")
    price_per_m = models.DecimalField(max_digits=12, decimal_places=4)
    sold_step_mm = models.PositiveIntegerField(
        default=100, help_text="Sold in multiples of this length."
    )
    supplier = sold_by()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            positive("stretch_factor", "elastic_stretch_factor"),
            positive("sold_step_mm", "elastic_sold_step"),
            from_zero("price_per_m", name="elastic_price"),
        ]

    def __str__(self) -> str:
        return self.name


class Notion(models.Model):
    """The workroom's own notions, each with the rule by which a jacket takes it: so many per
    jacket; so much per metre of a seam; so many by its size."""

    class Rule(models.TextChoices):
        JACKET = "jacket", "per jacket"
        SEAM_METRE = "seam_metre", "per metre of a seam"
        SIZE = "size", "by size"

    class Unit(models.TextChoices):
        PIECE = "piece", "pieces"
        METRE = "m", "metres"

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=60)
    rule = models.CharField(max_length=10, choices=Rule.choices)
    unit = models.CharField(max_length=5, choices=Unit.choices, default=Unit.PIECE)
    quantity = models.DecimalField(
        max_digits=8,
        decimal_places=3,
        default=Decimal(1),
        help_text="Of a jacket, or of a metre of the seam.",
    )
    seam = models.CharField(
        max_length=20, blank=True, help_text="Code of the seam or style line, for a rule by metre."
    )
    differs_by_size = models.BooleanField(
        default=False, help_text="Bought for each size apart, as size labels are."
    )
    sold_step = models.DecimalField(
        max_digits=8, decimal_places=3, default=Decimal(1), help_text="Sold in multiples of this."
    )
    price = models.DecimalField(
        max_digits=12, decimal_places=4, help_text="Of one piece or one metre."
    )
    supplier = sold_by()
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("position", "code")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            from_zero("quantity", "price", name="notion_from_zero"),
            positive("sold_step", "notion_sold_step"),
            models.CheckConstraint(
                condition=(Q(rule="seam_metre") & ~Q(seam=""))
                | (~Q(rule="seam_metre") & Q(seam="")),
                name="notion_names_its_seam",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def by_size(self) -> tuple[tuple[str, Decimal], ...]:
        return tuple((row.size, row.quantity) for row in self.sizes.all())


class NotionSize(models.Model):
    """How much of a notion with a rule by size a jacket of that size takes; by the size's code, so
    that it holds for every pattern."""

    notion = models.ForeignKey(Notion, models.CASCADE, related_name="sizes")
    size = models.CharField(max_length=10, validators=[CODE])
    quantity = models.DecimalField(max_digits=8, decimal_places=3)

    class Meta:
        ordering = ("notion", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["notion", "size"], name="notion_size_once"),
            from_zero("quantity", name="notion_size_quantity"),
        ]

    def __str__(self) -> str:
        return f"{self.notion} {self.size}"
