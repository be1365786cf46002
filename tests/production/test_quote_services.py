"""Quotes as they are begun, changed, sent and answered."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from orders.errors import OrderError
from orders.models import TeamOrder
from orders.services import delete_team_order
from patterns.models import Fabric, Workroom
from patterns.services import workroom
from production.errors import ProductionError
from production.models import LayPlan, Quote
from production.planning.quotes.quote_changes import WhatIf
from production.quoting import quote_answers, quotes
from production.quoting.quote_paper import paper_of
from production.quoting.quote_snapshots import (
    cloth_experience,
    lines_to_add,
    weighted_kinds,
    what_if,
)
from production.quoting.quotes import QuoteFacts, QuoteRefusedError
from tests.production.quote_factories import make_order_to_quote
from tests.production.run_factories import make_run

pytestmark = pytest.mark.django_db


def make_quote(**values: Any) -> Quote:
    return quotes.begin_quote(make_order_to_quote(**values), by=None)


def facts_of(quote: Quote, **values: Any) -> QuoteFacts:
    terms = quotes.load_terms(quote)
    known = QuoteFacts(
        margin=terms.margin,
        tax_rate=terms.tax_rate,
        deposit_share=terms.deposit_share,
        valid_until=quote.valid_until,
        words=quote.words,
        not_included=quote.not_included,
        weights=terms.weights,
    )
    return replace(known, **values)


def sent_quote(**values: Any) -> Quote:
    return quotes.send(make_quote(**values), by=None)


def price_of(quote: Quote, jackets: int) -> Decimal:
    return quotes.load_figures(quote).offer(jackets).price


def last_words(order: TeamOrder) -> str:
    amendment = order.amendments.first()
    assert amendment is not None
    return amendment.words


def test_a_quote_is_reckoned_before_anyone_has_ordered() -> None:
    quote = make_quote()
    assert quote.code == f"Q-{quote.pk:04d}"
    assert (quote.state, quote.currency) == (Quote.State.DRAFT, "EUR")
    assert quotes.load_terms(quote).weights == (1, 1, 1)
    assert (quote.valid_until - quote.quoted_on).days == workroom().quote_days
    assert price_of(quote, 10) > price_of(quote, 20) > price_of(quote, 40) > price_of(quote, 80)
    assert last_words(quote.team_order).startswith(f"quote {quote.code} begun: 10 for ")


def test_the_mix_is_that_of_the_jackets_ordered() -> None:
    order = make_order_to_quote(
        colorways=(("Dawn", "breakwater", "oat"), ("Harbor", "breakwater", "spruce")),
        sizes=("YM", "M"),
        jackets=(("M", "Harbor"), ("M", "Harbor"), ("YM", "Dawn"), ("XL", "Dawn")),
    )
    weights = {
        (colorway.name, size.code): weight
        for (colorway, size), weight in weighted_kinds(order).items()
    }
    # XL is in the mix, though members may not choose it any more.
    assert weights == {
        ("Dawn", "YM"): 1,
        ("Harbor", "YM"): 0,
        ("Dawn", "M"): 0,
        ("Harbor", "M"): 2,
        ("Dawn", "XL"): 1,
    }
    figures = quotes.load_figures(quotes.begin_quote(order, by=None))
    assert [offer.jackets for offer in figures.offers] == [4, 10, 20, 40, 80]
    assert {(k.colorway, k.size, k.jackets) for k in figures.offer(4).kinds} == {
        ("Harbor", "M", 2),
        ("Dawn", "YM", 1),
        ("Dawn", "XL", 1),
    }


def test_an_order_without_a_colorway_is_told_so() -> None:
    order = make_order_to_quote(colorways=())
    with pytest.raises(ProductionError, match="has no colorway yet"):
        quotes.begin_quote(order, by=None)
    assert not Quote.objects.exists()


def test_a_cancelled_order_is_not_quoted() -> None:
    with pytest.raises(QuoteRefusedError, match="is cancelled"):
        make_quote(state=TeamOrder.State.CANCELLED)


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_any_currency_is_quoted_with_its_decimals(currency: str) -> None:
    workroom()
    Workroom.objects.update(currency=currency)
    figures = quotes.load_figures(make_quote(sizes=("M",)))
    places = {"JPY": 0, "KWD": -3}[currency]
    for offer in figures.offers:
        assert offer.price.as_tuple().exponent == places
        assert offer.price * offer.jackets == offer.gross


def test_a_draft_is_revised_and_says_what_changed() -> None:
    quote = make_quote()
    before = price_of(quote, 10)
    day = quote.valid_until + datetime.timedelta(days=5)
    facts = facts_of(quote, margin=Decimal("0.25"), valid_until=day, weights=(1, 0, 0))
    revised = quotes.revise(quote, facts, by=None)
    assert quotes.load_terms(revised).margin == Decimal("0.25")
    assert {kind.size for kind in quotes.load_figures(revised).offer(10).kinds} == {"YM"}
    assert price_of(revised, 10) != before
    words = last_words(quote.team_order)
    assert f"valid until {quote.valid_until} to {day}" in words
    assert "another mix of sizes and colorways" in words


def test_a_margin_of_all_is_refused_and_nothing_is_lost() -> None:
    quote = make_quote(sizes=("M",))
    with pytest.raises(QuoteRefusedError, match="leaves no price"):
        quotes.revise(quote, facts_of(quote, margin=Decimal(1)), by=None)
    with pytest.raises(QuoteRefusedError) as refused:
        early = quote.quoted_on - datetime.timedelta(days=1)
        quotes.revise(quote, facts_of(quote, valid_until=early), by=None)
    assert refused.value.field == "valid_until"
    stored = Quote.objects.get(pk=quote.pk)
    assert (stored.terms, stored.figures) == (quote.terms, quote.figures)


def test_a_draft_changed_on_another_page_is_not_overwritten() -> None:
    quote = make_quote(sizes=("M",))
    elsewhere = Quote.objects.get(pk=quote.pk)
    quotes.revise(elsewhere, facts_of(elsewhere, margin=Decimal("0.3")), by=None)
    with pytest.raises(QuoteRefusedError, match="on another page meanwhile"):
        quotes.revise(quote, facts_of(quote, margin=Decimal("0.1")), by=None)
    assert quotes.load_terms(Quote.objects.get(pk=quote.pk)).margin == Decimal("0.3")


def test_what_is_sent_stays_as_it_is() -> None:
    quote = sent_quote(sizes=("M",))
    for change in (
        lambda: quotes.revise(quote, facts_of(quote, margin=Decimal("0.5")), by=None),
        lambda: quotes.take_over(quote, WhatIf(margin=Decimal("0.5")), by=None),
        lambda: quotes.reckon_anew(quote, by=None),
        lambda: quotes.drop(quote, by=None),
        lambda: quotes.send(quote, by=None),
    ):
        with pytest.raises(QuoteRefusedError, match="is sent and stays as it was"):
            change()


def test_a_draft_is_not_sent_past_its_day() -> None:
    quote = make_quote(sizes=("M",))
    long_ago = datetime.date(2020, 1, 1)
    Quote.objects.filter(pk=quote.pk).update(quoted_on=long_ago, valid_until=long_ago)
    with pytest.raises(QuoteRefusedError, match="which is past"):
        quotes.send(quote, by=None)


def test_an_accepted_quote_stays_when_prices_change() -> None:
    from production.documents import quote as document

    accepted = quote_answers.accept(sent_quote(sizes=("M",)), 20, by=None)
    kept = (accepted.figures, accepted.terms, accepted.snapshot)
    page = io.BytesIO()
    document.write(page, paper_of(accepted))
    Fabric.objects.update(price_per_m=Decimal("99.00"))
    Workroom.objects.update(labor_per_hour=Decimal("99.00"), margin=Decimal("0.5"), name="Other")
    again, stored = io.BytesIO(), Quote.objects.get(pk=accepted.pk)
    document.write(again, paper_of(stored))
    assert (stored.figures, stored.terms, stored.snapshot) == kept
    assert again.getvalue() == page.getvalue()
    fresh = quotes.begin_quote(stored.team_order, by=None)
    assert price_of(fresh, 20) > price_of(stored, 20)


def test_accepting_sets_the_price_and_tells_the_deposit() -> None:
    quote = sent_quote(sizes=("M",))
    accepted = quote_answers.accept(quote, 40, by=None, sets_price=True)
    offer = quotes.load_figures(quote).offer(40)
    order = TeamOrder.objects.get(pk=quote.team_order.pk)
    assert order.price == offer.price
    assert (accepted.state, accepted.quantity) == ("accepted", 40)
    told = [amendment.words for amendment in order.amendments.all()]
    assert f"a deposit of {offer.deposit} EUR is expected" in told[1]
    assert told[0] == f"price none to {offer.price} EUR"


def test_accepting_leaves_the_price_where_it_is_not_wanted() -> None:
    quote = sent_quote(sizes=("M",), price=Decimal("70.00"))
    quote_answers.accept(quote, 40, by=None)
    assert TeamOrder.objects.get(pk=quote.team_order.pk).price == Decimal("70.00")


def test_an_order_keeps_a_price_in_thousandths() -> None:
    workroom()
    Workroom.objects.update(currency="KWD")
    quote = sent_quote(sizes=("M",))
    fine = next(
        offer.jackets
        for offer in quotes.load_figures(quote).offers
        if offer.price != round(offer.price, 2)
    )
    quote_answers.accept(quote, fine, by=None, sets_price=True)
    price = TeamOrder.objects.get(pk=quote.team_order.pk).price
    assert (
        price and price != round(price, 2) and price == quotes.load_figures(quote).offer(fine).price
    )


def test_past_its_day_it_takes_a_word_why() -> None:
    quote = sent_quote(sizes=("M",))
    yesterday = timezone.localdate() - datetime.timedelta(days=1)
    Quote.objects.filter(pk=quote.pk).update(quoted_on=yesterday, valid_until=yesterday)
    with pytest.raises(QuoteRefusedError, match="Write why") as refused:
        quote_answers.accept(quote, 10, by=None, answer="  ")
    assert refused.value.field == "answer"
    accepted = quote_answers.accept(quote, 10, by=None, answer="The club met a day late")
    assert accepted.answer == "The club met a day late"


def test_a_quote_is_accepted_for_one_of_its_numbers() -> None:
    quote = sent_quote(sizes=("M",))
    with pytest.raises(QuoteRefusedError, match="Choose one of 10, 20, 40, 80"):
        quote_answers.accept(quote, 11, by=None)
    with pytest.raises(QuoteRefusedError, match="is not sent yet"):
        quote_answers.accept(quotes.begin_quote(quote.team_order, by=None), 10, by=None)


def test_an_order_has_one_accepted_quote() -> None:
    first = sent_quote(sizes=("M",))
    second = quotes.send(quotes.begin_quote(first.team_order, by=None), by=None)
    quote_answers.accept(first, 10, by=None)
    with pytest.raises(QuoteRefusedError, match=f"{first.code} is accepted for this order"):
        quote_answers.accept(second, 10, by=None)
    assert Quote.objects.get(pk=second.pk).state == Quote.State.SENT
    declined = quote_answers.decline(second, by=None, answer="Too dear")
    assert last_words(first.team_order) == f"quote {second.code} declined: Too dear"
    with pytest.raises(QuoteRefusedError, match="is declined already"):
        quote_answers.accept(declined, 10, by=None)


def test_a_draft_can_be_thrown_away_and_its_code_is_not_given_again() -> None:
    quote = make_quote(sizes=("M",))
    order, code = quote.team_order, quote.code
    quotes.drop(quote, by=None)
    assert not Quote.objects.exists()
    assert last_words(order) == f"quote {code} thrown away, never sent"
    assert quotes.begin_quote(order, by=None).code != code


def test_an_order_with_a_quote_is_not_deleted() -> None:
    quote = make_quote(sizes=("M",))
    with pytest.raises(OrderError, match=f"{quote.code} names it; cancel the order instead"):
        delete_team_order(quote.team_order, by=None)
    assert TeamOrder.objects.filter(pk=quote.team_order.pk).exists()


def test_one_more_style_line_is_cut_for_real() -> None:
    quote = make_quote(sizes=("M",))
    snapshot, terms = quotes.load_snapshot(quote), quotes.load_terms(quote)
    assert lines_to_add(snapshot)["boathouse:byoke"] == "back yoke seam (Boathouse)"
    # Breakwater cuts the front itself, so no other line can.
    assert "boathouse:fyoke" not in lines_to_add(snapshot)
    other, _, told = what_if(snapshot, terms, WhatIf(style_line="boathouse:byoke"))
    assert told == ("one more style line, back yoke seam",)
    (jacket,) = other.jackets
    blocks = dict(jacket.blocks)
    assert "BK" not in blocks
    # The yoke is there for color: it takes the jacket's other one.
    assert (blocks["B-BB"], blocks["B-BY"]) == ("spruce", "oat")
    assert any(seam.seam == "byoke" for seam in other.seams)
    taken = quotes.take_over(quote, WhatIf(style_line="boathouse:byoke"), by=None)
    assert quotes.load_terms(taken).changed == told
    labor = [quotes.load_figures(one).offer(80).costs.labor for one in (quote, taken)]
    assert labor[1] > labor[0]


def test_another_blocking_cuts_all_jackets() -> None:
    quote = make_quote(
        colorways=(("Dawn", "breakwater", "oat"), ("Harbor", "boathouse", "spruce")), sizes=("M",)
    )
    snapshot, terms = quotes.load_snapshot(quote), quotes.load_terms(quote)
    other, _, told = what_if(snapshot, terms, WhatIf(blocking="oar-stripe"), draws=True)
    assert told == ("all jackets cut as Oar Stripe",)
    assert {jacket.blocking for jacket in other.jackets} == {"oar-stripe"}
    (blocking,) = other.blockings
    assert [picture.view for picture in blocking.pictures] == ["front", "back", "open"]
    taken = quotes.take_over(quote, WhatIf(blocking="oar-stripe"), by=None)
    assert price_of(taken, 40) != price_of(quote, 40)


def test_a_line_or_a_blocking_that_is_not_there_is_told() -> None:
    quote = make_quote(sizes=("M",))
    basis = quotes.load_snapshot(quote), quotes.load_terms(quote)
    with pytest.raises(ProductionError, match="There is no blocking nowhere"):
        what_if(*basis, WhatIf(blocking="nowhere"))
    with pytest.raises(ProductionError, match="cuts no piece that is whole here"):
        what_if(*basis, WhatIf(style_line="boathouse:fyoke"))
    with pytest.raises(QuoteRefusedError, match="Nothing is otherwise"):
        quotes.take_over(quote, WhatIf(), by=None)


def test_cloth_too_narrow_for_a_block_is_told_and_nothing_changes() -> None:
    quote = make_quote(sizes=("XL",))
    narrow = WhatIf(fabric="fleece-280", usable_width_mm=300)
    with pytest.raises(QuoteRefusedError, match="Nothing was changed"):
        quotes.take_over(quote, narrow, by=None)
    assert Quote.objects.get(pk=quote.pk).snapshot == quote.snapshot


def test_reckoning_anew_takes_the_prices_of_today() -> None:
    quote = make_quote(sizes=("M",))
    quotes.take_over(quote, WhatIf(margin=Decimal("0.5")), by=None)
    Fabric.objects.update(price_per_m=Decimal("30.00"))
    anew = quotes.reckon_anew(Quote.objects.get(pk=quote.pk), by=None)
    assert quotes.load_terms(anew).margin == workroom().margin
    assert quotes.load_terms(anew).changed == ()
    assert price_of(anew, 80) > price_of(quote, 80)


def test_cloth_goes_by_what_earlier_tickets_took() -> None:
    assert cloth_experience({"fleece"}) == ()
    run = make_run(jackets=2)
    for ticket in run.cut_tickets.all():
        plain = {"lays": [], "cutting_minutes": 10, "cost": 10}
        LayPlan.objects.create(ticket=ticket, aim="rows", fabric_mm=10_000, **plain)
        LayPlan.objects.create(ticket=ticket, aim="money", fabric_mm=9_000, is_in_use=True, **plain)
    (found,) = cloth_experience({"fleece"})
    tickets = run.cut_tickets.count()
    assert (found.used_mm, found.rows_mm) == (9_000 * tickets, 10_000 * tickets)
    assert found.tickets == tickets
    assert found.saved_share == Decimal("0.1")
    assert cloth_experience({"another"}) == ()
