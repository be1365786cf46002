"""The maker's hand on the secret links: given out, revoked, given out anew, each written down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db import transaction
from django.http import HttpRequest
from django.http.request import split_domain_port
from django.utils.safestring import SafeString, mark_safe

from orders import links
from orders.errors import OrderError
from orders.models import AccessLink, JacketOrder, TeamOrder
from orders.services import amend, open_order

if TYPE_CHECKING:
    from django.contrib.auth.models import User

Kind = AccessLink.Kind
#: The two links of an order as such; a member's own link is given out by the form, or after it.
NAMES = {Kind.MEMBERS: "members' link", Kind.COORDINATOR: "coordinator's link"}
LOCAL_HOSTS = ("localhost", "127.0.0.1", "[::1]")


@dataclass(frozen=True, slots=True)
class LinkCard:
    """A link as the order page shows it; without an address it is not given out."""

    kind: str
    name: str
    address: str = ""
    short_code: str = ""
    qr: SafeString | None = None


def live_link(team_order: TeamOrder, kind: str) -> AccessLink | None:
    return team_order.links.filter(kind=kind, jacket_order=None, revoked_at=None).first()


def link_cards(request: HttpRequest, team_order: TeamOrder) -> list[LinkCard]:
    live = {link.kind: link for link in team_order.links.filter(revoked_at=None, jacket_order=None)}
    return [_card(request, kind, live.get(kind)) for kind in NAMES]


def card_of(request: HttpRequest, team_order: TeamOrder, kind: str) -> LinkCard:
    return _card(request, kind, live_link(team_order, kind))


def _card(request: HttpRequest, kind: str, link: AccessLink | None) -> LinkCard:
    name = NAMES[Kind(kind)]
    if link is None:
        return LinkCard(kind, name)
    address = request.build_absolute_uri(links.address_of(link))
    if kind != Kind.MEMBERS:
        return LinkCard(kind, name, address)
    return LinkCard(kind, name, address, in_groups(link.short_code or ""), qr_svg(address))


def shown_once(request: HttpRequest, link: AccessLink) -> dict[str, object]:
    """What `orders/member/_keep_link.html` shows of a link."""
    address = request.build_absolute_uri(links.address_of(link))
    return {"address": address, "qr": qr_svg(address)}


def in_groups(short_code: str) -> str:
    """A short code in groups of five, as it is read aloud and typed."""
    return "-".join(short_code[at : at + 5] for at in range(0, len(short_code), 5))


def qr_svg(text: str) -> SafeString:
    """A QR code as inline SVG with its quiet zone of four modules; no style attribute, since the
    content security policy allows none."""
    import segno

    made = segno.make(text, error="m", micro=False)
    return mark_safe(  # drawn by us; the text lies in the modules only
        made.svg_inline(border=4, light="#fff", svgclass=None, lineclass=None, omitsize=True)
    )


def works_only_here(request: HttpRequest) -> bool:
    """Whether the address in the links opens on this machine alone."""
    domain, _ = split_domain_port(request.get_host())
    return domain in LOCAL_HOSTS


@transaction.atomic
def give_out(team_order: TeamOrder, kind: str, *, by: User | None) -> AccessLink:
    """The live link, given out where there is none yet; OrderError for an order without a form."""
    _check_has_form(team_order)
    live = live_link(team_order, kind)
    link = links.give_out(team_order, kind)
    if live is None:
        amend(team_order, by, f"{NAMES[Kind(kind)]} given out")
    return link


@transaction.atomic
def give_out_anew(team_order: TeamOrder, kind: str, *, by: User | None) -> AccessLink:
    """Another link instead of the live one, which stops working."""
    _check_has_form(team_order)
    link = links.give_out_anew(_live(team_order, kind))
    amend(team_order, by, f"{NAMES[Kind(kind)]} given out anew")
    return link


@transaction.atomic
def revoke(team_order: TeamOrder, kind: str, *, by: User | None) -> None:
    links.revoke(_live(team_order, kind))
    amend(team_order, by, f"{NAMES[Kind(kind)]} revoked")


@transaction.atomic
def give_own_link(jacket_order: JacketOrder, *, by: User | None, by_link: str = "") -> AccessLink:
    """A private link for a member who lost it or never had one, because the jacket came from a
    roster; an earlier one stops working."""
    team_order = open_order(jacket_order.team_order)
    stored = team_order.jacket_orders.filter(pk=jacket_order.pk).first()
    if stored is None:
        raise OrderError(f"{jacket_order.member} has no jacket in {team_order.code} any more.")
    live = stored.links.filter(revoked_at=None).first()
    link = links.give_out_anew(live) if live else links.give_out(team_order, Kind.MEMBER, stored)
    anew = " anew" if live else ""
    words = f"private link of {stored.member} given out{anew}"
    amend(team_order, by, words, stored.member, by_link=by_link)
    return link


def _live(team_order: TeamOrder, kind: str) -> AccessLink:
    TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    link = live_link(team_order, kind)
    if link is None:
        raise OrderError(
            f"{team_order.code} has no {NAMES[Kind(kind)]} by now: someone revoked it. "
            "Give one out first."
        )
    return link


def _check_has_form(team_order: TeamOrder) -> None:
    stored = TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    if stored.state == TeamOrder.State.CANCELLED:
        raise OrderError(f"{stored.code} is cancelled: its links are not given out any more.")
