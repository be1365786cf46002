"""Functions that write what a club answers to a quote; it stays as it was sent."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import IntegrityError, transaction
from django.utils import timezone

from orders.errors import OrderError
from orders.models import TeamOrder
from orders.money import amount_words
from orders.money_services import PriceFacts, set_price
from orders.services import amend
from patterns.services import workroom
from production.models import Quote
from production.quoting.quotes import QuoteRefusedError, load_figures, locked

if TYPE_CHECKING:
    from django.contrib.auth.models import User

State = Quote.State
#: What `TeamOrder.price` has room for.
HIGHEST_PRICE = 1_000_000_000


@transaction.atomic
def accept(
    quote: Quote, jackets: int, *, by: User | None, answer: str = "", sets_price: bool = False
) -> Quote:
    """The club takes the quote for one of its numbers of jackets. `sets_price` makes the price of
    the order's jackets that of the quote. Past its day it takes a word why in `answer`."""
    stored = _sent(quote)
    known = {offer.jackets: offer for offer in load_figures(stored).offers}
    if jackets not in known:
        raise QuoteRefusedError(
            f"The quote names no price for {jackets} jackets. Choose one of "
            f"{', '.join(map(str, known))}.",
            field="jackets",
        )
    if timezone.localdate() > stored.valid_until and not answer.strip():
        raise QuoteRefusedError(
            f"It was good until {stored.valid_until}. Write why it is taken all the same.",
            field="answer",
        )
    stored.state, stored.quantity = State.ACCEPTED, jackets
    _answered(stored, answer)
    offer, order = known[jackets], stored.team_order
    price = amount_words(offer.price, stored.currency)
    deposit = amount_words(offer.deposit, stored.currency)
    because = f" ({answer.strip()})" if answer.strip() else ""
    amend(
        order,
        by,
        f"quote {stored.code} accepted for {jackets} jackets at {price} each, a deposit of "
        f"{deposit} is expected{because}",
    )
    if sets_price:
        _set_price(order, offer.price, stored.currency, by)
    return stored


@transaction.atomic
def decline(quote: Quote, *, by: User | None, answer: str = "") -> Quote:
    stored = _sent(quote)
    stored.state = State.DECLINED
    _answered(stored, answer)
    because = f": {answer.strip()}" if answer.strip() else ""
    amend(stored.team_order, by, f"quote {stored.code} declined{because}")
    return stored


def _sent(quote: Quote) -> Quote:
    stored = locked(quote)
    if stored.state == State.DRAFT:
        raise QuoteRefusedError(f"{stored.code} is not sent yet. Send it first.")
    if stored.state != State.SENT:
        raise QuoteRefusedError(f"{stored.code} is {stored.get_state_display()} already.")
    return stored


def _answered(quote: Quote, answer: str) -> None:
    quote.answer, quote.answered_at = answer.strip(), timezone.now()
    try:
        with transaction.atomic():
            quote.save(update_fields=["state", "quantity", "answer", "answered_at"])
    except IntegrityError as error:
        taken = Quote.objects.filter(team_order=quote.team_order, state=State.ACCEPTED).first()
        if taken is None:
            raise
        raise QuoteRefusedError(
            f"{taken.code} is accepted for this order already; only one can be."
        ) from error


def _set_price(order: TeamOrder, price: Decimal, currency: str, by: User | None) -> None:
    """A price that the order cannot keep is refused."""
    if price >= HIGHEST_PRICE:
        raise QuoteRefusedError(
            f"An order's price stays below {HIGHEST_PRICE}. Accept without setting the price.",
            field="sets_price",
        )
    if currency != workroom().currency:
        raise QuoteRefusedError(
            f"The quote is in {currency}, the workroom counts in {workroom().currency} now. Accept "
            "without setting the price, and set it by hand.",
            field="sets_price",
        )
    try:
        set_price(order, PriceFacts(price, order.payer, order.discount), by=by)
    except OrderError as error:
        raise QuoteRefusedError(str(error), field="sets_price") from error
