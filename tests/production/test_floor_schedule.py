"""The schedule of the workroom, in cases small enough to be worked out by hand, against every
possible timetable of tiny floors, and on random floors looked at by the stranger's check."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise, permutations, product
from typing import Any

import pytest

from production.planning.timetable import floor_search
from production.planning.timetable.floor import (
    DAY,
    Floor,
    FloorError,
    FloorJacket,
    FloorSchedule,
    Held,
    LateJacket,
    Slot,
    Step,
)
from production.planning.timetable.floor_aim import CHANGE_MINUTE, LATE_JACKET, LATE_MINUTE
from production.planning.timetable.floor_bounds import least_changes
from production.planning.timetable.floor_check import faults
from production.planning.timetable.floor_dispatch import dispatch, timetable
from production.planning.timetable.floor_late import explained, narrow_places
from production.planning.timetable.floor_lists import FlatTable
from production.planning.timetable.floor_room import Setting, change_minutes, prepare
from production.planning.timetable.floor_schedule import schedule

from .made_up_floors import ALL, COLORS, floor, hand, hours, jacket, team_floor

NINE, NOON = 9 * 60, 12 * 60


def planned(made_up: Floor, seconds: float = 1.0) -> FloorSchedule:
    """Made in both ways, without fault, and the search no worse than the simple orders."""
    simple, made = dispatch(made_up), schedule(made_up, seconds)
    assert faults(made_up, simple) == []
    assert faults(made_up, made) == []
    assert not any("was not used" in note for note in made.notes)
    # With time enough for all simple orders, and where both plan the same steps.
    if seconds >= 1 and _told(made) == _told(simple) and len(made.slots) == len(simple.slots):
        assert made.value <= simple.value
    assert made.bound is not None and made.gap is not None
    assert made.bound <= made.value
    assert made.gap == (made.value - made.bound) / (made.value or 1)
    return made


def _told(made: FloorSchedule) -> int:
    return sum("there is no time left" in note for note in made.notes)


def slot_of(made: FloorSchedule, code: str, step: int = 0) -> Slot:
    return next(slot for slot in made.slots if (slot.jacket, slot.step) == (code, step))


def serged(color: str, minutes: int = 30) -> Step:
    return Step("sew", minutes, "serger", (), (color,), "serging")


# Hours


def test_a_step_goes_on_after_the_break_and_the_night() -> None:
    """From 9 to 12 and 13 to 17: two hours, two hours over noon, four over the night."""
    made = planned(floor([jacket("A", 120, 120, 240)], [hand("ada")]))
    assert [(slot.start, slot.end) for slot in made.slots] == [
        (NINE, 11 * 60),
        (11 * 60, 14 * 60),
        (14 * 60, DAY + 10 * 60),
    ]


def test_a_holiday_is_jumped() -> None:
    """Monday holds 7 of the 8 hours; Tuesday is off for both."""
    monday_and_wednesday = (*hours(1), *hours(1, first=2))
    made = planned(floor([jacket("A", 8 * 60)], [hand("ada", spells=monday_and_wednesday)]))
    assert made.ready == 2 * DAY + 10 * 60


def test_nothing_begins_before_now_or_before_it_can() -> None:
    made = planned(
        floor([jacket("A", 10, ready_from=DAY), jacket("B", 10)], [hand("ada")], now=600)
    )
    assert (slot_of(made, "A").start, slot_of(made, "B").start) == (DAY + NINE, 600)


def test_who_goes_home_does_not_keep_the_only_serger_until_she_is_back() -> None:
    """Ada is there from 9:00 to 9:30 and from 15:00 on. Were she to begin her 45 minutes at 9:00,
    the serger would wait for her until 15:15."""
    ada = hand("ada", spells=((NINE, 570), (900, 1020)), skills=("hoods",))
    ben = hand("ben", spells=((NINE, 1020),))
    hood, plain = Step("sew", 45, "serger", ("hoods",)), Step("sew", 300, "serger")
    jackets = [jacket("A", hood), jacket("B", plain)]
    made = planned(floor(jackets, [ada, ben], machines={"serger": 1}))
    assert (slot_of(made, "A").start, slot_of(made, "A").end) == (900, 945)
    assert (slot_of(made, "B").start, slot_of(made, "B").end) == (NINE, 840)


# Hands and machines


def test_two_hands_with_one_serger_take_turns() -> None:
    two = [jacket("A", serged("oat", 60)), jacket("B", serged("oat", 60))]
    hands = [hand("ada"), hand("ben")]
    assert planned(floor(two, hands, machines={"serger": 1})).ready == 11 * 60
    assert planned(floor(two, hands, machines={"serger": 2})).ready == 10 * 60
    assert planned(floor(two, hands)).ready == 10 * 60  # a kind that is not counted


def test_only_who_has_the_skill_sews_the_zipper() -> None:
    zipper = Step("sew", 30, "", ("zippers",))
    hands = [hand("ada"), hand("ben", skills=("zippers",))]
    made = planned(floor([jacket("A", zipper), jacket("B", zipper)], hands))
    assert {slot.hand for slot in made.slots} == {"ben"}
    assert made.ready == 10 * 60


def test_what_is_in_work_stays_with_who_has_it_and_goes_on_first() -> None:
    jackets = [jacket("A", 60, due=0), jacket("B", 60, 30, in_work_by="ben")]
    made = planned(floor(jackets, [hand("ada"), hand("ben", stages=("sew",))]))
    assert (slot_of(made, "B").hand, slot_of(made, "B").start) == ("ben", NINE)


def test_what_is_in_work_with_somebody_away_leaves_the_machine_to_others() -> None:
    """Ben has A at the only serger and is back on Tuesday; B, due today, needs other thread."""
    a = jacket("A", serged("oat", 47), due=2, in_work_by="ben")
    b = jacket("B", serged("spruce", 46), due=0)
    hands = [hand("ada"), hand("ben", spells=hours(3, first=1))]
    made = planned(floor([a, b], hands, machines={"serger": 1}))
    assert (slot_of(made, "B").hand, slot_of(made, "B").start, made.late) == ("ada", NINE, ())
    assert (slot_of(made, "A").hand, slot_of(made, "A").start) == ("ben", DAY + NINE)
    late_too = planned(floor([replace(a, due=DAY), b], hands, machines={"serger": 1})).late
    assert [late.why for late in late_too] == [
        "it is in work with Ben, who is not there before Tue 1 Dec 09:00"
    ]


def test_work_of_somebody_without_hours_is_given_on_with_a_note() -> None:
    made = planned(
        floor([jacket("A", 60, in_work_by="ben")], [hand("ada"), hand("ben", spells=())])
    )
    assert slot_of(made, "A").hand == "ada"
    assert any("Ben, who has no working hours" in note for note in made.notes)


# Pins


def test_a_pin_holds_person_and_day() -> None:
    held = (Held("A", "sew", "ben", 1),)
    made = planned(floor([jacket("A", Step("cut", 10), 30)], [hand("ada"), hand("ben")], held=held))
    sewn = slot_of(made, "A", 1)
    assert (sewn.hand, sewn.start, sewn.is_held) == ("ben", DAY + NINE, True)
    assert not slot_of(made, "A", 0).is_held


def test_a_full_day_makes_room_for_what_is_pinned_to_it() -> None:
    """Seven hours of Monday for eight jackets of an hour, and the last in order is pinned to it."""
    jackets = [jacket(f"J{number}", 60) for number in range(8)]
    made = planned(floor(jackets, [hand("ada")], held=(Held("J7", "sew", "", 0),)))
    assert slot_of(made, "J7").start < DAY


@pytest.mark.parametrize(
    ("pin", "words"),
    [
        (Held("A", "sew", "cleo"), "this person is not listed"),
        (Held("A", "sew", "ben"), "Ben has no working hours"),
        (Held("A", "sew", "dan"), "Dan does not do the stage 'sew'"),
        (Held("A", "sew", "eve"), "Eve is not listed for 'zippers'"),
        (Held("A", "sew", "ada", 5), "by Ada on Sat 5 Dec, is not kept: Ada has no hours"),
        (Held("A", "sew", "", 5), "anybody who can do it has no hours on that day"),
        (Held("A", "sew", "", -1), "that day has passed"),
    ],
)
def test_a_pin_that_cannot_be_kept_is_dropped_with_a_note(pin: Held, words: str) -> None:
    hands = [
        hand("ada", skills=("zippers",)),
        hand("ben", spells=(), skills=("zippers",)),
        hand("dan", stages=("cut",)),
        hand("eve"),
    ]
    zipper = jacket("A", Step("sew", 30, "", ("zippers",)))
    made = planned(floor([zipper], hands, held=(pin,)))
    assert slot_of(made, "A").start == NINE
    assert any(words in note for note in made.notes), made.notes


def test_two_pins_that_cannot_both_be_kept_keep_one_and_tell_the_other() -> None:
    held = (Held("A", "sew", "", 0), Held("B", "sew", "", 0))
    made = planned(floor([jacket("A", 420), jacket("B", 420)], [hand("ada")], held=held))
    assert sum("is not kept: there is no time left" in note for note in made.notes) == 1


# What is aimed at


def test_jackets_alike_are_sewn_together_when_no_deadline_speaks_against_it() -> None:
    """Four of two colors in turn at one serger: one change of three minutes instead of three."""
    jackets = [jacket(f"J{n}", serged(COLORS[n % 2]), due=5) for n in range(4)]
    made = planned(floor(jackets, [hand("ada")], machines={"serger": 1}))
    assert (made.changes, made.change_minutes, made.late_jackets) == (1, 3, 0)
    assert made.ready == NINE + 4 * 30 + 3


def test_lateness_beats_changeovers() -> None:
    """An hour each, with three minutes for a change: the two spruce ones together would leave the
    oat one, due at 11:10, late."""
    jackets = [
        replace(jacket("S1", serged("spruce", 60)), due=NINE + 70),
        replace(jacket("O1", serged("oat", 60)), due=NINE + 130),
        replace(jacket("S2", serged("spruce", 60)), due=DAY),
    ]
    made = planned(floor(jackets, [hand("ada")], machines={"serger": 1}))
    assert [slot.jacket for slot in made.slots] == ["S1", "O1", "S2"]
    assert (made.late_jackets, made.changes) == (0, 2)
    later = [replace(each, due=DAY) for each in jackets]
    assert planned(floor(later, [hand("ada")], machines={"serger": 1})).changes == 1


def test_the_value_is_the_sum_of_its_weighted_parts() -> None:
    """60 minutes each on one day of one hour: the second is an hour of work late."""
    one_hour = ((NINE, 600), (DAY + NINE, DAY + 600))
    made = planned(
        floor([jacket("A", 60, due=0), jacket("B", 60, due=0)], [hand("a", spells=one_hour)])
    )
    assert (made.late_jackets, made.late_minutes, made.change_minutes) == (1, 60, 0)
    assert made.value == LATE_JACKET + 60 * LATE_MINUTE + 0 * CHANGE_MINUTE + 120
    assert made.bound == made.value


def test_a_small_order_does_not_lie_ready_at_its_last_minute_for_the_sake_of_a_large_one() -> None:
    """Both are in time either way, and the last hour is the same."""
    large = [jacket(f"L{number}", 30, due=4, team_order="T-0002") for number in range(9)]
    small = [jacket(f"S{number}", 30, due=0, team_order="T-0001") for number in range(3)]
    made = planned(floor([*large, *small], [hand("ada")]))
    ends = {slot.jacket: slot.end for slot in made.slots}
    assert made.late_jackets == 0
    assert max(ends[j.code] for j in small) == NINE + 90
    assert made.gap == 0


def test_blocked_jackets_come_last_and_mends_first() -> None:
    jackets = [
        jacket("A", 30, due=0, blocked="block CO is not cut"),
        jacket("B", 30, due=3),
        jacket("C", 30, due=3, mends=True),
    ]
    simple = dispatch(floor(jackets, [hand("ada")]))
    assert [slot.jacket for slot in simple.slots] == ["C", "B", "A"]
    assert planned(floor(jackets, [hand("ada")])).slots[-1].jacket == "A"


def test_a_machine_that_only_blocked_jackets_need_leaves_the_bound_alone() -> None:
    jackets = [jacket("A", 30), jacket("B", serged("oat"), blocked="no thread oat")]
    made = planned(floor(jackets, [hand("ada"), hand("ben")], machines={"serger": 1}))
    assert (made.value, made.bound) == (30, 30)


def test_each_thread_and_foot_is_put_on_at_least_once() -> None:
    """Two colors with two feet: with one machine a color with both feet, then the other (1 + 3 + 1
    minutes); with two machines each a color; three colors of one foot on two machines once 3."""
    made_up = floor([], [])
    four = [((color,), foot) for color in COLORS[:2] for foot in ("zipper", "edge")]
    assert [least_changes(made_up, four, machines) for machines in (1, 2, 3, 4)] == [5, 2, 1, 0]
    assert least_changes(made_up, [((color,), "edge") for color in COLORS], 2) == 3


@pytest.mark.parametrize("seed", range(20))
def test_no_walks_over_the_settings_change_less(seed: int) -> None:
    """Against every way in which machines can go through random settings, each once."""
    chance = random.Random(seed)
    every = [((color,), foot) for color in COLORS for foot in ("zipper", "edge", "hem")]
    some, machines = chance.sample(every, chance.randint(1, 6)), chance.randint(1, 3)
    made_up = replace(floor([], []), thread_change=chance.randint(0, 4))

    def walked(order: tuple[Setting, ...], cuts: tuple[int, ...]) -> int:
        pairs = enumerate(pairwise(order), 1)
        return sum(change_minutes(made_up, *pair) for at, pair in pairs if at not in cuts)

    least = min(
        walked(order, cuts)
        for order in permutations(some)
        for cuts in combinations(range(1, len(some)), min(machines, len(some)) - 1)
    )
    assert least_changes(made_up, some, machines) <= least


def test_what_takes_no_time_needs_no_change() -> None:
    """A second of oat, then spruce: the oat is done in passing."""
    jackets = [jacket("A", serged("oat", 0)), jacket("B", serged("spruce"))]
    made = planned(floor(jackets, [hand("ada")], machines={"serger": 1}))
    assert (made.value, made.bound) == (30, 30)


def test_the_moves_leave_the_machine_as_it_is_for_what_takes_no_time() -> None:
    jackets = [jacket("A", serged("oat", 0)), jacket("B", serged("spruce"))]
    room = prepare(floor(jackets, [hand("ada")], machines={"serger": 1}))
    flat = FlatTable(room, {(p.jacket, p.step): p for p in timetable(room, ["A", "B"])})
    assert flat.value() == 30


def test_what_takes_no_time_is_on_the_day_to_which_it_is_pinned() -> None:
    """So are those after it, though the day before ends at the same minute of work."""
    made_up = floor([jacket("A", 0, 0)], [hand("ada")], held=(Held("A", "sew", "", 1),))
    assert {slot.start for slot in planned(made_up).slots} == {DAY + NINE}


def test_a_given_order_is_followed() -> None:
    jackets = [jacket(code, 30) for code in "ABC"]
    made = dispatch(floor(jackets, [hand("ada")]), ["C", "A"])
    assert [slot.jacket for slot in made.slots] == ["C", "A", "B"]


# What cannot be planned


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (Step("sew", 10, "", ("zippers",)), "Nobody listed can do 'zippers' (sew)."),
        (Step("press", 10), "Nobody listed can do the stage 'press'."),
        (
            Step("sew", 10, "", ("hoods",)),
            "Nobody who can do 'hoods' (sew) has working hours: Ben.",
        ),
        (Step("sew", 10, "serger"), "No serger is in use."),
    ],
)
def test_what_nobody_can_do_is_unplanned_and_says_what_is_missing(step: Step, words: str) -> None:
    hands = [hand("ada"), hand("ben", skills=("hoods",), spells=())]
    made_up = floor([jacket("A", 10, step, due=2), jacket("B", 10)], hands, machines={"serger": 0})
    made = planned(made_up)
    assert made.unplanned == (("A", words),)
    # What comes before it is done all the same, after what has a deadline that can be met.
    assert [(slot.jacket, slot.step) for slot in made.slots] == [("B", 0), ("A", 0)]
    assert (made.late_jackets, made.gap) == (1, 0)
    assert not faults(made_up, made)
    assert [(late.jacket, late.ready) for late in made.late] == [("A", None)]


def test_when_the_hours_run_out_it_says_until_when_they_are_known() -> None:
    made = planned(floor([jacket("A", 100), jacket("B", 6 * 60)], [hand("ada", 1)]))
    assert made.unplanned == (
        ("B", "It is not finished when the hours that are known run out, Mon 30 Nov 17:00."),
    )


def test_what_can_be_begun_only_after_the_known_hours_is_unplanned() -> None:
    made = planned(floor([jacket("A", 60, ready_from=9 * DAY), jacket("B", 60)], [hand("ada", 1)]))
    assert [code for code, _ in made.unplanned] == ["A"]
    assert {slot.jacket for slot in made.slots} == {"B"}


def test_nobody_with_hours_is_an_error_in_words() -> None:
    with pytest.raises(FloorError, match="Nobody has working hours"):
        schedule(floor([jacket("A", 10)], [hand("ada", spells=((0, NINE),))]))


def test_an_empty_floor_has_an_empty_schedule() -> None:
    made = schedule(floor([], [hand("ada")]))
    assert (made.slots, made.value, made.bound, made.gap) == ((), 0, 0, 0.0)


# Why it is late


def why(made_up: Floor, code: str) -> str:
    return next(late.why for late in planned(made_up).late if late.jacket == code)


def test_the_serger_is_taken() -> None:
    jackets = [jacket(code, serged("oat", 150), due=0) for code in "ABC"]
    hands = [hand("ada"), hand("ben")]
    made = planned(floor(jackets, hands, machines={"serger": 1}))
    assert [late.why for late in made.late] == ["the serger is taken until Mon 30 Nov 15:00"]


def test_the_serger_is_taken_though_one_person_does_all_at_it() -> None:
    """Four people, who finish what one of them serges: the others have time."""
    steps = (Step("cut", 20), serged("oat", 60), Step("sew", 30), Step("finish", 10))
    jackets = [jacket(f"J{number}", *steps, due=0) for number in range(12)]
    hands = [hand(key) for key in ("ada", "ben", "cleo", "dan")]
    late = planned(floor(jackets, hands, machines={"serger": 1})).late
    assert len(late) == 6
    assert all(each.why.startswith("the serger is taken until") for each in late)


def test_everybody_is_full_is_said_only_where_nobody_has_time() -> None:
    """Ada sews A and then B on Monday although Ben has time: not the best, so the words are read
    from a timetable that is given."""
    jackets = [jacket("A", 60, due=0), jacket("B", 60, due=0)]
    jackets = [replace(each, due=NINE + 90) for each in jackets]
    made_up = floor(jackets, [hand("ada"), hand("ben")])
    made = dispatch(made_up)
    slots = (
        replace(made.slots[0], hand="ada"),
        replace(made.slots[1], hand="ada", start=NINE + 60, end=NINE + 120),
    )
    late = (LateJacket(slots[1].jacket, NINE + 90, NINE + 120, ""),)
    told = explained(made_up, replace(made, slots=slots, late=late)).late
    assert [each.why for each in told] == ["Ada, who does its sew, is full until Mon 30 Nov 10:00"]


def test_nobody_with_the_skill_has_time() -> None:
    step = Step("sew", 200, "", ("zippers",))
    hands = [hand("ada"), hand("ben", skills=("zippers",)), hand("cleo", skills=("zippers",))]
    jackets = [jacket(f"J{number}", step, due=0) for number in range(6)]
    words = {late.why for late in planned(floor(jackets, hands)).late}
    assert words == {"nobody who can do 'zippers' has time before Mon 30 Nov 16:40"}
    only_ben = floor([jacket("A", step), jacket("B", step), jacket("C", step, due=0)], hands[:2])
    late = planned(replace(only_ben, jackets=tuple(replace(j, due=DAY) for j in only_ben.jackets)))
    assert late.late[0].why == "only Ben can do 'zippers', and is full until Mon 30 Nov 16:40"


def test_somebody_who_is_away() -> None:
    """Ada has an hour on Monday and comes back on Wednesday; the second time she is not there."""
    ada = hand("ada", spells=((NINE, 600), *hours(1, first=2)), skills=("zippers",))
    zipper = Step("sew", 50, "", ("zippers",))
    made_up = floor([jacket("A", zipper, due=0), jacket("B", zipper, due=0)], [ada, hand("ben")])
    words = [late.why for late in planned(made_up).late]
    assert words == ["Ada, who does its sew, is away until Wed 2 Dec 09:00"]
    late_one = jacket("A", Step("cut", 70), zipper, due=0)
    after_ten = replace(made_up, jackets=(late_one,))
    assert why(after_ten, "A") == (
        "only Ada can do 'zippers', and is not there before Wed 2 Dec 09:00"
    )


def test_pinned_to_somebody_who_is_full() -> None:
    held = tuple(Held(code, "sew", "ada") for code in "AB")
    jackets = [jacket("A", 400, due=0), jacket("B", 400, due=0)]
    made_up = floor(jackets, [hand("ada"), hand("ben")], held=held)
    words = [late.why for late in planned(made_up).late]
    assert words == ["sew is pinned to Ada, who is full until Mon 30 Nov 16:40"]


def test_more_work_than_hours() -> None:
    """Two hands have 14 hours to the deadline; three times six hours are four hours more."""
    jackets = [jacket(code, 360, due=0) for code in "ABC"]
    words = [late.why for late in planned(floor(jackets, [hand("ada"), hand("ben")])).late]
    assert words == [
        "the work left for it and those before it is more than the hours to the deadline (4 h over)"
    ]


@pytest.mark.parametrize(
    ("late", "words"),
    [
        ({"blocked": "block CO is not cut"}, "it is blocked: block CO is not cut"),
        ({"ready_from": DAY + 600}, "nothing can be done on it before Tue 1 Dec 10:00"),
        ({"due": 60}, "its deadline, Mon 30 Nov, has passed"),
        ({}, "its own work takes 8 h 20 one after the other, and there are 7 h to the deadline"),
    ],
)
def test_other_reasons(late: dict[str, Any], words: str) -> None:
    late_one = replace(jacket("A", 250, 250, due=0), **late)
    assert why(floor([late_one], [hand("ada")]), "A") == words


def test_pinned_to_a_day_after_the_deadline() -> None:
    made_up = floor([jacket("A", 10, due=0)], [hand("ada")], held=(Held("A", "sew", "", 2),))
    assert why(made_up, "A") == "sew is pinned to Wed 2 Dec"


def test_the_narrow_places_are_told_the_busiest_first() -> None:
    jackets = [jacket(code, Step("cut", 20), serged("oat", 100), due=0) for code in "ABC"]
    made_up = floor(jackets, [hand("ada"), hand("ben")], machines={"serger": 1})
    places = narrow_places(made_up, planned(made_up))
    serger = next(place for place in places if place.is_machine)
    assert (serger.key, serger.busy_minutes, serger.open_minutes) == ("serger", 300, 420)
    assert [place.share for place in places] == sorted((p.share for p in places), reverse=True)
    assert sum(place.busy_minutes for place in places if not place.is_machine) == 360


# Against every timetable


def every_value(made_up: Floor) -> Iterator[int]:
    """The values of all orders and hands, each step as early as it can: the best of them is the
    best there is. For one unbroken stretch of hours of everybody, and at most one machine."""
    codes = [j.code for j in made_up.jackets for _ in j.steps]
    by_code = {j.code: j for j in made_up.jackets}
    hands = [h.key for h in made_up.hands]
    for order in set(_orders(tuple(codes))):
        for doers in product(hands, repeat=len(order)):
            yield _value(made_up, by_code, order, doers)


def _orders(codes: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    if not codes:
        yield ()
    for code in sorted(set(codes)):
        at = codes.index(code)
        for rest in _orders(codes[:at] + codes[at + 1 :]):
            yield (code, *rest)


def _value(
    made_up: Floor, by_code: dict[str, FloorJacket], order: tuple[str, ...], doers: tuple[str, ...]
) -> int:
    ends: dict[str, int] = {}
    steps = dict.fromkeys(by_code, 0)
    on: tuple[str, ...] | None = None
    changed = 0
    for code, doer in zip(order, doers, strict=True):
        step = by_code[code].steps[steps[code]]
        steps[code] += 1
        change = 3 * (on is not None and on != step.threads) if step.machine else 0
        start = max(ends.get(code, 0), ends.get(doer, 0), ends.get(step.machine or "-", 0))
        end = ends[code] = ends[doer] = start + change + step.minutes
        changed += change
        if step.machine:
            on, ends["serger"] = step.threads, end
    over = [ends[j.code] - (j.due or 0) + made_up.now for j in by_code.values()]
    late = [minutes for minutes in over if minutes > 0]
    orders: dict[str, int] = {}
    for code, j in by_code.items():
        orders[j.team_order] = max(orders.get(j.team_order, 0), ends[code])
    ready = sum(orders.values())
    return LATE_JACKET * len(late) + LATE_MINUTE * sum(late) + CHANGE_MINUTE * changed + ready


@pytest.mark.parametrize("seed", range(6))
def test_no_timetable_of_a_tiny_floor_is_better(seed: int) -> None:
    chance = random.Random(seed)
    jackets = [
        jacket(
            f"J{number}",
            Step("cut", chance.randint(5, 30)),
            serged(chance.choice(COLORS), chance.randint(5, 30)),
            due=0,
        )
        for number in range(3)
    ]
    jackets = [
        replace(j, due=NINE + chance.randint(30, 90), team_order=f"T-{number * (seed % 3)}")
        for number, j in enumerate(jackets)
    ]
    hands = [hand(key, spells=((NINE, 20 * 60),)) for key in ("ada", "ben")]
    made_up = floor(jackets, hands, machines={"serger": 1})
    made = planned(made_up, 3)
    assert made.value == min(every_value(made_up))
    assert made.gap == 0


# Random floors


def random_floor(seed: int) -> Floor:
    chance = random.Random(seed)
    hands = []
    for number in range(chance.randint(1, 4)):
        spells = chance.choice(
            [hours(8), hours(5, (9, 13)), hours(6, (8, 9.5), (10, 12)), hours(3, (12, 15), first=2)]
        )
        stages = tuple(stage for stage in ALL if chance.random() < 0.8) or ("sew",)
        skills = tuple(skill for skill in ("zippers", "hoods") if chance.random() < 0.6)
        hands.append(hand(f"p{number}", spells=spells, stages=stages, skills=skills))
    jackets = [_random_jacket(f"J{number}", chance, len(hands)) for number in range(12)]
    held = tuple(
        Held(
            f"J{chance.randrange(12)}",
            chance.choice(ALL),
            chance.choice(["", *(h.key for h in hands)]),
            chance.choice([None, None, 0, 1, 2, 5]),
        )
        for _ in range(3)
    )
    held = tuple({(pin.jacket, pin.stage): pin for pin in held}.values())
    machines = {"serger": chance.randint(1, 2), "lockstitch": chance.randint(0, 3)}
    return floor(jackets, hands, machines=machines, held=held, now=chance.choice([540, 615, 1500]))


def _random_jacket(code: str, chance: random.Random, people: int) -> FloorJacket:
    steps = [
        Step("cut", chance.randint(1, 20)),
        serged(chance.choice(COLORS), chance.randint(5, 90)),
        Step(
            "sew",
            chance.randint(5, 60),
            "lockstitch",
            ("zippers",),
            (chance.choice(COLORS),),
            chance.choice(("zipper", "edge")),
        ),
        Step("finish", chance.randint(0, 10)),
    ]
    return jacket(
        code,
        *steps[chance.randint(0, 3) :],
        due=chance.choice([None, 0, 1, 2, 3, 8]),
        ready_from=chance.choice([0, 0, 0, 700, DAY + 600]),
        blocked=chance.choice(["", "", "", "no zipper 55 cm oat"]),
        mends=chance.random() < 0.2,
        in_work_by=chance.choice(["", "", "", f"p{chance.randrange(people)}"]),
    )


@pytest.mark.parametrize("seed", range(40))
def test_random_floors_have_timetables_without_fault(seed: int) -> None:
    made_up = random_floor(seed)
    assert faults(made_up, dispatch(made_up)) == []


@pytest.mark.parametrize("seed", range(8))
def test_random_floors_have_schedules_without_fault(seed: int) -> None:
    made = planned(random_floor(100 + seed), 0.4)
    assert all(late.why for late in made.late)


@pytest.mark.parametrize("seed", range(8))
def test_random_floors_by_windows_have_schedules_without_fault(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if they were too large for one model."""
    monkeypatch.setattr(floor_search, "MOST_CHOICES", 0)
    made = planned(random_floor(200 + seed), 0.5)
    assert "windows" in made.method or made.value == made.bound


def test_a_large_floor_goes_through_bundles_and_windows() -> None:
    made = planned(team_floor(40, 3, (4,)), 1.5)
    assert "bundles" in made.method and "windows" in made.method


# The check itself


def tampered(slots: tuple[Slot, ...]) -> Iterator[tuple[str, tuple[Slot, ...]]]:
    first, *rest = slots
    yield "a step is left out", tuple(rest)
    yield "a step is done twice", (first, *slots)
    yield "it takes longer", (replace(first, end=first.end + 1), *rest)
    yield "it changes thread for nothing", (replace(first, change_minutes=3), *rest)
    yield "somebody else does it", (replace(first, hand="cut only"), *rest)
    yield "before now", (replace(first, start=first.start - 60, end=first.end - 60), *rest)
    yield "all at once", tuple(replace(slot, start=600, end=630) for slot in slots)


def test_the_check_finds_what_is_wrong() -> None:
    jackets = [
        jacket(code, serged(color), 20, due=1) for code, color in zip("AB", COLORS[:2], strict=True)
    ]
    hands = [hand("ada"), hand("cut only", stages=("cut",))]
    made_up = floor(jackets, hands, machines={"serger": 1}, held=(Held("A", "sew", "ada", 0),))
    made = dispatch(made_up)
    assert faults(made_up, made) == []
    for words, slots in tampered(made.slots):
        assert faults(made_up, replace(made, slots=slots)), words
    on_tuesday = replace(made_up, held=(Held("A", "sew", "", 1),))
    assert faults(on_tuesday, made) == ["A sew is pinned to day 1"]
    due_today = tuple(replace(j, due=NINE + 40) for j in made_up.jackets)
    assert len(faults(replace(made_up, jackets=due_today), made)) == 3
