"""What a member may do through a link, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from orders import links, member_services
from orders.errors import OrderError
from orders.facts import JacketFacts
from orders.member_services import cancel_jacket, change_jacket, order_jacket, why_closed
from orders.models import AccessLink, Amendment, BlockChoice, JacketOrder, Payment, TeamOrder
from patterns.models import Block, FabricColor, PatternSize
from tests.factories import (
    make_blocking,
    make_colorway,
    make_fabric_color,
    make_jacket_order,
    make_pattern,
    make_team_order,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)
State = TeamOrder.State


def facts_for(team_order: TeamOrder, **overrides: object) -> JacketFacts:
    colorway = team_order.colorways.first() or make_colorway(team_order)
    size = colorway.blocking.pattern.sizes.get(code="M")
    return replace(JacketFacts(member="Noa Lind", size=size, colorway=colorway), **overrides)  # type: ignore[arg-type]


def block(code: str) -> Block:
    return Block.objects.get(code=code)


def size(code: str) -> PatternSize:
    return PatternSize.objects.get(code=code)


def color(name: str) -> FabricColor:
    return make_fabric_color(name)


def own_colors(jacket_order: JacketOrder) -> dict[str, str]:
    choices = BlockChoice.objects.filter(jacket_order=jacket_order)
    return {one.block.code: one.fabric_color.name for one in choices}


def ordered_by(link: AccessLink) -> JacketOrder:
    assert link.jacket_order is not None
    return JacketOrder.objects.get(pk=link.jacket_order.pk)


def test_an_order_gives_the_jacket_its_link_and_an_amendment_by_the_members_link() -> None:
    team_order = make_team_order()
    link = order_jacket(team_order, facts_for(team_order), form_key=uuid4())
    assert link.kind == AccessLink.Kind.MEMBER
    assert ordered_by(link).member == "Noa Lind"
    amendment = Amendment.objects.get()
    assert (amendment.words, amendment.by, amendment.by_link, amendment.member) == (
        "added Noa Lind, M, Harbor",
        None,
        "members",
        "Noa Lind",
    )


def test_the_same_form_sent_twice_orders_once() -> None:
    team_order, key = make_team_order(), uuid4()
    first = order_jacket(team_order, facts_for(team_order), form_key=key)
    again = order_jacket(team_order, facts_for(team_order, size=size("L")), form_key=key)
    assert again == first
    assert JacketOrder.objects.get().size.code == "M"
    assert Amendment.objects.count() == 1


def test_a_form_sent_again_does_not_bring_a_withdrawn_link_back() -> None:
    team_order, key = make_team_order(), uuid4()
    links.revoke(order_jacket(team_order, facts_for(team_order), form_key=key))
    with pytest.raises(OrderError, match="withdrawn"):
        order_jacket(team_order, facts_for(team_order), form_key=key)
    assert not AccessLink.objects.filter(revoked_at=None).exists()


def test_a_form_of_another_order_opens_nothing_here() -> None:
    one, other, key = make_team_order(), make_team_order(), uuid4()
    order_jacket(one, facts_for(one), form_key=key)
    with pytest.raises(OrderError):
        order_jacket(other, facts_for(other), form_key=key)


@pytest.mark.parametrize(
    "name", ["Åsa Ødegård", "åsa ødegård", "ÅSA  ØDEGÅRD", "A\u030asa Ødegård"]
)
def test_a_name_is_taken_once_however_it_is_written(name: str) -> None:
    team_order = make_team_order()
    make_jacket_order(team_order, "Åsa Ødegård", size="L")
    with pytest.raises(OrderError, match=r"private link.*coordinator") as refused:
        order_jacket(team_order, facts_for(team_order, member=name), form_key=uuid4())
    assert refused.value.field == "member"
    # Nothing of the other person's jacket is told.
    assert "L" not in str(refused.value).split()
    assert JacketOrder.objects.count() == 1


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (State.DRAFT, "not open yet"),
        (State.CLOSED, "The form is closed"),
        (State.APPROVED, "The form is closed"),
        (State.IN_PRODUCTION, "being made"),
        (State.HANDED_OVER, "handed over"),
        (State.CANCELLED, "cancelled"),
    ],
)
def test_a_form_that_is_not_open_says_why_and_takes_nothing(state: str, words: str) -> None:
    team_order = make_team_order(state=state)
    jacket_order = make_jacket_order(team_order, "Noa Lind")
    assert words in why_closed(team_order, TODAY)
    with pytest.raises(OrderError, match=words):
        order_jacket(team_order, facts_for(team_order, member="Ida Holm"), form_key=uuid4())
    with pytest.raises(OrderError, match=words):
        change_jacket(jacket_order, facts_for(team_order, size=size("L")))
    with pytest.raises(OrderError, match=words):
        cancel_jacket(jacket_order)
    assert JacketOrder.objects.get().size.code == "M"
    assert not Amendment.objects.exists()


def test_the_form_closes_after_its_closing_day() -> None:
    team_order = make_team_order(closes_on=TODAY)
    assert why_closed(team_order, TODAY) == ""
    assert "since 25 November 2026" in why_closed(team_order, TODAY + timedelta(days=1))


def test_a_form_closed_while_it_was_filled_in_takes_nothing() -> None:
    team_order = make_team_order(closes_on=timezone.localdate())
    facts = facts_for(team_order)
    TeamOrder.objects.update(closes_on=timezone.localdate() - timedelta(days=1))
    with pytest.raises(OrderError, match=r"closed since .* Nothing was changed"):
        order_jacket(team_order, facts, form_key=uuid4())


def test_only_free_blocks_take_a_members_color() -> None:
    team_order = make_team_order()
    facts = facts_for(team_order, choices={})
    team_order.free_blocks.set([block("YK")])
    link = order_jacket(
        team_order, replace(facts, choices={block("YK"): color("oat")}), form_key=uuid4()
    )
    assert own_colors(ordered_by(link)) == {"YK": "oat"}
    with pytest.raises(OrderError, match="BD part is the club's"):
        order_jacket(
            team_order,
            replace(facts, member="Ida Holm", choices={block("BD"): color("oat")}),
            form_key=uuid4(),
        )


def test_a_color_outside_the_palette_is_refused() -> None:
    team_order = make_team_order()
    facts = facts_for(team_order)
    team_order.free_blocks.set([block("YK")])
    with pytest.raises(OrderError, match="rust is not in the palette"):
        order_jacket(
            team_order, replace(facts, choices={block("YK"): color("rust")}), form_key=uuid4()
        )


def test_a_free_block_of_another_blocking_is_refused() -> None:
    team_order = make_team_order()
    facts = facts_for(team_order)
    other = make_blocking("Other", blocks=("ZZ",))
    team_order.free_blocks.set(other.blocks.all())
    with pytest.raises(OrderError, match="no block ZZ"):
        order_jacket(
            team_order, replace(facts, choices={block("ZZ"): color("oat")}), form_key=uuid4()
        )


def test_a_colorway_of_another_order_is_refused() -> None:
    team_order, other = make_team_order(), make_team_order()
    foreign = make_colorway(other, "Secret")
    with pytest.raises(OrderError) as refused:
        order_jacket(team_order, facts_for(team_order, colorway=foreign), form_key=uuid4())
    assert refused.value.field == "colorway"
    assert "Secret" not in str(refused.value)


def test_only_the_orders_sizes_are_taken() -> None:
    team_order = make_team_order()
    facts = facts_for(team_order)
    team_order.sizes.set([size("M"), size("L")])
    with pytest.raises(OrderError, match="S is not on offer") as refused:
        order_jacket(team_order, replace(facts, size=size("S")), form_key=uuid4())
    assert refused.value.field == "size"
    order_jacket(team_order, replace(facts, size=size("L")), form_key=uuid4())


def test_sizes_named_for_one_pattern_leave_another_whole() -> None:
    team_order = make_team_order()
    facts_for(team_order)
    team_order.sizes.set([size("M")])
    other = make_pattern("P2", sizes=("36", "38"))
    assert [one.code for one in member_services.offered_sizes(team_order, other)] == ["36", "38"]


def test_a_name_on_the_jacket_needs_the_orders_leave() -> None:
    team_order = make_team_order(names_allowed=False)
    with pytest.raises(OrderError, match="no names"):
        order_jacket(team_order, facts_for(team_order, name_on_jacket="NOA"), form_key=uuid4())


def test_a_change_is_told_in_words_by_the_members_own_link() -> None:
    team_order = make_team_order()
    jacket_order = make_jacket_order(team_order, "Noa Lind")
    change_jacket(jacket_order, facts_for(team_order, size=size("L")))
    amendment = Amendment.objects.get()
    assert (amendment.words, amendment.by_link) == ("size M to L", "member")


def test_a_change_keeps_what_only_the_maker_sets() -> None:
    team_order = make_team_order(names_allowed=False)
    jacket_order = make_jacket_order(
        team_order,
        "Noa Lind",
        own={"BD": "oat"},
        note="left-handed zipper",
        name_on_jacket="NOA",
        discount=Decimal("5.00"),
    )
    team_order.free_blocks.set([block("YK")])
    change_jacket(
        jacket_order, facts_for(team_order, size=size("L"), choices={block("YK"): color("oat")})
    )
    stored = JacketOrder.objects.get()
    assert (stored.note, stored.name_on_jacket, stored.discount) == (
        "left-handed zipper",
        "NOA",
        Decimal("5.00"),
    )
    assert own_colors(stored) == {"YK": "oat", "BD": "oat"}
    assert Amendment.objects.get().words == "size M to L; YK as colorway to oat"


def test_another_colorway_comes_without_the_makers_colors_for_the_first() -> None:
    team_order = make_team_order()
    jacket_order = make_jacket_order(team_order, "Noa Lind", own={"BD": "oat"})
    dawn = make_colorway(team_order, "Dawn")
    change_jacket(jacket_order, facts_for(team_order, colorway=dawn))
    assert own_colors(JacketOrder.objects.get()) == {}


def test_a_size_chosen_before_may_stay_when_it_is_no_longer_offered() -> None:
    team_order = make_team_order()
    jacket_order = make_jacket_order(team_order, "Noa Lind", size="S")
    team_order.sizes.set([size("M")])
    change_jacket(jacket_order, facts_for(team_order, size=size("S"), name_on_jacket="NOA"))
    assert JacketOrder.objects.get().name_on_jacket == "NOA"


def test_a_change_to_somebody_elses_name_is_refused() -> None:
    team_order = make_team_order()
    make_jacket_order(team_order, "Ida Holm")
    mine = make_jacket_order(team_order, "Noa Lind")
    with pytest.raises(OrderError, match="under this name already"):
        change_jacket(mine, facts_for(team_order, member="IDA HOLM"))
    change_jacket(mine, facts_for(team_order, member="NOA LIND"))


def test_a_cancelled_jacket_goes_with_its_links_and_its_payments_stay() -> None:
    team_order = make_team_order()
    link = order_jacket(team_order, facts_for(team_order), form_key=uuid4())
    payment = Payment.objects.create(
        team_order=team_order,
        jacket_order=ordered_by(link),
        receipt="2026-0001",
        kind="payment",
        amount=Decimal(10),
        paid_on=TODAY,
    )
    cancel_jacket(ordered_by(link))
    assert not JacketOrder.objects.exists()
    assert not AccessLink.objects.exists()
    payment.refresh_from_db()
    assert payment.jacket_order is None
    latest = Amendment.objects.first()
    assert latest is not None
    assert (latest.words, latest.by_link) == ("removed Noa Lind, M, Harbor", "member")


def test_a_jacket_that_the_maker_removed_meanwhile_is_said_to_be_gone() -> None:
    team_order = make_team_order()
    jacket_order = make_jacket_order(team_order, "Noa Lind")
    facts = facts_for(team_order)
    JacketOrder.objects.all().delete()
    with pytest.raises(OrderError, match="no longer in the order"):
        change_jacket(jacket_order, facts)
