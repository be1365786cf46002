"""The key of a tap for the forms that make one."""

from __future__ import annotations

import uuid

from django import template

register = template.Library()


@register.simple_tag
def tap_key() -> str:
    return str(uuid.uuid4())
