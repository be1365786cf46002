"""Taking a roster into a team order, as a whole or not at all, and keeping the expected names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from django.db import transaction

from orders.coordinator import check_club_may_change
from orders.errors import OrderError, RosterError
from orders.facts import JacketFacts
from orders.lines import folded, one_line
from orders.models import (
    Amendment,
    BlockChoice,
    Colorway,
    Expected,
    JacketOrder,
    TeamOrder,
)
from orders.roster import Kind, Problem, RosterRow, Verdict, check_good, fingerprint, judge
from orders.roster_queries import accepted_by
from orders.services import amend, open_order, update_jacket_order
from orders.words import jackets_in_words, joined
from patterns.models import Block, FabricColor, PatternSize

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from orders.roster_file import Table


class Differing(Enum):
    """What becomes of a jacket that a row would change."""

    REFUSE = "nothing of the roster is taken"
    KEEP = "it stays as it is"
    CHANGE = "it is changed"


@dataclass(frozen=True, slots=True)
class Taken:
    """How many rows were taken, and how."""

    added: int
    changed: int
    left: int
    expected: int
    unchanged: int

    def words(self, *, would: bool = False) -> str:
        be = " would be" if would else ""
        parts = [
            (self.added, f"{jackets_in_words(self.added)}{be} added"),
            (self.changed, f"{jackets_in_words(self.changed)}{be} changed"),
            (self.left, f"{self.left} that differ left as they are"),
            (self.expected, f"{names_in_words(self.expected)}{be} expected"),
            (self.unchanged, f"{self.unchanged} unchanged"),
        ]
        return ", ".join(words for count, words in parts if count)


def names_in_words(count: int) -> str:
    return f"{count} name" if count == 1 else f"{count} names"


@transaction.atomic
def take_roster(
    team_order: TeamOrder,
    table: Table,
    name: str,
    *,
    by: User | None,
    by_link: str = "",
    differing: Differing = Differing.REFUSE,
    shown: str = "",
    dry_run: bool = False,
) -> Taken:
    """Take each row of the table; RosterError when one cannot be taken, or when the verdicts are
    not those whose fingerprint was `shown`, and then nothing is stored."""
    stored = open_order(team_order)
    if by_link:
        check_club_may_change(stored)
    verdicts = judge(table, accepted_by(stored, from_club=bool(by_link)))
    check_good(verdicts)
    if shown and shown != fingerprint(verdicts):
        raise RosterError(
            "The order was changed since these rows were checked; nothing was stored. "
            "Check the roster once more."
        )
    rows = {kind: [one for one in verdicts if one.kind == kind] for kind in Kind}
    if rows[Kind.DIFFERS] and differing is Differing.REFUSE:
        raise _differs(rows[Kind.DIFFERS], len(verdicts))
    change = differing is Differing.CHANGE
    taken = Taken(
        added=len(rows[Kind.NEW]),
        changed=len(rows[Kind.DIFFERS]) if change else 0,
        left=0 if change else len(rows[Kind.DIFFERS]),
        expected=len(rows[Kind.EXPECTED]),
        unchanged=len(rows[Kind.UNCHANGED]),
    )
    if not dry_run:
        store = _Store(stored, by, by_link)
        store.add([verdict.row for verdict in rows[Kind.NEW]])
        store.change(rows[Kind.DIFFERS] if change else ())
        store.expect(verdict.row.member for verdict in rows[Kind.EXPECTED])
        amend(stored, by, _taken_words(taken, name), by_link=by_link)
    return taken


def _differs(verdicts: Sequence[Verdict], count: int) -> RosterError:
    return RosterError(
        f"{len(verdicts)} of {count} rows differ from jackets that the order has; nothing was "
        "stored. Mend the rows, or ask for the jackets to be changed.",
        [
            Problem(verdict.row.number, change.column, f"would change {change}")
            for verdict in verdicts
            for change in verdict.changes
        ],
    )


def _taken_words(taken: Taken, name: str) -> str:
    words = [
        f"took {jackets_in_words(taken.added)}" if taken.added else "",
        f"changed {jackets_in_words(taken.changed)}" if taken.changed else "",
        f"expects {names_in_words(taken.expected)} more" if taken.expected else "",
    ]
    text = joined(words)
    return f"{text} from {name}" if text else ""


class _Store:
    """Writes judged rows into an order that is locked."""

    def __init__(self, team_order: TeamOrder, by: User | None, by_link: str) -> None:
        self.team_order, self.by, self.by_link = team_order, by, by_link
        colorways = team_order.colorways.select_related("blocking__pattern").prefetch_related(
            "blocking__pattern__sizes", "blocking__blocks"
        )
        self.colorways: dict[str, Colorway] = {colorway.name: colorway for colorway in colorways}
        self.colors = {color.code: color for color in team_order.palette.all()}

    def add(self, rows: Sequence[RosterRow]) -> None:
        made = JacketOrder.objects.bulk_create(
            JacketOrder(
                team_order=self.team_order,
                member=row.member,
                size=self._size(row),
                colorway=self.colorways[row.colorway],
                name_on_jacket=row.name_on_jacket,
                note=row.note,
            )
            for row in rows
        )
        BlockChoice.objects.bulk_create(
            BlockChoice(jacket_order=jacket, block=block, fabric_color=color)
            for jacket, row in zip(made, rows, strict=True)
            for block, color in self._choices(row).items()
        )
        Amendment.objects.bulk_create(
            Amendment(
                team_order=self.team_order,
                member=row.member,
                words=f"added {row.member}, {row.size}, {row.colorway}",
                by=self.by,
                by_link=self.by_link,
            )
            for row in rows
        )

    def change(self, verdicts: Iterable[Verdict]) -> None:
        jackets = {jacket.member: jacket for jacket in self.team_order.jacket_orders.all()}
        for verdict in verdicts:
            assert verdict.stored is not None
            row = verdict.row
            facts = JacketFacts(
                member=row.member,
                size=self._size(row),
                colorway=self.colorways[row.colorway],
                name_on_jacket=row.name_on_jacket,
                note=row.note,
                choices=self._choices(row),
            )
            jacket = jackets[verdict.stored.member]
            update_jacket_order(jacket, facts, by=self.by, by_link=self.by_link)

    def expect(self, names: Iterable[str]) -> None:
        Expected.objects.bulk_create(
            Expected(team_order=self.team_order, name=name) for name in names
        )

    def _size(self, row: RosterRow) -> PatternSize:
        sizes = self.colorways[row.colorway].blocking.pattern.sizes.all()
        return next(size for size in sizes if size.code == row.size)

    def _choices(self, row: RosterRow) -> dict[Block, FabricColor]:
        blocks = {block.code: block for block in self.colorways[row.colorway].blocking.blocks.all()}
        return {blocks[block]: self.colors[color] for block, color in row.choices}


@transaction.atomic
def expect_names(
    team_order: TeamOrder, names: Sequence[str], *, by: User | None, by_link: str = ""
) -> int:
    """Put names on the roster and say how many were not there yet."""
    stored = open_order(team_order)
    if by_link:
        check_club_may_change(stored)
    there = {folded(name) for name in stored.expected.values_list("name", flat=True)}
    new: dict[str, str] = {}
    for name in names:
        if folded(name) not in there:
            new.setdefault(folded(name), one_line(name))
    Expected.objects.bulk_create(Expected(team_order=stored, name=name) for name in new.values())
    words = f"put {names_in_words(len(new))} on the roster" if new else ""
    amend(stored, by, words, by_link=by_link)
    return len(new)


@transaction.atomic
def expect_no_longer(expected: Expected, *, by: User | None, by_link: str = "") -> None:
    """Take one name off the roster; a jacket that its bearer has stays."""
    stored = open_order(expected.team_order)
    if by_link:
        check_club_may_change(stored)
    if not stored.expected.filter(pk=expected.pk).delete()[0]:
        raise OrderError(f"{expected.name} is off the roster already.")
    amend(stored, by, f"took {expected.name} off the roster", expected.name, by_link=by_link)
