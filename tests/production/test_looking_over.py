"""Looking finished jackets over: every one or a sample; good, or back with a reason and who."""

from __future__ import annotations

import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from patterns.services import workroom
from production.errors import MovedOnError, StepRefusedError
from production.models import CheckPoint, Inspection, InspectionFault, Jacket, Person, StageEvent
from production.stages.check_points import SHIPPED, install_check_points
from production.stages.inspections import (
    Failing,
    Fault,
    fail,
    menders,
    pass_over,
    reason_words,
)
from production.stages.lots import lot_of
from production.tracking import REASON_LENGTH, record
from tests.production.report_factories import make_cut_run
from tests.production.run_factories import make_person, make_run, person

pytestmark = pytest.mark.django_db

CODE = "TO-1-01"
ZIPPER, LABEL = SHIPPED[0][1], SHIPPED[4][1]


def inspecting(how: str) -> None:
    room = workroom()
    room.inspecting = how
    room.save()


def to_finishing(*codes: str) -> None:
    for code in codes:
        for stage in ("cut", "sew"):
            record(code, "done", stage, None)


def finish(by, *, vouch: bool = False, code: str = CODE) -> StageEvent:
    return record(code, "done", "finish", by, vouch=vouch)


def stored(code: str = CODE) -> Jacket:
    return Jacket.objects.get(code=code)


@pytest.fixture
def run():
    return make_run(jackets=3)


@pytest.fixture
def ana(run):
    to_finishing(CODE)
    return make_person("ana")


def test_finishing_is_refused_until_somebody_looked(ana):
    with pytest.raises(StepRefusedError, match="nobody has looked it over since it came to fin"):
        finish(ana)
    pass_over(CODE, ana)
    finish(make_person("bo"))
    assert stored().stage == "hand_over"
    look = Inspection.objects.get()
    assert (look.by, look.passed) == (ana, True)
    assert look.points == [words for _, words, _ in SHIPPED]


def test_who_vouches_has_looked(ana):
    at = timezone.now() - datetime.timedelta(hours=1)
    record(CODE, "done", "finish", ana, at=at, vouch=True)
    look = Inspection.objects.get()
    assert (look.by, look.at, look.passed) == (ana, at, True)


def test_looked_over_twice_counts_once(ana):
    assert pass_over(CODE, ana) == pass_over(CODE, make_person("bo"))
    finish(ana, vouch=True)
    assert Inspection.objects.count() == 1


def test_a_fault_sends_it_back_with_the_reason_and_who_mends(ana):
    petra = Person.objects.create(name="Petra Quill")
    event = fail(
        CODE, Failing((Fault("zipper", "wave at the hem"), Fault("label")), mender=petra), ana
    )
    assert (event.kind, event.stage) == ("sent_back", "sew"), "the earlier one of sew and finish"
    jacket = stored()
    assert jacket.mend_reason == f"{ZIPPER}: wave at the hem; {LABEL}"
    assert (jacket.stage, menders([jacket])) == ("sew", {jacket.pk: petra})
    look = Inspection.objects.get()
    assert (look.passed, look.by, look.faults.count()) == (False, ana, 2)


def test_after_mending_it_is_looked_over_anew(ana):
    pass_over(CODE, ana)
    fail(CODE, Failing((Fault("zipper"),), back_to="finish"), ana)
    with pytest.raises(StepRefusedError, match="nobody has looked it over"):
        finish(ana)
    pass_over(CODE, ana)
    finish(ana)
    assert menders([stored()]) == {}


def test_any_sending_back_makes_the_look_old(ana):
    pass_over(CODE, ana)
    record(CODE, "send_back", "sew", ana, "a hole")
    record(CODE, "done", "sew", ana)
    with pytest.raises(StepRefusedError, match="nobody has looked it over"):
        finish(ana)


def test_undoing_the_finishing_keeps_the_look(ana):
    event = finish(ana, vouch=True)
    record(CODE, "undo", "finish", ana, undoes=event.pk)
    finish(ana)
    assert Inspection.objects.count() == 1


def test_the_reason_names_every_point_that_has_room():
    long = [(f"point {number} " + "x" * 60, "torn " * 10) for number in range(6)]
    assert reason_words(long[:2]).count("torn") == 0 and "point 1" in reason_words(long[:2])
    words = reason_words(long)
    assert len(words) <= REASON_LENGTH and words.endswith("and 4 more points")


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Failing(()), "Tick at least one point"),
        (Failing((Fault("buttons"),)), "'buttons' is no point"),
        (Failing((Fault("zipper"),), back_to="hand_over"), "not on to"),
        (Failing((Fault("zipper", "a\x1bhole"),)), "control signs"),
    ],
)
def test_a_fault_that_cannot_be_changes_nothing(ana, found, words):
    with pytest.raises(StepRefusedError, match=words):
        fail(CODE, found, ana)
    assert not Inspection.objects.exists() and stored().stage == "finish"


def test_it_is_looked_over_at_the_end_of_finishing_alone(ana):
    words = "waits for cutting; it is looked over when"
    with pytest.raises(StepRefusedError, match=words):
        fail("TO-1-02", Failing((Fault("zipper"),)), ana)
    with pytest.raises(StepRefusedError, match=words):
        pass_over("TO-1-02", ana)


def test_two_pages_at_once_leave_one_truth(ana):
    seen = stored().events.latest("pk").pk
    finish(make_person("bo"), vouch=True)
    with pytest.raises(MovedOnError, match="already moved on by bo"):
        fail(CODE, Failing((Fault("zipper"),), seen=seen), ana)
    assert Inspection.objects.count() == 1 and stored().stage == "hand_over"


def test_the_same_form_twice_counts_once(ana):
    seen = stored().events.latest("pk").pk
    found = Failing((Fault("zipper", "stuck"),), seen=seen)
    assert fail(CODE, found, ana) == fail(CODE, found, ana)
    assert Inspection.objects.count() == 1
    with pytest.raises(MovedOnError, match="already moved on"):
        fail(CODE, Failing((Fault("label"),), seen=seen), ana)


# Samples


@pytest.fixture
def lot():
    """Twenty jackets at finishing, AQL 4.0: three are drawn, none may be faulty."""
    run = make_cut_run(20)
    inspecting("4.0")
    to_finishing(*run.jackets.values_list("code", flat=True))
    return run


def drawn(run) -> list[str]:
    return [jacket.code for jacket in lot_of(run).sample]


def test_only_the_sample_is_asked_for(lot):
    sample = drawn(lot)
    other = next(code for code in lot.jackets.values_list("code", flat=True) if code not in sample)
    finish(None, code=other)
    with pytest.raises(StepRefusedError, match="nobody has looked it over"):
        finish(None, code=sample[0])
    for code in sample:
        finish(None, code=code, vouch=True)
    assert lot_of(lot).words == (
        "Sample of 3: 3 looked over, 0 faulty, up to 0 accepted. The lot is accepted."
    )
    assert Inspection.objects.count() == 3


def test_a_jacket_that_was_found_good_is_not_asked_for_again_when_it_waits_for_the_hand_over(lot):
    sample, ana, helper = drawn(lot), make_person("ana"), person("helper")
    looked, vouched = sample[:2]
    pass_over(looked, ana)
    finish(ana, code=looked)
    finish(ana, code=vouched, vouch=True)
    for code in (looked, vouched):
        shown = page(helper, code)
        assert stored(code).stage == "hand_over" and "Not looked over yet" not in shown
        assert pass_over(code, ana) == Inspection.objects.get(jacket__code=code)
    record(looked, "send_back", "finish", ana, "a thread hangs out")
    with pytest.raises(StepRefusedError, match="nobody has looked it over"):
        finish(ana, code=looked)


def test_a_refused_lot_asks_for_every_jacket_and_forgets_no_fault(lot):
    sample = drawn(lot)
    other = next(code for code in lot.jackets.values_list("code", flat=True) if code not in sample)
    fail(sample[0], Failing((Fault("threads"),)), None)
    assert lot_of(lot).is_refused
    with pytest.raises(StepRefusedError, match="nobody has looked it over"):
        finish(None, code=other)
    pass_over(sample[0], None)
    assert lot_of(lot).is_refused, "the first look counts"
    assert len(lot_of(lot).to_look_at) == 19


def test_of_a_refused_lot_none_is_handed_over_that_nobody_looked_at(lot):
    sample, ana = drawn(lot), make_person("ana")
    other = next(code for code in lot.jackets.values_list("code", flat=True) if code not in sample)
    finish(ana, code=other)
    fail(sample[0], Failing((Fault("zipper"),)), ana)
    with pytest.raises(StepRefusedError, match="every jacket of it is looked over"):
        record(other, "done", "hand_over", ana)
    assert stored(other).stage == "hand_over"
    pass_over(other, ana)
    record(other, "done", "hand_over", ana)
    assert stored(other).stage == "handed_over"


def test_a_fault_that_was_a_mistake_does_not_count(lot):
    sample = drawn(lot)
    event = fail(sample[0], Failing((Fault("threads"),)), None)
    record(sample[0], "undo", "finish", None, undoes=event.pk)
    assert not lot_of(lot).is_refused
    assert len(lot_of(lot).to_look_at) == 3


def test_a_mended_jacket_is_looked_over_though_it_is_not_in_the_sample(lot):
    other = next(
        code for code in lot.jackets.values_list("code", flat=True) if code not in drawn(lot)
    )
    fail(other, Failing((Fault("threads"),)), None)
    with pytest.raises(StepRefusedError, match="nobody has looked it over"):
        finish(None, code=other)


# Pages


def page(client, code: str = CODE) -> str:
    answer = client.get(reverse("production:jacket", args=[code]))
    assert answer.status_code == 200
    shown: bytes = answer.content
    return shown.decode()


def send(client, name: str, **fields):
    return client.post(reverse(f"production:{name}", args=[CODE]), fields, follow=True)


def test_a_helper_looks_over_and_finds_something(ana):
    helper = person("helper")
    shown = page(helper)
    assert "All points are good. Finishing is done" in shown and ZIPPER in shown
    petra = Person.objects.create(name="Petra Quill")
    seen = stored().events.latest("pk").pk
    answer = send(helper, "faults", seen=seen, back_to="points")
    assert "Tick at least one point" in answer.content.decode() and stored().stage == "finish"
    answer = send(
        helper, "faults", seen=seen, words_zipper="<b>stuck", mender=petra.pk, back_to="points"
    )
    shown = answer.content.decode()
    assert f"{ZIPPER}: &lt;b&gt;stuck" in shown and "Petra Quill mends it" in shown
    assert "looked over, not right" in shown
    fault = InspectionFault.objects.get()
    assert (fault.point.code, fault.words) == ("zipper", "<b>stuck")


def test_finishing_by_a_page_vouches_only_by_its_button(ana):
    helper = person("helper")
    answer = send(helper, "record", action="done", stage="finish")
    assert "nobody has looked it over" in answer.content.decode()
    answer = send(helper, "looked_over", seen=stored().events.latest("pk").pk)
    shown = answer.content.decode()
    assert "all points good. Finishing is not done yet" in shown and 'name="vouch"' not in shown
    send(helper, "record", action="done", stage="finish")
    assert stored().stage == "hand_over"


@pytest.mark.parametrize("seen", ["9" * 30, "9" * 6000, "\u00b2"])
def test_a_page_that_saw_what_cannot_be_breaks_nothing(ana, seen):
    """More digits than a database holds, and than Python reads."""
    helper = person("helper")
    form = {"seen": seen, "wrong": ["zipper"], "back_to": "points"}
    for name in ("faults", "looked_over"):
        assert send(helper, name, **form).status_code == 200
    assert stored().stage == "finish"


def test_looking_at_a_page_writes_nothing(ana):
    page(person("helper"))
    assert not CheckPoint.objects.exists() and not Inspection.objects.exists()


def test_the_page_asks_the_database_little_and_as_often_at_every_stage():
    run = make_cut_run(12)
    helper = person("helper")
    for stage in ("cut", "sew", "finish", "hand_over"):
        page(helper)
        with CaptureQueriesContext(connection) as asked:
            page(helper)
        assert len(asked) <= 36, (stage, len(asked))
        record(CODE, "done", stage, None)
    assert run.jackets.count() == 12


def test_the_pages_say_who_is_in_the_sample_and_how_the_lot_stands(lot):
    helper = person("helper")
    sample = drawn(lot)
    other = next(code for code in lot.jackets.values_list("code", flat=True) if code not in sample)
    shown = page(helper, other)
    assert "is not in the sample" in shown and 'name="vouch"' not in shown
    assert "is one of those that are looked over" in page(helper, sample[0])
    finish(None, code=other)
    assert "Not looked over yet" not in page(helper, other)
    fail(sample[0], Failing((Fault("threads"),)), None)
    assert "Not looked over yet" in page(helper, other), "the lot is refused"
    answer = helper.post(reverse("production:looked_over", args=[other]), follow=True)
    assert "Not looked over yet" not in answer.content.decode()
    shown = helper.get(lot.get_absolute_url()).content.decode()
    assert "Sample of 3: 1 looked over, 1 faulty, up to 0 accepted." in shown
    assert "Still to look at: 18" in shown


# The points themselves


def rows(*points: dict[str, object]) -> dict[str, object]:
    data: dict[str, object] = {"form-TOTAL_FORMS": len(points), "form-INITIAL_FORMS": 0}
    data["form-INITIAL_FORMS"] = sum("id" in point for point in points)
    for number, point in enumerate(points):
        data |= {f"form-{number}-{name}": value for name, value in point.items()}
    return data


def test_the_maker_keeps_the_points_and_a_helper_does_not():
    install_check_points()
    install_check_points()
    assert CheckPoint.objects.count() == len(SHIPPED)
    address = reverse("production:check_points")
    assert person("helper").get(address).status_code == 403
    maker = person("maker")
    seen = maker.get(address).context["seen"]
    first = CheckPoint.objects.get(code="zipper")
    told = rows(
        {"id": first.pk, "words": "Zipper closes", "mend_stage": "sew", "position": 0},
        {"words": "Pockets closed", "mend_stage": "finish", "position": 9, "is_asked": "on"},
    )
    assert "Not saved" in maker.post(address, {**told, "seen": "old"}).content.decode()
    maker.post(address, {**told, "seen": seen})
    first.refresh_from_db()
    assert (first.words, first.is_asked) == ("Zipper closes", False)
    assert CheckPoint.objects.get(code="pockets-closed").mend_stage == "finish"


def test_a_point_that_is_no_longer_asked_stays_in_the_history(ana):
    fail(CODE, Failing((Fault("zipper"),), back_to="finish"), ana)
    CheckPoint.objects.filter(code="zipper").update(is_asked=False)
    with pytest.raises(StepRefusedError, match="'zipper' is no point"):
        fail(CODE, Failing((Fault("zipper"),)), ana)
    assert f"not right: {ZIPPER}" in page(person("helper"))


def test_without_a_point_nothing_asks_for_one(ana):
    """A fault names a point; where none is asked there is the sending back in one's own words."""
    install_check_points()
    CheckPoint.objects.update(is_asked=False)
    shown = page(person("helper"))
    assert "No point is asked at present" in shown and "Something is wrong" not in shown
    assert "Send back to mend</summary>" in shown
