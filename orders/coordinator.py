"""What the club's coordinator may change, and what the coordinator's page reads."""

from __future__ import annotations

from dataclasses import dataclass

from orders.answers import Answer, Flag, Muster, flags, muster, near_names
from orders.errors import OrderError
from orders.models import Expected, JacketOrder, TeamOrder
from orders.queries import currency, jacket_orders_of

State = TeamOrder.State
#: The coordinator fixes the list until the club stands by it.
CLUB_MAY_CHANGE = (State.OPEN, State.CLOSED)


@dataclass(frozen=True, slots=True)
class Listed:
    """A jacket on the coordinator's page; `is_unexpected` when a member answered whose name is on
    no roster."""

    jacket: JacketOrder
    flags: tuple[str, ...]
    is_unexpected: bool


@dataclass(frozen=True, slots=True)
class Missing:
    """A name without a jacket, and the name of a jacket that is nearly the same."""

    expected: Expected
    nearly: str = ""


@dataclass(frozen=True, slots=True)
class Counts:
    """`answered` of those `on_roster`, and those who answered without being on it."""

    answered: int
    on_roster: int
    not_on_roster: int


@dataclass(frozen=True, slots=True)
class Answers:
    jackets: list[Listed]
    missing: list[Missing]
    expected: list[Expected]
    counts: Counts

    @property
    def flagged(self) -> int:
        return sum(1 for listed in self.jackets if listed.flags)


@dataclass(frozen=True, slots=True)
class Price:
    each: str
    total: str


def may_change(team_order: TeamOrder) -> bool:
    return team_order.state in CLUB_MAY_CHANGE


def check_club_may_change(team_order: TeamOrder) -> None:
    if not may_change(team_order):
        raise OrderError(
            f"{team_order.code} is {team_order.get_state_display()}; the club changes it while it "
            "is open or closed. Ask the maker for any other change."
        )


def answers_of(team_order: TeamOrder) -> Answers:
    jackets = list(jacket_orders_of(team_order))
    expected = list(team_order.expected.all())
    found = muster([one.name for one in expected], [jacket.member for jacket in jackets])
    unexpected = _answered_unasked(jackets, found) if expected else set()
    by_key: dict[int, list[str]] = {}
    for flag in flags_of(jackets):
        by_key.setdefault(flag.key, []).append(flag.words)
    nearly = near_names(found.missing, found.unexpected)
    return Answers(
        jackets=[
            Listed(jacket, tuple(by_key.get(jacket.pk, ())), jacket.pk in unexpected)
            for jacket in jackets
        ],
        missing=[
            Missing(one, nearly.get(one.name, ""))
            for one in expected
            if one.name in set(found.missing)
        ],
        expected=expected,
        counts=Counts(
            answered=len(jackets) - len(unexpected),
            on_roster=len(expected) + len(found.unexpected) - len(unexpected),
            not_on_roster=len(unexpected),
        ),
    )


def _answered_unasked(jackets: list[JacketOrder], found: Muster) -> set[int]:
    """Jackets from the members' form whose names nobody expects; what came from a roster file or
    the coordinator is on the roster by that."""
    names = set(found.unexpected)
    return {
        jacket.pk for jacket in jackets if jacket.form_key is not None and jacket.member in names
    }


def flags_of(jackets: list[JacketOrder]) -> list[Flag]:
    """What is worth a second look: possible doubles and odd sizes."""
    return flags(
        [
            Answer(
                key=jacket.pk,
                member=jacket.member,
                size=jacket.size.code,
                age_group=jacket.size.age_group,
                step=jacket.size.position,
                pattern=jacket.size.pattern_id,
            )
            for jacket in jackets
        ]
    )


def flags_context(team_order: TeamOrder) -> dict[str, list[Flag]]:
    """What `orders/coordinator/_flags.html` shows: each double once, at the first of the two."""
    jackets = team_order.jacket_orders.select_related("size").order_by("pk")
    found = flags_of(list(jackets))
    return {"flags": [flag for flag in found if flag.other is None or flag.key < flag.other]}


def price_of(team_order: TeamOrder) -> Price | None:
    """What the club sees of the money: the price of a jacket and of all, where one is agreed."""
    from orders.money import Line, amount_words, settle

    if team_order.price is None:
        return None
    lines = [
        Line(pk, discount)
        for pk, discount in team_order.jacket_orders.values_list("pk", "discount")
    ]
    account = settle(currency(), team_order.price, lines, team_order.discount, ())
    return Price(
        each=amount_words(team_order.price, account.currency),
        total=amount_words(account.total, account.currency),
    )
