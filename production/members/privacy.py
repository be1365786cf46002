"""Members' data taken out for good: names become 'Member 1', 'Member 2', …; sizes, colors, counts
and sums stay. Members may be minors, so nothing is kept longer than the order says."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.db import connection, transaction
from django.db.models import Max, Q, QuerySet
from django.utils import timezone

from orders.models import AccessLink, Amendment, JacketOrder, TeamOrder
from orders.services import amend
from production.members.privacy_floor import clear_floor, receivers_left
from production.members.privacy_names import names_of_all, names_of_one, pseudonyms
from production.members.pseudonyms import SOMEONE, Pseudonyms
from production.models import Jacket, Run, SpoiledPiece, StageEvent, Supplement

if TYPE_CHECKING:
    from django.contrib.auth.models import User

LABEL = re.compile(r"Member \d+")
KEPT_AFTER_DELETION = datetime.timedelta(
    days=TeamOrder._meta.get_field("erase_after_days").get_default()
)


@dataclass(frozen=True, slots=True)
class Erased:
    """Whose data goes: `labels` by the key of the jacket order, `names` what to call whom in
    texts. `whole` is for an order with all its members."""

    labels: Mapping[int, str]
    names: Pseudonyms
    whole: bool


@transaction.atomic
def erase_order(team_order: TeamOrder, by: User | None) -> None:
    """Erase the data of all members of an order, for good. Once more changes nothing, but takes
    out what was written since."""
    order = _locked(team_order)
    anew = not order.erased_at or names_left(order)
    lines = list(order.jacket_orders.order_by("pk"))
    labels = {line.pk: f"Member {number}" for number, line in enumerate(lines, 1)}
    erased = Erased(labels, names_of_all(order, lines, labels), whole=True)
    _clear_run_papers(order, erased)
    _clear_texts(order, erased)
    _rename(lines, labels)
    order.expected.all().delete()
    order.links.exclude(kind=AccessLink.Kind.COORDINATOR).delete()
    order.payments.exclude(note="").update(note="")
    order.coordinator_email = ""
    if anew:
        order.erased_at = timezone.now()
        amend(order, by, f"members' data erased, {len(lines)} in all")
    order.save(update_fields=["coordinator_email", "erased_at"])
    transaction.on_commit(_empty_write_ahead_log)


@transaction.atomic
def erase_member(jacket_order: JacketOrder, by: User | None) -> str:
    """Erase the data of one member, for good; the label that stands for the name from now on."""
    order = _locked(jacket_order.team_order)
    lines = list(order.jacket_orders.order_by("pk"))
    line = next(one for one in lines if one.pk == jacket_order.pk)
    before = (line.member, line.name_on_jacket, line.note)
    label = _free_label(line, lines)
    erased = Erased({line.pk: label}, names_of_one(order, line, lines, label), whole=False)
    _clear_run_papers(order, erased)
    _clear_texts(order, erased)
    order.expected.filter(pk__in=_expected_as(order, line.member)).delete()
    _rename([line], erased.labels)
    line.links.all().delete()
    line.payments.exclude(note="").update(note="")
    if before != (label, "", ""):
        amend(order, by, "member's data erased on request", label)
    transaction.on_commit(_empty_write_ahead_log)
    return label


def kept_until(team_order: TeamOrder) -> datetime.date | None:
    """The day on which the members' data goes; None while the order is still on its way."""
    kept = datetime.timedelta(days=team_order.erase_after_days)
    if team_order.handed_over_on:
        return team_order.handed_over_on + kept
    if team_order.state == TeamOrder.State.CANCELLED:
        # A cancelled order is never handed over: its days count from its last change.
        last = team_order.amendments.aggregate(last=Max("at"))["last"] or team_order.created_at
        return timezone.localdate(last) + kept
    return None


def is_erased(line: JacketOrder) -> bool:
    return bool(LABEL.fullmatch(line.member)) and not (line.name_on_jacket or line.note)


def names_left(team_order: TeamOrder) -> bool:
    """Whether members' data is there, be it that of members who came after an erasing, or of who
    received their jackets."""
    lines = team_order.jacket_orders.all()
    return (
        team_order.expected.exists()
        or receivers_left(team_order)
        or not all(is_erased(line) for line in lines)
    )


def expired(today: datetime.date) -> list[TeamOrder]:
    ended = TeamOrder.objects.filter(
        Q(handed_over_on__isnull=False) | Q(state=TeamOrder.State.CANCELLED)
    )
    return [
        order
        for order in ended
        if (day := kept_until(order)) and day <= today
        if not order.erased_at or names_left(order)
    ]


def expired_deletions(today: datetime.date) -> list[str]:
    """Codes of deleted orders whose story still names members when it should no longer."""
    stories = _deleted().values("deleted_order").annotate(last=Max("at")).order_by("deleted_order")
    return [
        story["deleted_order"]
        for story in stories
        if timezone.localdate(story["last"]) + KEPT_AFTER_DELETION <= today
        and any(
            not LABEL.fullmatch(member)
            for member in _deleted(story["deleted_order"])
            .exclude(member="")
            .values_list("member", flat=True)
        )
    ]


@transaction.atomic
def erase_deleted(code: str) -> None:
    """Take the members' names out of the story of a deleted order."""
    rows = list(_deleted(code).order_by("pk"))
    members = dict.fromkeys(row.member for row in rows if row.member)
    labels = {name: f"Member {number}" for number, name in enumerate(members, 1)}
    names = pseudonyms(None, labels, [row.words for row in rows], keep=())
    _clear_amendments(rows, names, whole=True)
    transaction.on_commit(_empty_write_ahead_log)


def _deleted(code: str | None = None) -> QuerySet[Amendment]:
    rows = Amendment.objects.filter(team_order=None)
    return rows if code is None else rows.filter(deleted_order=code)


def _locked(team_order: TeamOrder) -> TeamOrder:
    """The order, locked after its run and its jackets as in all work on them, so that nobody waits
    for somebody who waits for them."""
    runs = Run.objects.filter(run_orders__team_order=team_order)
    list(runs.select_for_update(of=("self",)).only("pk"))
    jackets = Jacket.objects.filter(jacket_order__team_order=team_order)
    list(jackets.select_for_update(of=("self",)).order_by("pk").only("pk"))
    return TeamOrder.objects.select_for_update(of=("self",)).get(pk=team_order.pk)


def _free_label(line: JacketOrder, lines: list[JacketOrder]) -> str:
    """By its place in the order, or the next one that no other member is called."""
    taken = {one.member.casefold() for one in lines if one.pk != line.pk}
    place = lines.index(line) + 1
    numbers = (place, *(range(len(lines) + 1, 2 * len(lines) + 2)))
    return next(
        label for number in numbers if (label := f"Member {number}").casefold() not in taken
    )


def _expected_as(order: TeamOrder, name: str) -> list[int]:
    # The database folds only ASCII letters on SQLite.
    rows = order.expected.values_list("pk", "name")
    return [pk for pk, expected in rows if expected.casefold() == name.casefold()]


def _rename(lines: list[JacketOrder], labels: Mapping[int, str]) -> None:
    """In two steps: a member may be called 'Member 2' before, and names are unique."""
    for line in lines:
        JacketOrder.objects.filter(pk=line.pk).update(member=f"- {line.pk}")
    for line in lines:
        JacketOrder.objects.filter(pk=line.pk).update(
            member=labels[line.pk], name_on_jacket="", note=""
        )


def _clear_amendments(rows: Iterable[Amendment], names: Pseudonyms, *, whole: bool) -> None:
    changed = []
    for row in rows:
        before = (row.member, row.words)
        row.words = names.cleared(row.words, own=whole or names.goes(row.member))
        row.member = names.labels.get(row.member.casefold(), row.member)
        if before != (row.member, row.words):
            changed.append(row)
    Amendment.objects.bulk_update(changed, ["member", "words"], batch_size=200)


def _clear_texts(order: TeamOrder, erased: Erased) -> None:
    names = erased.names
    _clear_amendments(order.amendments.all(), names, whole=erased.whole)
    clear_floor(order, names, whole=erased.whole)
    order.note = names.cleared(order.note, own=False)
    order.welcome = names.cleared(order.welcome, own=False)
    order.save(update_fields=["note", "welcome"])
    own = set(
        Jacket.objects.filter(jacket_order__in=list(erased.labels)).values_list("code", flat=True)
    )
    for pk, words, code in order.supplements.values_list("pk", "words", "plan__jacket"):
        Supplement.objects.filter(pk=pk).update(words=names.cleared(words, own=code in own))
    for pk, reason, code in SpoiledPiece.objects.filter(
        jacket__jacket_order__team_order=order
    ).values_list("pk", "reason", "jacket__code"):
        SpoiledPiece.objects.filter(pk=pk).update(reason=names.cleared(reason, own=code in own))
    for event in StageEvent.objects.filter(jacket__jacket_order__team_order=order).exclude(
        reason=""
    ):
        StageEvent.objects.filter(pk=event.pk).update(reason=names.cleared(event.reason, own=False))
    for jacket in Jacket.objects.filter(jacket_order__team_order=order).exclude(mend_reason=""):
        Jacket.objects.filter(pk=jacket.pk).update(
            mend_reason=names.cleared(jacket.mend_reason, own=False)
        )


def _clear_run_papers(order: TeamOrder, erased: Erased) -> None:
    """The frozen snapshots and plans, from which a run is printed again."""
    codes = dict(
        Jacket.objects.filter(jacket_order__in=list(erased.labels)).values_list(
            "code", "jacket_order"
        )
    )
    labels = {code: erased.labels[key] for code, key in codes.items()}
    papers: list[Run | Supplement] = [
        *Run.objects.select_for_update().filter(run_orders__team_order=order),
        *Supplement.objects.select_for_update().filter(team_order=order),
    ]
    for paper in papers:
        by_code = labels
        if erased.whole:
            by_code = _labels_of_frozen(paper.snapshot, order.code, erased.names) | labels
        # A supplement's plan holds the plan of what is cut, like a run's, one step further in.
        for document in (paper.snapshot, paper.plan, (paper.plan or {}).get("cut")):
            _clear_jackets(document or {}, by_code)
        paper.save(update_fields=["snapshot", "plan"])


def _labels_of_frozen(
    snapshot: dict[str, Any] | None, order_code: str, names: Pseudonyms
) -> dict[str, str]:
    return {
        jacket["code"]: names.labels.get(jacket["member"].casefold(), SOMEONE)
        for jacket in (snapshot or {}).get("jackets", [])
        if jacket["team_order"] == order_code
    }


def _clear_jackets(document: dict[str, Any], labels: Mapping[str, str]) -> None:
    for jacket in document.get("jackets", []):
        if label := labels.get(jacket["code"]):
            jacket["member"] = label
            jacket.update({own: "" for own in ("name_on_jacket", "note") if own in jacket})


def _empty_write_ahead_log() -> None:
    """SQLite keeps the old pages in its log until it is written back."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
