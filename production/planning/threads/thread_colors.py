"""In which thread a stretch of seam is sewn."""

from __future__ import annotations

from collections.abc import Mapping

from production.planning.plan import PlanError
from production.planning.snapshot import (
    FabricColorSpec,
    JacketSpec,
    OperationSpec,
    SeamStretch,
)

BLOCK, DARKER, CHOSEN = "block", "darker", "chosen"


def thread_of(
    operation: OperationSpec,
    jacket: JacketSpec,
    stretch: SeamStretch,
    colors: Mapping[str, FabricColorSpec],
) -> str:
    """The code of the thread that an operation sews a stretch of seam of a jacket in.

    Contrast work takes the colorway's topstitch thread where it has one. Else the operation's rule
    holds: the thread of the block, that of the darker of the blocks that meet along the stretch, or
    one chosen thread for all. Blocks equally dark are sewn in the thread of the one that the
    stretch lies on. Raises PlanError for a rule that is unknown or lacks its thread.
    """
    if operation.contrast_thread and jacket.topstitch_thread:
        return jacket.topstitch_thread
    match operation.thread_rule:
        case "chosen" if operation.own_thread:
            return operation.own_thread
        case "block":
            return colors[_fill(jacket, stretch.block)].thread
        case "darker":
            meeting = [colors[_fill(jacket, block)] for block in (stretch.block, *stretch.against)]
            return min(meeting, key=lambda color: relative_luminance(color.hex_color)).thread
        case "chosen":
            raise PlanError(
                f"Operation {operation.code} is sewn in one chosen thread, but none is chosen. "
                "Choose it, or another rule for the color of its thread."
            )
    raise PlanError(
        f"Operation {operation.code} has the thread rule {operation.thread_rule!r}. "
        f"Choose {BLOCK}, {DARKER} or {CHOSEN}."
    )


def _fill(jacket: JacketSpec, block: str) -> str:
    for code, color in jacket.blocks:
        if code == block:
            return color
    raise PlanError(
        f"Jacket {jacket.code} has no color for block {block}, along which a seam runs. "
        "Complete its colorway."
    )


def relative_luminance(hex_color: str) -> float:
    """How light a color of the screen is, from 0 (black) to 1 (white), as defined in WCAG 2.2 for
    sRGB: 0.2126 R + 0.7152 G + 0.0722 B of the linear channels."""
    red, green, blue = (_linear(int(hex_color[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
