"""A jacket's steps: split at the machines, without changes, adding up to the standard minutes."""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from production.planning.explode import explode
from production.planning.minutes.changeovers import count_changeovers, minutes_of, thread_batches
from production.planning.minutes.labor import plan_labor
from production.planning.snapshot import RunSnapshot
from production.planning.timetable.floor import Step
from production.planning.timetable.floor_steps import legs_of_jackets, less_done, steps_from
from tests.production.planning_factories import (
    OPERATIONS,
    make_jacket,
    make_operation,
    make_sewing,
    make_snapshot,
)

MINUTES = {"cut": Decimal(10), "sew": Decimal(60), "finish": Decimal(20)}


def steps_of(snapshot: RunSnapshot, code: str = "J1", stage: str = "cut") -> tuple[Step, ...]:
    return steps_from(stage, legs_of_jackets([snapshot])[code], MINUTES)


def minutes_of_stage(steps: tuple[Step, ...], stage: str) -> int:
    return sum(step.minutes for step in steps if step.stage == stage)


def test_sewing_is_split_where_machine_foot_or_skill_changes():
    steps = steps_of(
        make_snapshot(
            operations=(
                make_operation("cut-out", "cut", "block", minutes_each=Decimal(1)),
                make_sewing("seam", "join"),
                make_sewing("overedge", "join", machine="serger", foot="serger"),
                make_sewing("zipper", "zipper", foot="zipper", skill="zippers"),
                make_operation("elastic", "sew", "jacket", minutes_each=Decimal(4)),
                make_sewing("hem", "hem", foot="twin"),
                make_sewing("cuff", "cuff", foot="twin"),
                make_operation("pack", "finish", "jacket", minutes_each=Decimal(3)),
            )
        )
    )
    assert [(step.machine, step.setting, step.skills, step.operations) for step in steps] == [
        ("", "", (), ("cut-out",)),
        ("lockstitch", "standard", (), ("seam",)),
        ("serger", "serger", (), ("overedge",)),
        ("lockstitch", "zipper", ("zippers",), ("zipper",)),
        ("", "", (), ("elastic",)),
        ("lockstitch", "twin", (), ("hem", "cuff")),
        ("", "", (), ("pack",)),
    ]


def test_of_what_is_cut_only_the_bundle_is_left():
    operations = (
        make_operation("cut-out", "cut", "block", minutes_each=Decimal(1)),
        make_operation("bundle", "cut", "jacket", minutes_each=Decimal(2)),
    )
    snapshot = make_snapshot(operations=operations)
    legs = legs_of_jackets([snapshot])["J1"]
    kept = 2 * (1 + snapshot.workroom.relaxation_allowance)

    def cutting(share: str) -> int:
        steps = steps_from("cut", legs, MINUTES, cut_share=Decimal(share))
        return minutes_of_stage(steps, "cut")

    assert cutting("0") == 10
    assert cutting("1") == kept.quantize(Decimal(1), ROUND_HALF_UP)
    half = kept + (10 - kept) / 2
    assert cutting("0.5") == half.quantize(Decimal(1), ROUND_HALF_UP)


def test_threads_are_those_of_this_jackets_seams():
    snapshot = make_snapshot(
        jackets=(
            make_jacket("J1"),
            make_jacket("J2", topstitch_thread="thread-red"),
            make_jacket("J3", blocks=(("FR", "oat"), ("BK", "oat"), ("CO", "oat"))),
        )
    )
    seam = {code: steps_of(snapshot, code)[1] for code in ("J1", "J2", "J3")}
    edge = {code: steps_of(snapshot, code)[2] for code in ("J1", "J2", "J3")}
    assert seam["J1"].threads == seam["J2"].threads == ("thread-oat", "thread-spruce")
    assert seam["J3"].threads == ("thread-oat",)
    assert [step.threads for step in edge.values()] == [
        ("thread-oat",),
        ("thread-red",),
        ("thread-oat",),
    ]


def test_an_operation_with_nothing_to_sew_on_the_jacket_is_no_step():
    operations = (
        *OPERATIONS[:3],
        make_sewing("seam", "join"),
        make_sewing("tape", "named", seam="pocket", machine="taper"),
    )
    assert {step.machine for step in steps_of(make_snapshot(operations=operations))} == {
        "",
        "lockstitch",
    }


def test_steps_add_up_to_the_minutes_of_the_plan_without_its_changes():
    snapshot = make_snapshot(
        jackets=tuple(
            make_jacket(f"J{number}", size="SM"[number % 2], blocks=blocks)
            for number, blocks in enumerate(
                [
                    (("FR", "spruce"), ("BK", "oat"), ("CO", "slate")),
                    (("FR", "oat"), ("BK", "oat"), ("CO", "slate")),
                    (("FR", "spruce"), ("BK", "spruce"), ("CO", "spruce")),
                ]
            )
        )
    )
    _, minutes = plan_labor(snapshot, explode(snapshot), ())
    changes = minutes_of(count_changeovers(snapshot, thread_batches(snapshot)))
    legs = legs_of_jackets([snapshot])
    exact = Decimal(0)
    for code, by_stage in minutes.items():
        steps = steps_from("cut", legs[code], by_stage)
        without = by_stage["sew"] - changes / 3 * Decimal("1.11")
        exact += without
        assert abs(minutes_of_stage(steps, "sew") - without) <= Decimal("0.51")
        for stage in ("cut", "finish"):
            assert minutes_of_stage(steps, stage) == by_stage[stage].quantize(
                Decimal(1), ROUND_HALF_UP
            )
    assert changes > 0
    assert exact < sum(by_stage["sew"] for by_stage in minutes.values())


def test_minutes_are_stretched_by_what_was_measured():
    legs = legs_of_jackets([make_snapshot()])["J1"]
    longer = steps_from("cut", legs, MINUTES, {"cut": Decimal("1.5")})
    assert minutes_of_stage(longer, "cut") == 15
    assert minutes_of_stage(longer, "finish") == 20


def test_only_the_stages_that_are_left_have_steps():
    snapshot = make_snapshot()
    assert {step.stage for step in steps_of(snapshot, stage="finish")} == {"finish"}
    assert steps_of(snapshot, stage="hand_over") == ()


def test_a_changed_jacket_is_sewn_as_it_was_planned_last():
    frozen = make_snapshot(jackets=(make_jacket("J1"), make_jacket("J2")))
    oat = make_jacket("J1", blocks=(("FR", "oat"), ("BK", "oat"), ("CO", "oat")))
    legs = legs_of_jackets([frozen, replace(frozen, jackets=(oat,))])
    assert legs["J1"][1].threads == ("thread-oat",)
    assert legs["J2"][1].threads == ("thread-oat", "thread-spruce")


def test_work_in_hand_is_taken_off_in_the_order_of_the_steps():
    steps = (Step("sew", 10, "lockstitch"), Step("sew", 20, "serger"), Step("finish", 5))
    assert [step.minutes for step in less_done(steps, "sew", 4)] == [6, 20, 5]
    assert [step.minutes for step in less_done(steps, "sew", 14)] == [16, 5]
    assert [step.minutes for step in less_done(steps, "sew", 99)] == [1, 5]
    assert less_done(steps, "sew", 0) == steps
