"""Storing a judged roster: what was shown and allowed, as a whole or not at all."""

from __future__ import annotations

import pytest

from orders.errors import OrderError, OrderFrozenError, RosterError
from orders.models import Amendment, Expected, TeamOrder
from orders.roster import fingerprint, judge
from orders.roster_file import Table, read_pasted
from orders.roster_queries import accepted_by
from orders.roster_store import Differing, expect_names, expect_no_longer, take_roster
from tests.factories import make_colorway, make_jacket_order, make_maker, make_team_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def order() -> TeamOrder:
    """Wren has a jacket with an own color, a name and a note."""
    order = make_team_order("TQ-99A")
    make_jacket_order(
        order, "Wren", own={"YK": "oat"}, name_on_jacket="WREN", note="tall", size="M"
    )
    return order


DIFFERENT = read_pasted("member,size,colorway\nWren,L,Harbor\nPip,S,Harbor\n")


def last_words(order: TeamOrder) -> list[str]:
    return list(order.amendments.values_list("words", flat=True))


def sizes(order: TeamOrder) -> dict[str, str]:
    return dict(order.jacket_orders.values_list("member", "size__code"))


def test_a_row_that_differs_is_refused_unless_asked_for(order: TeamOrder) -> None:
    with pytest.raises(RosterError, match="1 of 2 rows differ") as caught:
        take_roster(order, DIFFERENT, "r", by=None)
    assert [str(problem) for problem in caught.value.problems] == [
        "Row 2, size: would change size M to L."
    ]
    assert sizes(order) == {"Wren": "M"} and not Amendment.objects.exists()


def test_rows_that_differ_may_stay_as_they_are(order: TeamOrder) -> None:
    taken = take_roster(order, DIFFERENT, "r", by=None, differing=Differing.KEEP)
    assert sizes(order) == {"Wren": "M", "Pip": "S"}
    assert taken.words() == "1 jacket added, 1 that differ left as they are"


def test_rows_that_differ_are_changed_and_told(order: TeamOrder) -> None:
    maker = make_maker()
    taken = take_roster(order, DIFFERENT, "r", by=maker, differing=Differing.CHANGE)
    assert sizes(order) == {"Wren": "L", "Pip": "S"}
    wren = order.jacket_orders.get(member="Wren")
    assert (wren.name_on_jacket, wren.note, wren.choices.count()) == ("WREN", "tall", 1)
    assert taken.words() == "1 jacket added, 1 jacket changed"
    assert last_words(order) == [
        "took 1 jacket; changed 1 jacket from r",
        "size M to L",
        "added Pip, S, Harbor",
    ]
    assert {amendment.by for amendment in order.amendments.all()} == {maker}


def test_names_alone_become_expected_once(order: TeamOrder) -> None:
    names = read_pasted("member\nPip\nwren\nOdile\n")
    assert take_roster(order, names, "r", by=None).words() == "2 names expected, 1 unchanged"
    assert take_roster(order, names, "r", by=None).words() == "3 unchanged"
    assert [one.name for one in order.expected.all()] == ["Odile", "Pip"]
    assert last_words(order) == ["expects 2 names more from r"]


def test_what_was_shown_is_what_is_stored(order: TeamOrder) -> None:
    seen = fingerprint(judge(DIFFERENT, accepted_by(order)))
    order.jacket_orders.get().delete()
    with pytest.raises(RosterError, match="changed since these rows were checked"):
        take_roster(order, DIFFERENT, "r", by=None, differing=Differing.CHANGE, shown=seen)
    assert not order.jacket_orders.exists()


def test_a_dry_run_of_changes_stores_nothing(order: TeamOrder) -> None:
    taken = take_roster(order, DIFFERENT, "r", by=None, differing=Differing.CHANGE, dry_run=True)
    assert taken.words(would=True) == "1 jacket would be added, 1 jacket would be changed"
    assert sizes(order) == {"Wren": "M"} and not Amendment.objects.exists()


def test_the_coordinator_s_roster_is_told_as_such(order: TeamOrder) -> None:
    differing = Differing.CHANGE
    take_roster(order, DIFFERENT, "r", by=None, by_link="coordinator", differing=differing)
    assert set(order.amendments.values_list("by_link", flat=True)) == {"coordinator"}


@pytest.mark.parametrize("state", ["draft", "approved"])
def test_the_coordinator_s_roster_waits_for_an_open_or_closed_order(
    order: TeamOrder, state: str
) -> None:
    TeamOrder.objects.update(state=state)
    with pytest.raises(OrderError, match="Ask the maker"):
        take_roster(order, DIFFERENT, "r", by=None, by_link="coordinator")
    take_roster(order, DIFFERENT, "r", by=None, differing=Differing.CHANGE)


def test_the_coordinator_s_roster_keeps_to_the_offered_sizes(order: TeamOrder) -> None:
    pattern = order.colorways.get().blocking.pattern
    order.sizes.set([pattern.sizes.get(code="S")])
    with pytest.raises(RosterError) as caught:
        take_roster(order, DIFFERENT, "r", by=None, by_link="coordinator")
    # M stays, for Wren has it already.
    assert str(caught.value.problems[0]) == 'Row 2, size: found "L"; accepted: S, M.'


def test_many_rows_cost_a_fixed_number_of_questions(
    order: TeamOrder, django_assert_max_num_queries
) -> None:
    rows = "".join(f"Member {number},M,Harbor\n" for number in range(100))
    table = read_pasted(f"member,size,colorway\n{rows}")
    with django_assert_max_num_queries(30):
        take_roster(order, table, "r", by=None)


def test_names_are_put_on_the_roster_once_and_tidied(order: TeamOrder) -> None:
    names = ["Pip  Marsh", "PIP MARSH", "Zoe\u0308"]
    assert expect_names(order, names, by=None, by_link="coordinator") == 2
    assert expect_names(order, names, by=None, by_link="coordinator") == 0
    assert [one.name for one in order.expected.all()] == ["Pip Marsh", "Zoë"]
    assert last_words(order) == ["put 2 names on the roster"]


def test_a_name_is_taken_off_the_roster_and_its_jacket_stays(order: TeamOrder) -> None:
    expect_names(order, ["Wren"], by=None)
    name = Expected.objects.get()
    expect_no_longer(name, by=None, by_link="coordinator")
    assert not Expected.objects.exists() and order.jacket_orders.count() == 1
    assert last_words(order)[0] == "took Wren off the roster"
    with pytest.raises(OrderError, match="off the roster already"):
        expect_no_longer(name, by=None)


def test_a_frozen_order_expects_nobody(order: TeamOrder) -> None:
    TeamOrder.objects.update(state=TeamOrder.State.IN_PRODUCTION)
    with pytest.raises(OrderFrozenError):
        expect_names(order, ["Pip"], by=None)


def test_a_roster_without_rows_is_refused(order: TeamOrder) -> None:
    with pytest.raises(RosterError, match="no row with a member"):
        take_roster(order, Table(("member",), ()), "r", by=None)


def test_a_second_colorway_is_stored_by_its_name(order: TeamOrder) -> None:
    make_colorway(order, "Dawn", color="oat")
    table = read_pasted("member;size;colorway;block:YK\nWren;M;dawn;oat\n")
    take_roster(order, table, "r", by=None, differing=Differing.CHANGE)
    wren = order.jacket_orders.get()
    assert wren.colorway.name == "Dawn" and not wren.choices.exists()
