"""A picture of the jacket as inline SVG: presentation attributes only, so that a strict content
security policy lets it through, and colors told by hatch and by word, not by hue alone."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from xml.sax.saxutils import escape

from patterns.geometry.outline import Line
from patterns.geometry.picture import Fill, Part, Picture, Shape, View
from patterns.geometry.picture_labels import CAPITAL_HEIGHT, LABEL_MM

INK, PAPER = "#1f2933", "#ffffff"

#: Widths of lines, in mm of the jacket.
OUTLINE_MM, STITCH_MM, HATCH_LINE_MM = 2.6, 2.2, 2.4
TAPE_MM, TEETH_MM = 13.0, 4.5

#: How much of the white paper shows through on the wrong side of the cloth.
INSIDE_TINT = 0.55

#: Hatches as strokes within a square of 20 mm; dots are strokes of no length with round ends.
_HATCHES: dict[str, str] = {
    "none": "",
    "rising": "M-5 5 5-5M-1 21 21-1M15 25 25 15",
    "falling": "M-5 15 5 25M-1-1 21 21M15-5 25 5",
    "level": "M0 10H20",
    "upright": "M10 0V20",
    "dots": "M5 5h.01M15 15h.01",
    "grid": "M0 10H20M10 0V20",
}

#: What the cloth of a block is painted with: color and hatch.
Paint = tuple[str, str]

#: Thread less distinct from its cloth than this contrast ratio is only hinted at.
LEAST_CONTRAST = 1.3

_HEX = re.compile(r"#[0-9a-fA-F]{6}")
_ID = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_SIDES = {
    View.FRONT: "The jacket from in front.",
    View.BACK: "The jacket from behind.",
    View.OPEN: "The jacket opened, its inside showing.",
}


def picture_svg(
    picture: Picture,
    fills: Mapping[str, Fill],
    zipper_hex: str,
    thread_hex: str | None,
    title: str,
    uid: str,
) -> str:
    """A standalone <svg> element, at most some 40 kB.

    `fills` gives blocks by code their color; a block without one stays white. `thread_hex` is the
    topstitching's color, None for thread that matches each block. `uid` starts every id, so that
    several pictures can stand on one page. ValueError for a color that is not # and six hex digits,
    a hatch that is not known, or a uid that is no plain word.
    """
    _check(fills, zipper_hex, thread_hex, uid)
    paints = _paints(picture.shapes, fills)
    names = {paint: f"{uid}-h{n}" for n, paint in enumerate(sorted(set(paints.values())), start=1)}
    drawn = "".join(
        _zipper(shape, zipper_hex, closed=picture.view is View.FRONT)
        if shape.part is Part.ZIPPER
        else _stitches(shape, fills.get(shape.block), thread_hex)
        if shape.part is Part.STITCHES
        else f'<path d="{_path(shape.points)}Z" fill="{_paint(paints[_key(shape)], names)}"/>'
        for shape in picture.shapes
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{uid}-t {uid}-d" '
        f'viewBox="0 0 {_number(picture.width_mm)} {_number(picture.height_mm)}">'
        f'<title id="{uid}-t">{escape(title)}</title>'
        f'<desc id="{uid}-d">{escape(_described(picture, fills))}</desc>'
        f"<defs>{''.join(_pattern(paint, name) for paint, name in names.items())}</defs>"
        f'<g stroke="{INK}" stroke-width="{OUTLINE_MM}" stroke-linejoin="round">{drawn}</g>'
        f"{_labels(picture.shapes)}</svg>"
    )


def _check(fills: Mapping[str, Fill], zipper_hex: str, thread_hex: str | None, uid: str) -> None:
    colors = {fill.name: fill.hex_color for fill in fills.values()} | {"zipper": zipper_hex}
    if thread_hex is not None:
        colors["thread"] = thread_hex
    for name, color in colors.items():
        if not _HEX.fullmatch(color):
            raise ValueError(f"The screen color of {name} is # and six hex digits, not '{color}'.")
    for fill in fills.values():
        if fill.hatch not in _HATCHES:
            known = ", ".join(_HATCHES)
            raise ValueError(f"The hatch of {fill.name} is one of {known}, not '{fill.hatch}'.")
    if not _ID.fullmatch(uid):
        raise ValueError(f"An id starts with a letter and goes on without blanks, not '{uid}'.")


def _key(shape: Shape) -> tuple[Part, str]:
    return shape.part, shape.block


def _paints(shapes: Iterable[Shape], fills: Mapping[str, Fill]) -> dict[tuple[Part, str], Paint]:
    """What the cloth of each block is painted with, right side and wrong side."""
    paints: dict[tuple[Part, str], Paint] = {}
    for shape in shapes:
        if shape.part in (Part.BLOCK, Part.INSIDE):
            fill = fills.get(shape.block, Fill(PAPER, "none", ""))
            inside = shape.part is Part.INSIDE
            color = _tinted(fill.hex_color, INSIDE_TINT) if inside else fill.hex_color
            paints[_key(shape)] = (color.lower(), fill.hatch)
    return paints


def _paint(paint: Paint, names: Mapping[Paint, str]) -> str:
    color, hatch = paint
    return color if hatch == "none" else f"url(#{names[paint]})"


def _pattern(paint: Paint, name: str) -> str:
    color, hatch = paint
    if hatch == "none":
        return ""
    width = 3 * HATCH_LINE_MM if hatch == "dots" else HATCH_LINE_MM
    return (
        f'<pattern id="{name}" width="20" height="20" patternUnits="userSpaceOnUse">'
        f'<path d="M0 0H20V20H0Z" fill="{color}"/>'
        f'<path d="{_HATCHES[hatch]}" fill="none" stroke="{_contrast(color)}" stroke-opacity=".45" '
        f'stroke-width="{_number(width)}" stroke-linecap="{"round" if hatch == "dots" else "butt"}"'
        "/></pattern>"
    )


def _stitches(shape: Shape, fill: Fill | None, thread_hex: str | None) -> str:
    """Thread in the cloth's own color would not be seen, so it is hinted at in ink or paper."""
    cloth = fill.hex_color if fill else PAPER
    if thread_hex is None or _contrast_ratio(thread_hex, cloth) < LEAST_CONTRAST:
        color = f'"{_contrast(cloth)}" stroke-opacity=".6"'
    else:
        color = f'"{thread_hex}"'
    return (
        f'<path d="{_path(shape.points)}" fill="none" stroke={color} '
        f'stroke-width="{STITCH_MM}" stroke-dasharray="9 5"/>'
    )


def _zipper(shape: Shape, tape_hex: str, *, closed: bool) -> str:
    line = _path(shape.points)
    x, y = shape.points[-1]
    pull = (
        f'<rect x="{_number(x - 5)}" y="{_number(y + 8)}" width="10" height="30" rx="4" '
        f'fill="{_contrast(tape_hex)}" stroke="{tape_hex}"/>'
    )
    return (
        f'<g fill="none" stroke-linejoin="miter">'
        f'<path d="{line}" stroke-width="{TAPE_MM + OUTLINE_MM}"/>'
        f'<path d="{line}" stroke="{tape_hex}" stroke-width="{TAPE_MM - OUTLINE_MM}"/>'
        f'<path d="{line}" stroke="{_contrast(tape_hex)}" stroke-width="{TEETH_MM}" '
        f'stroke-dasharray="2.5 2.5"/>{pull if closed else ""}</g>'
    )


def _labels(shapes: Iterable[Shape]) -> str:
    drop = LABEL_MM * CAPITAL_HEIGHT / 2
    texts = "".join(
        f'<text x="{_number(x)}" y="{_number(y + drop)}">{escape(code)}</text>'
        for code, (x, y) in _placed(shapes)
    )
    return (
        f'<g font-family="system-ui,sans-serif" font-size="{_number(LABEL_MM)}" font-weight="600" '
        f'text-anchor="middle" fill="{INK}" stroke="{PAPER}" stroke-width="7" '
        f'stroke-linejoin="round" paint-order="stroke">{texts}</g>'
    )


def _placed(shapes: Iterable[Shape]) -> Iterator[tuple[str, tuple[float, float]]]:
    for shape in shapes:
        if shape.label_at is not None:
            yield shape.block, shape.label_at


def _described(picture: Picture, fills: Mapping[str, Fill]) -> str:
    """The view and each block's color in words."""
    codes = dict.fromkeys(
        shape.block for shape in picture.shapes if shape.part in (Part.BLOCK, Part.INSIDE)
    )
    colors = (f"{code}: {fills[code].name if code in fills else 'no color'}" for code in codes)
    return f"{_SIDES[picture.view]} {'; '.join(colors)}."


def _path(points: Line) -> str:
    spots = [f"{_number(x)},{_number(y)}" for x, y in points]
    apart = [spot for n, spot in enumerate(spots) if not n or spot != spots[n - 1]]
    return "M" + " ".join(apart)


def _number(value: float) -> str:
    """Rounded to 0.1 mm, without a needless '.0'."""
    return f"{value:.1f}".removesuffix(".0")


def _channels(hex_color: str) -> tuple[int, ...]:
    return tuple(int(hex_color[i : i + 2], 16) for i in (1, 3, 5))


def _tinted(hex_color: str, share: float) -> str:
    mixed = (round(channel + (255 - channel) * share) for channel in _channels(hex_color))
    return "#" + "".join(f"{channel:02x}" for channel in mixed)


def _luminance(hex_color: str) -> float:
    """Relative luminance, 0 to 1, as WCAG 2 defines it (from memory)."""
    linear = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (channel / 255 for channel in _channels(hex_color))
    )
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def _contrast_ratio(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21, as WCAG 2 defines it (from memory)."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _contrast(hex_color: str) -> str:
    """Ink or paper, whichever stands out more."""
    return max((INK, PAPER), key=lambda line: _contrast_ratio(line, hex_color))
