"""Where on the jackets the color of a cut ticket sits, as small pictures for its page."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from patterns.geometry.picture import Fill, Part
from patterns.geometry.picture_svg import PAPER, picture_svg
from patterns.pictures import VIEW_NAMES
from production.planning.snapshot import BlockingSpec, FabricColorSpec, RunSnapshot


@dataclass(frozen=True, slots=True)
class Sits:
    """The views of a blocking on which the color is seen, and how many jackets wear it there."""

    blocking: str
    jackets: int
    pictures: tuple[tuple[str, SafeString], ...]


def where_it_sits(color: FabricColorSpec, snapshot: RunSnapshot) -> tuple[Sits, ...]:
    """One for each blocking that wears the color; blocks of other colors are left blank."""
    worn: dict[str, list[frozenset[str]]] = {}
    for jacket in snapshot.jackets:
        if blocks := frozenset(block for block, code in jacket.blocks if code == color.code):
            worn.setdefault(jacket.blocking, []).append(blocks)
    return tuple(
        Sits(
            spec.name,
            len(worn[spec.code]),
            _pictures(spec, color, frozenset().union(*worn[spec.code])),
        )
        for spec in snapshot.blockings
        if spec.code in worn
    )


def _pictures(
    blocking: BlockingSpec, color: FabricColorSpec, blocks: frozenset[str]
) -> tuple[tuple[str, SafeString], ...]:
    fills = {block: Fill(color.hex_color, color.hatch, color.name) for block in blocks}
    return tuple(
        (
            VIEW_NAMES[picture.view],
            # The SVG is our own text with every name escaped in it.
            mark_safe(
                picture_svg(
                    picture,
                    fills,
                    zipper_hex=PAPER,
                    thread_hex=None,
                    title=f"{blocking.name}, {VIEW_NAMES[picture.view].lower()}",
                    uid=f"{blocking.code}-{picture.view}",
                )
            ),
        )
        for picture in blocking.pictures
        if any(shape.part is Part.BLOCK and shape.block in blocks for shape in picture.shapes)
    )
