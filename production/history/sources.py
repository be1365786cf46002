"""Where the lines of the history come from: which rows of which tables, when and by whom."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, QuerySet

from production.history.lines import Kind, Line

Rows = QuerySet[Any, Any]


@dataclass(frozen=True, slots=True)
class Source:
    """Rows of one table that each tell one line. `at` and `by` are the fields of the moment and
    the person, `jacket` and `run` the ways to them ('' where a row concerns no single one), `tell`
    makes lines of rows by their keys, in a fixed number of queries."""

    code: str
    kind: Kind
    model: type[Model]
    at: str
    by: str
    run: str
    jacket: str
    tell: Callable[[Iterable[int]], Mapping[int, Line]]
    only: Callable[[Rows], Rows] = lambda rows: rows

    def rows(self) -> Rows:
        return self.only(self.model._default_manager.order_by())
