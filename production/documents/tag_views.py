"""What stands on the bundle tag of each jacket of a plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from patterns.geometry.picture import Fill, Picture, View
from production.documents.paper import found, plan_id
from production.planning.explode import SIDES, shapes_by_key
from production.planning.lengths import small_length
from production.planning.plan import Plan
from production.planning.snapshot import JacketSpec, RunSnapshot
from production.planning.supplies.materials import ZipperChoice, zipper_choice, zipper_length


@dataclass(frozen=True, slots=True)
class TagsOf:
    """The tags of a plan: of all its jackets or, where `codes` names some, of those alone."""

    snapshot: RunSnapshot
    plan: Plan
    codes: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class TagView:
    """What stands on one tag. `colors` gives each fabric color with its blocks, in the order of
    the jacket, and `source` the plan that the tag is of."""

    jacket: JacketSpec
    address: str
    club: str
    size_name: str
    look: str
    colors: tuple[tuple[Fill, tuple[str, ...]], ...]
    pieces: int
    zipper: str
    front: Picture | None
    source: str

    @property
    def fills(self) -> dict[str, Fill]:
        return {block: fill for fill, blocks in self.colors for block in blocks}


def tag_views(of: TagsOf, tag_url: Callable[[str], str]) -> list[TagView]:
    snapshot, plan = of.snapshot, of.plan
    source = f"Run {plan.run}, plan {plan_id(plan)}"
    jackets = {jacket.code: jacket for jacket in snapshot.jackets}
    clubs = {order.code: order.club for order in snapshot.orders}
    sizes = {size.code: size for size in snapshot.sizes}
    blockings = {blocking.code: blocking for blocking in snapshot.blockings}
    fills = {
        color.code: Fill(color.hex_color, color.hatch, color.name)
        for color in snapshot.fabric_colors
    }
    pairings = {
        f"{block} {size}": shape.pairing
        for (block, size), shape in shapes_by_key(snapshot.shapes).items()
    }
    tags = []
    for planned in plan.jackets:
        if of.codes and planned.code not in of.codes:
            continue
        jacket = found(jackets, planned.code, "jacket")
        size = found(sizes, jacket.size, "size")
        blocking = blockings.get(jacket.blocking)
        name = blocking.name if blocking else jacket.blocking
        pictures = blocking.pictures if blocking else ()
        tags.append(
            TagView(
                jacket=jacket,
                address=tag_url(jacket.code),
                club=found(clubs, jacket.team_order, "team order"),
                size_name=size.name,
                look=f"{name}, {jacket.colorway}",
                colors=_by_color(jacket, fills),
                pieces=sum(
                    len(SIDES[found(pairings, f"{block} {jacket.size}", "block")])
                    for block, _ in jacket.blocks
                ),
                zipper=_zipper_words(
                    zipper_choice(snapshot, size, jacket.zipper_color),
                    snapshot.workroom.length_unit,
                ),
                front=next((pic for pic in pictures if pic.view is View.FRONT), None),
                source=source,
            )
        )
    return tags


def _by_color(
    jacket: JacketSpec, fills: Mapping[str, Fill]
) -> tuple[tuple[Fill, tuple[str, ...]], ...]:
    blocks: dict[str, list[str]] = {}
    for block, color in jacket.blocks:
        blocks.setdefault(color, []).append(block)
    return tuple(
        (found(fills, color, "fabric color"), tuple(some)) for color, some in blocks.items()
    )


def _zipper_words(zipper: ZipperChoice, unit: str) -> str:
    color = zipper.sold.color_name
    if zipper.made:
        return f"zipper {zipper_length(zipper.finished_mm, unit)} {color}"
    words = f"zipper {zipper_length(zipper.sold.length_mm, unit)} {color}"
    if not zipper.shorten_mm:
        return words
    return f"{words}, shorten {small_length(zipper.shorten_mm, unit)}"
