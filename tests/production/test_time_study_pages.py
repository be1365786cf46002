from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from patterns.models import Operation
from production.models import Jacket, Reading, StandardChange, TimeStudy
from production.planning.minutes.stage_times import Correction
from production.tracking import record
from production.work_study.stage_minutes import stage_corrections
from tests.production.operation_factories import make_operations
from tests.production.run_factories import make_person, make_run, today_at

pytestmark = pytest.mark.django_db


def person(name: str, role: str = "") -> Client:
    client = Client()
    client.force_login(make_person(name, role or name))
    return client


@pytest.fixture
def maker() -> Client:
    make_operations()
    return person("maker")


def begin(client: Client, code: str = "fold", **values: str) -> TimeStudy:
    operation = Operation.objects.get(code=code)
    client.post("/time-studies/begin/", {"operation": operation.pk, **values})
    return TimeStudy.objects.latest("pk")


def reading(**values: object) -> dict[str, Any]:
    return {"seconds": "90", "rating": "100", "count": "1", "form_key": str(uuid4()), **values}


def take(client: Client, study: TimeStudy, **values: object) -> Any:
    return client.post(f"/time-studies/{study.pk}/readings/", reading(**values), follow=True)


def proposal(**values: str) -> dict[str, str]:
    return {"each": "1.500", "per_metre": "0.000", **values}


def test_an_operation_is_chosen_and_timed(maker: Client) -> None:
    study = begin(maker, who="Kim")
    page = take(maker, study, seconds="95.5", break_seconds="12", rating="90").content.decode()
    stored = Reading.objects.get()
    assert (stored.seconds, stored.break_seconds, stored.rating) == (
        Decimal("95.5"),
        Decimal("12.0"),
        90,
    )
    assert "Reading of 95.5 s is stored" in page and "Work of <strong>Kim</strong>" in page
    assert "1.43 basic minutes" in page  # 95.5 x 0.9 / 60


def test_an_open_study_is_taken_up_again(maker: Client) -> None:
    first = begin(maker)
    begin(maker)
    assert TimeStudy.objects.get() == first
    assert begin(maker, "trim") != first


def test_without_an_operation_nothing_begins(maker: Client) -> None:
    page = maker.post("/time-studies/begin/", {}).content.decode()
    assert "Choose the operation that is timed." in page
    assert not TimeStudy.objects.exists()


def test_a_double_tap_stores_one_reading(maker: Client) -> None:
    study, key = begin(maker), str(uuid4())
    take(maker, study, form_key=key)
    take(maker, study, form_key=key)
    assert Reading.objects.count() == 1
    page = maker.get(f"/time-studies/{study.pk}/").content.decode()
    assert f'data-stored="{key}"' in page


def test_the_same_form_sent_again_after_the_end_is_no_error(maker: Client) -> None:
    study, key = begin(maker), str(uuid4())
    take(maker, study, form_key=key)
    maker.post(f"/time-studies/{study.pk}/accept/", proposal())
    assert "is stored" in take(maker, study, form_key=key).content.decode()


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"seconds": ""}, "Let the watch run, or enter the seconds of work."),
        ({"seconds": "0"}, "Enter seconds from 0.1 to 36000."),
        ({"break_seconds": "-1"}, "Enter seconds from 0 to 36000."),
        ({"rating": "20"}, "Enter a rating from 25 to 200."),
        ({"rating": "201"}, "Enter a rating from 25 to 200."),
        ({"count": "0"}, "Enter how many were done, 1 or more."),
        ({"metres": ""}, "Enter the metres that were sewn in this time."),
        ({"metres": "0"}, "Enter metres above 0."),
        ({"form_key": "x"}, "Load the page again"),
    ],
)
def test_a_reading_that_cannot_be_is_told_at_its_field(
    maker: Client, values: dict[str, str], told: str
) -> None:
    study = begin(maker, "seam")
    page = take(maker, study, **{"seconds": "61.5", "metres": "3.25", **values}).content.decode()
    assert told in page and "Not stored" in page
    assert 'value="61.5"' in page or "seconds" in values
    assert not Reading.objects.exists()


def test_metres_are_proposed_from_the_jacket(maker: Client) -> None:
    make_run(jackets=1)
    study = begin(maker, "zipper")
    page = maker.get(f"/time-studies/{study.pk}/?jacket=TO-1-01").content.decode()
    assert "TO-1-01: 2 stretches of sewing, 1.200 m in all" in page
    assert 'name="metres" value="1.200"' in page and 'name="count" value="2"' in page
    unknown = maker.get(f"/time-studies/{study.pk}/?jacket=X-1").content.decode()
    assert "No jacket has the code &#x27;X-1&#x27;" in unknown
    Operation.objects.filter(code="zipper").update(covers="named", seam="moon")
    nothing = maker.get(f"/time-studies/{study.pk}/?jacket=TO-1-01").content.decode()
    assert "no seam that this operation sews" in nothing


def five(client: Client, study: TimeStudy, *seconds: int) -> None:
    for value in seconds:
        take(client, study, seconds=str(value))


def test_an_odd_reading_is_marked_and_left_out_with_a_reason(maker: Client) -> None:
    study = begin(maker)
    five(maker, study, 90, 92, 88, 91, 300)
    address = f"/time-studies/{study.pk}/"
    page = maker.get(address).content.decode()
    assert page.count(">odd</span>") == 1 and "3 scaled median deviations" in page
    odd = Reading.objects.latest("pk")
    mark = f"{address}readings/{odd.pk}/"
    refused = maker.post(mark, {"why": ""}, follow=True).content.decode()
    assert "Say why the reading is left out" in refused
    page = maker.post(mark, {"why": "thread broke"}, follow=True).content.decode()
    assert "thread broke" in page and ">odd</span>" not in page
    odd.refresh_from_db()
    assert (odd.is_left_out, odd.why) == (True, "thread broke")
    maker.post(mark, {"take_in": "1", "why": "it happens daily"})
    odd.refresh_from_db()
    assert (odd.is_left_out, odd.why) == (False, "it happens daily")


def test_the_page_says_how_many_readings_are_wanted(maker: Client) -> None:
    study = begin(maker)
    assert "5 more readings" in maker.get(f"/time-studies/{study.pk}/").content.decode()
    five(maker, study, 420, 360, 420, 420, 360)
    page = maker.get(f"/time-studies/{study.pk}/").content.decode()
    assert "4 more readings" in page  # the ILO example: 9 in all
    assert "9 are needed by the ILO formula" in page and "22 by the small-sample" in page


def test_the_maker_accepts_the_proposed_standard(maker: Client) -> None:
    study = begin(maker)
    five(maker, study, 60, 66, 54, 60, 60)
    page = maker.get(f"/time-studies/{study.pk}/").content.decode()
    assert 'name="each" value="1.000"' in page
    page = maker.post(
        f"/time-studies/{study.pk}/accept/", proposal(each="1.000"), follow=True
    ).content.decode()
    assert "has its new standard" in page and "Accept the proposed" not in page
    fold = Operation.objects.get(code="fold")
    assert fold.minutes_each == Decimal("1.000")
    change = StandardChange.objects.get()
    assert (change.study, change.each_before) == (study, Decimal("1.500"))
    assert change.reason == "time study of 5 readings"
    study.refresh_from_db()
    assert study.state == "accepted" and study.ended_at


def test_a_proposal_that_changed_meanwhile_is_not_accepted(maker: Client) -> None:
    study = begin(maker)
    five(maker, study, 60)
    five(maker, study, 120)
    page = maker.post(
        f"/time-studies/{study.pk}/accept/", proposal(each="1.000"), follow=True
    ).content.decode()
    assert "The readings changed meanwhile" in page
    assert Operation.objects.get(code="fold").minutes_each == Decimal("1.500")
    study.refresh_from_db()
    assert study.state == "open" and not StandardChange.objects.exists()


def test_readings_that_confirm_the_standard_end_its_being_invented(maker: Client) -> None:
    study = begin(maker)
    five(maker, study, 90, 90)
    page = maker.post(f"/time-studies/{study.pk}/accept/", proposal(), follow=True).content.decode()
    assert "confirm the standard as it is" in page
    assert not StandardChange.objects.exists()
    assert "invented starting value" not in maker.get("/operations/fold/").content.decode()


def test_a_study_without_readings_cannot_be_accepted(maker: Client) -> None:
    study = begin(maker)
    page = maker.post(f"/time-studies/{study.pk}/accept/", {}, follow=True).content.decode()
    assert "No reading counts yet" in page


def test_readings_of_no_length_set_no_standard_of_nothing(maker: Client) -> None:
    study = begin(maker)
    take(maker, study, seconds="0.1", count="10000")
    page = maker.post(
        f"/time-studies/{study.pk}/accept/", proposal(each="0.000"), follow=True
    ).content.decode()
    assert "propose no minutes at all" in page
    assert Operation.objects.get(code="fold").minutes_each == Decimal("1.500")


def test_a_dropped_study_leaves_the_standard(maker: Client) -> None:
    study = begin(maker)
    five(maker, study, 60)
    assert (
        "is dropped" in maker.post(f"/time-studies/{study.pk}/drop/", follow=True).content.decode()
    )
    assert Operation.objects.get(code="fold").minutes_each == Decimal("1.500")
    page = take(maker, study).content.decode()
    assert "This time study is dropped already" in page
    assert Reading.objects.count() == 1
    assert begin(maker) != study


def test_a_helper_takes_readings_and_the_maker_accepts(maker: Client) -> None:
    helper = person("helper")
    study = begin(helper)
    five(helper, study, 60, 60)
    page = helper.get(f"/time-studies/{study.pk}/").content.decode()
    assert "The maker accepts the standard." in page and "Accept the proposed" not in page
    accept = f"/time-studies/{study.pk}/accept/"
    assert helper.post(accept, proposal(each="1.000")).status_code == 403
    maker.post(accept, proposal(each="1.000"))
    assert StandardChange.objects.filter(by__username="maker").count() == 1


def test_a_helper_sees_no_study_of_another(maker: Client) -> None:
    study = begin(maker, note="the maker's own")
    helper = person("helper")
    assert helper.get(f"/time-studies/{study.pk}/").status_code == 403
    assert take(helper, study).status_code == 403
    assert helper.post(f"/time-studies/{study.pk}/drop/").status_code == 403
    assert f"/time-studies/{study.pk}/" not in helper.get("/time-studies/").content.decode()


def test_both_time_the_same_operation_apart(maker: Client) -> None:
    helper = person("helper")
    own, theirs = begin(maker), begin(helper)
    assert own != theirs
    page = maker.get("/time-studies/").content.decode()
    assert f"/time-studies/{own.pk}/" in page and f"/time-studies/{theirs.pk}/" in page


def test_a_reading_of_another_study_is_not_found(maker: Client) -> None:
    one, other = begin(maker), begin(maker, "trim")
    take(maker, one)
    mark = f"/time-studies/{other.pk}/readings/{Reading.objects.get().pk}/"
    assert maker.post(mark, {"why": "x"}).status_code == 404


def test_stages_of_jackets_correct_the_standard() -> None:
    """Sewing stands at 60 minutes in these runs, cutting at 10; invented."""
    run = make_run(jackets=4)
    ana = make_person("ana")
    start = today_at(0, 30)
    for place, minutes in enumerate((66, 72, 75)):
        code = f"TO-1-{place + 1:02d}"
        began = start + datetime.timedelta(minutes=90 * place)
        record(code, "done", "cut", ana, at=began)  # never started, so nobody knows how long
        record(code, "start", "sew", ana, at=began)
        record(code, "done", "sew", ana, at=began + datetime.timedelta(minutes=minutes))
    assert stage_corrections(run) == {"sew": Correction("sew", Decimal("1.2"), 3, 0)}
    assert stage_corrections() == stage_corrections(run)


def test_mending_and_steps_taken_back_correct_nothing() -> None:
    run = make_run(jackets=1)
    ana = make_person("ana")
    code = Jacket.objects.get().code
    at = [today_at(1, 0) + datetime.timedelta(minutes=30 * step) for step in range(8)]
    record(code, "done", "cut", ana, at=at[0])
    record(code, "start", "sew", ana, at=at[0])
    record(code, "done", "sew", ana, at=at[1])
    record(code, "undo", "sew", ana, at=at[1])
    record(code, "done", "sew", ana, at=at[2])
    record(code, "send_back", "sew", ana, "zipper waves", at=at[3])
    record(code, "start", "sew", ana, at=at[4])
    record(code, "done", "sew", ana, at=at[5])
    assert stage_corrections(run) == {"sew": Correction("sew", Decimal(1), 1, 0)}


def test_the_minutes_page_shows_the_correction_beside_the_standard() -> None:
    run = make_run(jackets=1)
    ana = make_person("ana")
    code = Jacket.objects.get().code
    record(code, "start", "cut", ana, at=today_at(1, 0))
    record(code, "done", "cut", ana, at=today_at(1, 15))
    page = person("maker").get(f"/runs/{run.code}/minutes/").content.decode()
    assert "1 jacket of this run took 1.50 of the standard" in page
    assert "No running correction yet" in page  # of sewing and finishing
