"""A signature drawn on the screen: strokes of points between 0 and 1, x to the right, y down, on a
field that is five wide and two high."""

from __future__ import annotations

import json
import math

from production.errors import ProductionError

Strokes = list[list[list[float]]]

#: Wide and high of the field, in units of the drawing.
FIELD = (500, 200)
#: Invented, many times what a name takes: more is not a signature.
MOST_STROKES = 100
MOST_POINTS = 5000
#: Letters of the text that such a signature takes at most, with room to spare.
MOST_TEXT = 150_000


class SignatureError(ProductionError):
    """Something that was sent as a signature is none."""


def read_strokes(text: str) -> Strokes:
    """The strokes of a text as the signing field sends it; an empty text gives none. Raises
    SignatureError for anything but lists of points between 0 and 1."""
    if not text.strip():
        return []
    if len(text) > MOST_TEXT:
        raise _too_long()
    try:
        drawn = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise SignatureError(
            "The signature did not arrive in one piece: clear it and sign once more, or have the "
            "packing list signed on paper."
        ) from error
    return checked_strokes(drawn)


def checked_strokes(drawn: object) -> Strokes:
    """The same strokes, rounded; raises SignatureError where they are none or too many."""
    if not isinstance(drawn, list):
        raise _no_strokes()
    if len(drawn) > MOST_STROKES:
        raise _too_long()
    strokes = [_checked_stroke(stroke) for stroke in drawn]
    if sum(map(len, strokes)) > MOST_POINTS:
        raise _too_long()
    return [stroke for stroke in strokes if stroke]


def _checked_stroke(stroke: object) -> list[list[float]]:
    if not isinstance(stroke, list) or len(stroke) > MOST_POINTS:
        raise _no_strokes()
    return [_checked_point(point) for point in stroke]


def _checked_point(point: object) -> list[float]:
    if not isinstance(point, list) or len(point) != 2:
        raise _no_strokes()
    return [_checked_place(place) for place in point]


def _checked_place(place: object) -> float:
    # In Python a bool is an int, and JSON as read here knows NaN.
    if isinstance(place, bool) or not isinstance(place, int | float):
        raise _no_strokes()
    if not (math.isfinite(place) and 0 <= place <= 1):
        raise _no_strokes()
    return round(float(place), 4)


def _no_strokes() -> SignatureError:
    return SignatureError(
        "What was sent is not a signature (strokes of points between 0 and 1): clear it and sign "
        "once more, or have the packing list signed on paper."
    )


def _too_long() -> SignatureError:
    return SignatureError(
        f"The signature has more than {MOST_STROKES} strokes or {MOST_POINTS} points: clear it and "
        "sign shorter, or have the packing list signed on paper."
    )


def svg_path(strokes: Strokes) -> str:
    """The strokes as the `d` of an SVG path on a field of FIELD units."""
    width, height = FIELD
    # A dot is a stroke of one point; a line of no length with round ends shows it.
    drawn = (stroke if len(stroke) > 1 else stroke * 2 for stroke in strokes)
    return "".join(
        "M" + "L".join(f"{x * width:.1f} {y * height:.1f}" for x, y in stroke) for stroke in drawn
    )
