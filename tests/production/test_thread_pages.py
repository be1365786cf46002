from __future__ import annotations

from decimal import Decimal
from typing import Any

import msgspec
import pytest
from django.test import Client

from patterns.models import Operation, ThreadSample, Workroom
from patterns.services import workroom
from production.needs.thread_state import thread_of_run, told_of
from production.planning.threads.thread import thread_needs
from production.services import load_snapshot
from production.snapshots import with_materials_of_today
from tests.production.operation_factories import make_operations
from tests.production.planning_factories import MONDAY, make_sewing, make_snapshot, make_workroom
from tests.production.run_factories import make_blocking, make_run, person

pytestmark = pytest.mark.django_db

SEAM = {"seam": "150", "needle": "210", "under": "195"}


@pytest.fixture
def maker() -> Client:
    make_operations()
    make_blocking()  # with its fabric, whose thickness the formula needs
    return person("maker")


def take(client: Client, code: str = "seam", do: str = "keep", **values: str) -> Any:
    operation = Operation.objects.get(code=code)
    form = {"operation": operation.pk, **SEAM, do: "1", **values}
    return client.post("/thread-samples/", form, follow=True)


def text(response: Any) -> str:
    return str(response.content.decode())


def operation(code: str = "seam") -> Operation:
    return Operation.objects.prefetch_related("thread_samples").get(code=code)


# -- the thread of a run -------------------------------------------------------------------------


def test_a_run_shows_its_thread_by_color_with_formula_ratio_and_source() -> None:
    run = make_run()
    page = text(person("helper").get(f"/runs/{run.code}/thread/"))
    assert "C = 2 + S(2T)" in page
    assert "2 + (2 × 2.4) / 3 = 3.60" in page
    assert "-30.6 %" in page  # 2.5 / 3.6 - 1
    assert "textilecalculations.com" in page and "apparelscience.com" in page


def test_the_page_of_a_run_sums_to_its_plan() -> None:
    run = make_run(3)
    snapshot = load_snapshot(run)
    planned = thread_needs(snapshot)
    for row in thread_of_run(snapshot):
        own = [need for need in planned if need.thread_color == row.thread.code]
        assert row.need.metres == sum(need.metres for need in own)
        exact = (row.needle_mm + row.under_mm) / 1000
        assert exact <= row.need.metres < exact + len(own) * Decimal("0.1")


def test_an_overedge_names_the_version_of_504_that_counts_and_the_other() -> None:
    edge = make_sewing("edge", "join", stitch_type="504", seam_width_mm=Decimal(5))
    run = make_run()
    snapshot = make_snapshot(operations=(edge,))
    run.snapshot = msgspec.to_builtins(snapshot)
    run.save()
    page = text(person("helper").get(f"/runs/{run.code}/thread/"))
    assert "5 + (4 × 2.4 + 4 × 5) / 3 = 14.87" in page
    assert "3 + (4 × 2.4 + 4 × 5) / 3 = 12.87" in page
    assert "version B of 504" in page


def test_a_type_that_the_workrooms_method_lacks_is_said_to_be_counted_by_the_other() -> None:
    run = make_run()
    zigzag = make_sewing("zigzag", "join", stitch_type="304")
    run.snapshot = msgspec.to_builtins(make_snapshot(operations=(zigzag,)))
    run.save()
    page = text(person("helper").get(f"/runs/{run.code}/thread/"))
    assert "none is published for 304, so the ratio counts" in page
    assert "304, by ratio table" in page
    assert "Another stitch-type guide prints 5.5 instead" in page


def test_lengths_are_in_yards_where_the_workroom_has_them() -> None:
    run = make_run()
    room = make_workroom(length_unit="imperial")
    run.snapshot = msgspec.to_builtins(make_snapshot(workroom=room))
    run.save()
    page = text(person("helper").get(f"/runs/{run.code}/thread/"))
    assert " yd</strong>" in page
    assert " m</strong>" not in page


def test_a_run_without_stitches_says_what_to_do() -> None:
    run = make_run()
    run.snapshot = msgspec.to_builtins(make_snapshot(operations=()))
    run.save()
    assert "Give the operations that sew" in text(person("helper").get(f"/runs/{run.code}/thread/"))


def test_the_needs_of_a_run_lead_to_its_thread() -> None:
    run = make_run()
    assert f"/runs/{run.code}/thread/" in text(person("helper").get(f"/runs/{run.code}/needs/"))


def test_the_needs_of_a_run_lead_the_maker_to_what_is_to_buy_and_what_it_came_to() -> None:
    run = make_run()
    needs, money = f"/runs/{run.code}/needs/", ("shopping", "afterwards")
    seen = {name: text(person(name).get(needs)) for name in ("maker", "helper")}
    assert all(f"/runs/{run.code}/{name}/" in seen["maker"] for name in money)
    assert not any(f"/runs/{run.code}/{name}/" in seen["helper"] for name in money)


def test_an_unknown_run_has_no_thread() -> None:
    assert person("helper").get("/runs/R-9999/thread/").status_code == 404


# -- samples ---------------------------------------------------------------------------------------


def test_a_sample_is_kept_and_used_from_the_next_plan_on(maker: Client) -> None:
    page = text(take(maker, note="two layers"))
    assert "The sample of Sew the seams is in use" in page
    (sample,) = ThreadSample.objects.all()
    assert (sample.seam_mm, sample.needle_mm, sample.under_mm) == tuple(
        map(Decimal, (150, 210, 195))
    )
    assert sample.is_in_use and sample.note == "two layers" and str(sample.by) == "maker"
    taken = with_materials_of_today(make_snapshot(), MONDAY)
    (seam,) = [spec for spec in taken.operations if spec.code == "seam"]
    assert (seam.needle_factor, seam.under_factor) == (Decimal("1.4"), Decimal("1.3"))


def test_comparing_keeps_nothing_and_shows_all_three(maker: Client) -> None:
    page = text(take(maker, do="compare"))
    assert not ThreadSample.objects.exists()
    assert "Not kept yet" in page
    (told,) = told_of(
        operation(),
        ThreadSample(seam_mm=Decimal(150), needle_mm=Decimal(210), under_mm=Decimal(195)),
    )
    assert [(name, f"{factor.whole:.2f}", other) for name, factor, other in told.rows] == [
        ("formula", "3.60", ""),
        ("ratio table", "2.50", "-30.6 %"),
        ("own sample", "2.70", "-25.0 %"),
    ]
    assert "-25.0 %" in page and "would count" in page
    assert 'value="210"' in page  # what was typed is still there


def test_a_new_sample_takes_the_place_of_the_one_in_use_which_is_kept(maker: Client) -> None:
    take(maker)
    take(maker, needle="240")
    assert list(ThreadSample.objects.order_by("pk").values_list("needle_mm", "is_in_use")) == [
        (Decimal(210), False),
        (Decimal(240), True),
    ]
    first = ThreadSample.objects.get(needle_mm=210)
    maker.post(f"/thread-samples/{first.pk}/use/")
    assert operation().sample_in_use == first


def test_the_same_sample_sent_twice_is_kept_once(maker: Client) -> None:
    take(maker)
    take(maker)
    assert ThreadSample.objects.get().is_in_use
    take(maker, note="another strip")
    assert ThreadSample.objects.count() == 2


def test_a_sample_can_be_left_and_stays_in_the_list(maker: Client) -> None:
    take(maker)
    sample = ThreadSample.objects.get()
    page = text(maker.post(f"/thread-samples/{sample.pk}/stop/", follow=True))
    assert operation().needle_factor is None
    assert "210 mm" in page and "Use it" in page


def test_samples_of_other_operations_stay_in_use(maker: Client) -> None:
    take(maker)
    take(maker, "zipper")
    assert ThreadSample.objects.filter(is_in_use=True).count() == 2


def test_a_sample_is_measured_in_inches_where_the_workroom_has_them(maker: Client) -> None:
    workroom()
    Workroom.objects.update(length_unit="imperial")
    page = text(take(maker, seam="3", needle="9", under="8"))
    sample = ThreadSample.objects.get()
    assert (sample.seam_mm, sample.needle_mm, sample.under_mm) == (
        Decimal("76.2"),
        Decimal("228.6"),
        Decimal("203.2"),
    )
    assert "Length of the sample seam (in)" in page and "9 in" in page


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"seam": "0"}, "The sample seam is to be longer than 0 mm: measure it again."),
        ({"seam": "0.04"}, "The sample seam is to be longer than 0 mm: measure it again."),
        ({"seam": "-150"}, "The sample seam is to be longer than 0 mm: measure it again."),
        ({"needle": "0"}, "The needle thread is to be longer than 0 mm: measure it again."),
        ({"under": "-3"}, "Thread drawn out is not below 0 mm: measure it again."),
        ({"under": "0"}, "This stitch has a bobbin or looper: draw out its thread too."),
        ({"seam": "150000"}, "This is longer than 20 m: look at the unit, mm."),
        ({"seam": "NaN"}, "Enter a number."),
        ({"operation": ""}, "Choose the operation that the sample was sewn by."),
        ({"operation": "999"}, "Select a valid choice."),
    ],
)
def test_what_cannot_be_measured_is_refused(
    maker: Client, values: dict[str, str], told: str
) -> None:
    page = text(take(maker, confirmed="on", **values))
    assert told in page
    assert not ThreadSample.objects.exists()


def test_a_thread_shorter_than_its_seam_is_kept_only_when_confirmed(maker: Client) -> None:
    for values, words in (
        ({"needle": "149.9"}, "The needle thread is shorter than the seam"),
        ({"under": "149.9"}, "The bobbin or looper thread is shorter than the seam"),
    ):
        page = text(take(maker, **values))
        assert words in page and "I measured again; it is right" in page
        assert not ThreadSample.objects.exists()
    take(maker, needle="149.9", confirmed="on")
    assert ThreadSample.objects.get().is_in_use


def test_every_looper_thread_counts_in_the_warning(maker: Client) -> None:
    # Two loopers: 299 mm out of 150 mm of seam is too little, 300 is not.
    page = text(take(maker, "overedge", under="299"))
    assert "2 threads of it run along it" in page
    take(maker, "overedge", under="300")
    assert ThreadSample.objects.get().under_mm == 300


def test_a_stitch_of_one_thread_has_no_other(maker: Client) -> None:
    Operation.objects.filter(code="seam").update(stitch_type="101")
    page = text(take(maker, needle="700"))
    assert "This stitch has one thread, in the needle: enter 0 here." in page
    take(maker, needle="700", under="0")
    assert ThreadSample.objects.get().under_mm == 0


def test_an_operation_without_stitch_length_is_named(maker: Client) -> None:
    Operation.objects.filter(code="seam").update(stitch_length_mm=None)
    page = text(maker.get("/thread-samples/?operation=seam"))
    assert "no stitch length above 0" in page


def test_only_operations_that_sew_are_offered(maker: Client) -> None:
    page = text(maker.get("/thread-samples/?operation=bundle"))
    assert "Sew the seams" in page and "Bundle and tag" not in page
    assert "None yet" in page and "the formulas" in page


def test_a_helper_reads_samples_and_takes_none(maker: Client) -> None:
    take(maker)
    sample = ThreadSample.objects.get()
    helper = person("helper")
    page = text(helper.get("/thread-samples/?operation=seam"))
    assert "own sample" in page and "Use it from now on" not in page
    for address in ("", f"{sample.pk}/use/", f"{sample.pk}/stop/"):
        assert helper.post(f"/thread-samples/{address}").status_code == 403
    assert operation().sample_in_use == sample


def test_using_a_sample_asks_for_a_post(maker: Client) -> None:
    take(maker)
    sample = ThreadSample.objects.get()
    assert maker.get(f"/thread-samples/{sample.pk}/stop/").status_code == 405
    assert maker.post("/thread-samples/999/use/").status_code == 404
