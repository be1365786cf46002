"""How much thread a stitch takes along its seam: two methods and a measured sample.

The geometric formulas of `FORMULAS` and the older table `RATIOS` of thread length to seam length
are kept apart by name and never mixed. A sample that was unravelled stands in for both.

Thickness is that of the cloth as the presser foot holds it. With the loft of two uncompressed
fleece layers a lockstitch would seem to take nearly twice its thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from production.planning.plan import PlanError
from production.planning.snapshot import OperationSpec

FORMULA, RATIO, SAMPLE = "formula", "ratio", "sample"


@dataclass(frozen=True, slots=True)
class Stitch:
    """The threads of a stitch, those in needles among them, and how many spools or cones of one
    color stand on the machine: the bobbin of a lockstitch is wound from the needle's own spool."""

    needles: int
    threads: int
    spools_at_once: int


#: By ISO 4915 stitch type; numbers of threads from memory of ISO 4915.
STITCHES: Mapping[str, Stitch] = {
    "101": Stitch(needles=1, threads=1, spools_at_once=1),
    "301": Stitch(needles=1, threads=2, spools_at_once=1),
    "304": Stitch(needles=1, threads=2, spools_at_once=1),
    "401": Stitch(needles=1, threads=2, spools_at_once=2),
    "406": Stitch(needles=2, threads=3, spools_at_once=3),
    "407": Stitch(needles=3, threads=4, spools_at_once=4),
    "503": Stitch(needles=1, threads=2, spools_at_once=2),
    "504": Stitch(needles=1, threads=3, spools_at_once=3),
    "512": Stitch(needles=2, threads=4, spools_at_once=4),
    "514": Stitch(needles=2, threads=4, spools_at_once=4),
    "516": Stitch(needles=2, threads=5, spools_at_once=5),
    "602": Stitch(needles=2, threads=4, spools_at_once=4),
    "605": Stitch(needles=3, threads=5, spools_at_once=5),
    "607": Stitch(needles=4, threads=6, spools_at_once=6),
}


@dataclass(frozen=True, slots=True)
class StitchFormula:
    """Thread length per seam length, C = constant + S x (per_thickness x T + per_width x W).

    T is the thickness under the foot, S the stitches per length, W the width of the stitch, all in
    one length unit.
    """

    constant: int
    per_thickness: int
    per_width: int


#: By ISO 4915 stitch type. The two versions of 504 differ by exactly 2; version B has two sources
#: and is the one used for '504'.
FORMULAS: Mapping[str, StitchFormula] = {
    "101": StitchFormula(3, 2, 0),
    "301": StitchFormula(2, 2, 0),
    "401": StitchFormula(4, 2, 0),
    "406": StitchFormula(7, 2, 2),
    "407": StitchFormula(9, 6, 2),
    "504": StitchFormula(5, 4, 4),
    "504 version A": StitchFormula(3, 4, 4),
    "514": StitchFormula(5, 6, 4),
    "516": StitchFormula(9, 6, 4),
    "602": StitchFormula(8, 4, 5),
    "605": StitchFormula(10, 6, 4),
    "607": StitchFormula(12, 8, 4),
}
OTHER_504 = "504 version A"

_ONE_PAGE = "textilecalculations.com, a teaching page"
_TWO_PAGES = "printed alike by two textile-education pages, one of them textiletechinsight.com"
FORMULA_SOURCES: Mapping[str, str] = {
    "101": "textilecalculations.com and textileblog.com, teaching pages",
    "301": _ONE_PAGE,
    "401": f"{_ONE_PAGE}; it gives a sewing-machine maker's chart for 401 exactly",
    **dict.fromkeys(("406", "407", "514", "516", "602", "605", "607"), _TWO_PAGES),
    "504": f"version B, {_TWO_PAGES}",
    OTHER_504: f"version A, {_ONE_PAGE}",
}

#: Thread length over seam length by ISO 4915 stitch type, for about 7 stitches per cm (from
#: memory): far denser than the 3 mm stitch of fleece, for which it overstates the overedge and
#: cover stitches. The thickness behind it is not known.
RATIOS: Mapping[str, Decimal] = {
    "101": Decimal("4.0"),
    "301": Decimal("2.5"),
    "304": Decimal("7.0"),
    "401": Decimal("5.5"),
    "406": Decimal("18.0"),
    "503": Decimal("12.0"),
    "504": Decimal("14.0"),
    "512": Decimal("18.0"),
    "516": Decimal("20.0"),
    "602": Decimal("25.0"),
    "605": Decimal("28.0"),
}
#: What another stitch-type guide (scribd 49933681) prints instead; not used.
OTHER_RATIOS: Mapping[str, Decimal] = {"101": Decimal("5"), "304": Decimal("5.5")}

_FROM_MEMORY = "a thread maker's technical bulletin, from memory"
RATIO_SOURCES: Mapping[str, str] = {
    **dict.fromkeys(RATIOS, _FROM_MEMORY),
    "301": "apparelscience.com, ISO stitch types",
    **dict.fromkeys(("503", "504", "512", "516"), "bkkquilt.com, a trade page"),
}

#: The needles' part of the thread in percent, with the ratio table (a thread maker's technical
#: bulletin, from memory; 301 and 304 half and half). The formulas give no split, so it serves for
#: them too.
NEEDLE_PERCENT: Mapping[str, int] = {
    "101": 100,
    "301": 50,
    "304": 50,
    "401": 25,
    "406": 30,
    "503": 55,
    "504": 20,
    "512": 25,
    "516": 20,
    "602": 20,
    "605": 30,
}
#: Types that the table does not split, and the type most like them whose split they take: an
#: assumption.
SPLIT_LIKE: Mapping[str, str] = {"407": "406", "514": "512", "607": "605"}


@dataclass(frozen=True, slots=True)
class Factor:
    """Thread per length of seam of one row, in needles and in bobbins or loopers (`under`)."""

    method: str
    needle: Decimal
    under: Decimal

    @property
    def whole(self) -> Decimal:
        return self.needle + self.under


@dataclass(frozen=True, slots=True)
class Factors:
    """What each method says about one operation on one cloth; `used` is the one that counts."""

    used: Factor
    formula: Factor | None
    ratio: Factor | None
    sample: Factor | None

    @property
    def difference(self) -> Decimal | None:
        """By how much the ratio differs from the formula, as a share of the formula."""
        if self.formula is None or self.ratio is None:
            return None
        return self.ratio.whole / self.formula.whole - 1


def stitch_of(stitch_type: str) -> Stitch:
    """The threads of a stitch type; PlanError for one that neither method knows."""
    if stitch_type not in STITCHES:
        raise PlanError(
            f"There is neither a thread formula nor a ratio for stitch type {stitch_type}. "
            f"Choose one of {', '.join(STITCHES)}."
        )
    return STITCHES[stitch_type]


def formula_for(stitch_type: str) -> StitchFormula:
    """The formula of a stitch type; PlanError for one that the table does not have."""
    if stitch_type not in FORMULAS:
        raise PlanError(
            f"There is no thread formula for stitch type {stitch_type}. "
            f"Choose one of {', '.join(FORMULAS)}."
        )
    return FORMULAS[stitch_type]


def consumption(
    stitch_type: str,
    thickness: Decimal,
    stitches_per_length: Decimal,
    width: Decimal = Decimal(0),
) -> Decimal:
    """Thread length per seam length by formula; thickness, 1/stitches and width in one unit."""
    formula = formula_for(stitch_type)
    return formula.constant + stitches_per_length * (
        formula.per_thickness * thickness + formula.per_width * width
    )


def thread_by_ratio(stitch_type: str, seam_length: Decimal) -> Decimal:
    """Thread length by the ratio table, in the unit of `seam_length`."""
    if stitch_type not in RATIOS:
        raise PlanError(
            f"There is no thread ratio for stitch type {stitch_type}. "
            f"Choose one of {', '.join(RATIOS)}."
        )
    return RATIOS[stitch_type] * seam_length


def factor_from_sample(thread_taken: Decimal, sample_seam: Decimal) -> Decimal:
    """Thread length per seam length, from the thread unravelled out of a sewn sample."""
    return thread_taken / sample_seam


def needle_share(stitch_type: str) -> Decimal:
    """The share of the thread that runs through needles, by both methods."""
    return Decimal(NEEDLE_PERCENT[SPLIT_LIKE.get(stitch_type, stitch_type)]) / 100


def factors_of(operation: OperationSpec, thickness_mm: Decimal, method: str) -> Factors:
    """What the methods say about an operation through cloth of this thickness in one layer.

    `method` is the workroom's, formula or ratio. A stitch type that it does not have falls to the
    other one; a measured sample comes before both. Raises PlanError for a stitch type that neither
    has, a stitch without a length, for no rows or layers, and for cloth or a stitch of less than
    no thickness or width.
    """
    _refuse_unsewn(operation)
    if thickness_mm < 0 or operation.seam_width_mm < 0:
        raise PlanError(
            f"Operation {operation.code} sews a stitch {operation.seam_width_mm} mm wide through "
            f"layers {thickness_mm} mm thick, and nothing is below 0. Enter both anew."
        )
    formula, ratio = _by_formula(operation, thickness_mm), _by_ratio(operation.stitch_type)
    sample = _by_sample(operation)
    chosen = (ratio, formula) if method == RATIO else (formula, ratio)
    used = next((factor for factor in (sample, *chosen) if factor), None)
    if used is None:
        raise PlanError(
            f"Operation {operation.code}: there is neither a thread formula nor a ratio for stitch "
            f"type {operation.stitch_type}. Choose one of {', '.join(STITCHES)}."
        )
    return Factors(used, formula, ratio, sample)


def _refuse_unsewn(operation: OperationSpec) -> None:
    stitch_of(operation.stitch_type)
    if operation.rows < 1 or operation.cloth_layers < 1:
        raise PlanError(
            f"Operation {operation.code} sews {operation.rows} rows through "
            f"{operation.cloth_layers} layers of cloth. Enter at least one of each."
        )
    if not operation.stitch_length_mm or operation.stitch_length_mm < 0:
        raise PlanError(
            f"Operation {operation.code} has stitch type {operation.stitch_type} but no stitch "
            "length above 0. Enter its stitch length in mm."
        )


def _by_formula(operation: OperationSpec, thickness_mm: Decimal) -> Factor | None:
    if operation.stitch_type not in FORMULAS or not operation.stitch_length_mm:
        return None
    whole = consumption(
        operation.stitch_type,
        operation.cloth_layers * thickness_mm,
        1 / operation.stitch_length_mm,
        operation.seam_width_mm,
    )
    return _split(FORMULA, operation.stitch_type, whole)


def _by_ratio(stitch_type: str) -> Factor | None:
    if stitch_type not in RATIOS:
        return None
    return _split(RATIO, stitch_type, RATIOS[stitch_type])


def _split(method: str, stitch_type: str, whole: Decimal) -> Factor:
    needle = whole * needle_share(stitch_type)
    return Factor(method, needle, whole - needle)


def _by_sample(operation: OperationSpec) -> Factor | None:
    if operation.needle_factor is None:
        return None
    return Factor(SAMPLE, operation.needle_factor, operation.under_factor or Decimal(0))
