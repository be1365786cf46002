"""The receipt of a payment as a PDF; the maker's alone."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from django.http import FileResponse, HttpRequest
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from orders.models import Payment
from orders.money import amount_words, balance_words
from orders.money_queries import account_of, payments_of
from orders.roles import maker_only
from patterns.services import workroom

if TYPE_CHECKING:
    from production.documents.receipt import Receipt


@maker_only
@require_safe
def receipt_pdf(request: HttpRequest, code: str, receipt: str) -> FileResponse:
    from production.documents import receipt as document

    payment = get_object_or_404(Payment, team_order__code=code, receipt=receipt)
    page = io.BytesIO()
    document.write(page, receipt_of(payment))
    page.seek(0)
    return FileResponse(page, filename=f"receipt-{receipt}.pdf", content_type="application/pdf")


def receipt_of(payment: Payment) -> Receipt:
    from production.documents.receipt import Receipt

    order, line = payment.team_order, payment.jacket_order
    member = payments_of(order).values_list("noted_for", flat=True).get(pk=payment.pk)
    account = account_of(order, until=payment)
    balance = account.words
    # A member's receipt tells nothing of what the others owe.
    if line and order.price is not None:
        own = next(one for one in account.lines if one.key == line.pk)
        balance = f"{balance_words(own.balance, account.currency)} for this jacket"
    elif order.price is not None:
        balance = f"{balance} for the whole order"
    thing = "the team order"
    if member:
        thing = f"jacket in size {line.size.code}" if line else "a jacket since taken out"
    return Receipt(
        number=payment.receipt,
        workroom=workroom().name,
        club=order.club.name,
        member=member,
        what_for=f"{payment.get_kind_display().capitalize()}, {thing}",
        order=f"{order.code}, {order.title}",
        amount=amount_words(payment.amount, account.currency),
        paid_on=payment.paid_on,
        balance=balance,
        is_refund=payment.kind == Payment.Kind.REFUND,
    )
