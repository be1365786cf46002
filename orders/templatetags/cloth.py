"""Swatches of fabric colors, and who is asking."""

from __future__ import annotations

from django import template
from django.contrib.auth.models import AbstractBaseUser, AnonymousUser
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders import roles
from patterns.models import FabricColor

register = template.Library()

HATCH_PATHS = {
    FabricColor.Hatch.RISING: "M-2 8 8-2M2 18 18 2M-2 14 14-2M8 18 18 8",
    FabricColor.Hatch.FALLING: "M8-2 18 8M-2 2 14 18M2-2 18 14M-2 8 8 18",
    FabricColor.Hatch.LEVEL: "M0 4H16M0 8H16M0 12H16",
    FabricColor.Hatch.UPRIGHT: "M4 0V16M8 0V16M12 0V16",
    FabricColor.Hatch.DOTS: "M4 4h.01M12 4h.01M8 8h.01M4 12h.01M12 12h.01",
    FabricColor.Hatch.GRID: "M0 5H16M0 11H16M5 0V16M11 0V16",
}


def _is_dark(hex_color: str) -> bool:
    red, green, blue = (int(hex_color[at : at + 2], 16) for at in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue < 128


@register.simple_tag
def chip(color: FabricColor) -> SafeString:
    """A swatch with its hatch and the color's name: never the hue alone."""
    return format_html(
        '<span class="chip"><svg class="swatch" width="16" height="16" viewBox="0 0 16 16" '
        'aria-hidden="true"><rect width="16" height="16" fill="{}"/><path d="{}" fill="none" '
        'stroke="{}" stroke-width="{}" stroke-linecap="round"/></svg> {}</span>',
        color.hex_color,
        HATCH_PATHS.get(FabricColor.Hatch(color.hatch), ""),
        "#ffffff" if _is_dark(color.hex_color) else "#26221c",
        "2" if color.hatch == FabricColor.Hatch.DOTS else "0.8",
        color.name,
    )


@register.filter
def is_maker(user: AbstractBaseUser | AnonymousUser) -> bool:
    return roles.is_maker(user)
