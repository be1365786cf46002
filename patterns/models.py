"""What a jacket is made of: pattern, sizes, pieces, style lines, operations, materials.

Lengths are whole millimetres, minutes and money are decimals; nothing here knows a customer.
"""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q

from patterns.fields import CODE as CODE
from patterns.fields import from_zero, positive
from patterns.material_models import Elastic as Elastic
from patterns.material_models import Fabric as Fabric
from patterns.material_models import FabricColor as FabricColor
from patterns.material_models import Notion as Notion
from patterns.material_models import NotionSize as NotionSize
from patterns.material_models import Supplier as Supplier
from patterns.material_models import ThreadColor as ThreadColor
from patterns.material_models import Zipper as Zipper


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

    class ThreadMethod(models.TextChoices):
        FORMULA = "formula", "geometric formula of the stitch"
        RATIO = "ratio", "ratio of thread to seam length"

    class TagPaper(models.TextChoices):
        A4 = "a4", "A4 sheets of eight"
        LETTER = "letter", "Letter sheets of eight"
        LABEL = "label", "single labels, 100 by 62 mm"

    class Inspecting(models.TextChoices):
        EVERY = "every", "every jacket"
        AQL_1_5 = "1.5", "a sample, AQL 1.5"
        AQL_2_5 = "2.5", "a sample, AQL 2.5"
        AQL_4_0 = "4.0", "a sample, AQL 4.0"

    class Market(models.TextChoices):
        NOT_SAID = "", "not said"
        EU = "eu", "European Union"
        US = "us", "United States"
        OTHER = "other", "elsewhere"

    class ZipperRule(models.TextChoices):
        SHORTEN = "shorten", "the next length sold, shortened"
        EXACT = "exact", "made to the finished length"

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
    thread_method = models.CharField(
        max_length=7, choices=ThreadMethod.choices, default=ThreadMethod.FORMULA
    )
    thread_change_minutes = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("3.00"),
        help_text="Rethreading the first spool of a machine in another color.",
    )
    further_spool_minutes = models.DecimalField(
        max_digits=5, decimal_places=2, default=Decimal("1.50")
    )
    foot_change_minutes = models.DecimalField(
        max_digits=5, decimal_places=2, default=Decimal("1.00")
    )
    stitch_change_minutes = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("0.30"),
        help_text="Setting another stitch length.",
    )
    learning_rate = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="Crawford: each doubling of the jackets takes this share of the minutes for the "
        "last one. Empty: every jacket takes the standard.",
    )
    zipper_rule = models.CharField(
        max_length=7, choices=ZipperRule.choices, default=ZipperRule.SHORTEN
    )
    exact_zipper_extra = models.DecimalField(
        max_digits=12,
        decimal_places=4,
        default=Decimal("0.80"),
        help_text="What a zipper made to length costs more than the next length sold.",
    )
    fabric_waste = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.030"),
        help_text="Bought and reckoned beyond the lays, for faults and joins.",
    )
    notion_waste = models.DecimalField(
        max_digits=4, decimal_places=3, default=Decimal("0.020"), help_text="Spoiled or lost."
    )
    margin = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.150"),
        help_text="Share of the price before tax that is left after all costs.",
    )
    tax_rate = models.DecimalField(max_digits=4, decimal_places=3, default=Decimal("0.190"))
    deposit_share = models.DecimalField(
        max_digits=4, decimal_places=3, default=Decimal("0.300"), help_text="Of the price."
    )
    quote_days = models.PositiveSmallIntegerField(
        default=30, help_text="Days that a quote is good for."
    )
    labor_per_hour = models.DecimalField(max_digits=12, decimal_places=4, default=Decimal("24.00"))
    overhead = models.DecimalField(max_digits=4, decimal_places=3, default=Decimal("0.200"))
    minutes_spread = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.200"),
        help_text="Standard deviation of one jacket's minutes, as a share of its standard.",
    )

    tag_paper = models.CharField(max_length=6, choices=TagPaper.choices, default=TagPaper.A4)
    inspecting = models.CharField(
        max_length=5,
        choices=Inspecting.choices,
        default=Inspecting.EVERY,
        help_text="Which finished jackets are looked over.",
    )
    market = models.CharField(max_length=5, choices=Market.choices, blank=True)
    address = models.CharField(max_length=160, blank=True, help_text="For labels and papers.")
    made_in = models.CharField(max_length=60, blank=True, help_text="Country, for labels.")
    warn_below_percent = models.PositiveSmallIntegerField(
        default=80, help_text="A chance to be on time below this is a warning."
    )
    warn_to = models.EmailField(blank=True, help_text="Who is mailed a warning.")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(warn_below_percent__lte=100), name="workroom_warns_in_percent"
            ),
            positive("table_length_mm", "workroom_table_length"),
            positive("people", "workroom_people"),
            positive("tool_highest_plies", "workroom_tool_plies"),
            models.CheckConstraint(
                condition=Q(cloth_weight__gte=0, cutting_weight__gte=0)
                & (Q(cloth_weight__gt=0) | Q(cutting_weight__gt=0)),
                name="workroom_weights",
            ),
            positive("minutes_per_person_day", "workroom_minutes"),
            from_zero(
                "thread_change_minutes",
                "further_spool_minutes",
                "foot_change_minutes",
                "stitch_change_minutes",
                "exact_zipper_extra",
                "tax_rate",
                "relaxation_allowance",
                "thread_waste",
                "labor_per_hour",
                "overhead",
                "minutes_spread",
                name="workroom_from_zero",
            ),
            models.CheckConstraint(
                condition=Q(fabric_waste__gte=0, fabric_waste__lte=1)
                & Q(notion_waste__gte=0, notion_waste__lte=1)
                & Q(deposit_share__gte=0, deposit_share__lte=1),
                name="workroom_shares",
            ),
            models.CheckConstraint(
                condition=Q(margin__gte=0, margin__lt=1), name="workroom_margin"
            ),
            models.CheckConstraint(
                condition=Q(learning_rate__isnull=True)
                | Q(learning_rate__gt=Decimal("0.5"), learning_rate__lte=1),
                name="workroom_learning_rate",
            ),
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
        RUN = "run", "per run"

    class ThreadRule(models.TextChoices):
        """Whose thread a seam is sewn in, where no contrast is asked for or none is chosen."""

        BLOCK = "block", "the block's own"
        DARKER = "darker", "the darker of the blocks that are joined"
        CHOSEN = "chosen", "one thread for all"

    class Covers(models.TextChoices):
        """Which seams an operation with driver SEAM_METRE sews."""

        NONE = "", "no seam"
        JOIN = "join", "every joining seam"
        ZIPPER = "zipper", "zipper seams"
        TOPSTITCHED = "topstitched", "topstitched seams"
        HEM = "hem", "hems"
        CUFF = "cuff", "cuffs"
        NAMED = "named", "the seam that is named"

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
        default=False, help_text="Sewn in the colorway's topstitch thread, where it has one."
    )
    thread_rule = models.CharField(
        max_length=6, choices=ThreadRule.choices, default=ThreadRule.BLOCK
    )
    chosen_thread = models.ForeignKey(
        ThreadColor, models.PROTECT, null=True, blank=True, related_name="operations"
    )
    takes_cones = models.BooleanField(
        default=False, help_text="The machine sews from cones, where the thread is sold on cones."
    )
    seam = models.CharField(
        max_length=20, blank=True, help_text="Code of the seam or style line that it sews alone."
    )
    skill = models.CharField(max_length=40, blank=True, help_text="What one must be able to do.")

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
            models.CheckConstraint(
                condition=(Q(covers="named") & ~Q(seam="")) | (~Q(covers="named") & Q(seam="")),
                name="operation_names_its_seam",
            ),
            models.CheckConstraint(
                condition=Q(thread_rule="chosen", chosen_thread__isnull=False)
                | (~Q(thread_rule="chosen") & Q(chosen_thread__isnull=True)),
                name="operation_chosen_thread",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def own_thread(self) -> str | None:
        """Code of the one thread that it sews in, where there is one."""
        return self.chosen_thread.code if self.chosen_thread else None

    @property
    def sample_in_use(self) -> ThreadSample | None:
        return next((sample for sample in self.thread_samples.all() if sample.is_in_use), None)

    @property
    def needle_factor(self) -> Decimal | None:
        """Needle thread per length of seam and row, as the sample in use has it."""
        sample = self.sample_in_use
        return sample.needle_mm / sample.seam_mm if sample else None

    @property
    def under_factor(self) -> Decimal | None:
        """Thread of bobbin or looper per length of seam and row, as the sample in use has it."""
        sample = self.sample_in_use
        return sample.under_mm / sample.seam_mm if sample else None


class ThreadSample(models.Model):
    """Thread unravelled out of a sewn sample of one row; the one in use stands in for the formula.
    `under_mm` is the thread of bobbin or looper."""

    operation = models.ForeignKey(Operation, models.CASCADE, related_name="thread_samples")
    seam_mm = models.DecimalField(max_digits=7, decimal_places=1)
    needle_mm = models.DecimalField(max_digits=7, decimal_places=1)
    under_mm = models.DecimalField(max_digits=7, decimal_places=1)
    note = models.CharField(max_length=120, blank=True)
    is_in_use = models.BooleanField(default=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("operation", "-pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["operation"],
                condition=Q(is_in_use=True),
                name="one_thread_sample_in_use",
            ),
            models.CheckConstraint(
                condition=Q(seam_mm__gt=0, needle_mm__gt=0, under_mm__gte=0),
                name="thread_sample_measured",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation} {self.seam_mm} mm"
