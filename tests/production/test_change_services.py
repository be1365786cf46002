"""Changes after the freeze as they are stored: what moves, what stays, what is refused."""

from __future__ import annotations

import contextlib
import datetime
from collections import Counter

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orders.errors import OrderError
from orders.models import Amendment, Colorway, ColorwayBlock, JacketOrder, TeamOrder
from patterns.models import Pattern, Zipper
from production import queries
from production.changing.change_rules import ChangeError
from production.changing.change_state import (
    jackets_to_take_spares,
    spare_parts_by_block,
    supplements_check,
)
from production.changing.changes import (
    Cancel,
    StaleChangeError,
    TakeSpares,
    change_after_freeze,
    preview,
)
from production.errors import StepRefusedError
from production.glance.rail import rail
from production.models import (
    CutTicket,
    Jacket,
    JacketBlock,
    LayPly,
    Run,
    SparePart,
    Supplement,
    TicketLine,
)
from production.services import load_plan
from production.stock.cloth import receive
from production.tracking import live_events, record
from tests.production.change_factories import facts, jacket, late_member, make_frozen_run
from tests.production.run_factories import make_size

pytestmark = pytest.mark.django_db


def order() -> TeamOrder:
    return TeamOrder.objects.get(code="TO-1")


def change(number: int, **values: object) -> Supplement:
    changed = jacket(number)
    return change_after_freeze(changed, facts(changed.jacket_order, **values), None)


def cancel(number: int, reason: str = "") -> Supplement:
    return change_after_freeze(jacket(number), Cancel(reason), None)


def add(member: str = "Late One", size: str = "S") -> Supplement:
    return change_after_freeze(order(), late_member(order(), member, size), None)


def lines(supplement: Supplement) -> list[tuple[str, str, str, int, int, int]]:
    return list(
        TicketLine.objects.filter(ticket__supplement=supplement)
        .order_by("ticket__position", "pk")
        .values_list("ticket__code", "block", "size", "left", "right", "single")
    )


def colors_of(number: int) -> dict[str, str]:
    return dict(
        jacket(number).blocks.values_list("block", "line__ticket__fabric_color__code").order_by()
    )


def stored() -> list[object]:
    tables = (Supplement, CutTicket, TicketLine, JacketBlock, SparePart, Amendment, JacketOrder)
    return [
        *(list(table.objects.order_by("pk").values()) for table in tables),
        list(Jacket.objects.order_by("pk").values()),
    ]


def holds(run: Run) -> bool:
    check = supplements_check(run)
    assert check is not None
    assert check.holds, check.detail
    return check.holds


def test_a_late_member_gets_the_next_code_and_tickets_of_their_own():
    run = make_frozen_run()
    made = add()
    late = jacket(4)
    assert (late.size, late.stage, late.jacket_order.member) == ("S", "cut", "Late One")
    assert lines(made) == [
        ("R-0001-S1-T1", "CO", "S", 0, 0, 1),
        ("R-0001-S1-T2", "FR", "S", 1, 1, 0),
        ("R-0001-S1-T2", "BK", "S", 0, 0, 1),
    ]
    assert colors_of(4) == {"FR": "spruce", "BK": "spruce", "CO": "oat"}
    assert made.words == "TO-1-04: added, size S, home"
    assert holds(run)


def test_a_wrong_size_before_cutting_is_withdrawn_and_cut_anew():
    run = make_frozen_run()
    made = change(1, size="M")
    assert {(line[1], line[2]) for line in lines(made)} == {("FR", "M"), ("BK", "M"), ("CO", "M")}
    assert jacket(1).size == "M"
    assert (jacket(1).stage, jacket(1).mend_reason) == ("cut", "")
    assert not SparePart.objects.exists()
    assert holds(run)


def test_a_cut_jacket_goes_back_to_cutting_and_its_blocks_to_the_spare_parts():
    run = make_frozen_run(cut=(1,))
    change(1, size="M")
    changed = jacket(1)
    assert (changed.stage, changed.mend_reason) == ("cut", "supplement 1: size S to M")
    assert Counter(SparePart.objects.values_list("block", "size", "side")) == Counter(
        [("FR", "S", "left"), ("FR", "S", "right"), ("BK", "S", "single"), ("CO", "S", "single")]
    )
    assert holds(run)
    record(changed.code, "done", "cut", None)
    assert jacket(1).stage == "sew"


def test_another_color_of_one_block_cuts_and_moves_that_block_alone():
    run = make_frozen_run(cut=(2,))
    made = change(2, own={"CO": "spruce"})
    assert lines(made) == [("R-0001-S1-T1", "CO", "M", 0, 0, 1)]
    assert colors_of(2) == {"FR": "spruce", "BK": "spruce", "CO": "spruce"}
    assert [(part.block, part.side) for part in SparePart.objects.all()] == [("CO", "single")]
    assert holds(run)


def test_another_colorway_of_a_jacket():
    run = make_frozen_run()
    change(1, colorway="away")
    assert colors_of(1) == {"FR": "oat", "BK": "spruce", "CO": "spruce"}
    assert holds(run)


def test_the_paper_of_the_run_stays_as_it_was():
    run = make_frozen_run(cut=(1,))
    run.refresh_from_db()
    own = list(TicketLine.objects.order_by("pk").values())
    plan, snapshot = run.plan, run.snapshot
    change(1, size="M")
    cancel(2)
    add()
    run.refresh_from_db()
    assert (run.plan, run.snapshot) == (plan, snapshot)
    assert list(TicketLine.objects.filter(ticket__supplement=None).order_by("pk").values()) == own
    assert list(
        run.cut_tickets.filter(supplement=None, recut=None).values_list("code", flat=True)
    ) == [ticket.ticket for ticket in load_plan(run).cut_tickets]


def test_a_cancelled_jacket_serves_a_late_member():
    run = make_frozen_run(cut=(1,))
    cancel(1)
    made = add()
    assert lines(made) == []
    assert {part.taken_by for part in SparePart.objects.all()} == {jacket(4)}
    assert {(row.part.block, row.sides) for row in spare_parts_by_block(run)} == {
        ("FR", "left and right"),
        ("BK", "single"),
        ("CO", "single"),
    }
    assert colors_of(4) == {"FR": "spruce", "BK": "spruce", "CO": "oat"}
    assert holds(run)
    cancel(4)
    assert SparePart.objects.filter(taken_by=None).count() == 4
    assert holds(run)


def test_what_a_supplement_did_not_cut_yet_can_be_withdrawn_from_it():
    run = make_frozen_run(cut=(1,))
    change(1, own={"CO": "spruce"})
    made = change(1, own={})
    assert made.plan["difference"]["withdrawn"][0]["ticket"] == "R-0001-S1-T1"
    # The old collar still lies among the spare parts and comes back.
    assert lines(made) == []
    assert not SparePart.objects.filter(taken_by=None).exists()
    assert holds(run)


def test_a_second_change_after_cutting_the_first_one():
    run = make_frozen_run(cut=(1,))
    change(1, own={"CO": "spruce"})
    record("TO-1-01", "done", "cut", None)
    change(1, own={})
    assert [part.fabric_color.code for part in SparePart.objects.filter(taken_by=None)] == [
        "spruce"
    ]
    assert holds(run)


def test_a_cancelled_jacket_does_not_move_and_does_not_count():
    run = make_frozen_run(cut=(1,))
    before = queries.minutes_left(run.jackets.all())
    cancel(1, "left the club")
    with pytest.raises(StepRefusedError, match="was cancelled"):
        record("TO-1-01", "done", "sew", None)
    assert queries.minutes_left(run.jackets.all()) == before - 80  # sew 60, finish 20
    assert queries.runs().get().jacket_count == 2
    hung = [peg.code for band in rail(queries.run_jackets(run)) for peg in band.pegs]
    assert "TO-1-01" not in hung


def test_the_hand_over_does_not_wait_for_a_cancelled_jacket():
    make_frozen_run(jackets=2)
    for stage in ("cut", "sew", "finish", "hand_over"):
        record("TO-1-02", "done", stage, None)
    assert order().state == TeamOrder.State.IN_PRODUCTION
    cancel(1)
    assert order().state == TeamOrder.State.HANDED_OVER


def test_an_order_without_a_jacket_left_is_cancelled():
    run = make_frozen_run(jackets=1)
    cancel(1)
    assert order().state == TeamOrder.State.CANCELLED
    assert queries.runs().get(pk=run.pk).state == queries.CANCELLED
    with pytest.raises(OrderError, match="Open a new order"):
        add()


def test_the_order_tells_of_the_change():
    make_frozen_run()
    change(1, size="M")
    amendment = Amendment.objects.first()
    assert amendment is not None
    assert amendment.words == "after the freeze: size S to M, supplement 1"
    assert amendment.member == "Member 01"


def test_a_preview_changes_nothing_and_says_what_comes():
    make_frozen_run(cut=(1,))
    before = stored()
    changed = jacket(1)
    outcome = preview(changed, facts(changed.jacket_order, size="M"), None)
    assert stored() == before
    assert outcome.plan.difference.had_cut == 3
    assert outcome.moves_back
    made = change_after_freeze(
        jacket(1), facts(jacket(1).jacket_order, size="M"), None, seen=outcome.digest
    )
    assert made.words == outcome.supplement.words == "TO-1-01: size S to M"


def test_a_stale_preview_changes_nothing():
    make_frozen_run(cut=(1,))
    wanted = facts(jacket(1).jacket_order, size="M")
    seen = preview(jacket(1), wanted, None).digest
    record("TO-1-01", "start", "sew", None)
    before = stored()
    with pytest.raises(StaleChangeError, match="Look at it once more"):
        change_after_freeze(jacket(1), wanted, None, seen=seen)
    assert stored() == before


def test_spare_parts_taken_meanwhile_make_a_preview_stale():
    make_frozen_run(cut=(1,))
    cancel(1)
    wanted = late_member(order(), "Second")
    seen = preview(order(), wanted, None).digest
    add("First")
    with pytest.raises(StaleChangeError):
        change_after_freeze(order(), wanted, None, seen=seen)


def test_a_jacket_is_cancelled_once():
    make_frozen_run()
    cancel(1)
    before = stored()
    with pytest.raises(ChangeError, match="already"):
        cancel(1)
    with pytest.raises(ChangeError, match="already"):
        change(1, size="M")
    assert stored() == before


def test_a_member_whose_jacket_was_cancelled_gets_another_under_a_new_name():
    run = make_frozen_run(cut=(1,))
    cancel(1)
    before = stored()
    with pytest.raises(OrderError, match=r"TO-1-01, which was cancelled.*'Member 01 2'"):
        add("MEMBER 01")
    assert stored() == before
    add("Member 01 2")
    assert SparePart.objects.filter(taken_by=jacket(4)).count() == 4
    assert holds(run)


def test_a_jacket_that_is_not_cut_yet_takes_spare_parts_instead():
    run = make_frozen_run(cut=(1,))
    cancel(1)
    assert [(taker.code, count) for taker, count in jackets_to_take_spares(run)] == [("TO-1-03", 3)]
    made = change_after_freeze(jacket(3), TakeSpares(), None)
    assert made.words == "TO-1-03: takes spare parts instead of cutting"
    assert lines(made) == []
    assert {part.taken_by for part in SparePart.objects.all()} == {jacket(3)}
    withdrawn = made.plan["difference"]["withdrawn"]
    assert {block["ticket"] for block in withdrawn} == {"R-0001-T1", "R-0001-T2"}
    assert colors_of(3) == {"FR": "spruce", "BK": "spruce", "CO": "oat"}
    assert (jacket(3).stage, jacket(3).mend_reason) == ("cut", "")
    assert holds(run)
    assert jackets_to_take_spares(run) == []
    told = Amendment.objects.latest("pk")
    assert (told.member, told.words) == (
        "Member 03",
        "after the freeze: takes spare parts instead of cutting, supplement 2",
    )


def test_spare_parts_that_fit_no_uncut_block_are_not_taken():
    make_frozen_run(cut=(1, 3))
    cancel(1)
    before = stored()
    for number in (2, 3):  # another size; cut already
        with pytest.raises(ChangeError, match="No spare part can stand"):
            change_after_freeze(jacket(number), TakeSpares(), None)
    assert stored() == before


def test_a_handed_over_jacket_changes_no_more():
    make_frozen_run(cut=(1,))
    for stage in ("sew", "finish", "hand_over"):
        record("TO-1-01", "done", stage, None)
    before = stored()
    with pytest.raises(ChangeError, match="handed over"):
        change(1, size="M")
    with pytest.raises(ChangeError, match="handed over"):
        cancel(1)
    assert stored() == before


def test_a_change_to_what_is_frozen_already_is_none():
    make_frozen_run()
    before = stored()
    with pytest.raises(OrderError, match="already"):
        change(1)
    assert stored() == before


def test_a_size_of_another_pattern_is_refused():
    make_frozen_run()
    ease = dict.fromkeys(
        (f"{part}_ease_mm" for part in ("chest", "hip", "neck", "wrist", "cap")), 0
    )
    make_size(Pattern.objects.create(code="other", name="Other", **ease), "XXS", 0)
    before = stored()
    with pytest.raises(OrderError, match="is not made in size XXS"):
        change(1, size="XXS")
    assert stored() == before


def test_a_member_has_one_jacket_also_after_the_freeze():
    make_frozen_run()
    before = stored()
    with pytest.raises(OrderError, match="has a jacket"):
        add("Member 01")
    assert stored() == before


def test_an_order_in_no_run_is_changed_on_its_own_page():
    make_frozen_run()
    other = TeamOrder.objects.create(
        code="TO-2", club=order().club, title="x", deadline=datetime.date(2099, 1, 1)
    )
    with pytest.raises(ChangeError, match="on its own page"):
        change_after_freeze(other, late_member(order()), None)


def test_a_size_without_a_zipper_long_enough_is_refused():
    make_frozen_run()
    jacket(1).jacket_order.colorway.blocking.pattern.sizes.update(zipper_mm=900)
    before = stored()
    with pytest.raises(ChangeError, match="zipper of 90 cm"):
        change(1, size="M")
    assert stored() == before


def test_what_a_change_counts_on_is_not_undone():
    make_frozen_run(cut=(1,))
    change(1, size="M")
    with pytest.raises(StepRefusedError, match="counts on it"):
        record("TO-1-01", "undo", "cut", None)
    record("TO-1-01", "done", "cut", None)
    record("TO-1-01", "undo", "cut", None)  # what came after it is
    assert jacket(1).mend_reason.startswith("supplement 1")


def test_a_jacket_being_mended_keeps_its_reason():
    make_frozen_run(cut=(1,))
    record("TO-1-01", "send_back", "sew", None, "zipper wave")
    change(1, size="M")
    assert jacket(1).mend_reason == "supplement 1: size S to M; still to mend: zipper wave"


def test_seams_are_unpicked_only_where_sewing_had_begun():
    make_frozen_run(cut=(1, 2))
    assert not cancel(1).plan["sewn"]
    record("TO-1-02", "start", "sew", None)
    assert cancel(2).plan["sewn"]


def test_another_zipper_leaves_a_begun_jacket_sewn():
    make_frozen_run(cut=(1,))
    home = order().colorways.get(name="home")
    red = Colorway.objects.create(
        team_order=order(), name="red zip", blocking=home.blocking, zipper_color="red"
    )
    Zipper.objects.create(
        color_code="red", color_name="red", hex_color="#AA0000", length_mm=600, price=2
    )
    ColorwayBlock.objects.bulk_create(
        ColorwayBlock(colorway=red, block=fill.block, fabric_color=fill.fabric_color)
        for fill in home.fills.all()
    )
    record("TO-1-01", "start", "sew", None)
    assert not change(1, colorway="red zip").plan["difference"]["to_spare"]
    assert cancel(1).plan["sewn"]


def test_stock_that_the_run_counts_on_is_not_given_twice():
    run = make_frozen_run()
    plan = load_plan(run)
    needed = {ticket.fabric_color: ticket.from_stock_mm for ticket in plan.cut_tickets}
    assert needed["spruce"] == 0
    receive(
        code="B-1",
        fabric_color=order().palette.get(code="spruce"),
        dye_lot="lot-1",
        length_mm=1300,
        received_on=datetime.date(2026, 11, 2),
        by=None,
    )
    first, second = add("First"), add("Second")
    taken = [
        ticket["from_stock_mm"]
        for made in (first, second)
        for ticket in made.plan["cut"]["cut_tickets"]
        if ticket["fabric_color"] == "spruce"
    ]
    # (600 + 2 x 20) / 0.98 a jacket: the bolt is one millimetre short for the second.
    assert taken == [654, 0]
    plies = LayPly.objects.filter(lay__ticket__supplement__in=(first, second))
    held = plies.exclude(lot=None).values_list("lay__ticket__supplement", "start_mm", "takes_mm")
    assert list(held) == [(first.pk, 0, 654)]


def test_minutes_of_the_jacket_follow_the_change():
    run = make_frozen_run(cut=(1,))
    before = queries.minutes_left(run.jackets.all())
    made = change(1, size="M")
    more = queries.minutes_left(run.jackets.all()) - before
    assert str(more) == made.plan["minutes"]


WORK = ("done", "start", "mend", "undo")
STEPS = st.lists(
    st.tuples(
        st.sampled_from(("add", "size", "colorway", "own", "cancel", "take", *WORK)),
        st.integers(0, 9),
        st.sampled_from(("spruce", "oat")),
    ),
    min_size=1,
    max_size=10,
)


@settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=STEPS)
def test_after_any_changes_the_rows_agree_and_follow_the_order(
    steps: list[tuple[str, int, str]],
):
    with transaction.atomic():
        run = make_frozen_run(cut=(1,))
        for at, (kind, which, color) in enumerate(steps):
            _step(at, kind, which, color)
            assert supplements_check(run) is None or holds(run)
            _blocks_follow_the_order(run)
        transaction.set_rollback(True)


def _step(at: int, kind: str, which: int, color: str) -> None:
    live = list(Jacket.objects.filter(cancelled_at=None).order_by("pk"))
    if kind == "add" and live and order().state == "in_production":
        add(f"Late {at}", "SM"[which % 2])
    if kind == "add" or not live:
        return
    chosen = live[which % len(live)]
    line = chosen.jacket_order
    other_size = "M" if chosen.size == "S" else "S"
    other_colorway = "away" if line.colorway.name == "home" else "home"
    if kind in WORK:
        _work(chosen, kind)
    elif chosen.stage == Jacket.Stage.HANDED_OVER or order().state != "in_production":
        return
    elif kind == "take":
        if chosen.code in {taker.code for taker, _ in jackets_to_take_spares(chosen.run)}:
            change_after_freeze(chosen, TakeSpares(), None)
    elif kind == "cancel":
        change_after_freeze(chosen, Cancel(), None)
    elif kind == "size":
        change_after_freeze(chosen, facts(line, size=other_size), None)
    elif kind == "colorway":
        change_after_freeze(chosen, facts(line, colorway=other_colorway, own={}), None)
    else:
        base = {fill.block.code: fill.fabric_color.code for fill in line.colorway.fills.all()}
        had = {choice.block.code: choice.fabric_color.code for choice in line.choices.all()}
        own = {"FR": color} if base["FR"] != color else {}
        if own != had:
            change_after_freeze(chosen, facts(line, own=own), None)


def _work(chosen: Jacket, kind: str) -> None:
    """A step of work on the jacket, where it can be made."""
    action = {"mend": "send_back"}.get(kind, kind)
    stage = "cut" if kind == "mend" else chosen.stage
    if kind == "undo":
        last = live_events(list(chosen.events.select_related("undoes").order_by("pk")))[-1:]
        stage = last[0].stage if last else "cut"
    with contextlib.suppress(StepRefusedError):
        record(chosen.code, action, stage, None, "torn" if kind == "mend" else "")


def _blocks_follow_the_order(run: Run) -> None:
    """Each live jacket has its order's blocks in its order's colors, in its size."""
    for each in run.jackets.filter(cancelled_at=None):
        line = each.jacket_order
        fills = {fill.block.code: fill.fabric_color.code for fill in line.colorway.fills.all()}
        fills |= {own.block.code: own.fabric_color.code for own in line.choices.all()}
        rows = each.blocks.values_list("block", "line__size", "line__ticket__fabric_color__code")
        assert {block: color for block, _, color in rows} == fills
        assert {size for _, size, _ in rows} == {each.size} == {line.size.code}
