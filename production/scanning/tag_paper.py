"""The tags of a run, or of some of its jackets as they are now, on the workroom's paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, BinaryIO

from patterns.models import Workroom
from production.changing.change_state import load_supplement
from production.errors import DocumentError
from production.models import Jacket, Run
from production.services import load_plan, load_snapshot

if TYPE_CHECKING:
    from production.documents.bundle_tags import TagsOf


def usual_paper() -> str:
    room = Workroom.objects.first() or Workroom()
    return room.tag_paper


def write_run_tags(
    target: BinaryIO, run: Run, tag_url: Callable[[str], str], paper: str, codes: Sequence[str] = ()
) -> None:
    """All tags as the run was frozen or, for chosen jackets, each as its last supplement has it.
    Raises DocumentError for a jacket that is not the run's or was cancelled."""
    from production.documents import bundle_tags

    if codes:
        return bundle_tags.write_some(target, _as_now(run, codes), tag_url, paper)
    return bundle_tags.write(target, load_snapshot(run), load_plan(run), tag_url, paper)


def _as_now(run: Run, codes: Sequence[str]) -> list[TagsOf]:
    from production.documents.bundle_tags import TagsOf

    _refuse_without_tag(run, codes)
    changed: dict[str, TagsOf] = {}
    for supplement in run.supplements.filter(plan__jacket__in=codes).order_by("number"):
        snapshot, plan = load_supplement(supplement)
        if snapshot and plan.cut:
            changed[plan.jacket] = TagsOf(snapshot, plan.cut, frozenset({plan.jacket}))
    as_frozen = frozenset(codes) - frozenset(changed)
    frozen = [TagsOf(load_snapshot(run), load_plan(run), as_frozen)] if as_frozen else []
    return frozen + list(changed.values())


def _refuse_without_tag(run: Run, codes: Sequence[str]) -> None:
    jackets = {jacket.code: jacket for jacket in Jacket.objects.filter(run=run, code__in=codes)}
    for code in codes:
        if code not in jackets:
            raise DocumentError(f"No jacket '{code[:60]}' is in run {run.code}; choose it anew.")
        if jackets[code].cancelled_at:
            raise DocumentError(f"{code} was cancelled, so it has no tag.")
