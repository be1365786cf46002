"""People, their hours, days off and machines: what is kept, refused, shown, and to whom."""

from __future__ import annotations

import datetime
import re

import pytest
from django.utils import timezone

from patterns.models import Operation
from production.models import DaysOff, ExtraHours, Machine, Person, WorkSpell
from production.people import people as services
from production.people.people import PeopleError
from production.people.people_state import cannot_be_done, people_rows, week_words
from production.planning.timetable.hour_text import read_hours
from production.scheduling.hands import hands_from
from tests.production.operation_factories import make_operations
from tests.production.run_factories import make_person, person

pytestmark = pytest.mark.django_db
NEW, LIST = "/workroom/people/new/", "/workroom/people/"
DAYS, MACHINES = "/workroom/days-off/", "/workroom/machines/"


def make_worker(name: str = "Ana", hours: str = "9-12", **values) -> Person:
    worker = Person(name=name, **values)
    week = {1: read_hours(hours)}
    return services.keep_person(worker, values.get("skills", ()), week)


def typed(**values: str) -> dict[str, str]:
    stages = {"can_cut": "on", "can_sew": "on", "can_finish": "on"}
    days = {f"day_{day}": "" for day in range(1, 8)}
    return {"name": "Ana", "user": "", **stages, **days, **values}


def coming(days: int = 7) -> datetime.date:
    return timezone.localdate() + datetime.timedelta(days=days)


def coming_monday() -> datetime.date:
    today = timezone.localdate()
    return today + datetime.timedelta(days=8 - today.isoweekday())


# A person


def test_a_person_is_kept_with_hours_and_skills():
    Operation.objects.create(
        code="x", name="X", stage="sew", driver="jacket", position=0, skill="zippers"
    )
    hal = make_person("hal")
    client = person("maker")
    sent = typed(user=str(hal.pk), day_1="9-12:30, 13-16", day_6="10-12", skills="zippers")
    assert client.post(NEW, sent).status_code == 302
    kept = Person.objects.get()
    assert (kept.name, kept.user, kept.skills) == ("Ana", hal, ["zippers"])
    rows = [(row.weekday, row.starts.hour, row.ends.hour) for row in kept.spells.all()]
    assert rows == [(1, 9, 12), (1, 13, 16), (6, 10, 12)]
    page = client.get(f"{LIST}{kept.pk}/").content.decode()
    assert 'value="9-12:30, 13-16"' in page and "checked" in page


def test_a_change_replaces_the_hours():
    worker = make_worker()
    person("maker").post(f"{LIST}{worker.pk}/", typed(name="Ana Reed", day_2="8-10"))
    worker.refresh_from_db()
    assert worker.name == "Ana Reed"
    assert [row.weekday for row in WorkSpell.objects.all()] == [2]


def test_two_pages_at_once_do_not_write_over_each_other():
    worker, client = make_worker(), person("maker")
    page = client.get(f"{LIST}{worker.pk}/").content.decode()
    seen = re.search(r'name="seen" value="(\w+)"', page).group(1)
    services.keep_person(worker, (), {3: read_hours("7-9")})
    answer = client.post(f"{LIST}{worker.pk}/", typed(day_1="9-12", seen=seen))
    assert "changed on another page" in answer.content.decode()
    assert [row.weekday for row in WorkSpell.objects.all()] == [3]


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"day_1": "9-12, 11-13"}, "overlap"),
        ({"day_4": "tomorrow"}, "no stretch of hours"),
        ({"name": " "}, "This field is required"),
        ({"name": "ana"}, "somebody called Ana already"),
        ({"can_cut": "", "can_sew": "", "can_finish": ""}, "Tick at least one stage"),
    ],
)
def test_what_cannot_be_is_refused_and_what_was_typed_stays(sent, words):
    make_worker()
    answer = person("maker").post(NEW, typed(**{"name": "Bo", "day_2": "8-10", **sent}))
    page = answer.content.decode()
    assert words in page and 'value="8-10"' in page
    assert Person.objects.count() == 1


def test_a_log_in_is_one_persons():
    hal, client = make_person("hal"), person("maker")
    worker = make_worker(user=hal)
    assert f'value="{hal.pk}"' not in client.get(NEW).content.decode()
    assert f'value="{hal.pk}" selected' in client.get(f"{LIST}{worker.pk}/").content.decode()


def test_who_has_left_is_not_planned_and_may_come_back():
    worker, client = make_worker(), person("maker")
    client.post(f"{LIST}{worker.pk}/leave/")
    assert Person.objects.get().has_left
    assert "Ana is back" in client.get(LIST).content.decode()
    client.post(f"{LIST}{worker.pk}/back/")
    assert not Person.objects.get().has_left


# Days off and extra hours


def test_days_off_of_one_and_of_everybody():
    worker, client = make_worker(), person("maker")
    client.post(DAYS, {"person": worker.pk, "first": coming(), "last": coming(9), "words": "fair"})
    client.post(DAYS, {"person": "", "first": coming(), "last": "", "words": ""})
    off = [(row.person, (row.last - row.first).days) for row in DaysOff.objects.order_by("pk")]
    assert off == [(worker, 2), (None, 0)]
    (row,) = people_rows()
    assert [one.words for one in row.off] == ["fair"]
    client.post(f"{DAYS}{row.off[0].pk}/strike/")
    assert DaysOff.objects.count() == 1


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (5, 4, "is before the first"),
        (-5, -4, "are past"),
        (1, 900, "enter fewer"),
        (8, 9, "is off"),
    ],
)
def test_days_off_that_cannot_be(first, last, words):
    worker = make_worker()
    services.take_days_off(worker, coming(7), coming(9))
    with pytest.raises(PeopleError, match=words):
        services.take_days_off(worker, coming(first), coming(last))
    assert DaysOff.objects.count() == 1


def test_extra_hours_are_beyond_the_week():
    worker, monday = make_worker(hours="9-12"), coming_monday()
    client = person("maker")
    sent = {"person": worker.pk, "day": monday, "hours": "11-13", "words": ""}
    assert "works 9-12 that day anyway" in client.post(DAYS, sent).content.decode()
    client.post(DAYS, {**sent, "hours": "13-15, 16-18"})
    assert ExtraHours.objects.count() == 2
    # The same page sent twice.
    assert (
        "works 9-12, 13-15, 16-18" in client.post(DAYS, {**sent, "hours": "13-15"}).content.decode()
    )
    services.take_days_off(None, monday, monday)
    services.add_extra_hours(worker, monday, read_hours("9-11"))
    with pytest.raises(PeopleError, match="is past"):
        services.add_extra_hours(worker, coming(-1), read_hours("9-11"))


def test_the_schedule_counts_these_hours(django_user_model):
    from patterns.services import workroom

    worker, monday = make_worker(hours="9-12"), coming_monday()
    services.add_extra_hours(worker, monday + datetime.timedelta(days=5), read_hours("10-12"))
    services.take_days_off(worker, monday + datetime.timedelta(days=7), coming(20))
    (hand,) = hands_from(workroom(), monday, 14, ())
    assert hand.spells == ((540, 720), (5 * 1440 + 600, 5 * 1440 + 720))


# Machines, and what cannot be done


def test_machines_are_of_kinds_that_operations_name():
    make_operations()
    client = person("maker")
    client.post(MACHINES, {"kind": "serger", "name": "Serger at the window"})
    again = client.post(MACHINES, {"kind": "serger", "name": "serger at the Window"})
    assert "There is a machine called" in again.content.decode()
    assert client.post(MACHINES, {"kind": "loom", "name": "L"}).status_code == 200
    machine = Machine.objects.get()
    client.post(f"{MACHINES}{machine.pk}/use/", {"use": "0"})
    assert cannot_be_done() == ("Overedge the seams: every serger machine is out of use.",)
    page = client.get(MACHINES).content.decode()
    assert "every serger machine is out of use" in page and "None listed" in page
    client.post(f"{MACHINES}{machine.pk}/use/", {"use": "1"})
    assert cannot_be_done() == ()
    client.post(f"{MACHINES}{machine.pk}/strike/")
    assert not Machine.objects.exists()


def test_what_nobody_can_do_is_said():
    Operation.objects.create(
        code="z", name="Zip in", stage="sew", driver="jacket", position=0, skill="zippers"
    )
    Operation.objects.create(code="c", name="Cut out", stage="cut", driver="block", position=1)
    assert cannot_be_done() == ()  # unnamed hands can do everything
    make_worker("Ana", can_cut=False)
    assert cannot_be_done() == (
        "Zip in: nobody does sewing and has the skill \u201czippers\u201d.",
        "Cut out: nobody does cutting.",
    )
    bo = make_worker("Bo", hours="", skills=["zippers"])
    assert cannot_be_done() == (
        "Zip in: only Bo can do it, with no hours in the week.",
        "Cut out: only Bo can do it, with no hours in the week.",
    )
    services.add_extra_hours(bo, coming(), read_hours("9-12"))
    assert cannot_be_done() == ()
    for worker in Person.objects.all():
        services.set_left(worker, has_left=True)
    assert "Everybody has left" in cannot_be_done()[0]


# Pages and permissions


def test_an_empty_room_says_who_is_counted_instead():
    page = person("maker").get(LIST).content.decode()
    assert "Nobody is entered yet" in page and "unnamed hand" in page


def test_helpers_read_and_do_not_write():
    worker, client = make_worker(user=make_person("hal")), person("helper")
    page = client.get(LIST).content.decode()
    assert "Ana" in page and "Add a person" not in page and "hal" not in page
    for path in (DAYS, MACHINES):
        assert client.get(path).status_code == 200
        assert client.post(path, {"hours": ""}).status_code == 403
    for path in (NEW, f"{LIST}{worker.pk}/"):
        assert client.get(path).status_code == 403
    for path in ("leave", "back"):
        assert client.post(f"{LIST}{worker.pk}/{path}/").status_code == 403
    assert not Person.objects.get().has_left


def test_reading_changes_nothing():
    worker, client = make_worker(), person("maker")
    for path in (f"{LIST}{worker.pk}/leave/", f"{DAYS}1/strike/", f"{MACHINES}1/strike/"):
        assert client.get(path).status_code == 405


def test_the_list_takes_as_many_queries_for_many(django_assert_num_queries):
    for number in range(5):
        make_worker(f"Person {number}")
    with django_assert_num_queries(4):
        people_rows()


def test_a_week_in_words():
    workday, saturday = read_hours("9-12, 13-16"), read_hours("9-12")
    assert week_words([workday] * 5 + [saturday, ()]) == "Mon to Fri 9-12, 13-16; Sat 9-12"
    assert week_words([(), saturday, saturday, (), (), (), ()]) == "Tue and Wed 9-12"
    split = [saturday, saturday, workday, saturday, saturday, saturday, ()]
    assert week_words(split) == "Mon, Tue and Thu to Sat 9-12; Wed 9-12, 13-16"
    assert week_words([()] * 7) == "no hours in the week"
