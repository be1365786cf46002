"""A quote as its PDF needs it, from what is frozen in it: printed again it says the same."""

from __future__ import annotations

from orders.money import amount_words, rounded
from patterns.geometry.picture import Fill
from production.documents.quote import Look, Price, QuotePaper, SizePrices, jackets_in_mix
from production.models import Quote
from production.planning.quotes.quotes import Figures, Terms
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.quoting.quote_sheet import chosen_offer, percent, shares
from production.quoting.quotes import load_figures, load_snapshot, load_terms


def paper_of(quote: Quote) -> QuotePaper:
    snapshot, terms, figures = load_snapshot(quote), load_terms(quote), load_figures(quote)
    order = snapshot.orders[0]
    worn = [
        jacket for jacket, weight in zip(snapshot.jackets, terms.weights, strict=True) if weight
    ]
    kinds = {jacket.colorway for jacket in worn}, {jacket.size for jacket in worn}
    return QuotePaper(
        code=quote.code,
        workroom=snapshot.workroom.name,
        club=order.club,
        what=f"Fleece jackets in color blocks, {order.title}",
        order=order.code,
        currency=quote.currency,
        quoted_on=quote.quoted_on,
        valid_until=quote.valid_until,
        wanted_by=order.deadline,
        standing=_standing(quote, figures),
        tax=percent(terms.tax_rate),
        deposit=percent(terms.deposit_share),
        prices=_prices(figures),
        looks=_looks(worn, snapshot),
        mix=jackets_in_mix(terms.own, len(kinds[0]), len(kinds[1])),
        sizes=_sizes(figures, terms),
        words=_lines(quote.words),
        not_included=_lines(quote.not_included),
    )


def _standing(quote: Quote, figures: Figures) -> str:
    match quote.state:
        case Quote.State.DRAFT:
            return "Draft, not sent yet"
        case Quote.State.ACCEPTED if quote.quantity:
            price = amount_words(figures.offer(quote.quantity).price, quote.currency)
            return f"Accepted for {quote.quantity} jackets at {price} each"
        case Quote.State.DECLINED:
            return "Declined"
    return ""


def _prices(figures: Figures) -> tuple[Price, ...]:
    return tuple(
        Price(
            offer.jackets,
            *(
                str(rounded(amount, figures.currency))
                for amount in (offer.price, offer.gross, offer.tax, offer.deposit)
            ),
        )
        for offer in figures.offers
    )


def _looks(worn: list[JacketSpec], snapshot: RunSnapshot) -> tuple[Look, ...]:
    colors = {color.code: color for color in snapshot.fabric_colors}
    fronts = {
        blocking.code: next((one for one in blocking.pictures if one.view == "front"), None)
        for blocking in snapshot.blockings
    }
    by_colorway = {jacket.colorway: jacket for jacket in worn}
    looks = []
    for name, jacket in sorted(by_colorway.items()):
        used = dict.fromkeys(color for _, color in jacket.blocks)
        looks.append(
            Look(
                name,
                ", ".join(colors[code].name for code in used),
                fronts.get(jacket.blocking),
                {
                    block: Fill(colors[code].hex_color, colors[code].hatch, colors[code].name)
                    for block, code in jacket.blocks
                },
            )
        )
    return tuple(looks)


def _sizes(figures: Figures, terms: Terms) -> SizePrices | None:
    offer = chosen_offer(figures, None, terms.own)
    found = shares(offer, "size", figures.currency)
    if not found:
        return None
    return SizePrices(offer.jackets, tuple((one.name, str(one.each)) for one in found))


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
