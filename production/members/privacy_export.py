"""All that is known of one member, to be handed to the member."""

from __future__ import annotations

from typing import Any

from orders.models import JacketOrder
from orders.money import plain
from orders.money_queries import account_of, payments_told
from orders.queries import currency
from production.members.privacy import kept_until
from production.members.privacy_names import names_known_of
from production.models import DeliveredJacket, Jacket


def export_member(jacket_order: JacketOrder) -> dict[str, Any]:
    """Plain values for JSON: money as decimal strings, days as 2026-11-25, times with their zone.
    Who of the workroom did what is left out: that is the workroom's people's data."""
    line = JacketOrder.objects.select_related("team_order__club", "size", "colorway__blocking").get(
        pk=jacket_order.pk
    )
    order = line.team_order
    day = kept_until(order)
    names = names_known_of(line)
    folded = {name.casefold() for name in names}
    return {
        "team_order": {
            "code": order.code,
            "club": order.club.name,
            "title": order.title,
            "deadline": order.deadline.isoformat(),
        },
        "member": line.member,
        "former_names": names[1:],
        "size": line.size.code,
        "colorway": line.colorway.name,
        "blocking": line.colorway.blocking.name,
        "own_colors": {
            choice.block.code: choice.fabric_color.name
            for choice in line.choices.select_related("block", "fabric_color")
        },
        "name_on_jacket": line.name_on_jacket,
        "note": line.note,
        "on_the_roster": any(
            name.casefold() in folded for name in order.expected.values_list("name", flat=True)
        ),
        "secret_links": [
            {
                "given_out": link.created_at.isoformat(),
                "revoked": link.revoked_at.isoformat() if link.revoked_at else None,
            }
            for link in line.links.all()
        ],
        "money": _money(line),
        "changes": [
            {"at": row.at.isoformat(), "words": row.words}
            for row in order.amendments.exclude(member="").order_by("pk")
            if row.member.casefold() in folded
        ],
        "jacket": _jacket(line, folded),
        "kept_until": day.isoformat() if day else None,
    }


def _money(line: JacketOrder) -> dict[str, Any]:
    account = account_of(line.team_order)
    own = next(one for one in account.lines if one.key == line.pk)
    priced = account.price is not None
    return {
        "currency": currency(),
        "price": str(plain(own.price)) if priced else None,
        "discount": str(plain(line.discount)),
        "paid": str(plain(own.paid)),
        "open": str(plain(own.balance)) if priced else None,
        "payments": payments_told(line),
    }


def _jacket(line: JacketOrder, names: set[str]) -> dict[str, Any] | None:
    jacket = (
        Jacket.objects.select_related("run").defer("run__plan").filter(jacket_order=line).first()
    )
    if jacket is None:
        return None
    frozen = next(
        (one for one in jacket.run.snapshot["jackets"] if one["code"] == jacket.code), None
    )
    return {
        "code": jacket.code,
        "run": jacket.run.code,
        "stage": jacket.stage,
        "to_mend": jacket.mend_reason,
        "cancelled": jacket.cancelled_at.isoformat() if jacket.cancelled_at else None,
        "frozen_as": frozen
        and {key: frozen[key] for key in ("member", "size", "name_on_jacket", "note")},
        "events": [
            {
                "at": event.at.isoformat(),
                "kind": event.kind,
                "stage": event.stage,
                "reason": event.reason,
            }
            for event in jacket.events.order_by("pk")
        ],
        "short_or_spoiled": [
            {
                "at": piece.at.isoformat(),
                "block": piece.block,
                "side": piece.side,
                "reason": piece.reason,
                "taken_back": piece.taken_back_at and piece.taken_back_at.isoformat(),
            }
            for piece in jacket.spoiled_pieces.order_by("pk")
        ],
        "checks": [
            {
                "at": check.at.isoformat(),
                "passed": check.passed,
                "faults": [fault.words or fault.point.words for fault in check.faults.all()],
                "note": check.note,
            }
            for check in jacket.inspections.prefetch_related("faults__point").order_by("pk")
        ],
        "deliveries": [
            _delivery(row, names)
            for row in jacket.deliveries.select_related("delivery", "event__undone_by")
        ],
    }


def _delivery(row: DeliveredJacket, names: set[str]) -> dict[str, Any]:
    """Who received the jackets is told where it is the member: another person's name and signature
    are that person's data."""
    delivery, undo = row.delivery, getattr(row.event, "undone_by", None)
    is_own = delivery.received_by.casefold() in names
    return {
        "number": delivery.number,
        "at": delivery.at.isoformat(),
        "taken_back": undo.at.isoformat() if undo else None,
        "received_by": delivery.received_by if is_own else None,
        "signed": delivery.signed,
        "signature": delivery.signature if is_own else None,
    }
