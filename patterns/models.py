"""What a jacket is made of: pattern, sizes, pieces, style lines, operations, materials.

Lengths are whole millimetres, minutes and money are decimals; nothing here knows a customer.
"""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q

CODE = RegexValidator(
    r"^[A-Za-z0-9][A-Za-z0-9._-]*$",
    "A code is made of letters, digits, dot, dash and underscore, with no blanks.",
)
HEX_COLOR = RegexValidator(r"^#[0-9a-fA-F]{6}$", "A screen color is # and six hex digits.")


def positive(field: str, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(condition=Q(**{f"{field}__gt": 0}), name=name)


class Stage(models.TextChoices):
    CUT = "cut", "cut"
    SEW = "sew", "sew"
    FINISH = "finish", "finish"


class PairingChoice(models.TextChoices):
    PAIR = "pair", "pair"
    SINGLE = "single", "single"
    FOLD = "fold", "on the fold"


class Workroom(models.Model):
    """The maker's own settings; one row."""

    class LengthUnit(models.TextChoices):
        METRIC = "metric", "metres and millimetres"
        IMPERIAL = "imperial", "yards and inches"

    class Spreading(models.TextChoices):
        FACE_UP = "face_up", "every ply face up"
        FACE_TO_FACE = "face_to_face", "plies face to face where it is cheaper"
        FOLDED = "folded", "folded lengthwise where it is cheaper"

    name = models.CharField(max_length=80, default="Our workroom")
    length_unit = models.CharField(
        max_length=8, choices=LengthUnit.choices, default=LengthUnit.METRIC
    )
    currency = models.CharField(max_length=3, default="EUR")
    table_length_mm = models.PositiveIntegerField(default=6000)
    block_gap_mm = models.PositiveIntegerField(
        default=4, help_text="Room for the knife between two blocks on the cloth."
    )
    tool_highest_plies = models.PositiveSmallIntegerField(
        default=8, help_text="Plies that the cutting tool goes through cleanly."
    )
    spreading = models.CharField(
        max_length=12, choices=Spreading.choices, default=Spreading.FACE_UP
    )
    cloth_weight = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        default=Decimal("1.00"),
        help_text="How much saved cloth counts when lays are planned; 1 is its price.",
    )
    cutting_weight = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        default=Decimal("1.00"),
        help_text="How much saved cutting time counts when lays are planned; 1 is its wage.",
    )
    over_cut = models.PositiveSmallIntegerField(
        default=0, help_text="Pieces of one block and size that may be cut too many."
    )
    seam_allowance_mm = models.PositiveIntegerField(default=10)
    hem_allowance_mm = models.PositiveIntegerField(default=30)
    people = models.PositiveSmallIntegerField(default=2)
    minutes_per_person_day = models.PositiveIntegerField(default=360)
    working_weekdays = models.CharField(
        max_length=7,
        default="12345",
        validators=[RegexValidator(r"^[1-7]{1,7}$", "Digits 1 (Monday) to 7 (Sunday).")],
    )
    relaxation_allowance = models.DecimalField(
        max_digits=4, decimal_places=3, default=Decimal("0.110")
    )
    thread_waste = models.DecimalField(max_digits=4, decimal_places=3, default=Decimal("0.150"))
    thread_tail_mm = models.PositiveIntegerField(default=60)
    labor_per_hour = models.DecimalField(max_digits=8, decimal_places=2, default=Decimal("24.00"))
    overhead = models.DecimalField(max_digits=4, decimal_places=3, default=Decimal("0.200"))
    minutes_spread = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.200"),
        help_text="Standard deviation of one jacket's minutes, as a share of its standard.",
    )

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            positive("table_length_mm", "workroom_table_length"),
            positive("people", "workroom_people"),
            positive("tool_highest_plies", "workroom_tool_plies"),
            models.CheckConstraint(
                condition=Q(cloth_weight__gte=0, cutting_weight__gte=0)
                & (Q(cloth_weight__gt=0) | Q(cutting_weight__gt=0)),
                name="workroom_weights",
            ),
            positive("minutes_per_person_day", "workroom_minutes"),
            models.CheckConstraint(condition=Q(pk=1), name="workroom_is_one_row"),
        ]

    def __str__(self) -> str:
        return self.name


class Pattern(models.Model):
    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=80)
    note = models.TextField(blank=True)
    chest_ease_mm = models.PositiveIntegerField()
    hip_ease_mm = models.PositiveIntegerField()
    neck_ease_mm = models.PositiveIntegerField()
    wrist_ease_mm = models.PositiveIntegerField()
    cap_ease_mm = models.PositiveIntegerField()

    def __str__(self) -> str:
        return self.name


class PatternSize(models.Model):
    """A size of a pattern with the body measures that it is drafted for."""

    class AgeGroup(models.TextChoices):
        YOUTH = "youth", "youth"
        ADULT = "adult", "adult"

    pattern = models.ForeignKey(Pattern, models.CASCADE, related_name="sizes")
    code = models.CharField(max_length=10, validators=[CODE])
    name = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField()
    age_group = models.CharField(max_length=5, choices=AgeGroup.choices)
    height_mm = models.PositiveIntegerField()
    chest_mm = models.PositiveIntegerField()
    hip_mm = models.PositiveIntegerField()
    neck_mm = models.PositiveIntegerField()
    shoulder_width_mm = models.PositiveIntegerField()
    arm_mm = models.PositiveIntegerField()
    wrist_mm = models.PositiveIntegerField()
    zipper_mm = models.PositiveIntegerField(help_text="Finished length along center front.")
    hem_girth_mm = models.PositiveIntegerField()
    cuff_girth_mm = models.PositiveIntegerField()

    class Meta:
        ordering = ("pattern", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["pattern", "code"], name="size_code_once"),
        ]

    def __str__(self) -> str:
        return self.code


class Piece(models.Model):
    pattern = models.ForeignKey(Pattern, models.CASCADE, related_name="pieces")
    code = models.CharField(max_length=10, validators=[CODE])
    name = models.CharField(max_length=40)
    pairing = models.CharField(max_length=6, choices=PairingChoice.choices)
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("pattern", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["pattern", "code"], name="piece_code_once"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class PieceOutline(models.Model):
    """The stitching line of a piece in one size, as `patterns.geometry.outline.Outline`."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="outlines")
    size = models.ForeignKey(PatternSize, models.CASCADE, related_name="outlines")
    outline = models.JSONField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["piece", "size"], name="outline_once"),
        ]

    def __str__(self) -> str:
        return f"{self.piece} {self.size}"


class Seam(models.Model):
    """Which edges of base pieces are sewn together, as `patterns.geometry.seams.Seam`."""

    pattern = models.ForeignKey(Pattern, models.CASCADE, related_name="seams")
    code = models.CharField(max_length=20, validators=[CODE])
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=10)
    leads = models.JSONField()
    follows = models.JSONField(default=list)
    ease_mm = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal(0))
    topstitched = models.BooleanField(default=False)
    runs = models.PositiveSmallIntegerField(help_text="Unbroken stretches of sewing per jacket.")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("pattern", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["pattern", "code"], name="seam_code_once"),
            positive("runs", "seam_runs"),
        ]

    def __str__(self) -> str:
        return self.name


class Blocking(models.Model):
    """A pattern with its style lines."""

    pattern = models.ForeignKey(Pattern, models.CASCADE, related_name="blockings")
    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=60, unique=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class StyleLine(models.Model):
    """One cut of a blocking, as `patterns.geometry.blocks.StyleLine`; cut in order of position."""

    blocking = models.ForeignKey(Blocking, models.CASCADE, related_name="style_lines")
    position = models.PositiveSmallIntegerField()
    code = models.CharField(max_length=20, validators=[CODE])
    name = models.CharField(max_length=60)
    cuts = models.CharField(max_length=10, help_text="Code of the block that the line cuts.")
    start_edge = models.CharField(max_length=20)
    start_fraction = models.DecimalField(max_digits=5, decimal_places=4)
    end_edge = models.CharField(max_length=20)
    end_fraction = models.DecimalField(max_digits=5, decimal_places=4)
    bends = models.JSONField(default=list, blank=True)
    left_code = models.CharField(max_length=10, validators=[CODE])
    left_name = models.CharField(max_length=40)
    right_code = models.CharField(max_length=10, blank=True)
    right_name = models.CharField(max_length=40, blank=True)
    topstitched = models.BooleanField(default=True)

    class Meta:
        ordering = ("blocking", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["blocking", "code"], name="style_line_code_once"),
            models.UniqueConstraint(fields=["blocking", "position"], name="style_line_order"),
            models.CheckConstraint(
                condition=Q(
                    start_fraction__gte=0,
                    start_fraction__lte=1,
                    end_fraction__gte=0,
                    end_fraction__lte=1,
                ),
                name="style_line_fractions",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Block(models.Model):
    """A block that a blocking cuts the jacket into; its shape follows from the style lines."""

    blocking = models.ForeignKey(Blocking, models.CASCADE, related_name="blocks")
    piece = models.ForeignKey(Piece, models.PROTECT, related_name="blocks")
    code = models.CharField(max_length=10, validators=[CODE])
    name = models.CharField(max_length=40)
    pairing = models.CharField(max_length=6, choices=PairingChoice.choices)
    is_free_on_grain = models.BooleanField(
        default=False, help_text="May be turned by right angles, as a facing that nobody sees."
    )
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("blocking", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["blocking", "code"], name="block_code_once"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Operation(models.Model):
    """One step of work. Its standard follows from what drives it: a fixed time for each jacket or
    block, or a time for each metre of the seams named in `seams`."""

    class Driver(models.TextChoices):
        JACKET = "jacket", "per jacket"
        BLOCK = "block", "per block"
        SEAM_METRE = "seam_metre", "per metre of seam"
        LAY = "lay", "per lay"
        PLY = "ply", "per ply"
        OUTLINE = "outline", "per outline, cut through all plies"

    class Covers(models.TextChoices):
        """Which seams an operation with driver SEAM_METRE sews."""

        NONE = "", "no seam"
        JOIN = "join", "every joining seam"
        ZIPPER = "zipper", "zipper seams"
        TOPSTITCHED = "topstitched", "topstitched seams"
        HEM = "hem", "hems"
        CUFF = "cuff", "cuffs"

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=60)
    position = models.PositiveSmallIntegerField()
    stage = models.CharField(max_length=6, choices=Stage.choices)
    driver = models.CharField(max_length=10, choices=Driver.choices)
    covers = models.CharField(max_length=12, choices=Covers.choices, blank=True)
    minutes_each = models.DecimalField(max_digits=7, decimal_places=3, default=Decimal(0))
    minutes_per_metre = models.DecimalField(max_digits=7, decimal_places=3, default=Decimal(0))
    machine = models.CharField(max_length=40, blank=True)
    foot = models.CharField(max_length=40, blank=True)
    stitch_type = models.CharField(max_length=4, blank=True, help_text="ISO 4915 number.")
    stitch_length_mm = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(Decimal(10))],
    )
    seam_width_mm = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(0))
    rows = models.PositiveSmallIntegerField(default=1)
    cloth_layers = models.PositiveSmallIntegerField(default=2)
    contrast_thread = models.BooleanField(
        default=False, help_text="Sewn in the colorway's topstitch thread."
    )

    class Meta:
        ordering = ("position",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(minutes_each__gte=0, minutes_per_metre__gte=0),
                name="operation_minutes",
            ),
            models.CheckConstraint(
                condition=Q(stitch_length_mm__isnull=True) | Q(stitch_length_mm__gt=0),
                name="operation_stitch_length",
            ),
            models.CheckConstraint(
                condition=(Q(driver="seam_metre") & ~Q(covers=""))
                | (~Q(driver="seam_metre") & Q(covers="")),
                name="operation_covers_seams",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ThreadColor(models.Model):
    """Sewing thread of one color, sold on spools of one length."""

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=40)
    hex_color = models.CharField(max_length=7, validators=[HEX_COLOR])
    spool_m = models.PositiveIntegerField()
    price_per_spool = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        ordering = ("name",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
            positive("spool_m", "thread_spool_length"),
            models.CheckConstraint(condition=Q(price_per_spool__gte=0), name="thread_price"),
        ]

    def __str__(self) -> str:
        return self.name


class Fabric(models.Model):
    class Nap(models.TextChoices):
        ONE_WAY = "one_way", "one way"
        TWO_WAY = "two_way", "two way"

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    name = models.CharField(max_length=60)
    fiber = models.CharField(max_length=60)
    usable_width_mm = models.PositiveIntegerField()
    nap = models.CharField(max_length=7, choices=Nap.choices)
    highest_plies = models.PositiveSmallIntegerField()
    shrinkage = models.DecimalField(max_digits=4, decimal_places=3)
    end_allowance_mm = models.PositiveIntegerField(help_text="Left at each end of a ply.")
    compressed_thickness_mm = models.DecimalField(max_digits=4, decimal_places=2)
    price_per_m = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        ordering = ("name",)
        constraints: ClassVar[list[models.BaseConstraint]] = [
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
    price = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        ordering = ("color_code", "length_mm")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["color_code", "length_mm"], name="zipper_once"),
            positive("length_mm", "zipper_length"),
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
    price_per_m = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            positive("stretch_factor", "elastic_stretch_factor"),
        ]

    def __str__(self) -> str:
        return self.name
