from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.money import decimals_of
from production.planning.costs import LINES
from production.planning.plan import PlanError
from production.planning.quotes.quote_changes import WhatIf, with_numbers
from production.planning.quotes.quote_mix import apportioned, mix_counts, mixed, split
from production.planning.quotes.quote_shares import together
from production.planning.quotes.quotes import (
    ClothExperience,
    Figures,
    Offer,
    Terms,
    prices,
    reckon,
)
from production.planning.snapshot import RunSnapshot
from tests.production.planning_factories import (
    make_fabric,
    make_jacket,
    make_operation,
    make_snapshot,
    make_workroom,
)


def make_terms(**values: Any) -> Terms:
    return Terms(
        **{
            "margin": Decimal("0.15"),
            "tax_rate": Decimal("0.19"),
            "deposit_share": Decimal("0.3"),
            "weights": (1, 1),
            **values,
        }
    )


def two_kinds(**values: Any) -> RunSnapshot:
    """Small and medium jackets of one colorway."""
    return make_snapshot(jackets=(make_jacket("1", size="S"), make_jacket("2", size="M")), **values)


def test_what_is_left_goes_to_the_largest_remainders() -> None:
    # Quotas of 2.857, 4.286 and 2.857: two are left after 2, 4 and 2.
    assert apportioned(10, (2, 3, 2)) == (3, 4, 3)
    assert apportioned(3, (0, 1, 0)) == (0, 3, 0)


def test_equal_remainders_are_taken_evenly_spread() -> None:
    assert apportioned(2, (1, 1, 1, 1)) == (0, 1, 0, 1)
    assert apportioned(1, (1, 1, 1)) == (0, 1, 0)


def test_weights_of_nothing_count_alike() -> None:
    assert apportioned(4, (0, 0)) == (2, 2)
    with pytest.raises(ValueError, match="below 0"):
        apportioned(4, (1, -1))


@given(st.integers(0, 5000), st.lists(st.integers(0, 50), min_size=1, max_size=12))
def test_shares_add_up_and_lie_within_one_of_their_quotas(units, weights) -> None:
    shares = apportioned(units, weights)
    assert sum(shares) == units
    if any(weights):
        for share, weight in zip(shares, weights, strict=True):
            assert abs(share - units * weight / sum(weights)) < 1


def test_an_amount_is_split_in_coins_of_its_currency() -> None:
    assert split(Decimal("1.00"), (1, 1, 1), "EUR") == (
        Decimal("0.33"),
        Decimal("0.34"),
        Decimal("0.33"),
    )
    assert split(Decimal(100), (1, 2), "JPY") == (Decimal(33), Decimal(67))
    assert sum(split(Decimal("0.100"), (1, 1, 1), "KWD")) == Decimal("0.100")


def test_the_ordered_number_gives_the_ordered_mix() -> None:
    kinds = [
        make_jacket(str(n), size=size, colorway=colorway)
        for n, (size, colorway) in enumerate(
            (("S", "home"), ("S", "away"), ("M", "home"), ("M", "away"))
        )
    ]
    assert mix_counts(kinds, (5, 2, 0, 4), 11) == [5, 2, 0, 4]
    assert mix_counts(kinds, (5, 2, 0, 4), 22) == [10, 4, 0, 8]


def test_few_jackets_of_a_wide_mix_are_a_fair_sample() -> None:
    """Ten of eleven sizes in six colorways: no size is there twice, and every colorway is there."""
    kinds = [
        make_jacket(f"{size}-{colorway}", size=f"size {size:02d}", colorway=colorway)
        for size in range(11)
        for colorway in "abcdef"
    ]
    counts = mix_counts(kinds, (1,) * 66, 10)
    of = [kind for kind, count in zip(kinds, counts, strict=True) for _ in range(count)]
    assert len({kind.size for kind in of}) == 10
    assert {kind.size for kind in of} >= {"size 00", "size 10"}
    assert {kind.colorway for kind in of} == set("abcdef")


def test_every_jacket_of_a_mix_has_its_own_code() -> None:
    run = mixed(two_kinds(), (2, 1), 6)
    assert [(j.code, j.size) for j in run.jackets] == [
        ("1.1", "S"),
        ("1.2", "S"),
        ("1.3", "S"),
        ("1.4", "S"),
        ("2.1", "M"),
        ("2.2", "M"),
    ]
    with pytest.raises(PlanError, match="has a weight"):
        mixed(two_kinds(), (0, 0), 6)


def test_the_price_of_a_hand_worked_quote() -> None:
    # 850.00 / (1 - 0.15) = 1000.00 net; x 1.19 = 1190.00 gross; 119.00 for each of ten.
    price, gross, net = prices(Decimal("850.00"), 10, make_terms(), "EUR")
    assert (price, gross, net) == (Decimal("119.00"), Decimal("1190.00"), Decimal("1000.00"))


def test_the_price_is_rounded_up_to_the_smallest_coin() -> None:
    # 100.00 / 0.85 x 1.19 / 3 = 46.666…: 46.67 each, 140.01 in all, 140.01 / 1.19 = 117.655… net.
    price, gross, net = prices(Decimal("100.00"), 3, make_terms(), "EUR")
    assert (price, gross, net) == (Decimal("46.67"), Decimal("140.01"), Decimal("117.66"))
    # In yen: 1000 / 0.85 x 1.19 / 3 = 466.67 -> 467 each, 1401 in all, 1177.3 -> 1177 net.
    assert prices(Decimal(1000), 3, make_terms(), "JPY") == (
        Decimal(467),
        Decimal(1401),
        Decimal(1177),
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"margin": Decimal(1)}, "A margin of 100 % leaves no price"),
        ({"margin": Decimal("-0.1")}, "A margin of -10.0 %"),
        ({"tax_rate": Decimal("-0.01")}, "The tax is below 0"),
        ({"deposit_share": Decimal(2)}, "Enter 0 to 100 %"),
        ({"weights": (1,)}, "do not fit"),
        ({"weights": (1, -1)}, "do not fit"),
        ({"weights": (0, 0)}, "Give at least one of them 1 or more"),
    ],
)
def test_terms_that_cannot_be_are_refused(values: dict[str, Any], words: str) -> None:
    with pytest.raises(PlanError, match=words):
        reckon(two_kinds(), make_terms(**values))


def test_a_negative_price_is_refused() -> None:
    snapshot = two_kinds(fabrics=(make_fabric(price_per_m=Decimal("-11.80")),))
    with pytest.raises(PlanError, match="below 0"):
        reckon(snapshot, make_terms())


def test_one_jacket_costs_less_the_more_there_are() -> None:
    figures = reckon(two_kinds(), make_terms(own=38))
    assert [offer.jackets for offer in figures.offers] == [10, 20, 38, 40, 80]
    ten, twenty, _, forty, eighty = (offer.price for offer in figures.offers)
    assert ten > twenty > forty > eighty


def check_sums(offer: Offer, currency: str, terms: Terms) -> None:
    assert offer.gross == offer.price * offer.jackets
    assert offer.net + offer.tax == offer.gross
    assert offer.costs.total + offer.margin == offer.net
    assert sum(part.amount for part in offer.parts) == offer.costs.total
    assert sum(stage.amount for stage in offer.stages) == offer.costs.labor
    for line in LINES:
        assert sum(getattr(kind, line) for kind in offer.kinds) == getattr(offer.costs, line)
    assert sum(kind.cost for kind in offer.kinds) == offer.costs.total
    assert sum(kind.gross for kind in offer.kinds) == offer.gross
    assert sum(kind.jackets for kind in offer.kinds) == offer.jackets
    for respect in ("size", "colorway"):
        assert sum(one.gross for one in together(offer.kinds, respect)) == offer.gross
    coin = Decimal(1).scaleb(-decimals_of(currency))
    wanted = offer.costs.total / (1 - terms.margin)
    assert wanted - coin <= offer.net <= wanted + (offer.jackets + 1) * coin


@settings(max_examples=25)
@given(
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
    money=st.lists(st.decimals(0, 300, places=2), min_size=2, max_size=2),
    shares=st.lists(st.decimals(0, Decimal("0.9"), places=3), min_size=6, max_size=6),
    weights=st.lists(st.integers(0, 5), min_size=3, max_size=3).filter(any),
    own=st.integers(0, 60),
)
def test_random_quotes_add_up_to_the_smallest_coin(currency, money, shares, weights, own) -> None:
    fabric_price, wage = money
    margin, tax, deposit, overhead, fabric_waste, notion_waste = shares
    snapshot = make_snapshot(
        jackets=(
            make_jacket("1", size="S"),
            make_jacket("2", size="M"),
            make_jacket(
                "3",
                size="M",
                colorway="away",
                blocks=(("FR", "oat"), ("BK", "oat"), ("CO", "slate")),
            ),
        ),
        fabrics=(make_fabric(price_per_m=fabric_price),),
        workroom=make_workroom(
            currency=currency,
            labor_per_hour=wage,
            overhead=overhead,
            fabric_waste=fabric_waste,
            notion_waste=notion_waste,
        ),
    )
    terms = make_terms(
        margin=margin, tax_rate=tax, deposit_share=deposit, weights=tuple(weights), own=own
    )
    for offer in reckon(snapshot, terms).offers:
        check_sums(offer, currency, terms)


def test_a_larger_size_bears_more_cloth_and_minutes() -> None:
    offer = reckon(two_kinds(), make_terms()).offer(20)
    small, medium = offer.kinds
    assert (small.size, small.jackets, medium.size, medium.jackets) == ("S", 10, "M", 10)
    assert medium.fabric > small.fabric
    assert medium.gross > small.gross


def test_fabric_goes_by_the_area_that_is_cut() -> None:
    offer = reckon(two_kinds(), make_terms()).offer(20)
    _, medium = offer.kinds
    # Blocks of S: two of 600 x 280 less 100 x 80, 600 x 500 and 400 x 80. M: 20 mm more each way,
    # but for the collar.
    area_s = 2 * (600 * 280 - 8000) + 600 * 500 + 400 * 80
    area_m = 2 * (620 * 300 - 8000) + 620 * 520 + 420 * 80
    # The collars are all oat; spruce and oat are apart, so the shares follow within a few cents.
    expected = float(offer.costs.fabric) * area_m / (area_s + area_m)
    assert float(medium.fabric) == pytest.approx(expected, rel=0.01)


def test_experience_corrects_the_cloth_alone() -> None:
    plain = reckon(two_kinds(), make_terms()).offer(40)
    terms = make_terms(cloth=(ClothExperience("fleece", 9_000, 10_000, 3),))
    better = reckon(two_kinds(), terms).offer(40)
    for was, now in zip(
        (part for part in plain.parts if part.line == "fabric"),
        (part for part in better.parts if part.line == "fabric"),
        strict=True,
    ):
        # 90 % of it, in whole mm up
        assert was.quantity * Decimal("0.9") <= now.quantity
        assert now.quantity - was.quantity * Decimal("0.9") < Decimal("0.001")
    assert better.costs.labor == plain.costs.labor
    assert terms.cloth[0].saved_share == Decimal("0.1")


def test_fixed_work_names_lays_runs_and_changeovers() -> None:
    ticket_papers = make_operation("papers", "cut", "run", minutes_each=Decimal(30))
    snapshot = make_snapshot(
        jackets=(make_jacket("1"),), operations=(*make_snapshot().operations, ticket_papers)
    )
    figures = reckon(snapshot, make_terms(weights=(1,)))
    for offer in figures.offers:
        work = {one.name: one for one in offer.fixed}
        # 30 min x 1.11 = 33.30 min, at 24.00 an hour 13.32: the same for any number of jackets.
        assert (work["work papers"].count, work["work papers"].amount) == (1, Decimal("13.32"))
        lays = work["work mark"]
        assert lays.minutes == Decimal(10) * lays.count * Decimal("1.11")
        assert any(name.startswith("Change of") for name in work)
        assert not any(name in work for name in ("work spread", "work seam"))
    shares = [offer.fixed_amount / offer.jackets for offer in figures.offers]
    assert shares == sorted(shares, reverse=True)


def changed(what: WhatIf) -> tuple[Figures, tuple[str, ...]]:
    snapshot, terms, words = with_numbers(two_kinds(), make_terms(), what)
    return reckon(snapshot, terms), words


def test_what_if_nothing_is_otherwise() -> None:
    figures, words = changed(WhatIf(fabric="fleece", usable_width_mm=1400, margin=Decimal("0.15")))
    assert words == ()
    assert figures == reckon(two_kinds(), make_terms())


@pytest.mark.parametrize(
    ("what", "words", "line"),
    [
        (
            WhatIf(fabric="fleece", price_per_m=Decimal("20.00")),
            "Test fleece at 20.00 EUR a metre instead of 10.00",
            "fabric",
        ),
        (
            WhatIf(labor_per_hour=Decimal("30.00")),
            "wage 30.00 EUR an hour instead of 24.00",
            "labor",
        ),
    ],
)
def test_what_if_a_price_is_otherwise(what: WhatIf, words: str, line: str) -> None:
    before = reckon(two_kinds(), make_terms()).offer(40)
    figures, told = changed(what)
    after = figures.offer(40)
    assert told == (words,)
    assert getattr(after.costs, line) > getattr(before.costs, line)
    assert after.price > before.price


def test_what_if_the_cloth_is_wider() -> None:
    figures, told = changed(WhatIf(fabric="fleece", usable_width_mm=2000))
    assert told == ("Test fleece 2000 mm wide instead of 1400 mm",)
    before = reckon(two_kinds(), make_terms())
    assert figures.offer(80).costs.fabric < before.offer(80).costs.fabric


def test_what_if_the_margin_is_otherwise() -> None:
    figures, told = changed(WhatIf(margin=Decimal("0.25")))
    assert told == ("margin 25 % instead of 15 %",)
    before = reckon(two_kinds(), make_terms()).offer(10)
    after = figures.offer(10)
    assert after.costs == before.costs
    # net = cost / 0.75, and the price is rounded up by less than a cent a jacket.
    assert after.net - before.costs.total / Decimal("0.75") < Decimal("0.11")


def test_what_if_work_is_learnt() -> None:
    figures, told = changed(WhatIf(learning_rate=Decimal("0.9")))
    assert told == ("learning rate 90 % instead of none",)
    before = reckon(two_kinds(), make_terms())
    assert figures.offer(80).costs.labor < before.offer(80).costs.labor


def test_an_unknown_quantity_has_no_offer() -> None:
    figures = reckon(two_kinds(), replace(make_terms(), own=0))
    with pytest.raises(KeyError):
        figures.offer(11)
