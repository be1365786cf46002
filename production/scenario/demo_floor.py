"""Who works in the demo's workroom, when, and at which machines; all is invented."""

from __future__ import annotations

import datetime

from django.contrib.auth.models import User

from production.models import Machine, Person, WorkSpell

#: Name, log-in, weekdays, from, to, stages, skills.
DEMO_HANDS = (
    ("Isa Marlow", "maker", "12345", (9, 0), (15, 0), "cut sew finish", ("zippers",)),
    ("Joren Vik", "helper", "1245", (8, 30), (14, 30), "cut sew finish", ()),
    ("Petra Quill", None, "24", (13, 0), (17, 0), "sew finish", ("zippers",)),
)
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
