"""The lists of runs and jackets."""

from __future__ import annotations

import datetime
from decimal import Decimal

import django_tables2 as tables

from production.models import Jacket, Run
from production.planning.forecasts.forecast_words import chance_words
from production.queries import clubs_of
from production.templatetags.production_units import moment

NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}}


class RunTable(tables.Table):  # type: ignore[misc]  # untyped base
    code = tables.Column("Run", linkify=True)
    clubs = tables.Column("For", empty_values=(), orderable=False)
    deadline = tables.DateColumn(format="j M Y")
    jacket_count = tables.Column("Jackets", attrs=NUMBER)
    over_count = tables.Column("Handed over", attrs=NUMBER)
    state = tables.Column()
    last_chance = tables.Column("Chance kept last", default="")

    class Meta:
        model = Run
        fields = (
            "code",
            "clubs",
            "deadline",
            "jacket_count",
            "over_count",
            "state",
            "last_chance",
        )
        attrs = {"class": "table"}
        order_by = ("deadline", "code")
        empty_text = "No run fits."

    def render_clubs(self, record: Run) -> str:
        return clubs_of(record)

    def render_last_chance(self, value: Decimal) -> str:
        return chance_words(float(value))


class JacketTable(tables.Table):  # type: ignore[misc]  # untyped base
    code = tables.Column("Jacket", linkify=True, attrs={"td": {"class": "code"}})
    member = tables.Column("Member", accessor="jacket_order__member")
    stage = tables.Column("Stands at")
    in_work = tables.Column("Now")
    mend_reason = tables.Column("To mend", default="")
    size = tables.Column(order_by=("jacket_order__size__position", "pk"))
    colorway = tables.Column("Colorway", accessor="jacket_order__colorway__name")
    name_on_jacket = tables.Column(
        "Name on it", accessor="jacket_order__name_on_jacket", default=""
    )
    since = tables.Column()

    class Meta:
        model = Jacket
        fields = (
            "code",
            "member",
            "stage",
            "in_work",
            "mend_reason",
            "size",
            "colorway",
            "name_on_jacket",
            "since",
        )
        attrs = {"class": "table"}
        order_by = ("since", "code")
        empty_text = "No jacket fits."

    def render_stage(self, record: Jacket) -> str:
        return stage_words(record)

    def value_stage(self, record: Jacket) -> str:
        return stage_words(record)

    def render_in_work(self, record: Jacket) -> str:
        return now_words(record)

    def value_in_work(self, record: Jacket) -> str:
        return now_words(record)

    def render_since(self, value: datetime.datetime) -> str:
        return moment(value)


def stage_words(jacket: Jacket) -> str:
    return "cancelled" if jacket.cancelled_at else jacket.get_stage_display()


def now_words(jacket: Jacket) -> str:
    if jacket.stage == Jacket.Stage.HANDED_OVER or jacket.cancelled_at:
        return ""
    return "in work" if jacket.in_work else "waits"
