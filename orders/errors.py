"""What a team order refuses, in words for the person who asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from orders.roster import Problem


class OrderError(Exception):
    """A change that a team order refuses; `field` names the form field that it is about."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


class OrderFrozenError(OrderError):
    """The team order is in production already, or cancelled."""


class RosterError(OrderError):
    """A roster that cannot be taken; nothing of it was stored. `problems` are its bad cells."""

    def __init__(self, message: str, problems: Sequence[Problem] = ()) -> None:
        super().__init__(message)
        self.problems = tuple(problems)
