"""Functions that write quotes. A draft may change; what is sent stays as it is, and so does what is
accepted. Each change leaves an amendment of the team order in words, all in one transaction."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from decimal import Decimal
from hashlib import sha256
from typing import TYPE_CHECKING
from uuid import uuid4

import msgspec
from django.db import transaction
from django.utils import timezone

from orders.models import TeamOrder
from orders.money import amount_words
from orders.services import amend
from orders.words import change, joined
from patterns.services import workroom
from production.errors import ProductionError
from production.models import Quote
from production.planning.plan import PlanError

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from production.planning.quotes.quote_changes import WhatIf
    from production.planning.quotes.quotes import Figures, Terms
    from production.planning.snapshot import RunSnapshot

    Reckoned = tuple[RunSnapshot, Terms, Figures]

State = Quote.State
#: What a new quote says is not in its price; the maker writes it anew for each.
NOT_INCLUDED = "Delivery or postage.\nPrinted or embroidered badges.\nChanges after the freeze."


class QuoteRefusedError(ProductionError):
    """Something that a quote refuses; `field` names the form field that it is about."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True, slots=True)
class QuoteFacts:
    """What the maker sets in a draft; the weights are those of the kinds of its snapshot."""

    margin: Decimal
    tax_rate: Decimal
    deposit_share: Decimal
    valid_until: datetime.date
    words: str
    not_included: str
    weights: tuple[int, ...]


def load_snapshot(quote: Quote) -> RunSnapshot:
    from production.planning.snapshot import RunSnapshot

    return msgspec.convert(quote.snapshot, RunSnapshot)


def load_terms(quote: Quote) -> Terms:
    from production.planning.quotes.quotes import Terms

    return msgspec.convert(quote.terms, Terms)


def load_figures(quote: Quote) -> Figures:
    from production.planning.quotes.quotes import Figures

    return msgspec.convert(quote.figures, Figures)


def begin_quote(team_order: TeamOrder, *, by: User | None, seen: str | None = None) -> Quote:
    """A draft for the order as it stands today; ProductionError says what it lacks. `seen` is the
    order's last quote as its page showed it: one begun since is not begun a second time."""
    from production.quoting.quote_snapshots import basis_of

    if team_order.state == TeamOrder.State.CANCELLED:
        raise QuoteRefusedError(f"{team_order.code} is cancelled; order again from its page first.")
    today = timezone.localdate()
    quote = Quote(
        # Until its number is known; nobody else can have taken the same one.
        code=uuid4().hex[:20],
        team_order=team_order,
        not_included=NOT_INCLUDED,
        quoted_on=today,
        valid_until=today + datetime.timedelta(days=workroom().quote_days),
        by=by,
    )
    # Reckoning takes a while, in which nobody else is to be kept from writing.
    _fill(quote, _reckoned(*basis_of(team_order, today)))
    with transaction.atomic():
        TeamOrder.objects.select_for_update(of=("self",)).get(pk=team_order.pk)
        last = last_of(team_order)
        if seen is not None and seen != last:
            raise QuoteRefusedError(
                f"{last or 'A draft that is thrown away by now'} was begun since this page was "
                "shown, perhaps by the same tap sent twice. No other was begun."
            )
        quote.save()
        quote.code = f"Q-{quote.pk:04d}"
        quote.save(update_fields=["code"])
        amend(team_order, by, f"quote {quote.code} begun: {prices_in_words(quote)}")
    return quote


def last_of(team_order: TeamOrder) -> str:
    """The code of the order's newest quote, or nothing."""
    quotes = Quote.objects.filter(team_order=team_order).order_by("-pk")
    return quotes.values_list("code", flat=True).first() or ""


def mark_of(quote: Quote) -> str:
    """Tells whether a draft was changed since a page was shown."""
    shown = (quote.figures, quote.terms, _wording(quote), str(quote.valid_until))
    return sha256(msgspec.json.encode(shown, order="sorted")).hexdigest()[:16]


def revise(quote: Quote, facts: QuoteFacts, *, by: User | None) -> Quote:
    """Another margin, tax, deposit, mix or wording of a draft."""
    _check_draft(quote)
    if facts.valid_until < quote.quoted_on:
        raise QuoteRefusedError(
            f"The quote is of {quote.quoted_on}. Name a day from then on.", field="valid_until"
        )
    was = load_terms(quote)
    terms = replace(
        was,
        margin=facts.margin,
        tax_rate=facts.tax_rate,
        deposit_share=facts.deposit_share,
        weights=facts.weights,
    )
    reckoned = _reckoned(load_snapshot(quote), terms)
    with transaction.atomic():
        stored = _unchanged(quote)
        words = [
            change("valid until", str(stored.valid_until), str(facts.valid_until)),
            "another mix of sizes and colorways" if terms.weights != was.weights else "",
            "other words" if _wording(stored) != (facts.words, facts.not_included) else "",
        ]
        before = prices_in_words(stored)
        stored.valid_until = facts.valid_until
        stored.words, stored.not_included = facts.words, facts.not_included
        _fill(stored, reckoned)
        stored.save()
        words.append(change("prices", before, prices_in_words(stored)))
        amend(stored.team_order, by, joined(words, f"quote {stored.code}: "))
    return stored


def _wording(quote: Quote) -> tuple[str, str]:
    return quote.words, quote.not_included


def take_over(quote: Quote, what: WhatIf, *, by: User | None, seen: str | None = None) -> Quote:
    """Make what was only asked about the draft's own. `seen` is the mark of the draft that the
    difference was shown to (see `mark_of`)."""
    from production.quoting.quote_snapshots import what_if

    _check_draft(quote)
    _check_seen(quote, seen)
    snapshot, terms, told = what_if(load_snapshot(quote), load_terms(quote), what, draws=True)
    if not told:
        raise QuoteRefusedError("Nothing is otherwise, so there is nothing to take over.")
    reckoned = _reckoned(snapshot, replace(terms, changed=(*terms.changed, *told)))
    return _refilled(quote, reckoned, ", ".join(told), by)


def reckon_anew(quote: Quote, *, by: User | None) -> Quote:
    """A draft from the order, the patterns and the prices of today; what was taken over goes."""
    from production.quoting.quote_snapshots import basis_of

    _check_draft(quote)
    reckoned = _reckoned(*basis_of(quote.team_order, timezone.localdate()))
    return _refilled(quote, reckoned, "reckoned anew", by)


def _refilled(quote: Quote, reckoned: Reckoned, words: str, by: User | None) -> Quote:
    with transaction.atomic():
        stored = _unchanged(quote)
        _fill(stored, reckoned)
        stored.save()
        amend(stored.team_order, by, f"quote {stored.code}: {words}; {prices_in_words(stored)}")
    return stored


@transaction.atomic
def drop(quote: Quote, *, by: User | None) -> None:
    """Throw a draft away; its code is not given again."""
    stored = _draft(quote)
    amend(stored.team_order, by, f"quote {stored.code} thrown away, never sent")
    stored.delete()


@transaction.atomic
def send(quote: Quote, *, by: User | None, seen: str | None = None) -> Quote:
    """From now on it stays as it is. `seen` is the mark of the draft that was looked at (see
    `mark_of`): prices that nobody has seen are not sent."""
    stored = _draft(quote)
    _check_seen(stored, seen)
    if stored.valid_until < timezone.localdate():
        raise QuoteRefusedError(
            f"It is good until {stored.valid_until}, which is past. Name a later day first."
        )
    stored.state, stored.sent_at = State.SENT, timezone.now()
    stored.save(update_fields=["state", "sent_at"])
    amend(stored.team_order, by, f"quote {stored.code} sent: {prices_in_words(stored)}")
    return stored


def prices_in_words(quote: Quote) -> str:
    """'10 for 99.63 EUR, 20 for 89.44 EUR'."""
    return ", ".join(
        f"{offer.jackets} for {amount_words(offer.price, quote.currency)}"
        for offer in load_figures(quote).offers
    )


def _reckoned(snapshot: RunSnapshot, terms: Terms) -> Reckoned:
    from production.planning.quotes.quotes import reckon

    try:
        return snapshot, terms, reckon(snapshot, terms)
    except PlanError as error:
        raise QuoteRefusedError(f"{error} Nothing was changed.") from error


def _fill(quote: Quote, reckoned: Reckoned) -> None:
    snapshot, terms, figures = reckoned
    quote.currency = figures.currency
    quote.snapshot = _as_stored(snapshot)
    quote.terms = _as_stored(terms)
    quote.figures = _as_stored(figures)


def _as_stored(value: object) -> object:
    """As the database gives it back, so that what is stored compares with what is at hand."""
    return msgspec.json.decode(msgspec.json.encode(value))


def locked(quote: Quote) -> Quote:
    found = Quote.objects.select_for_update(of=("self",)).select_related("team_order")
    return found.get(pk=quote.pk)


def _unchanged(quote: Quote) -> Quote:
    """The draft read anew and locked; refused when it is another by now than what was reckoned
    from."""
    stored = locked(quote)
    _check_draft(stored)
    if stored.figures != quote.figures or stored.snapshot != quote.snapshot:
        raise _changed_meanwhile(stored)
    return stored


def _check_seen(quote: Quote, seen: str | None) -> None:
    if seen is not None and seen != mark_of(quote):
        raise _changed_meanwhile(quote)


def _changed_meanwhile(quote: Quote) -> QuoteRefusedError:
    return QuoteRefusedError(
        f"{quote.code} was changed on another page meanwhile. Look at it again; nothing of this "
        "was stored."
    )


def _draft(quote: Quote) -> Quote:
    stored = locked(quote)
    _check_draft(stored)
    return stored


def _check_draft(quote: Quote) -> None:
    if quote.state != State.DRAFT:
        raise QuoteRefusedError(
            f"{quote.code} is {quote.get_state_display()} and stays as it was. Begin another "
            "quote for other prices."
        )
