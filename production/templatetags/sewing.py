"""The operation sheet in words for templates."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django import template

from production.planning.sewing import sewing_told as told
from production.planning.sewing.sewing_parts import (
    ElasticCut,
    NotionCut,
    Placket,
    SeamWork,
    WorkStep,
)
from production.planning.supplies.materials import ZipperChoice
from production.planning.timetable import floor_words

register = template.Library()


@register.filter
def joins(seam: SeamWork) -> str:
    return told.joins_words(seam)


@register.simple_tag
def how(seam: SeamWork, step: WorkStep, unit: str) -> str:
    return told.seam_words(seam, step, unit)


@register.filter
def machine(step: WorkStep, unit: str) -> str:
    return told.machine_words(step, unit)


@register.filter
def set_up(step: WorkStep) -> tuple[str, ...]:
    return told.set_up_words(step)


@register.filter
def zipper(choice: ZipperChoice, unit: str) -> str:
    return told.zipper_words(choice, unit)


@register.filter
def elastic(cut: ElasticCut, unit: str) -> str:
    return told.elastic_words(cut, unit)


@register.filter
def notion(cut: NotionCut, unit: str) -> str:
    return told.notion_words(cut, unit)


@register.filter
def placket(sides: Placket) -> str:
    return "; ".join(told.placket_words(sides))


@register.filter
def minutes(standard: Decimal | None) -> str:
    return told.minutes_words(standard)


@register.filter
def listed(words: Sequence[str]) -> str:
    return floor_words.listed(words)
