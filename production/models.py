"""Making the jackets: runs, jackets, cut tickets, lays, and what happened to each jacket."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from orders.models import JacketOrder, TeamOrder
from patterns.models import CODE, FabricColor
from production.buying_models import Purchase as Purchase
from production.buying_models import PurchaseLine as PurchaseLine
from production.buying_models import Ware as Ware
from production.buying_models import WareMovement as WareMovement
from production.floor_models import BlockTick as BlockTick
from production.floor_models import CheckPoint as CheckPoint
from production.floor_models import DeliveredJacket as DeliveredJacket
from production.floor_models import Delivery as Delivery
from production.floor_models import FloorPlan as FloorPlan
from production.floor_models import Forecast as Forecast
from production.floor_models import Inspection as Inspection
from production.floor_models import InspectionFault as InspectionFault
from production.floor_models import Pin as Pin
from production.floor_models import Tap as Tap
from production.grows import GrowsOnly
from production.people_models import DaysOff as DaysOff
from production.people_models import ExtraHours as ExtraHours
from production.people_models import Machine as Machine
from production.people_models import Person as Person
from production.people_models import WorkSpell as WorkSpell
from production.quote_models import Quote as Quote
from production.time_models import Reading as Reading
from production.time_models import StandardChange as StandardChange
from production.time_models import TimeStudy as TimeStudy


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


class Recut(models.Model):
    """Pieces that were short or spoiled, cut once more. `snapshot` and `plan` are those of these
    pieces alone."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="recuts")
    number = models.PositiveSmallIntegerField()
    snapshot = models.JSONField()
    plan = models.JSONField()
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("run", "number")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["run", "number"], name="recut_once"),
        ]

    def __str__(self) -> str:
        return f"{self.run} recut {self.number}"


class CutTicket(models.Model):
    """What is cut from one fabric color for one run, for one supplement, or for one recut."""

    run = models.ForeignKey(Run, models.CASCADE, related_name="cut_tickets")
    supplement = models.ForeignKey(
        Supplement, models.CASCADE, null=True, blank=True, related_name="cut_tickets"
    )
    recut = models.ForeignKey(
        Recut, models.CASCADE, null=True, blank=True, related_name="cut_tickets"
    )
    code = models.CharField(max_length=24, unique=True)
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("run", "position")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["run", "fabric_color"],
                condition=Q(supplement__isnull=True, recut__isnull=True),
                name="one_ticket_per_color",
            ),
            models.UniqueConstraint(
                fields=["recut", "fabric_color"], name="one_ticket_per_recut_color"
            ),
            models.CheckConstraint(
                condition=Q(supplement__isnull=True) | Q(recut__isnull=True),
                name="ticket_of_one_kind",
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
    """How many of one block in one size: pairs have as many left as right, others are single. Only
    a recut cuts one side of a pair alone, since the other lies there already."""

    ticket = models.ForeignKey(CutTicket, models.CASCADE, related_name="lines")
    block = models.CharField(max_length=10)
    size = models.CharField(max_length=10)
    left = models.PositiveIntegerField(default=0)
    right = models.PositiveIntegerField(default=0)
    single = models.PositiveIntegerField(default=0)
    is_recut = models.BooleanField(default=False)

    class Meta:
        ordering = ("ticket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["ticket", "block", "size"], name="ticket_line_once"),
            models.CheckConstraint(
                condition=Q(left=F("right")) | Q(is_recut=True), name="left_has_its_right"
            ),
            models.CheckConstraint(
                condition=(Q(single=0) & (Q(left__gt=0) | Q(right__gt=0)))
                | Q(left=0, right=0, single__gt=0),
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
    """A cut piece that its jacket no longer needs, or that was cut beyond the line of a ticket;
    another jacket can take it. Rows stay, but for what was never cut beyond after all."""

    class Side(models.TextChoices):
        LEFT = "left", "left"
        RIGHT = "right", "right"
        SINGLE = "single", "single"

    run = models.ForeignKey(Run, models.CASCADE, related_name="spare_parts")
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="spare_parts")
    block = models.CharField(max_length=10)
    size = models.CharField(max_length=10)
    side = models.CharField(max_length=6, choices=Side.choices)
    from_jacket = models.ForeignKey(
        Jacket, models.CASCADE, null=True, blank=True, related_name="left_over"
    )
    line = models.ForeignKey(
        TicketLine, models.CASCADE, null=True, blank=True, related_name="cut_beyond"
    )
    taken_by = models.ForeignKey(
        Jacket, models.SET_NULL, null=True, blank=True, related_name="taken_parts"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("run", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(from_jacket__isnull=False, line__isnull=True)
                | Q(from_jacket__isnull=True, line__isnull=False),
                name="spare_part_comes_from_one",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.block} {self.size} {self.side}"

    @property
    def origin(self) -> str:
        """Where it comes from, in words."""
        return f"cut beyond ticket {self.line.ticket}" if self.line else f"of {self.from_jacket}"


class Lay(models.Model):
    """A spread of plies cut together; `placements` as in the plan."""

    class Mode(models.TextChoices):
        FACE_UP = "face_up", "face up"
        FACE_TO_FACE = "face_to_face", "face to face"
        FOLDED = "folded", "folded"

    class Method(models.TextChoices):
        ROWS = "rows", "rows"
        NESTED = "nested", "nested"
        BY_HAND = "by_hand", "set by hand"

    ticket = models.ForeignKey(CutTicket, models.CASCADE, related_name="lays")
    code = models.CharField(max_length=28, unique=True)
    position = models.PositiveSmallIntegerField()
    mode = models.CharField(max_length=12, choices=Mode.choices)
    method = models.CharField(max_length=8, choices=Method.choices, default=Method.ROWS)
    method_note = models.CharField(
        max_length=200, blank=True, help_text="Why rows were used where nesting was asked for."
    )
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


class StageEvent(GrowsOnly):
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


class StockLot(models.Model):
    """Cloth of one color and one dye lot in one length: a bolt, or a remnant of one. How much is
    left is the sum of its movements. Positions along it count from the end that it is cut from."""

    code = models.CharField(max_length=20, unique=True, validators=[CODE])
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="stock_lots")
    dye_lot = models.CharField(max_length=30)
    usable_width_mm = models.PositiveIntegerField()
    is_remnant = models.BooleanField(default=False)
    cut_from = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="remnants"
    )
    note = models.CharField(max_length=200, blank=True)
    received_on = models.DateField()

    class Meta:
        ordering = ("fabric_color", "dye_lot", "code")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=Q(usable_width_mm__gt=0), name="stock_lot_width"),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        return reverse("production:stock_lot", args=[self.code])


class Flaw(models.Model):
    """A fault in the cloth: `at_mm` along the bolt and `across_mm` from its lower selvedge are the
    corner nearest to the start, `length_mm` and `width_mm` how far it reaches."""

    lot = models.ForeignKey(StockLot, models.CASCADE, related_name="flaws")
    at_mm = models.PositiveIntegerField()
    across_mm = models.PositiveIntegerField()
    length_mm = models.PositiveIntegerField()
    width_mm = models.PositiveIntegerField()
    is_hole = models.BooleanField(default=False)
    words = models.CharField(max_length=100, blank=True)

    class Meta:
        ordering = ("lot", "at_mm")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(
                condition=Q(length_mm__gt=0, width_mm__gt=0), name="flaw_has_a_size"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot} at {self.at_mm} mm"


class LayPly(models.Model):
    """One ply of a lay: the cloth it is spread from (none while that is still to be bought), the
    stretch of it that it takes, and when it was cut."""

    lay = models.ForeignKey(Lay, models.CASCADE, related_name="ply_rows")
    number = models.PositiveSmallIntegerField()
    lot = models.ForeignKey(
        StockLot, models.PROTECT, null=True, blank=True, related_name="ply_rows"
    )
    start_mm = models.PositiveIntegerField(null=True, blank=True)
    takes_mm = models.PositiveIntegerField()
    cut_at = models.DateTimeField(null=True, blank=True)
    cut_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("lay", "number")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["lay", "number"], name="ply_once"),
            models.CheckConstraint(condition=Q(takes_mm__gt=0), name="ply_takes_cloth"),
            models.CheckConstraint(
                condition=Q(lot__isnull=True, start_mm__isnull=True)
                | Q(lot__isnull=False, start_mm__isnull=False),
                name="ply_lies_somewhere_on_its_lot",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lay} ply {self.number}"


class StockMovement(GrowsOnly):
    """Cloth that came or went, in mm with its sign. Rows are only ever added."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "received"
        CUT = "cut", "cut"
        UNDONE = "undone", "cut report taken back"
        COUNTED = "counted", "counted anew"
        REMNANT = "remnant", "set aside as a remnant"

    lot = models.ForeignKey(StockLot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    mm = models.IntegerField()
    ply = models.ForeignKey(
        LayPly, models.SET_NULL, null=True, blank=True, related_name="movements"
    )
    purchase_line = models.ForeignKey(
        PurchaseLine, models.PROTECT, null=True, blank=True, related_name="cloth_movements"
    )
    reason = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("lot", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(mm=0), name="movement_moves"),
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.mm:+d} mm"


class SpoiledPieces(models.QuerySet["SpoiledPiece"]):
    """Pieces that were reported as short or spoiled."""

    def waiting(self) -> SpoiledPieces:
        """Those that a jacket waits for: neither replaced nor dropped nor a mistake."""
        return self.filter(is_replaced=False, dropped_at=None, taken_back_at=None)

    def true(self) -> SpoiledPieces:
        """Without the reports that were taken back."""
        return self.filter(taken_back_at=None)


class SpoiledPiece(models.Model):
    """A piece that came out short or was spoiled, and what its jacket gets instead: a piece of a
    recut or a spare part. Until then the jacket waits for it, unless it is dropped, because a
    change of the jacket needs it no more, or the report is taken back as mistaken."""

    jacket = models.ForeignKey(Jacket, models.CASCADE, related_name="spoiled_pieces")
    block = models.CharField(max_length=10)
    size = models.CharField(max_length=10)
    side = models.CharField(max_length=6, choices=SparePart.Side.choices)
    fabric_color = models.ForeignKey(FabricColor, models.PROTECT, related_name="+")
    ply = models.ForeignKey(
        LayPly, models.SET_NULL, null=True, blank=True, related_name="spoiled_pieces"
    )
    reason = models.CharField(max_length=200)
    recut = models.ForeignKey(
        Recut, models.PROTECT, null=True, blank=True, related_name="spoiled_pieces"
    )
    spare = models.OneToOneField(
        SparePart, models.PROTECT, null=True, blank=True, related_name="stands_in_for"
    )
    is_replaced = models.BooleanField(default=False)
    dropped_at = models.DateTimeField(null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = models.Manager.from_queryset(SpoiledPieces)()

    class Meta:
        ordering = ("jacket", "pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~Q(reason=""), name="spoiled_has_reason"),
            models.CheckConstraint(
                condition=Q(recut__isnull=True) | Q(spare__isnull=True),
                name="spoiled_is_replaced_once",
            ),
            models.CheckConstraint(
                condition=Q(is_replaced=False) | Q(recut__isnull=False) | Q(spare__isnull=False),
                name="spoiled_is_replaced_by_something",
            ),
            models.CheckConstraint(
                condition=Q(dropped_at__isnull=True) | Q(is_replaced=False),
                name="spoiled_dropped_is_not_replaced",
            ),
            models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True, taken_back_by__isnull=True)
                | Q(
                    taken_back_at__isnull=False,
                    is_replaced=False,
                    recut__isnull=True,
                    spare__isnull=True,
                    dropped_at__isnull=True,
                ),
                name="spoiled_taken_back_is_nothing_else",
            ),
            models.UniqueConstraint(
                fields=["jacket", "block", "side"],
                condition=Q(is_replaced=False, dropped_at=None, taken_back_at=None),
                name="spoiled_is_waited_for_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.jacket} {self.block} {self.side}"


class LayPlan(models.Model):
    """One way to cut a ticket; one of a ticket's ways is in use. `lays` are those of the plan."""

    class Aim(models.TextChoices):
        ROWS = "rows", "plain rows"
        MONEY = "money", "least money"
        FABRIC = "fabric", "least fabric"
        LAYS = "lays", "fewest lays"
        TIME = "time", "shortest cutting time"
        BY_HAND = "by_hand", "set by hand"

    ticket = models.ForeignKey(CutTicket, models.CASCADE, related_name="lay_plans")
    aim = models.CharField(max_length=8, choices=Aim.choices)
    lays = models.JSONField()
    fabric_mm = models.PositiveIntegerField()
    cutting_minutes = models.DecimalField(max_digits=9, decimal_places=2)
    cost = models.DecimalField(max_digits=10, decimal_places=2)
    is_in_use = models.BooleanField(default=False)
    at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ("ticket", "cost")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["ticket", "aim"], name="lay_plan_once_per_aim"),
            models.UniqueConstraint(
                fields=["ticket"], condition=Q(is_in_use=True), name="one_lay_plan_in_use"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ticket} {self.aim}"


class KeptNest(models.Model):
    """The best nest found so far for some blocks on some cloth, by the hash of both."""

    key = models.CharField(max_length=64, unique=True)
    nest = models.JSONField()
    length_mm = models.FloatField()
    seconds = models.FloatField()
    at = models.DateTimeField(auto_now=True)

    def __str__(self) -> str:
        return self.key[:12]


class PlanningJob(models.Model):
    """The search for better lays of a run, done by a worker. At most one of a run is under way."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        WORKING = "working", "working"
        DONE = "done", "done"
        STOPPED = "stopped", "stopped"
        FAILED = "failed", "failed"

    UNDER_WAY = (State.WAITING, State.WORKING)

    run = models.ForeignKey(Run, models.CASCADE, related_name="planning_jobs")
    seconds = models.PositiveIntegerField()
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    done_percent = models.PositiveSmallIntegerField(default=0)
    words = models.CharField(max_length=300, blank=True)
    is_stop_asked = models.BooleanField(default=False)
    asked_at = models.DateTimeField(auto_now_add=True)
    heard_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("run", "-pk")
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                fields=["run"],
                condition=Q(state__in=["waiting", "working"]),
                name="one_planning_job_per_run",
            ),
            models.CheckConstraint(condition=Q(seconds__gt=0), name="planning_job_seconds"),
        ]

    def __str__(self) -> str:
        return f"{self.run} {self.state}"
