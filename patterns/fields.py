"""What the models of patterns and materials share: codes, colors, bounds."""

from __future__ import annotations

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q

CODE = RegexValidator(
    r"^[A-Za-z0-9][A-Za-z0-9._-]*$",
    "A code is made of letters, digits, dot, dash and underscore, with no blanks.",
)
HEX_COLOR = RegexValidator(r"^#[0-9a-fA-F]{6}$", "A screen color is # and six hex digits.")


def positive(field: str, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(condition=Q(**{f"{field}__gt": 0}), name=name)


def from_zero(*fields: str, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{f"{field}__gte": 0 for field in fields}), name=name
    )
