"""The forecast: simulation by hand-made cases, calibration over simulated histories, what helps."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from production.planning.forecasts.forecast import (
    day_of,
    expected,
    fan,
    minutes_of,
    simulate,
    works_of,
)
from production.planning.forecasts.forecast_helps import (
    Skipped,
    busiest_kind,
    longer_days,
    what_helps,
    without_operation,
)
from production.planning.forecasts.forecast_run import ends_of
from production.planning.forecasts.forecast_skip import left_out, topstitching
from production.planning.forecasts.forecast_spread import Spread, draw, factors, shared_part
from production.planning.forecasts.forecast_words import chance_words, percent_words
from production.planning.timetable.floor import DAY, Held, Slot, Step
from production.planning.timetable.floor_dispatch import dispatch
from production.planning.timetable.floor_room import prepare
from tests.production.forecast_factories import days, floor, hand, jacket, team_floor
from tests.production.planning_factories import make_jacket, make_sewing, make_snapshot

#: Minutes that are known exactly.
EXACT = Spread(0, own_spread=0, mend_share=0)
STAGES = ("cut", "sew", "finish")


def ready_at(made, order=(), spread=EXACT):
    """When each jacket is ready, by code, where nothing scatters."""
    found = simulate(made, order, spread, simulations=2)
    return {j.code: round(at, 3) for j, at in zip(made.jackets, found.ready[0], strict=True)}


def test_work_rests_over_breaks_and_nights():
    """420 minutes a day, 9 to 12 and 13 to 17: 180 end at 12, 181 at 13:01, 421 the next day."""
    for minutes, at in ((180, 12 * 60), (181, 13 * 60 + 1), (420, 17 * 60), (421, DAY + 541)):
        assert ready_at(floor([jacket("A", minutes)], [hand("ana")])) == {"A": at}


def test_each_step_goes_to_the_hand_who_ends_it_first():
    hands = [hand("ana"), hand("bo", spells=days(60, (10, 17)))]
    made = floor([jacket("A", 60), jacket("B", 60), jacket("C", 60)], hands)
    assert ready_at(made, ["A", "B", "C"]) == {"A": 600, "B": 660, "C": 660}


def test_a_machine_is_waited_for():
    one, two = (
        floor(
            [jacket("A", Step("sew", 60, "serger")), jacket("B", Step("sew", 60, "serger"))],
            [hand("ana"), hand("bo")],
            machines={"serger": count},
        )
        for count in (1, 2)
    )
    assert ready_at(one, ["A", "B"]) == {"A": 600, "B": 660}
    assert ready_at(two, ["A", "B"]) == {"A": 600, "B": 600}


def test_pins_and_work_in_hand_are_kept():
    steps = Step("sew", 30), Step("finish", 30)
    hands = [hand("ana"), hand("bo", spells=days(60, (13, 17)))]
    held = (Held("A", "finish", day=1), Held("B", "sew", hand="bo"))
    made = floor([jacket("A", *steps), jacket("B", *steps)], hands, held=held)
    at = ready_at(made, ["A", "B"])
    assert at == {"A": DAY + 9 * 60 + 30, "B": 14 * 60}
    in_hand = replace(made, jackets=(replace(made.jackets[0], in_work_by="bo"),), held=())
    assert ready_at(in_hand) == {"A": 14 * 60}


def test_without_scatter_it_agrees_with_the_plan_of_one_hand():
    made = team_floor(12, 1, 5)
    plan = dispatch(made)
    found = simulate(made, plan.slots, EXACT, simulations=2)
    assert found.ready.max() == pytest.approx(plan.ready, abs=0.01)


def slot(code, step, stage, start, machine="", change=0):
    return Slot(code, step, stage, "ana", machine, start, start + 10, change)


def test_an_earlier_plan_is_followed_step_by_step():
    """A is cut since, B was sent back to be sewn, C came new, D is sewn without its topstitch."""
    plan = [
        slot("A", 0, "cut", 540),
        slot("D", 0, "sew", 545, "lockstitch"),
        slot("D", 1, "sew", 546, "serger"),
        slot("D", 2, "sew", 547, "lockstitch"),
        slot("D", 3, "sew", 570, "lockstitch", change=2),
        slot("B", 0, "finish", 550),
        slot("A", 1, "sew", 560, "serger", change=3),
        slot("A", 2, "finish", 580),
    ]
    made = floor(
        [
            jacket("A", Step("sew", 10, "serger"), Step("finish", 5)),
            jacket("B", Step("sew", 10, "serger"), Step("finish", 5)),
            jacket("C", Step("cut", 10)),
            jacket("D", Step("sew", 9, "serger"), Step("sew", 9, "lockstitch")),
        ],
        [hand("ana")],
    )
    works = works_of(made, plan)
    order = [("ABCD"[work.jacket], work.step) for work in works]
    assert order == [("D", 0), ("B", 0), ("B", 1), ("A", 0), ("D", 1), ("A", 1), ("C", 0)]
    assert [work.change_minutes for work in works] == [0, 0, 0, 3, 2, 0, 0]


def test_what_nobody_can_do_is_never_ready_and_says_why():
    made = floor(
        [jacket("A", 30, due=9), jacket("B", Step("cut", 5), due=9)], [hand("ana", stages=("sew",))]
    )
    found = simulate(made, (), EXACT, simulations=10)
    both, fine = expected(found, ["A", "B"]), expected(found, ["A"])
    assert (both.chance, both.even, both.safe) == (0.0, None, None)
    assert "cut" in found.impossible["B"]
    assert (fine.chance, fine.even) == (1.0, 9 * 60 + 29)


def test_what_waits_to_be_handed_over_is_not_late_however_long_it_waits():
    waits = replace(jacket("A", due=0), due=-DAY)
    found = simulate(floor([waits, jacket("B", 60, due=3)], [hand("ana")]), (), EXACT)
    assert [expected(found, codes).chance for codes in ("A", "B", "AB")] == [1.0, 1.0, 1.0]


def test_after_the_known_hours_work_goes_on_at_the_same_pace():
    """Two weeks of hours, work for four."""
    made = floor([jacket("A", 20 * 420)], [hand("ana", count=10)])
    beyond = day_of(made, ready_at(made)["A"]) - made.begins
    assert 21 <= beyond.days <= 28


def test_who_comes_once_does_not_go_on_by_night():
    once = hand("bo", spells=((5 * DAY + 9 * 60, 5 * DAY + 15 * 60),))
    made = floor([jacket("A", Step("sew", 400, skills=("rare",)))], [hand("ana")])
    helped = replace(made, hands=(*made.hands, replace(once, skills=("rare",))))
    (at,) = ready_at(helped).values()
    assert at > made.hands[0].spells[-1][1]


def test_hours_of_one_morning_are_no_pace_to_go_on_at():
    (at,) = ready_at(floor([jacket("A", 120)], [hand("ana", spells=((540, 600),))])).values()
    assert at == pytest.approx(9 * 60 + 14 * DAY, abs=1)


def test_mending_adds_its_minutes_to_the_jackets_that_go_back():
    made = floor([jacket("A", 60)], [hand("ana")])
    always = replace(EXACT, mend_share=1.0, mend_minutes=20)
    assert ready_at(made, spread=always) == {"A": 620}
    few = Spread(0, sent_back=30, looked_over=100)
    mends = draw(200, few, 200, 1).mends
    assert mends.mean() == pytest.approx(31 / 120, abs=0.02)


def test_the_same_seed_gives_the_same_answer():
    made, codes = team_floor(10, 3, 4), [f"J{number:03d}" for number in range(10)]
    first, same, other = (
        expected(simulate(made, codes, Spread(0.2), simulations=50, seed=seed), codes)
        for seed in (7, 7, 8)
    )
    assert first == same
    assert first != other


def test_days_and_chance_tell_the_same():
    """A chance of 90 % or more means the 90 % day is in time, and the other way round."""
    made, codes = team_floor(20, 3, 3), [f"J{number:03d}" for number in range(20)]
    found = simulate(made, codes, Spread(0.2), simulations=400)
    last = expected(found, codes)
    for part in (0.4, 0.5, 0.89, 0.9, 0.91):
        due = int(np.quantile(found.ready.max(axis=1), part)) + 1
        jackets = tuple(replace(each, due=due) for each in made.jackets)
        chance = expected(replace(found, floor=replace(made, jackets=jackets)), codes).chance
        assert (chance >= 0.5) == (last.even <= due)
        assert (chance >= 0.9) == (last.safe <= due)


def test_the_fan_ends_where_all_is_done_and_never_falls():
    made, codes = team_floor(20, 3, 3), [f"J{number:03d}" for number in range(20)]
    rows = fan(simulate(made, codes, Spread(0.2), simulations=200), codes, 30, (0.1, 0.5, 0.9))
    assert rows[-1] == pytest.approx((1, 1, 1))
    assert all(low <= even <= high for low, even, high in rows)
    assert all(a <= b for a, b in pairwise(rows))


# The spread.


def test_the_shared_part_is_the_posterior_of_a_normal_mean():
    """One stage alone: prior 0.2², four jackets of scatter 0.25² at a mean of 0.3. Precisions add:
    25 + 4 / 0.0625 = 89; mean 0.3 x 64 / 89 = 0.2157; variance 1 / 89 (recomputed)."""
    ratios = [0.3, 0.3, 0.3, 0.3]
    spread = Spread(0.2, {"sew": ratios}, own_weight=1e9)
    mean, covariance = shared_part(spread)
    assert mean[1] == pytest.approx(0.3 * 64 / 89)
    assert covariance[1, 1] == pytest.approx(1 / 89)
    # The other stages have half of the variance of the error in common with it.
    assert mean[0] == pytest.approx(mean[1] / 2)
    assert 1 / 89 < covariance[0, 0] < 0.2**2


def test_nothing_measured_leaves_the_prior():
    mean, covariance = shared_part(Spread(0.2))
    assert mean == pytest.approx(np.zeros(4))
    assert np.diag(covariance) == pytest.approx(np.full(4, 0.04))


def test_a_jackets_own_scatter_is_measured():
    assert Spread(0.2).own("sew") == 0.25
    told = Spread(0.2, {"sew": [-0.1, 0.1] * 200})
    assert told.own("sew") == pytest.approx(0.1, abs=0.005)
    assert told.own("cut") == 0.25


def test_factors_scatter_as_they_say():
    spread = Spread(0.2, mend_share=0)
    logs = np.log(factors(spread, draw(6, spread, 4000, 3)))
    assert logs.std() == pytest.approx(math.hypot(0.2, 0.25), rel=0.03)
    assert logs.mean(axis=1)[:, 1].std() == pytest.approx(math.hypot(0.2, 0.25 / 6**0.5), rel=0.05)


# Calibration: histories are drawn from the model, then forecast without knowing what was drawn.

HISTORIES, FEW = 2500, 1000
#: Jackets measured so far in a history: by turns none to all of three stages.
MEASURED = (0, 1, 2, 4, 8)
WORLD = Spread(0.2, own_spread=0.25, own_weight=1e9, mend_share=0)


def small_floor():
    """Eight jackets left for two people and one serger."""
    steps = Step("cut", 12), Step("sew", 55, "serger"), Step("finish", 15)
    made = [jacket(f"J{number}", *steps) for number in range(8)]
    return floor(made, [hand("ana"), hand("bo")], machines={"serger": 1})


def histories(spread_for, many=FEW, seed=5):
    """By history what was forecast for a deadline at random, whether it was met, and how slow the
    measured jackets were. `spread_for` makes the spread that is forecast with."""
    made = small_floor()
    room, works = prepare(made), works_of(made, ())
    chance = np.random.default_rng(seed)
    half = WORLD.standards_off / 2**0.5
    found = []
    for number in range(many):
        count = MEASURED[number % len(MEASURED)]
        shared = half * chance.standard_normal() + half * chance.standard_normal(3)
        seen = shared + 0.25 * chance.standard_normal((count, 3))
        ratios = {s: list(seen[:, at]) for at, s in enumerate(STAGES)} if count else {}
        spread = spread_for(ratios)
        minutes = minutes_of(made, works, spread, draw(8, spread, 200, number))
        own = np.exp(shared + 0.25 * chance.standard_normal((8, 3)))
        truth = [each.minutes * own[each.jacket, each.step] for each in works]
        ends = ends_of(room, works, np.vstack([minutes, truth])).max(axis=1)
        due = np.quantile(ends[:-1], chance.uniform(0.5, 1.0))
        found.append(
            SimpleNamespace(
                told=(ends[:-1] <= due).mean(),
                met=ends[-1] <= due,
                slow=seen.mean() if count else 0,
            )
        )
    return found


def on_time(found, low=0.7, high=0.9):
    """Of the histories given a chance between these: the mean of it, and the share on time."""
    some = [one for one in found if low <= one.told <= high]
    assert len(some) > 100
    return np.mean([one.told for one in some]), np.mean([one.met for one in some])


def test_of_the_runs_given_80_percent_about_80_percent_are_on_time():
    """About 1000 of 2500 histories are given 70 to 90 %; the share of them that is on time has an
    error of 1.3 points."""
    found = histories(lambda ratios: replace(WORLD, ratios=ratios), HISTORIES)
    told, met = on_time(found)
    assert told == pytest.approx(0.8, abs=0.01)
    assert met == pytest.approx(told, abs=0.035)
    for slow in (True, False):
        measured = [one for one in found if one.slow and (one.slow > 0) == slow]
        told, met = on_time(measured)
        assert met == pytest.approx(told, abs=0.06)


def test_without_the_common_part_forecasts_are_too_sure():
    told, met = on_time(histories(lambda ratios: replace(WORLD, standards_off=0)))
    assert met < told - 0.1


def test_measured_minutes_taken_as_certain_are_too_sure():
    """The mean of the few that were measured, without what is not known about it yet."""

    def certain(ratios):
        return replace(WORLD, ratios={s: r * 50 for s, r in ratios.items()})

    measured = [one for one in histories(certain) if one.slow]
    told, met = on_time(measured)
    assert met < told - 0.05


def test_the_prior_alone_is_wrong_where_the_measured_were_slow():
    found = histories(lambda ratios: WORLD)
    told, met = on_time([one for one in found if one.slow > 0.1])
    assert met < told - 0.15


# What helps.


def busy_floor(due=4):
    """Ten jackets that take the serger 50 minutes each, for two people until Friday."""
    steps = (
        Step("cut", 10),
        Step("sew", 50, "serger", operations=("close",)),
        Step("sew", 20, "lockstitch", threads=("marigold",), operations=("topstitch",)),
        Step("finish", 10),
    )
    jackets = [jacket(f"J{number}", *steps, due=due) for number in range(44)]
    return floor(jackets, [hand("ana"), hand("bo")], machines={"serger": 1, "lockstitch": 2})


def helped(made, **changes):
    codes = [each.code for each in made.jackets]
    return what_helps(made, codes, Spread(0.15), codes, simulations=200, **changes)


def test_nothing_is_needed_where_all_is_well():
    found = helped(busy_floor(due=25))
    assert found.words.startswith("Nothing is needed")
    assert found.ranked == ()


def test_nothing_helps_where_the_deadline_is_today():
    made = busy_floor(due=0)
    found = helped(replace(made, now=16 * 60 + 55))
    assert found.ranked == ()
    assert found.words.startswith("None of these changes helps")


def test_help_is_ranked_by_the_chance_it_gives():
    """The deadline is a Monday, so that there is a Saturday before it."""
    found = helped(busy_floor(due=7))
    words = [one.words for one in found.ranked]
    gains = [one.gain for one in found.ranked]
    assert gains == sorted(gains, reverse=True)
    assert (
        found.words
        == f"What helps most: {words[0]} The chance is then {chance_words(found.ranked[0].chance)}."
    )
    assert "Everybody works 30 minutes longer each day." in words
    assert "One more helper, who can do all stages, on Sat 5 Dec from 9 to 15." in words
    assert "Ana works on Sat 5 Dec from 9 to 15." in words
    assert all(one.chance == pytest.approx(found.now.chance + one.gain) for one in found.ranked)
    assert all(one.safe <= found.now.safe for one in found.ranked)


def test_a_part_delivery_counts_the_jackets_that_are_ready_at_90_percent():
    found = helped(busy_floor(due=7))
    part = next(one for one in found.ranked if one.is_part)
    on_the_day, rest = re.findall(r"\d+", part.words)[:2]
    assert int(on_the_day) + int(rest) == 44
    assert part.chance >= 0.9 > found.now.chance


def test_leaving_out_an_operation_takes_its_step_and_shortens_a_mixed_one():
    made = busy_floor()
    mixed = Step(
        "sew", 40, "lockstitch", threads=("oat", "marigold"), operations=("a", "topstitch")
    )
    made = replace(made, jackets=(made.jackets[0], replace(made.jackets[1], steps=(mixed,))))
    skipped = Skipped("topstitch", "Leave it out.", {"J0": 20, "J1": 15}, {"J1": "marigold"})
    first, second = without_operation(made, {"J0", "J1"}, skipped).jackets
    assert [step.operations for step in first.steps] == [(), ("close",), ()]
    assert second.steps == (replace(mixed, minutes=25, threads=("oat",), operations=("a",)),)
    assert any(
        one.words == "Leave it out."
        for one in helped(
            busy_floor(7), skipped=replace(skipped, minutes={f"J{n}": 20 for n in range(44)})
        ).ranked
    )


def test_the_busiest_kind_has_most_minutes_for_each_machine():
    assert busiest_kind(busy_floor()) == "serger"
    assert (
        busiest_kind(replace(busy_floor(), machines={"serger": 9, "lockstitch": 1})) == "lockstitch"
    )
    assert busiest_kind(replace(busy_floor(), machines={})) == ""


def test_longer_days_end_with_the_deadline_and_leave_breaks():
    made = floor([], [hand("ana", count=3)])
    spells = longer_days(made, 2 * DAY).hands[0].spells
    assert spells[1] == (13 * 60, 17 * 60 + 30)
    assert spells[0] == (9 * 60, 12 * 60)
    assert spells[5] == (2 * DAY + 13 * 60, 2 * DAY + 17 * 60)


def test_words_never_promise_what_is_not_certain():
    assert [chance_words(chance) for chance in (1.0, 0.996, 0.8, 0.001)] == [
        "over 99 %",
        "over 99 %",
        "80 %",
        "under 1 %",
    ]
    assert (percent_words(0.999), percent_words(1.0)) == ("99 %", "100 %")


def snapshot_with_topstitching(thread="thread-red", **operation):
    """The neck, 0.4 m, is topstitched: 10 minutes each, 1 a metre, and 11 % allowance are 11.5."""
    topstitch = make_sewing(
        "topstitch", "topstitched", contrast_thread=True, minutes_each=Decimal(10), **operation
    )
    jackets = make_jacket("J1", topstitch_thread=thread), make_jacket("J2")
    hem = make_sewing("hem", "hem", contrast_thread=True)
    return make_snapshot(jackets=jackets, operations=(make_sewing("seam", "join"), topstitch, hem))


def test_topstitching_in_contrast_is_counted_where_it_is_still_to_come():
    found = topstitching([snapshot_with_topstitching()])
    steps = Step("sew", 12, operations=("topstitch",)), Step("finish", 5)
    to_come = [jacket("J1", *steps), jacket("J2", *steps)]
    skipped = left_out(found, to_come)
    assert skipped.minutes == {"J1": 12}  # J2 is topstitched in the thread of its cloth
    assert skipped.words.startswith("Leave the contrast topstitching out on 1 jacket,")
    assert left_out(found, [jacket("J1", Step("finish", 5))]) is None


def test_a_thread_goes_with_the_topstitching_unless_the_step_needs_it_for_more():
    found = topstitching([snapshot_with_topstitching()])
    alone = left_out(found, [jacket("J1", Step("sew", 20, operations=("seam", "topstitch")))])
    shared = left_out(found, [jacket("J1", Step("sew", 20, operations=("topstitch", "hem")))])
    assert alone.threads == {"J1": "thread-red"}
    assert shared.threads == {}


def test_a_change_of_the_jacket_counts_for_its_topstitching():
    found = topstitching([snapshot_with_topstitching(), snapshot_with_topstitching(None)])
    assert left_out(found, [jacket("J1", Step("sew", 20, operations=("topstitch",)))]) is None
