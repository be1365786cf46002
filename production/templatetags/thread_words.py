"""Lengths of thread for templates."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django import template

from patterns.models import ThreadSample
from production.planning.lengths import IMPERIAL, MM_PER_INCH
from production.planning.threads.thread import SeamThread

register = template.Library()


@register.filter
def fine_thread(length_mm: Decimal, unit: str) -> str:
    """A length of thread or seam to a tenth of a metre or yard, rounded half up."""
    mm, name = (36 * MM_PER_INCH, "yd") if unit == IMPERIAL else (Decimal(1000), "m")
    return f"{round_half_up(length_mm / mm, Decimal('0.1'))} {name}"


@register.filter
def measured(length_mm: Decimal, unit: str) -> str:
    """What was measured on a sample: to 0.1 mm, or 0.01 in."""
    if unit == IMPERIAL:
        return f"{round_half_up(length_mm / MM_PER_INCH, Decimal('0.01')).normalize():f} in"
    return f"{length_mm.normalize():f} mm"


def round_half_up(number: Decimal, to: Decimal) -> Decimal:
    return number.quantize(to, "ROUND_HALF_UP")


@register.filter
def factor_words(sample: ThreadSample) -> str:
    """'5.43 (1.30 + 4.13)': needle, and bobbin or looper."""
    needle, under = sample.needle_mm / sample.seam_mm, sample.under_mm / sample.seam_mm
    return f"{needle + under:.2f} ({needle:.2f} + {under:.2f})"


@register.filter
def runs(lines: Iterable[SeamThread]) -> int:
    return sum(line.runs for line in lines)
