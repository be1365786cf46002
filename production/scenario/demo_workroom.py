"""What the workroom of the demo has on its shelf, bought, timed and quoted; all is invented."""

from __future__ import annotations

import datetime
from decimal import Decimal
from uuid import uuid4

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.utils import timezone

from orders.models import Amendment, TeamOrder
from patterns.models import Operation, Supplier
from production.buying import purchases
from production.buying.shopping import shopping_of
from production.models import (
    Purchase,
    Quote,
    Reading,
    Run,
    StandardChange,
    StockLot,
    TimeStudy,
    Ware,
    WareMovement,
)
from production.quoting import quote_answers, quotes
from production.scenario.demo_orders import (
    DEMO_DEARER,
    DEMO_OPERATION,
    DEMO_READINGS,
    DEMO_SHELF,
    DEMO_TAKEN_BEYOND,
)
from production.stock import wares
from production.stock.ware_catalog import ware_for
from production.work_study import time_studies
from production.work_study.time_study_state import evaluated

#: By these the demo finds again what is its own.
SHELF_REASON = "on the shelf when the demo was made"
STUDY_NOTE = "timed for the demo"


def fill_shelf(at: datetime.datetime, maker: User) -> None:
    for key, quantity in DEMO_SHELF:
        ware = ware_for(key)
        more = Decimal(quantity) - wares.balance(ware)
        if more > 0:
            wares.move(ware, wares.Kind.COUNTED, more, maker, reason=SHELF_REASON)
    WareMovement.objects.filter(reason=SHELF_REASON).update(at=at)


def order_notions(run: Run, at: datetime.datetime, maker: User) -> Purchase:
    """All that the run lacks of the supplier of notions, of which one line became dearer."""
    supplier = Supplier.objects.get(name=DEMO_DEARER.supplier)
    group = next(g for g in shopping_of(run).groups if g.supplier == supplier.name)
    purchase = purchases.order(
        run,
        supplier,
        [line.sold.key for line in group.lines if line.can_be_ordered],
        by=maker,
        seen=group.mark,
        ordered_on=at.date(),
    )
    Purchase.objects.filter(pk=purchase.pk).update(at=at)
    dearer = purchase.lines.get(ware__key=DEMO_DEARER.key)
    dearer.price = round(dearer.price * DEMO_DEARER.factor, 2)
    dearer.save(update_fields=["price"])
    return purchase


def take_notions(run: Run, purchase: Purchase, at: datetime.datetime, helper: User) -> None:
    """The goods come, the run takes what it needs off the shelf, and a spool more."""
    purchases.take_in(
        purchase,
        came={line.pk: line.quantity for line in purchase.lines.all()},
        bolts=(),
        by=helper,
        seen=purchases.mark_of(purchase),
        received_on=at.date(),
    )
    wares.take_for_run(run, helper)
    wares.take(ware_for(DEMO_TAKEN_BEYOND), run=run, quantity=Decimal(1), by=helper)
    came = WareMovement.objects.filter(purchase_line__purchase=purchase)
    (came | WareMovement.objects.filter(run=run)).update(at=at)


def quote_and_accept(order: TeamOrder, on: datetime.date, maker: User) -> Quote:
    """The order was quoted and the quote accepted, for its own number of jackets, on that day."""
    quote = quotes.send(quotes.begin_quote(order, by=maker), by=maker)
    quote = quote_answers.accept(quote, quotes.load_terms(quote).own, by=maker)
    at = timezone.make_aware(datetime.datetime.combine(on, datetime.time(9)))
    later = quote.valid_until - quote.quoted_on
    Quote.objects.filter(pk=quote.pk).update(
        quoted_on=on, valid_until=on + later, sent_at=at, answered_at=at, at=at
    )
    Amendment.objects.filter(team_order=order).update(at=at)
    return quote


def time_operation(at: datetime.datetime, maker: User) -> None:
    """A finished time study, whose standard is accepted."""
    operation = Operation.objects.get(code=DEMO_OPERATION)
    study = time_studies.begin(operation, maker, who="helper", note=STUDY_NOTE)
    for seconds, rating in DEMO_READINGS:
        facts = {"seconds": Decimal(seconds), "rating": rating}
        time_studies.take_reading(study, facts, uuid4())
    proposal = evaluated(study).study.proposal
    assert proposal
    time_studies.accept(study, proposal.minutes, maker)
    over = at + datetime.timedelta(minutes=50)
    Reading.objects.filter(study=study).update(at=at)
    StandardChange.objects.filter(study=study).update(at=over)
    TimeStudy.objects.filter(pk=study.pk).update(begun_at=at, ended_at=over)


def clear_study() -> None:
    """The demo's study goes, and its operation gets back the standard of before, unless somebody
    has set another one since."""
    for change in StandardChange.objects.filter(study__note=STUDY_NOTE):
        Operation.objects.filter(
            pk=change.operation_id,
            minutes_each=change.each_after,
            minutes_per_metre=change.metre_after,
        ).update(minutes_each=change.each_before, minutes_per_metre=change.metre_before)
    StandardChange.objects.filter(study__note=STUDY_NOTE).delete()
    TimeStudy.objects.filter(note=STUDY_NOTE).delete()


def bought_lots(runs: QuerySet[Run]) -> list[int]:
    """Bolts that came by purchases for these runs, by their numbers."""
    lots = StockLot.objects.filter(movements__purchase_line__purchase__run__in=runs)
    return list(lots.values_list("pk", flat=True).distinct())


def clear_purchases(purchased: list[int], moved: list[int]) -> None:
    """Purchases by their numbers, with what came of them, and movements of the demo's runs and
    shelf. What somebody had counted away meanwhile is counted to nothing."""
    WareMovement.objects.filter(purchase_line__purchase__in=purchased).delete()
    WareMovement.objects.filter(pk__in=moved).delete()
    WareMovement.objects.filter(reason=SHELF_REASON).delete()
    Purchase.objects.filter(pk__in=purchased).delete()
    below = {key: left for key, left in wares.balances().items() if left < 0}
    for ware in Ware.objects.filter(key__in=below):
        wares.move(ware, wares.Kind.COUNTED, -below[ware.key], None, reason="the demo was loaded")
