"""Who works in the demo's workroom, when, and at which machines; all is invented."""

from __future__ import annotations

import datetime

from django.contrib.auth.models import User
from django.db.models import QuerySet

from orders.models import TeamOrder
from production.handing_over.deliveries import hand_over
from production.models import (
    Delivery,
    FloorPlan,
    Inspection,
    Jacket,
    Machine,
    Person,
    Run,
    Tap,
    WorkSpell,
)
from production.stages.inspections import Failing, Fault, fail

#: Name, log-in, weekdays, from, to, stages, skills.
DEMO_HANDS = (
    ("Isa Marlow", "maker", "12345", (9, 0), (15, 0), "cut sew finish", ("zippers",)),
    ("Joren Vik", "helper", "1245", (8, 30), (14, 30), "cut sew finish", ()),
    ("Petra Quill", None, "24", (13, 0), (17, 0), "sew finish", ("zippers",)),
)
#: Point of the check list, what is wrong, who mends it.
DEMO_FAULT = ("stitches", "on the yoke", "Petra Quill")
DEMO_MACHINES = (
    ("lockstitch", "Lockstitch by the window"),
    ("lockstitch", "Lockstitch by the door"),
    ("serger", "The serger"),
)


def set_up_people() -> None:
    """The people and machines of the demo, in place of those of an older demo."""
    for place, (name, log_in, days, first, last, stages, skills) in enumerate(DEMO_HANDS):
        person, made = Person.objects.get_or_create(
            name=name,
            defaults={
                "user": User.objects.filter(username=log_in, person=None).first(),
                "skills": list(skills),
                "position": place,
                **{f"can_{stage}": stage in stages for stage in ("cut", "sew", "finish")},
            },
        )
        if made:
            WorkSpell.objects.bulk_create(
                WorkSpell(
                    person=person,
                    weekday=int(day),
                    starts=datetime.time(*first),
                    ends=datetime.time(*last),
                )
                for day in days
            )
    for kind, name in DEMO_MACHINES:
        Machine.objects.get_or_create(name=name, defaults={"kind": kind})


def clear(runs: QuerySet[Run], clubs: list[str]) -> None:
    """What holds on to the jackets of an older demo and to their events. Schedules name them by
    code, so they go too: no real order stands beside the demo."""
    Tap.objects.filter(jacket__run__in=runs).delete()
    Inspection.objects.filter(jacket__run__in=runs).delete()
    Delivery.objects.filter(team_order__club__name__in=clubs).delete()
    FloorPlan.objects.all().delete()


def deliver_first(jackets: QuerySet[Jacket], by: User, at: datetime.datetime) -> None:
    """A part of the order goes ahead, signed for on paper."""
    hand_over(
        TeamOrder.objects.get(jacket_orders__jacket=jackets[0]),
        jackets,
        received_by="the coxswain",
        signed=Delivery.Signed.PAPER,
        signature=[],
        note="first two, for the photograph",
        by=by,
        form_key=None,
        at=at,
    )


def find_skipped_stitches(code: str, by: User, at: datetime.datetime) -> None:
    """The look at the end of finishing sends a jacket back to be mended."""
    point, words, mender = DEMO_FAULT
    failing = Failing((Fault(point, words),), mender=Person.objects.get(name=mender))
    fail(code, failing, by, at)
