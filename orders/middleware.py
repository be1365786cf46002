"""Pages that name people are nobody else's to keep or to find."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.contrib import messages
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponseBase, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme

NOT_DONE = (
    "You were logged out meanwhile, so what you sent was not done. After you have logged in, look "
    "and do it again."
)


def keep_private(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """No page and no file made for one person is cached by a browser or on the way, nor listed by
    a search engine. Static files do not pass here; a view's own header stays."""

    def answer(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "no-store")
        response.headers.setdefault("X-Robots-Tag", "noindex, nofollow")
        return response

    return answer


class AskToLogIn(LoginRequiredMiddleware):
    """Leads what was sent without a log-in back to the page that it came from: it is not done, and
    its own address opens no page."""

    def handle_no_permission(self, request: HttpRequest, view_func: Any) -> HttpResponseRedirect:
        if request.method != "POST":
            return super().handle_no_permission(request, view_func)
        messages.warning(request, NOT_DONE)
        return redirect_to_login(_page_before(request), str(self.get_login_url(view_func)), "next")


def _page_before(request: HttpRequest) -> str:
    """The address within this site of the page that was posted from, else the first page."""
    before = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(before, {request.get_host()}):
        return "/"
    parts = urlsplit(before)
    return f"{parts.path}?{parts.query}" if parts.query else parts.path or "/"
