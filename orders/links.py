"""Secret links: given out, revoked, given out anew, and found again.

A token has 128 bits. It is made from the site's secret key and the link's nonce, so that the maker
can be shown it again while the database alone gives nothing away; a link is found by the digest of
its token. The short code is for typing what hangs on a board: fifty bits, and guesses are counted.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from orders.models import AccessLink, JacketOrder, TeamOrder

TOKEN_BYTES = 16
#: Letters that cannot be taken for one another when read from a board.
SHORT_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
SHORT_LENGTH = 10
#: Different wrong links from one address in ten minutes before it has to wait.
WRONG_ALLOWED = 20
WAIT_SECONDS = 600

Kind = AccessLink.Kind


def token_of(link: AccessLink) -> str:
    key = hashlib.sha256(f"secret link:{settings.SECRET_KEY}".encode()).digest()
    made = hmac.new(key, f"{link.kind}:{link.nonce}".encode(), hashlib.sha256).digest()
    return base64.urlsafe_b64encode(made[:TOKEN_BYTES]).rstrip(b"=").decode()


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def give_out(
    team_order: TeamOrder, kind: str, jacket_order: JacketOrder | None = None
) -> AccessLink:
    """The live link of this kind, or a new one where there is none."""
    TeamOrder.objects.select_for_update().get(pk=team_order.pk)
    live = AccessLink.objects.filter(
        team_order=team_order, kind=kind, jacket_order=jacket_order, revoked_at=None
    ).first()
    return live or _new_link(team_order, kind, jacket_order)


def _new_link(team_order: TeamOrder, kind: str, jacket_order: JacketOrder | None) -> AccessLink:
    link = AccessLink(
        team_order=team_order,
        kind=kind,
        jacket_order=jacket_order,
        nonce=secrets.token_hex(TOKEN_BYTES),
    )
    if kind == Kind.MEMBERS:
        link.short_code = "".join(secrets.choice(SHORT_LETTERS) for _ in range(SHORT_LENGTH))
    link.digest = _digest(token_of(link))
    link.save()
    return link


@transaction.atomic
def revoke(link: AccessLink) -> None:
    """The link stops working at once; what was ordered through it stays."""
    AccessLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=timezone.now())


@transaction.atomic
def give_out_anew(link: AccessLink) -> AccessLink:
    revoke(link)
    return give_out(link.team_order, link.kind, link.jacket_order)


def find(token: str, kind: str) -> AccessLink | None:
    """The live link of a token; None alike for a wrong one and a revoked one."""
    return (
        AccessLink.objects.filter(digest=_digest(token), kind=kind, revoked_at=None)
        .select_related("team_order__club", "jacket_order__colorway", "jacket_order__size")
        .first()
    )


def find_short(typed: str) -> AccessLink | None:
    """The members' link of a short code, typed in any case, with blanks or dashes."""
    code = "".join(letter for letter in typed.upper() if letter.isalnum())
    return AccessLink.objects.filter(short_code=code, kind=Kind.MEMBERS, revoked_at=None).first()


def address_of(link: AccessLink) -> str:
    """The path of the page that the link opens."""
    names = {
        Kind.COORDINATOR: "coordinator:order",
        Kind.MEMBERS: "members:form",
        Kind.MEMBER: "members:mine",
    }
    return reverse(names[Kind(link.kind)], args=[token_of(link)])


def has_guessed_too_often(request: HttpRequest) -> bool:
    return bool(cache.get(_guess_key(request), 0) >= WRONG_ALLOWED)


def count_wrong_guess(request: HttpRequest, guess: str) -> None:
    """The same wrong guess again is no other guess: a team that shares one address and opens a
    revoked link from the chat does not lock itself out."""
    key = _guess_key(request)
    if cache.add(f"{key}:{_digest(guess)}", 1, WAIT_SECONDS):
        cache.add(key, 0, WAIT_SECONDS)
        cache.incr(key)


def _guess_key(request: HttpRequest) -> str:
    return f"wrong-link:{request.META.get('REMOTE_ADDR', '')}"


def keep_secret(response: HttpResponse) -> HttpResponse:
    """Pages behind a secret link are not indexed, not cached and send no other site a referrer."""
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Cache-Control"] = "no-store"
    # Under "no-referrer" browsers post a form with "Origin: null", which the CSRF check refuses.
    response["Referrer-Policy"] = "same-origin"
    return response


def too_many(request: HttpRequest) -> HttpResponse:
    return keep_secret(render(request, "orders/link_wait.html", status=429))


def by_link(kind: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """A view reached by a secret link: `view(request, link, …)` at a path with `<str:token>`.

    A wrong, a revoked and a never issued token get the same 404; after WRONG_ALLOWED of them an
    address waits.
    """

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @login_not_required
        @wraps(view)
        def guarded(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
            if has_guessed_too_often(request):
                return too_many(request)
            link = find(token, kind)
            if link is None:
                count_wrong_guess(request, token)
                raise Http404("This link does not open anything.")
            return keep_secret(view(request, link, *args, **kwargs))

        return guarded

    return decorate
