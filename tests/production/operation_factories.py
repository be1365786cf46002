"""The shipped operations without the drafted pattern, which takes its time."""

from __future__ import annotations

from patterns.models import Operation, Pattern, Seam, ThreadColor
from patterns.shipped import OPERATIONS


def make_operations() -> None:
    """The shipped operations, a thread `marigold` and a seam `shoulder` to choose."""
    for position, values in enumerate(OPERATIONS):
        Operation.objects.create(**values, position=position)
    ThreadColor.objects.create(
        code="marigold", name="marigold", hex_color="#e8a317", spool_m=1000, price_per_spool=4
    )
    ease = dict.fromkeys(
        (f"{part}_ease_mm" for part in ("chest", "hip", "neck", "wrist", "cap")), 0
    )
    pattern = Pattern.objects.create(code="drafted", name="Drafted", **ease)
    Seam.objects.create(
        pattern=pattern, code="shoulder", name="shoulder", kind="join", leads=[], runs=2, position=0
    )
