"""Pages that name people are nobody else's to keep or to find."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase


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
