"""Who may do what: the maker everything, a helper the production pages without money."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.contrib.auth.models import AbstractBaseUser, AnonymousUser, User
from django.core.exceptions import PermissionDenied
from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponseBase

MAKER = "maker"
HELPER = "helper"

View = TypeVar("View", bound=Callable[..., HttpResponseBase])


def is_maker(user: AbstractBaseUser | AnonymousUser) -> bool:
    """Asks the database once per user object, so that a page may ask many times."""
    if not isinstance(user, User) or not user.is_active:
        return False
    if user.is_superuser:
        return True
    prefetch_related_objects([user], "groups")
    return any(group.name == MAKER for group in user.groups.all())


def maker_only(view: View) -> View:
    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not is_maker(request.user):
            raise PermissionDenied("Only the maker may see this page.")
        return view(request, *args, **kwargs)

    return cast(View, guarded)
