"""The methods of counting thread in words, with the numbers of an operation put in."""

from __future__ import annotations

from decimal import Decimal

from production.planning.snapshot import FabricSpec, OperationSpec
from production.planning.threads.thread_stitches import (
    FORMULA_SOURCES,
    FORMULAS,
    NEEDLE_PERCENT,
    OTHER_504,
    OTHER_RATIOS,
    RATIO_SOURCES,
    SPLIT_LIKE,
    consumption,
)


def formula_words(stitch_type: str) -> str:
    """'C = 5 + S(4T + 4W)'; empty for a type without a formula."""
    if stitch_type not in FORMULAS:
        return ""
    formula = FORMULAS[stitch_type]
    parts = [f"{formula.per_thickness}T"]
    if formula.per_width:
        parts.append(f"{formula.per_width}W")
    return f"C = {formula.constant} + S({' + '.join(parts)})"


def formula_in_numbers(
    operation: OperationSpec, fabric: FabricSpec, stitch_type: str | None = None
) -> str:
    """'5 + (4 x 2.4 + 4 x 5) / 3 = 14.87', lengths in mm; another version of the formula where its
    type is given. Empty for a type without a formula, or a stitch without a length."""
    kind = stitch_type or operation.stitch_type
    if kind not in FORMULAS or not operation.stitch_length_mm:
        return ""
    formula = FORMULAS[kind]
    thickness = operation.cloth_layers * fabric.compressed_thickness_mm
    parts = [f"{formula.per_thickness} \u00d7 {_plain(thickness)}"]
    if formula.per_width:
        parts.append(f"{formula.per_width} \u00d7 {_plain(operation.seam_width_mm)}")
    whole = consumption(kind, thickness, 1 / operation.stitch_length_mm, operation.seam_width_mm)
    length = _plain(operation.stitch_length_mm)
    return f"{formula.constant} + ({' + '.join(parts)}) / {length} = {whole:.2f}"


def source_words(stitch_type: str) -> str:
    """Where the formula and the ratio of a type come from."""
    words = []
    if stitch_type in FORMULA_SOURCES:
        words.append(f"Formula: {FORMULA_SOURCES[stitch_type]}.")
    if stitch_type in RATIO_SOURCES:
        words.append(f"Ratio: {RATIO_SOURCES[stitch_type]}.")
    if stitch_type in OTHER_RATIOS:
        words.append(f"Another stitch-type guide prints {OTHER_RATIOS[stitch_type]} instead.")
    return " ".join(words)


def split_words(stitch_type: str) -> str:
    """How the thread is shared between needles and bobbins or loopers."""
    like = SPLIT_LIKE.get(stitch_type, stitch_type)
    percent = NEEDLE_PERCENT[like]
    words = f"{percent} % needle, {100 - percent} % bobbin or looper"
    if like == stitch_type:
        return words
    return f"{words}, as for {like}: the table does not split {stitch_type}"


def other_version(operation: OperationSpec, fabric: FabricSpec) -> str:
    """The version of a conflicting formula that is not used, with its numbers; empty where
    published formulas agree."""
    if operation.stitch_type != "504":
        return ""
    return f"{formula_words(OTHER_504)}: {formula_in_numbers(operation, fabric, OTHER_504)}"


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}"
