from __future__ import annotations

import io
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from orders.models import TeamOrder
from patterns.models import Workroom
from patterns.services import workroom
from production.models import Quote
from production.quoting import quote_answers, quotes
from production.quoting.quote_curve import curve
from production.quoting.quote_sheet import opened_lines, price_rows, shares
from tests.production.quote_factories import make_order_to_quote
from tests.production.run_factories import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def order() -> TeamOrder:
    return make_order_to_quote(
        colorways=(("Dawn", "breakwater", "oat"), ("Harbor", "breakwater", "spruce")),
        sizes=("YM", "XL"),
    )


@pytest.fixture
def maker(client: Client) -> Client:
    client.force_login(make_person("mara", "maker"))
    return client


@pytest.fixture
def quote(order: TeamOrder) -> Quote:
    return quotes.begin_quote(order, by=None)


def address(name: str, quote: Quote) -> str:
    return reverse(f"production:{name}", args=[quote.code])


def text_of(page: bytes) -> str:
    return " ".join(
        " ".join(leaf.extract_text() for leaf in PdfReader(io.BytesIO(page)).pages).split()
    )


def form_of(quote: Quote) -> dict[str, str]:
    """What the edit form of a draft sends when nothing is changed."""
    terms = quotes.load_terms(quote)
    kinds = quotes.load_snapshot(quote).jackets
    return {
        "margin": "15",
        "tax_rate": "19",
        "deposit_share": "30",
        "valid_until": quote.valid_until.isoformat(),
        "words": "Thank you for asking.",
        "not_included": quote.not_included,
        **{
            f"weight-{kind.size}-{kind.colorway}": str(weight)
            for kind, weight in zip(kinds, terms.weights, strict=True)
        },
    }


def test_a_quote_is_begun_from_the_page_of_its_order(maker: Client, order: TeamOrder) -> None:
    page = maker.get(reverse("orders:team_order", args=[order.code])).content.decode()
    link = f"{reverse('production:new_quote')}?order={order.code}"
    assert link in page
    assert "Reckon a quote" in maker.get(link).content.decode()
    answer = maker.post(reverse("production:new_quote"), {"order": order.code})
    assert answer["Location"] == Quote.objects.get().get_absolute_url()


def test_an_order_without_a_colorway_says_what_to_do_first(maker: Client) -> None:
    make_order_to_quote(colorways=())
    page = maker.get(reverse("production:new_quote"), {"order": "TQ-99A"}).content.decode()
    assert "has no colorway yet" in page
    assert "Reckon a quote" not in page
    answer = maker.post(reverse("production:new_quote"), {"order": "TQ-99A"})
    assert "Add one first" in answer.content.decode()
    assert not Quote.objects.exists()


def test_quotes_are_the_makers_alone(client: Client, quote: Quote) -> None:
    client.force_login(make_person("hal", "helper"))
    for name in ("quote", "edit_quote", "quote_pdf"):
        assert client.get(address(name, quote)).status_code == 403
    for name in ("send_quote", "accept_quote", "decline_quote", "drop_quote", "take_over_quote"):
        assert client.post(address(name, quote)).status_code == 403
    assert client.get(reverse("production:quotes")).status_code == 403
    assert client.get(reverse("production:new_quote")).status_code == 403


def test_the_page_shows_every_quantity_and_opens_every_line(maker: Client, quote: Quote) -> None:
    page = maker.get(address("quote", quote)).content.decode()
    figures = quotes.load_figures(quote)
    for offer in figures.offers:
        assert f"{offer.jackets} jackets</th>" in page
        assert f">{offer.price}<" in page
        assert f">{offer.gross}<" in page
    assert page.count("<details") == 7  # six lines and the fixed work
    for words in ("Fabric", "Thread", "Notions", "Labor", "Overhead", "Waste"):
        assert f'<span class="source-name">{words}</span>' in page
    assert "at 11.80 EUR a metre" in page
    assert "Sewing at 24.00 EUR an hour" in page
    assert "3 % of fabric" in page
    assert "Set up and mark the lay" in page


def test_the_sources_of_a_line_add_up_to_it(quote: Quote) -> None:
    figures, snapshot = quotes.load_figures(quote), quotes.load_snapshot(quote)
    for line in opened_lines(figures, snapshot):
        for at, amount in enumerate(line.amounts):
            cells = [source.cells[at] for source in line.sources]
            assert sum(cell[1] for cell in cells if cell) == amount, line.code
    rows = {row.label: row.amounts for row in price_rows(figures, quotes.load_terms(quote))}
    for at, offer in enumerate(figures.offers):
        assert rows["All jackets, with tax"][at] == offer.jackets * offer.price


def test_sizes_and_colorways_stand_apart_where_they_differ(maker: Client, quote: Quote) -> None:
    offer = quotes.load_figures(quote).offer(80)
    by_size = shares(offer, "size", "EUR")
    assert [share.name for share in by_size] == ["YM", "XL"]
    assert by_size[1].each > by_size[0].each
    assert sum(share.gross for share in by_size) == offer.gross
    page = maker.get(address("quote", quote), {"n": "80"}).content.decode()
    assert "By size and colorway, for 80 jackets" in page
    assert f"<strong>{by_size[1].each}</strong>" in page


def test_the_curve_tells_its_prices_to_those_who_do_not_see_it(quote: Quote) -> None:
    figures = quotes.load_figures(quote)
    drawn = curve(figures)
    assert f"10 jackets {figures.offer(10).price} EUR" in drawn
    assert drawn.count("<circle") == 4
    assert "style=" not in drawn
    dots = [float(x) for x in re.findall(r'<circle cx="([\d.]+)"', drawn)]
    words = [float(x) for x in re.findall(r'<text x="([\d.]+)"[^>]*text-anchor="start"', drawn)]
    # Beside its dot, but for the last one, which the picture's edge holds back.
    assert [word - dot for dot, word in zip(dots[:-1], words[:-1], strict=True)] == [6.0] * 3
    assert curve(figures, figures).count("<polyline") == 2


def test_what_if_shows_the_difference_and_changes_nothing(maker: Client, quote: Quote) -> None:
    asked = {"fabric": "fleece-280", "margin": "30", "learning_rate": "100"}
    page = maker.get(address("quote", quote), asked).content.decode()
    assert "With margin 30 % instead of 15 %" in page
    assert "Take it over into the quote" in page
    part = maker.get(address("quote", quote), asked, headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert 'id="what-if-found"' in part.content.decode()
    assert Quote.objects.get(pk=quote.pk).figures == quote.figures


def test_what_if_nothing_is_otherwise_says_so(maker: Client, quote: Quote) -> None:
    page = maker.get(address("quote", quote), {"fabric": "fleece-280", "margin": "15"})
    assert "Nothing is otherwise yet" in page.content.decode()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"margin": "100"}, "Enter a number from 0 to 99.9 percent."),
        ({"price_per_m": "-1"}, "greater than or equal to 0"),
        ({"usable_width_mm": "300"}, "300 mm"),
        ({"learning_rate": "20"}, "Enter a number from 50.1 to 100 percent."),
        ({"style_line": "nowhere"}, "Select a valid choice"),
    ],
)
def test_what_if_of_nonsense_is_told_and_keeps_what_was_typed(
    maker: Client, quote: Quote, asked: dict[str, str], words: str
) -> None:
    page = maker.get(address("quote", quote), {"fabric": "fleece-280", **asked}).content.decode()
    assert "Not reckoned:" in page
    assert words in page
    (value,) = asked.values()
    if "style_line" not in asked:
        assert f'value="{value}"' in page


def test_what_was_asked_is_taken_over_into_a_draft(maker: Client, quote: Quote) -> None:
    answer = maker.post(
        address("take_over_quote", quote),
        {"fabric": "fleece-280", "usable_width_mm": "1600", "margin": "15"},
        follow=True,
    )
    assert "The quote is reckoned with it" in answer.content.decode()
    assert quotes.load_terms(Quote.objects.get()).changed == (
        "Quay fleece 280 1600 mm wide instead of 1480 mm",
    )


def test_a_draft_is_edited(maker: Client, quote: Quote) -> None:
    assert maker.get(address("edit_quote", quote)).status_code == 200
    asked = {**form_of(quote), "margin": "20", "weight-YM-Dawn": "0", "weight-XL-Harbor": ""}
    answer = maker.post(address("edit_quote", quote), asked)
    assert answer["Location"] == quote.get_absolute_url()
    stored = Quote.objects.get()
    assert stored.words == "Thank you for asking."
    assert quotes.load_terms(stored).margin == Decimal("0.2")
    assert {(kind.size, kind.colorway) for kind in quotes.load_figures(stored).offer(10).kinds} == {
        ("YM", "Harbor"),
        ("XL", "Dawn"),
    }


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"margin": "100"}, "Enter a number from 0 to 99.9 percent."),
        ({"margin": "-5"}, "Enter a number from 0 to 99.9 percent."),
        ({"tax_rate": "200"}, "Enter a number from 0 to 100 percent."),
        ({"deposit_share": "101"}, "Enter a number from 0 to 100 percent."),
        ({"valid_until": "2020-01-01"}, "Name a day from then on"),
        ({"weight-YM-Dawn": "-1"}, "Dawn in YM: Ensure this value is greater than or equal to 0"),
        ({"weight-9XL-Dawn": "3"}, "The quote has no 9XL-Dawn"),
        (
            dict.fromkeys(
                ("weight-YM-Dawn", "weight-XL-Dawn", "weight-YM-Harbor", "weight-XL-Harbor"), "0"
            ),
            "Give at least one size and colorway a weight",
        ),
    ],
)
def test_a_bad_answer_is_told_and_nothing_is_lost(
    maker: Client, quote: Quote, changes: dict[str, str], words: str
) -> None:
    answer = maker.post(address("edit_quote", quote), {**form_of(quote), **changes})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert words in page
    assert "Thank you for asking." in page
    stored = Quote.objects.get()
    assert (stored.terms, stored.figures, stored.words) == (quote.terms, quote.figures, "")


def test_a_currency_without_decimals_is_quoted_in_whole_units(
    maker: Client, order: TeamOrder
) -> None:
    workroom()
    Workroom.objects.update(currency="JPY", labor_per_hour=Decimal(2400))
    maker.post(reverse("production:new_quote"), {"order": order.code})
    quote = Quote.objects.get()
    page = maker.get(quote.get_absolute_url()).content.decode()
    price = quotes.load_figures(quote).offer(10).price
    assert f'<td class="number">{price:f}</td>' in page
    assert "." not in f"{price:f}"
    Workroom.objects.update(currency="EUR")
    assert "the workroom counts in EUR now" in maker.get(quote.get_absolute_url()).content.decode()


def test_from_draft_to_accepted(maker: Client, quote: Quote) -> None:
    assert "Mark as sent" in maker.get(address("quote", quote)).content.decode()
    maker.post(address("send_quote", quote))
    page = maker.get(address("quote", quote)).content.decode()
    assert "What the club answers" in page
    assert "Mark as sent" not in page
    refused = maker.get(address("edit_quote", quote), follow=True).content.decode()
    assert "stays as it was" in refused
    asked = {"jackets": "20", "sets_price": "on", "answer": "Gladly"}
    page = maker.post(address("accept_quote", quote), asked, follow=True).content.decode()
    assert "is accepted and kept as it is" in page
    assert re.search(r"A deposit of [\d.]+ EUR is expected", page)
    order = TeamOrder.objects.get()
    assert order.price == quotes.load_figures(quote).offer(20).price


def test_an_answer_past_the_day_asks_why_at_its_field(maker: Client, quote: Quote) -> None:
    quotes.send(quote, by=None)
    Quote.objects.update(quoted_on="2020-01-01", valid_until="2020-01-31")
    assert "Past its day:" in maker.get(address("quote", quote)).content.decode()
    answer = maker.post(address("accept_quote", quote), {"jackets": "20", "answer": ""})
    assert "Write why it is taken all the same" in answer.content.decode()
    assert Quote.objects.get().state == Quote.State.SENT


def test_a_quote_is_declined(maker: Client, quote: Quote) -> None:
    quotes.send(quote, by=None)
    answer = maker.post(
        address("decline_quote", quote), {"decline-answer": "Next year"}, follow=True
    )
    assert "Begin another quote" in answer.content.decode()
    assert Quote.objects.get().answer == "Next year"


def test_a_draft_is_thrown_away_after_a_question(maker: Client, quote: Quote) -> None:
    assert "Keep it" in maker.post(address("drop_quote", quote)).content.decode()
    assert Quote.objects.exists()
    answer = maker.post(address("drop_quote", quote), {"sure": "yes"})
    assert answer["Location"] == quote.team_order.get_absolute_url()
    assert not Quote.objects.exists()


def test_the_list_names_quotes_and_narrows_them(maker: Client, quote: Quote) -> None:
    page = maker.get(reverse("production:quotes")).content.decode()
    figures = quotes.load_figures(quote)
    assert f"{figures.offer(80).price} to {figures.offer(10).price} EUR" in page
    none = maker.get(reverse("production:quotes"), {"state": "accepted"}).content.decode()
    assert "No quote fits" in none
    assert (
        quote.code in maker.get(reverse("production:quotes"), {"_export": "csv"}).content.decode()
    )


def test_the_list_takes_few_queries(
    maker: Client, quote: Quote, django_assert_max_num_queries
) -> None:
    for _ in range(3):
        quotes.begin_quote(quote.team_order, by=None)
    with django_assert_max_num_queries(8):
        maker.get(reverse("production:quotes"))


def test_the_first_quote_is_led_to(maker: Client) -> None:
    page = maker.get(reverse("production:quotes")).content.decode()
    assert "No quote yet" in page
    assert (
        "A quote is for a team order" in maker.get(reverse("production:new_quote")).content.decode()
    )


def test_the_pdf_says_it_in_plain_words(maker: Client, quote: Quote) -> None:
    page = maker.get(address("quote_pdf", quote))
    assert page["Content-Type"] == "application/pdf"
    text = text_of(page.getvalue())
    for words in (
        quote.code,
        "Draft, not sent yet",
        "Tern Quay Rowing Club",
        "Our workroom",
        "Spring jackets",
        "Dawn",
        "Harbor",
        "Prices in EUR",
        "The price is one for all sizes",
        "Good until",
        f"{quote.valid_until.day} {quote.valid_until:%B %Y}",
        "Saturday 14 March 2099",
        "a mix of 2 colorways in 2 sizes",
        "Tax of 19 % is in the prices. Where local tax rules ask for something else",
        "Not included",
        "Delivery or postage.",
    ):
        assert words in text
    for offer in quotes.load_figures(quote).offers:
        row = f"{offer.jackets} {offer.price} {offer.gross} {offer.tax} {offer.deposit}"
        assert row in text


def test_the_pdf_of_an_accepted_quote_says_for_how_many(maker: Client, quote: Quote) -> None:
    accepted = quote_answers.accept(quotes.send(quote, by=None), 40, by=None)
    text = text_of(maker.get(address("quote_pdf", accepted)).getvalue())
    price = quotes.load_figures(accepted).offer(40).price
    assert f"Accepted for 40 jackets at {price} EUR each" in text


def seen_on(page: bytes) -> list[str]:
    return re.findall(r'name="seen" value="(\w*)"', page.decode())


def test_prices_changed_on_another_page_are_not_sent_unseen(maker: Client, quote: Quote) -> None:
    (seen,) = seen_on(maker.get(address("quote", quote)).content)
    maker.post(address("edit_quote", quote), {**form_of(quote), "margin": "40"})
    page = maker.post(address("send_quote", quote), {"seen": seen}, follow=True)
    assert "changed on another page meanwhile" in page.content.decode()
    quote.refresh_from_db()
    assert quote.state == Quote.State.DRAFT
    (seen,) = seen_on(page.content)
    maker.post(address("send_quote", quote), {"seen": seen})
    quote.refresh_from_db()
    assert quote.state == Quote.State.SENT


def test_words_changed_on_another_page_are_not_sent_unseen(maker: Client, quote: Quote) -> None:
    (seen,) = seen_on(maker.get(address("quote", quote)).content)
    maker.post(address("edit_quote", quote), {**form_of(quote), "words": "Free delivery."})
    maker.post(address("send_quote", quote), {"seen": seen})
    quote.refresh_from_db()
    assert quote.state == Quote.State.DRAFT


def test_a_difference_to_other_prices_is_not_taken_over(maker: Client, quote: Quote) -> None:
    asked = {"fabric": "fleece-280", "usable_width_mm": "1600"}
    seen = seen_on(maker.get(address("quote", quote), asked).content)[-1]
    maker.post(address("edit_quote", quote), {**form_of(quote), "margin": "40"})
    page = maker.post(address("take_over_quote", quote), {**asked, "seen": seen}, follow=True)
    assert "changed on another page meanwhile" in page.content.decode()
    quote.refresh_from_db()
    assert quotes.load_terms(quote).changed == ()


def test_an_edit_in_an_older_tab_does_not_put_the_old_margin_back(
    maker: Client, quote: Quote
) -> None:
    (seen,) = seen_on(maker.get(address("edit_quote", quote)).content)
    maker.post(address("edit_quote", quote), {**form_of(quote), "margin": "40", "seen": seen})
    older = {**form_of(quote), "words": "Typed in the older tab.", "seen": seen}
    page = maker.post(address("edit_quote", quote), older).content
    assert "changed on another page meanwhile" in page.decode()
    assert "Typed in the older tab." in page.decode()
    quote.refresh_from_db()
    assert quotes.load_terms(quote).margin == Decimal("0.4")
    (told,) = seen_on(page)
    maker.post(address("edit_quote", quote), {**older, "seen": told})
    quote.refresh_from_db()
    assert quotes.load_terms(quote).margin == Decimal("0.15")


def test_a_quote_begun_by_the_same_tap_twice_is_begun_once(maker: Client, order: TeamOrder) -> None:
    begin = reverse("production:new_quote")
    (seen,) = seen_on(maker.get(begin, {"order": order.code}).content)
    for _ in range(2):
        page = maker.post(begin, {"order": order.code, "seen": seen}, follow=True)
    assert Quote.objects.count() == 1
    assert "perhaps by the same tap sent twice" in page.content.decode()
    assert Quote.objects.get().code in page.content.decode()


def test_an_imperial_workroom_is_asked_for_widths_in_inches(
    maker: Client, order: TeamOrder
) -> None:
    workroom()
    Workroom.objects.update(length_unit="imperial")
    quote = quotes.begin_quote(order, by=None)
    page = maker.get(address("quote", quote))
    assert "Usable width (in)" in page.content.decode()
    width = page.context["what_if"]["usable_width_mm"].value()
    width_mm = quotes.load_snapshot(quote).fabrics[0].usable_width_mm
    shown = {"fabric": "fleece-280", "usable_width_mm": f"{width_mm / 25.4:.3f}"}
    unchanged = maker.get(address("quote", quote), shown).content.decode()
    assert "Nothing is otherwise yet" in unchanged and width
    then = maker.get(address("quote", quote), {**shown, "usable_width_mm": "60"})
    assert "60 in wide instead of" in then.content.decode()


def test_each_amount_says_for_how_many_jackets_it_is(maker: Client, quote: Quote) -> None:
    page = maker.get(address("quote", quote)).content.decode()
    (summary,) = re.findall(r"<summary>.*?Fabric</span>(.*?)</summary>", page)
    fabric = quotes.load_figures(quote).offer(20).costs.fabric
    text = re.sub("<[^>]+>", "", summary)
    assert f"20 jackets {fabric}" in text


def test_quotes_are_found_under_orders(maker: Client, quote: Quote) -> None:
    lists = reverse("production:quotes")
    assert lists in maker.get(reverse("home")).content.decode()
    page = maker.get(address("quote", quote)).content.decode()
    assert 'aria-current="true">Orders' in page and 'aria-current="true">Runs' not in page


def test_no_line_of_a_sentence_stands_alone_on_a_page() -> None:
    from production.documents.quote import _paragraph

    for words in ("word " * 30, "word " * 45, "word " * 80):
        bands = list(_paragraph(words))
        assert len(bands) > 1 and not bands[-1].with_next
        assert bands[0].with_next and bands[-2].with_next
