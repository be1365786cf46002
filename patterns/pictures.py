"""Jacket pictures of a blocking, filled with fabric colors, as SVG for a page."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from django.utils.safestring import SafeString, mark_safe

from patterns.geometry.blocks import Block
from patterns.geometry.picture import Fill, Picture, jacket_pictures
from patterns.geometry.picture_svg import picture_svg
from patterns.models import Blocking, FabricColor
from patterns.queries import blocks_of, style_lines

VIEW_NAMES = {"front": "Front", "back": "Back", "open": "Opened front"}


def blocking_pictures(blocking: Blocking) -> tuple[Picture, ...]:
    """Front, back and opened front in the middle one of the pattern's sizes."""
    sizes = list(blocking.pattern.sizes.all())
    plain = tuple(line.code for line in style_lines(blocking) if not line.topstitched)
    return _pictures(blocks_of(blocking, sizes[len(sizes) // 2]), plain)


# Drawing takes a tenth of a second and pages show the same blockings again and again.
@lru_cache(maxsize=64)
def _pictures(blocks: tuple[Block, ...], plain_lines: tuple[str, ...]) -> tuple[Picture, ...]:
    return jacket_pictures(blocks, plain_lines)


def fill_of(color: FabricColor) -> Fill:
    return Fill(hex_color=color.hex_color, hatch=color.hatch, name=color.name)


def colorway_svgs(
    blocking: Blocking,
    fills: Mapping[str, FabricColor],
    *,
    zipper_hex: str = "#8a8a8a",
    thread_hex: str | None = None,
    uid: str = "jacket",
) -> list[tuple[str, SafeString]]:
    """(name of the view, SVG) for front, back and opened front; `fills` by block code."""
    shown = {code: fill_of(color) for code, color in fills.items()}
    return [
        (
            VIEW_NAMES[picture.view],
            # The SVG is our own text with every name escaped in it.
            mark_safe(
                picture_svg(
                    picture,
                    shown,
                    zipper_hex=zipper_hex,
                    thread_hex=thread_hex,
                    title=f"{blocking.name}, {VIEW_NAMES[picture.view].lower()}",
                    uid=f"{uid}-{picture.view}",
                )
            ),
        )
        for picture in blocking_pictures(blocking)
    ]


def blank_svgs(blocking: Blocking) -> list[tuple[str, SafeString]]:
    """The views of a blocking before any color is chosen."""
    return colorway_svgs(blocking, {}, uid=f"blank-{blocking.code}")
