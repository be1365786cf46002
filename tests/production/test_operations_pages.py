from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.forms import model_to_dict
from django.test import Client

from patterns.models import Operation, ThreadColor, Workroom
from patterns.services import workroom
from production.models import StandardChange
from production.snapshots import with_materials_of_today
from production.work_study.operations_forms import OperationForm
from production.work_study.standards import keep_operation
from tests.production.operation_factories import make_operations
from tests.production.planning_factories import MONDAY, make_snapshot
from tests.production.run_factories import make_person, make_run, person

pytestmark = pytest.mark.django_db


@pytest.fixture
def maker() -> Client:
    make_operations()
    return person("maker")


def typed(operation: Operation, **values: object) -> dict[str, Any]:
    """What the form of an operation sends when some of its fields are typed anew."""
    before = Operation.objects.filter(position__lt=operation.position).last()
    kept = {
        name: "" if value is None else value
        for name, value in model_to_dict(operation, OperationForm.Meta.fields).items()
        if value is not False
    }
    return {**kept, "follows": before.pk if before else "", **values}


def edit(maker: Client, code: str, **values: object) -> Any:
    operation = Operation.objects.get(code=code)
    return maker.post(f"/operations/{code}/edit/", typed(operation, **values), follow=True)


def test_operations_are_listed_by_stage_and_marked_as_invented(maker: Client) -> None:
    page = maker.get("/operations/").content.decode()
    places = [page.index(words) for words in ("Cutting</h2>", "Sewing</h2>", "Finishing</h2>")]
    assert places == sorted(places)
    assert page.count("invented starting value</span>") == Operation.objects.count()
    assert "double needle" in page and "lockstitch" in page


def test_other_minutes_leave_a_change_with_its_reason(maker: Client) -> None:
    page = edit(
        maker, "seam", minutes_per_metre="1.3", reason="timed on 12 jackets"
    ).content.decode()
    change = StandardChange.objects.get()
    assert (change.metre_before, change.metre_after) == (Decimal("1.100"), Decimal("1.300"))
    assert change.each_before == change.each_after == Decimal("0.300")
    assert "timed on 12 jackets" in page and "by maker" in page
    assert "invented starting value" not in page
    assert Operation.objects.get(code="seam").minutes_per_metre == Decimal("1.300")


def test_other_minutes_need_a_reason(maker: Client) -> None:
    page = edit(maker, "seam", minutes_each="0.4").content.decode()
    assert "Say why the minutes change" in page and "Not saved" in page
    assert Operation.objects.get(code="seam").minutes_each == Decimal("0.300")
    assert not StandardChange.objects.exists()


def test_the_rest_of_an_operation_changes_without_a_reason(maker: Client) -> None:
    red = ThreadColor.objects.get(code="marigold")
    edit(
        maker,
        "seam",
        thread_rule="chosen",
        chosen_thread=red.pk,
        skill="zipper work",
        takes_cones="on",
    )
    kept = Operation.objects.get(code="seam")
    assert (kept.own_thread, kept.skill, kept.takes_cones) == ("marigold", "zipper work", True)
    assert not StandardChange.objects.exists()


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"stitch_length_mm": "0"}, "Enter mm from 0.5 to 10."),
        ({"stitch_length_mm": ""}, "A stitch needs its length"),
        ({"minutes_each": "-1"}, "Enter minutes from 0 to 1000."),
        ({"minutes_per_metre": "-0.5"}, "Enter minutes from 0 to 1000."),
        ({"stitch_type": "999"}, "neither a thread formula nor a ratio for stitch type 999."),
        ({"rows": "0"}, "Enter rows from 1 to 6."),
        ({"cloth_layers": "0"}, "Enter layers from 1 to 12."),
        ({"covers": ""}, "Say which seams are counted by the metre."),
        ({"driver": "jacket"}, "Only work per metre of seam sews seams."),
        ({"driver": "jacket", "covers": ""}, "Only work per metre of seam takes minutes per"),
        ({"driver": "jacket", "covers": ""}, "Thread is counted along seams"),
        ({"covers": "named"}, "Choose the seam or style line that it sews."),
        ({"seam": "shoulder"}, "A seam is chosen, but"),
        ({"covers": "named", "seam": "moon"}, "moon is not one of the available choices"),
        ({"thread_rule": "chosen"}, "Choose the thread that all is sewn in."),
        ({"name": ""}, "This field is required."),
    ],
)
def test_what_cannot_be_is_told_at_its_field_and_changes_nothing(
    maker: Client, values: dict[str, str], told: str
) -> None:
    before = model_to_dict(Operation.objects.get(code="seam"))
    page = edit(maker, "seam", machine="typed anew", reason="why", **values).content.decode()
    assert told.replace("'", "&#x27;") in page
    assert "Not saved" in page and "typed anew" in page
    assert model_to_dict(Operation.objects.get(code="seam")) == before


def test_a_chosen_thread_needs_the_rule(maker: Client) -> None:
    red = ThreadColor.objects.get(code="marigold")
    assert "the rule is another" in edit(maker, "seam", chosen_thread=red.pk).content.decode()


def test_a_stitch_that_only_the_ratio_table_has_is_taken(maker: Client) -> None:
    edit(maker, "seam", stitch_type="304")
    assert Operation.objects.get(code="seam").stitch_type == "304"


def test_an_own_operation_finds_its_place_in_the_order_of_work(maker: Client) -> None:
    zipper = Operation.objects.get(code="zipper")
    form = {
        "code": "tape",
        "name": "Tape the shoulders",
        "stage": "sew",
        "driver": "seam_metre",
        "covers": "named",
        "seam": "shoulder",
        "minutes_each": "0.2",
        "minutes_per_metre": "0.8",
        "seam_width_mm": "0",
        "rows": "1",
        "cloth_layers": "2",
        "thread_rule": "block",
        "follows": zipper.pk,
    }
    page = maker.post("/new-operation/", form, follow=True).content.decode()
    assert "Tape the shoulders is saved" in page
    assert "invented starting value" not in page
    codes = list(Operation.objects.values_list("code", flat=True))
    assert codes[codes.index("zipper") + 1] == "tape"
    assert list(Operation.objects.values_list("position", flat=True)) == list(range(len(codes)))
    twice = maker.post("/new-operation/", form).content.decode()
    assert "already exists" in twice


def test_the_order_of_work_can_be_changed(maker: Client) -> None:
    edit(maker, "cuff", follows="")
    assert Operation.objects.first() == Operation.objects.get(code="cuff")
    assert "spread" in [operation.code for operation in Operation.objects.all()][:3]


def test_a_named_seam_reaches_the_plan(maker: Client) -> None:
    edit(maker, "topstitch", covers="named", seam="shoulder")
    taken = with_materials_of_today(make_snapshot(), MONDAY)
    (topstitch,) = [op for op in taken.operations if op.code == "topstitch"]
    assert (topstitch.covers, topstitch.seam) == ("named", "shoulder")


def test_an_own_operation_can_be_removed_and_a_shipped_one_not(maker: Client) -> None:
    own = Operation(code="own", name="Own", stage="finish", driver="run", minutes_each=5)
    keeper = make_person("kim", "maker")
    keep_operation(own, follows=None, reason="", by=keeper)
    own.minutes_each = Decimal(6)
    keep_operation(own, follows=None, reason="slower", by=keeper)
    assert "Remove this operation" in maker.get("/operations/own/").content.decode()
    maker.post("/operations/own/remove/")
    assert not Operation.objects.filter(code="own").exists()
    told = maker.post("/operations/fold/remove/", follow=True).content.decode()
    assert "was shipped" in told and Operation.objects.filter(code="fold").exists()


def test_a_helper_reads_operations_and_changes_none(maker: Client) -> None:
    helper = person("helper")
    assert helper.get("/operations/").status_code == 200
    page = helper.get("/operations/seam/").content.decode()
    assert "Change it" not in page
    for address in ("/operations/seam/edit/", "/new-operation/"):
        assert helper.get(address).status_code == 403
    assert helper.post("/operations/seam/remove/").status_code == 403


def test_an_unknown_operation_is_not_found(maker: Client) -> None:
    assert maker.get("/operations/moon/").status_code == 404


def test_without_operations_the_list_says_what_to_do() -> None:
    assert "add your own" in person("maker").get("/operations/").content.decode()


def test_minutes_of_a_run_open_to_their_sources() -> None:
    run = make_run(jackets=2)
    page = person("helper").get(f"/runs/{run.code}/minutes/").content.decode()
    # join seams: side 1000 in 2 runs, neck 400 in 1, cuff 500 in 2; two jackets
    assert "10 stretches of sewing, 3.80 m of seam" in page
    assert "10 × 0.5 min + 3.80 m × 1 min = 8.80 min" in page.replace("&times;", "×")
    assert "8.80 min + 11 % = 9.77 min" in page
    assert "EUR" not in page


def test_the_stages_of_a_run_add_up_to_its_minutes() -> None:
    from production.work_study.minutes_state import run_minutes

    minutes = run_minutes(make_run(jackets=3))
    whole = sum((stage.with_allowance for stage in minutes.stages), Decimal(0))
    assert round(whole, 2) == minutes.plan.labor.with_allowance_minutes
    shown = [row.work.minutes for stage in minutes.stages for row in stage.operations]
    assert shown == [need.standard_minutes for need in minutes.plan.labor.operations]
    assert minutes.batching.changeovers == minutes.plan.labor.changeovers


def test_the_page_names_the_batches_and_what_they_save() -> None:
    run = make_run(jackets=2)
    page = person("maker").get(f"/runs/{run.code}/minutes/").content.decode()
    assert "The 1 batch, in the order of work" in page
    assert "TO-1-01" in page and "TO-1-02" in page
    assert "Batching saves" in page


def test_needs_lead_to_the_minutes() -> None:
    run = make_run(jackets=1)
    page = person("maker").get(f"/runs/{run.code}/needs/").content.decode()
    assert f"/runs/{run.code}/minutes/" in page


def test_learning_is_shown_when_it_is_on() -> None:
    run = make_run(jackets=4)
    page = person("maker").get(f"/runs/{run.code}/minutes/").content.decode()
    assert "Off: every jacket takes the standard." in page
    run.snapshot["workroom"]["learning_rate"] = "0.8"
    run.save()
    page = person("helper").get(f"/runs/{run.code}/minutes/").content.decode()
    assert "jacket 4 takes 64 % of it, all 4 take 78.6 % on the mean" in page


def test_a_learning_rate_is_off_as_shipped() -> None:
    assert Workroom().learning_rate is None
    assert workroom().learning_rate is None


def test_minutes_set_on_another_page_are_not_put_back_unseen(maker: Client) -> None:
    operation = Operation.objects.get(code="seam")
    shown = maker.get("/operations/seam/edit/")
    older = typed(operation, machine="another", reason="timed", seen=shown.context["form"].seen)
    edit(maker, "seam", minutes_each="9", reason="timed")
    page = maker.post("/operations/seam/edit/", older).content.decode()
    assert "changed on another page meanwhile" in page and 'value="another"' in page
    operation.refresh_from_db()
    assert operation.minutes_each == 9
