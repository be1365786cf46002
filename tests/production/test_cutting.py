"""Ways to cut a ticket, with nesting that takes no time: rows by the real one, and a clock of its
own."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from production.planning.cutting import cut_orders, cutting
from production.planning.cutting.cut_demand import LayOrder, LengthGuess, told_guess
from production.planning.cutting.cutting import (
    LayChoice,
    TicketToCut,
    lay_choices,
    order_of,
    tickets_to_cut,
)
from production.planning.cutting.lays import asked, laid_out, validate_lay
from production.planning.cutting.nested_lays import TURN_THE_CLOTH
from production.planning.nesting import Nest, NestBlock, NestPlace, Strip, nest_key
from production.planning.nesting import nest as real_nest
from production.planning.plan import PlanError
from production.planning.planner import plan_run
from production.planning.snapshot import RunSnapshot
from tests.production.planning_factories import (
    make_fabric,
    make_jacket,
    make_operation,
    make_snapshot,
    make_workroom,
)

OPERATIONS = (
    *(
        make_operation(f"by-{on}", "cut", on, minutes_each=Decimal(minutes))
        for on, minutes in (("lay", 9), ("ply", "1.4"), ("outline", "0.9"))
    ),
    *make_snapshot().operations[3:],
)
AIMS = ("money", "fabric", "lays", "time")


def snapshot_of(jackets: int = 9, **room: Any) -> RunSnapshot:
    return make_snapshot(
        jackets=tuple(make_jacket(f"J{n}", size="SM"[n % 3 == 0]) for n in range(jackets)),
        operations=OPERATIONS,
        workroom=make_workroom(**room),
    )


def spruce(snapshot: RunSnapshot) -> TicketToCut:
    return tickets_to_cut(snapshot)[1]


class Shelf:
    """A store of nests in memory."""

    def __init__(self) -> None:
        self.kept: dict[str, tuple[Nest, float]] = {}

    def get(self, key: str) -> tuple[Nest, float] | None:
        return self.kept.get(key)

    def put(self, key: str, nest: Nest, seconds: float) -> None:
        self.kept[key] = (nest, seconds)


class Bench:
    """Nesting whose seconds pass on its own clock; `change` is what it makes of the rows."""

    def __init__(self, change: Callable[[Nest], Nest]) -> None:
        self.now = 0.0
        self.asked: list[tuple[str, float, int]] = []
        self.change = change

    def nest(
        self, blocks: Sequence[NestBlock], strip: Strip, seconds: float, **options: Any
    ) -> Nest:
        self.asked.append((nest_key(blocks, strip), seconds, options["seed"]))
        self.now += seconds
        rows = real_nest(blocks, strip, 0)
        return self.change(replace(rows, method="nested", note="", seconds=seconds))


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Bench:
    bench = Bench(lambda nest: nest)
    monkeypatch.setattr(cutting, "nest", bench.nest)
    monkeypatch.setattr(cutting, "monotonic", lambda: bench.now)
    return bench


def assert_sound(ticket: TicketToCut, choice: LayChoice) -> None:
    assert laid_out(choice.lays) == asked(ticket.lines)
    room = ticket.workroom
    for lay in choice.lays:
        assert validate_lay(lay, ticket.shapes, ticket.fabric, room.block_gap_mm, room) == []
        assert lay.efficiency == pytest.approx(lay.lower_bound_mm / lay.length_mm)
    assert list(choice.methods) == [lay.lay for lay in choice.lays]
    assert list(choice.methods) == [f"{ticket.ticket}-L{n + 1}" for n in range(len(choice.lays))]


@pytest.mark.parametrize("spreading", ["face_up", "face_to_face", "folded"])
def test_rows_come_at_once_and_every_choice_can_be_cut(bench: Bench, spreading: str) -> None:
    ticket = spruce(snapshot_of(spreading=spreading))
    told: list[tuple[float, LayChoice]] = []
    choices = lay_choices(
        ticket, 60, Shelf(), on_better=lambda choice: told.append((bench.now, choice))
    )
    assert (told[0][0], told[0][1].aim) == (0.0, "rows")
    assert tuple(choice.aim for choice in choices) == ("rows", *AIMS)
    for choice in [*choices, *(choice for _, choice in told)]:
        assert_sound(ticket, choice)
    assert {lay.mode for choice in choices for lay in choice.lays} <= {"face_up", spreading}


def test_each_choice_is_the_best_of_all_by_its_aim(bench: Bench) -> None:
    rows, money, fabric, lays, time = lay_choices(spruce(snapshot_of(23)), 90, Shelf())
    every = (rows, money, fabric, lays, time)
    assert fabric.fabric_mm == min(choice.fabric_mm for choice in every)
    assert len(lays.lays) == min(len(choice.lays) for choice in every)
    assert time.cutting_minutes == min(choice.cutting_minutes for choice in every)
    assert money.cost == min(choice.cost for choice in every)
    assert money.cost < rows.cost


def test_improvement_rounds_know_true_lengths_and_end_when_nothing_is_new(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[dict[LayOrder, int]] = []

    def plans(*args: Any, **options: Any) -> Any:
        told.append(dict(options["true_mm"]))
        return cut_orders.plan_cut_orders(*args, **options)

    monkeypatch.setattr(cutting, "plan_cut_orders", plans)
    choices = lay_choices(spruce(snapshot_of(23)), 3000, Shelf())
    assert len(told) > 1 and told[0] == {} and told[1]
    assert all(before.keys() < after.keys() for before, after in itertools.pairwise(told))
    lengths = {order_of(lay): lay.length_mm for choice in choices[1:] for lay in choice.lays}
    known = told[-1].keys() & lengths.keys()
    assert known
    assert all(lengths[order] <= told[-1][order] < lengths[order] + 1 for order in known)


def test_what_is_told_gets_better_and_better(bench: Bench) -> None:
    told: dict[str, list[Decimal]] = {}
    lay_choices(
        spruce(snapshot_of(23)),
        90,
        Shelf(),
        on_better=lambda choice: told.setdefault(choice.aim, []).append(choice.cost),
    )
    assert told["money"] == sorted(told["money"], reverse=True)


def test_nesting_takes_the_seconds_that_there_are(bench: Bench) -> None:
    lay_choices(spruce(snapshot_of(23)), 60, Shelf())
    assert bench.now <= 60
    least = cutting.LEAST_SECONDS * (1 - cutting.NEST_ENDS_LATE)
    assert all(seconds >= least for _, seconds, _ in bench.asked)


def test_equal_lays_are_nested_once_for_all_plans_and_tickets(bench: Bench) -> None:
    ticket, shelf = spruce(snapshot_of(12)), Shelf()
    lay_choices(ticket, 60, shelf)
    first = Counter(key for key, _, _ in bench.asked)
    bench.asked.clear()
    bench.now = 0.0
    lay_choices(replace(ticket, ticket="other"), 60, shelf)
    again = Counter(key for key, _, _ in bench.asked)
    # Once for the first time, and the best lays a second time with what time is left.
    assert max(first.values()) <= 2
    assert max(again.values()) == 1
    assert again.total() < first.total()


def test_nesting_that_ends_early_is_not_asked_again(bench: Bench) -> None:
    ticket, shelf = spruce(snapshot_of(12)), Shelf()
    bench.change = lambda nest: replace(nest, seconds=nest.seconds / 2)
    lay_choices(ticket, 60, shelf)
    assert max(Counter(key for key, _, _ in bench.asked).values()) <= 2


def test_a_short_time_goes_into_the_lays_that_are_there(bench: Bench) -> None:
    # Too short for a new plan whose lays would all be nested: before, nothing was found at all.
    ticket = spruce(snapshot_of(23))
    bench.change = lambda nest: replace(nest, length_mm=0.95 * nest.length_mm, method="nested")
    lay_choices(ticket, 3, Shelf())
    assert bench.asked
    assert bench.now <= 3


def test_a_plan_for_which_the_time_is_too_short_is_not_begun(bench: Bench) -> None:
    # On a table so short every plan has several lays, and there is the time for one.
    ticket = spruce(snapshot_of(40, table_length_mm=1500))
    seconds = cutting.PLANNING_SECONDS + cutting.NEW_LAY_SECONDS
    choices = lay_choices(ticket, seconds, Shelf())
    in_rows = {order_of(lay) for lay in choices[0].lays}
    assert {order_of(lay) for choice in choices for lay in choice.lays} <= in_rows
    assert len(bench.asked) == 1


def test_a_second_look_begins_with_another_seed(bench: Bench) -> None:
    lay_choices(spruce(snapshot_of(12)), 60, Shelf(), seed=3)
    seeds: dict[str, list[int]] = {}
    for key, _, seed in bench.asked:
        seeds.setdefault(key, []).append(seed)
    assert all(found[0] == 3 and len(set(found)) == len(found) for found in seeds.values())


def test_a_stopped_search_keeps_the_rows(bench: Bench) -> None:
    ticket = spruce(snapshot_of())
    choices = lay_choices(ticket, 60, Shelf(), is_stopped=lambda: True)
    assert bench.asked == []
    assert len({choice.lays for choice in choices}) == 1
    assert set(choices[0].methods.values()) == {("rows", "")}


def test_without_time_there_are_rows(bench: Bench) -> None:
    choices = lay_choices(spruce(snapshot_of()), 0, Shelf())
    assert bench.asked == []
    assert_sound(spruce(snapshot_of()), choices[0])


def test_a_nest_longer_than_the_table_is_split(bench: Bench) -> None:
    ticket = spruce(snapshot_of(20, table_length_mm=2500))
    bench.change = lambda nest: replace(nest, length_mm=1.25 * nest.length_mm)
    told: list[LayChoice] = []
    lay_choices(ticket, 120, Shelf(), on_better=told.append)
    nested = [
        choice
        for choice in told
        if any(method == "nested" for method, _ in choice.methods.values())
    ]
    assert nested
    for choice in nested:
        assert_sound(ticket, choice)


def test_a_nest_that_cannot_be_cut_is_rows_and_says_why(bench: Bench) -> None:
    ticket = spruce(snapshot_of())

    def all_in_one_place(nest: Nest) -> Nest:
        places = tuple(NestPlace(place.key, 400.0, 400.0, 0.0) for place in nest.places)
        return replace(nest, places=places, length_mm=1000.0)

    bench.change = all_in_one_place
    choices = lay_choices(ticket, 60, Shelf())
    for choice in choices:
        assert_sound(ticket, choice)
    notes = {note for choice in choices for _, note in choice.methods.values()} - {""}
    assert notes
    assert all("overlap" in note and "rows are used" in note for note in notes)


def test_cloth_with_a_nap_is_turned_between_plies_that_lie_face_to_face(bench: Bench) -> None:
    for nap, hint in (("one_way", TURN_THE_CLOTH), ("two_way", "")):
        snapshot = replace(
            snapshot_of(11, spreading="face_to_face"), fabrics=(make_fabric(nap=nap),)
        )
        time = lay_choices(spruce(snapshot), 60, Shelf())[-1]
        notes = {time.methods[lay.lay][1] for lay in time.lays if lay.mode == "face_to_face"}
        assert notes == {hint}


@pytest.mark.parametrize("spreading", ["face_up", "face_to_face", "folded"])
def test_the_numbers_of_a_choice_are_those_of_the_plan_with_it(
    bench: Bench, spreading: str
) -> None:
    snapshot = snapshot_of(11, spreading=spreading)
    oat, green = tickets_to_cut(snapshot)
    choices = (lay_choices(oat, 60, Shelf()), lay_choices(green, 60, Shelf()))
    for pair in zip(*choices, strict=True):
        chosen = dict(zip(("oat", "spruce"), pair, strict=True))
        plan = plan_run(snapshot, {color: one.lays for color, one in chosen.items()}).plan
        assert [check for check in plan.checks if not check.holds] == []
        needed = {ticket.fabric_color: ticket.fabric_needed_mm for ticket in plan.cut_tickets}
        assert needed == {color: one.fabric_mm for color, one in chosen.items()}
        minutes = sum(
            need.standard_minutes
            for need in plan.labor.operations
            if need.operation in ("by-lay", "by-ply", "by-outline")
        )
        paid = sum(one.cutting_minutes for one in chosen.values())
        assert float(minutes * Decimal("1.11")) == pytest.approx(float(paid), abs=0.02)


def test_over_cut_pieces_are_allowed_and_shown(bench: Bench) -> None:
    snapshot = snapshot_of(7, over_cut=1)
    tickets = tickets_to_cut(snapshot)
    choices = {
        color: lay_choices(ticket, 60, Shelf())[-1]
        for color, ticket in zip(("oat", "spruce"), tickets, strict=True)
    }
    plan = plan_run(snapshot, {color: one.lays for color, one in choices.items()}).plan
    assert [check for check in plan.checks if not check.holds] == []
    over = laid_out(choices["spruce"].lays) - asked(tickets[1].lines)
    assert over
    assert "as the workroom allows" in plan.checks[2].detail
    assert all(" ".join(key) in plan.checks[2].detail for key in over)


def test_tickets_have_the_codes_of_the_plan() -> None:
    snapshot = snapshot_of()
    planned = plan_run(snapshot).plan.cut_tickets
    assert [(one.ticket, one.lines) for one in tickets_to_cut(snapshot)] == [
        (one.ticket, one.lines) for one in planned
    ]


def test_nested_lays_tell_efficiency_and_ragged_end() -> None:
    # 1000 mm by area became 1350, 2000 became 2600, and so on: 1 / 1.25 and 100 mm.
    filled = [(area, 1.25 * area + 100) for area in (1000.0, 2000.0, 3000.0, 4000.0)]
    told = told_guess(filled, LengthGuess())
    assert (round(told.efficiency, 6), told.end_mm) == (0.8, 100)
    assert told_guess([], LengthGuess()) == LengthGuess()


def test_what_lies_in_a_lay_is_read_back() -> None:
    ticket = spruce(snapshot_of(2))
    (rows, *_) = lay_choices(ticket, 0, Shelf())
    counts = Counter[tuple[str, str, str]]()
    for lay in rows.lays:
        order = order_of(lay)
        assert order.plies == lay.plies
        counts.update({key: order.plies * n for key, n in order.counts})
    assert counts == asked(ticket.lines)


def test_a_ticket_without_pieces_is_refused() -> None:
    with pytest.raises(PlanError, match="nothing to cut"):
        lay_choices(replace(spruce(snapshot_of()), lines=()), 60, Shelf())
