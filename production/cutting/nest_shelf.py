"""Nests are kept by what they answer, so that equal blocks on equal cloth are not nested twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from production.models import KeptNest

if TYPE_CHECKING:
    from production.planning.nesting import Nest


class NestShelf:
    """The nests found so far, by what they answer: the NestStore of the search."""

    def get(self, key: str) -> tuple[Nest, float] | None:
        from production.planning.nesting import Nest

        kept = KeptNest.objects.filter(key=key).first()
        return (msgspec.convert(kept.nest, Nest), kept.seconds) if kept else None

    def put(self, key: str, nest: Nest, seconds: float) -> None:
        """Keep a nest unless a shorter one is there; the longest search for it is remembered."""
        told = {"nest": msgspec.to_builtins(nest), "length_mm": nest.length_mm, "seconds": seconds}
        _, is_new = KeptNest.objects.get_or_create(key=key, defaults=told)
        if is_new:
            return
        same = KeptNest.objects.filter(key=key)
        same.filter(length_mm__gt=nest.length_mm).update(
            nest=told["nest"], length_mm=nest.length_mm
        )
        same.filter(seconds__lt=seconds).update(seconds=seconds)
