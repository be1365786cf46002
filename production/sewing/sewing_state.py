"""The operation sheets of jackets as they are to be sewn now, read for pages and paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import msgspec
from django.db.models import QuerySet

from patterns.geometry.picture import Fill, Picture, View
from patterns.models import Zipper
from production.jacket_story import PLAIN_ZIPPER
from production.models import Jacket, Run, Supplement
from production.planning.sewing.sewing_parts import SewingSheet
from production.planning.sewing.sewing_sheet import sewing_sheet
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.services import load_snapshot

#: The views of a jacket that help at the machine.
SHOWN = (View.FRONT, View.BACK)


@dataclass(frozen=True, slots=True)
class SheetOf:
    """A sheet with the jackets that are sewn by it, all alike but for whose they are; the sheet's
    own is the first of them."""

    sheet: SewingSheet
    jackets: tuple[Jacket, ...]
    pictures: tuple[Picture, ...]
    fills: Mapping[str, Fill]
    zipper_hex: str
    topstitch_hex: str | None

    @property
    def size(self) -> str:
        return self.sheet.size.name or self.sheet.size.code


def find_jacket(code: str) -> Jacket:
    """Raises Jacket.DoesNotExist."""
    return _jackets().get(code=code)


def sheet_of(jacket: Jacket) -> SheetOf:
    """The sheet of one jacket as it was planned last. Raises PlanError as `sewing_sheet`."""
    later = (
        Supplement.objects.filter(
            run=jacket.run_id, plan__jacket=jacket.code, snapshot__isnull=False
        )
        .order_by("-number")
        .values_list("snapshot", flat=True)
        .first()
    )
    snapshot = msgspec.convert(later, RunSnapshot) if later else load_snapshot(jacket.run)
    spec = next(one for one in snapshot.jackets if one.code == jacket.code)
    return _sheet(snapshot, spec, (jacket,), _zipper_colors())


def sheets_of_run(run: Run) -> tuple[SheetOf, ...]:
    """The sheets of a run's jackets but the cancelled ones, in the order of their codes; jackets
    that are sewn alike share one. Raises PlanError as `sewing_sheet`."""
    planned = _planned_last(run)
    alike: dict[tuple[int, JacketSpec], list[Jacket]] = {}
    for jacket in _jackets().filter(run=run, cancelled_at=None).order_by("code"):
        snapshot, spec = planned[jacket.code]
        alike.setdefault((id(snapshot), _nobodys(spec)), []).append(jacket)
    colors = _zipper_colors()
    return tuple(
        _sheet(*planned[jackets[0].code], tuple(jackets), colors) for jackets in alike.values()
    )


def _jackets() -> QuerySet[Jacket]:
    return Jacket.objects.select_related("run", "jacket_order__team_order__club").defer(
        "run__snapshot", "run__plan"
    )


def _planned_last(run: Run) -> dict[str, tuple[RunSnapshot, JacketSpec]]:
    """Each jacket with the snapshot that knows it last."""
    later = run.supplements.filter(snapshot__isnull=False).order_by("number")
    snapshots = [load_snapshot(run)]
    snapshots += [
        msgspec.convert(snapshot, RunSnapshot)
        for snapshot in later.values_list("snapshot", flat=True)
    ]
    return {spec.code: (snapshot, spec) for snapshot in snapshots for spec in snapshot.jackets}


def _nobodys(spec: JacketSpec) -> JacketSpec:
    return replace(spec, code="", member="", name_on_jacket="", note="")


def _sheet(
    snapshot: RunSnapshot,
    spec: JacketSpec,
    jackets: tuple[Jacket, ...],
    zipper_colors: Mapping[str, str],
) -> SheetOf:
    threads = {thread.code: thread.hex_color for thread in snapshot.threads}
    return SheetOf(
        sewing_sheet(snapshot, spec.code),
        jackets,
        tuple(_pictures(snapshot, spec)),
        _fills(snapshot, spec),
        zipper_colors.get(spec.zipper_color, PLAIN_ZIPPER),
        threads.get(spec.topstitch_thread or ""),
    )


def _pictures(snapshot: RunSnapshot, spec: JacketSpec) -> Iterable[Picture]:
    for blocking in snapshot.blockings:
        if blocking.code == spec.blocking:
            yield from (picture for picture in blocking.pictures if picture.view in SHOWN)


def _fills(snapshot: RunSnapshot, spec: JacketSpec) -> dict[str, Fill]:
    fills = {
        color.code: Fill(color.hex_color, color.hatch, color.name)
        for color in snapshot.fabric_colors
    }
    return {block: fills[color] for block, color in spec.blocks}


def _zipper_colors() -> dict[str, str]:
    return dict(Zipper.objects.values_list("color_code", "hex_color"))
