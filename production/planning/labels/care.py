"""How a jacket is washed, dried and ironed: the most careful of what its fabrics take.

Symbols are named in the order of ISO 3758 (from memory): wash, bleach, dry, iron, professional
care. What the symbols look like is drawn in `production.documents.care_symbols`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from production.planning.labels.fibers import melts


@dataclass(frozen=True, slots=True)
class ClothCare:
    """A fabric as the workroom knows it; `wash_celsius` 0 means that it is not washed."""

    name: str
    fiber: str
    wash_celsius: int
    may_tumble_dry: bool
    may_iron: bool


@dataclass(frozen=True, slots=True)
class CareSign:
    """One symbol with its words: `kind` is wash, bleach, tumble, iron or clean; `figure` what is
    written in it, `dots` how many dots, `crossed` whether it is forbidden."""

    kind: str
    words: str
    crossed: bool = False
    figure: str = ""
    dots: int = 0


@dataclass(frozen=True, slots=True)
class Care:
    """`fibers` are (fabric, fiber content), each once, in the order given."""

    fibers: tuple[tuple[str, str], ...]
    signs: tuple[CareSign, ...]
    hints: tuple[str, ...]


def care_of(cloths: Iterable[ClothCare]) -> Care:
    """The care of a jacket made of these fabrics, at least one; ValueError for none."""
    listed = tuple(dict.fromkeys(cloths))
    if not listed:
        raise ValueError("A jacket of no fabric has no care: name its fabrics.")
    fiber = next((cloth.fiber for cloth in listed if melts(cloth.fiber)), "")
    tumble = all(cloth.may_tumble_dry for cloth in listed)
    iron = all(cloth.may_iron for cloth in listed)
    celsius = min(cloth.wash_celsius for cloth in listed)
    return Care(
        tuple(dict.fromkeys((cloth.name, cloth.fiber) for cloth in listed)),
        (
            _wash(celsius),
            CareSign("bleach", "Do not bleach", crossed=True),
            _dry(tumble),
            _iron(iron, melts=bool(fiber)),
            CareSign("clean", "Do not dry-clean", crossed=True),
        ),
        _hints(celsius),
    )


def _wash(celsius: int) -> CareSign:
    if not celsius:
        return CareSign("wash", "Do not wash", crossed=True)
    # A no-break space: on a narrow card the degrees stay with their number.
    return CareSign("wash", f"Wash at {celsius}\xa0°C or less", figure=str(celsius))


def _dry(tumble: bool) -> CareSign:
    if tumble:
        return CareSign("tumble", "Tumble dry at low heat", dots=1)
    return CareSign("tumble", "Do not tumble dry; hang it up", crossed=True)


def _iron(iron: bool, *, melts: bool) -> CareSign:
    if iron:
        words = "Cool iron under a cloth; heat melts it" if melts else "Cool iron"
        return CareSign("iron", words, dots=1)
    return CareSign("iron", "Do not iron: it melts" if melts else "Do not iron", crossed=True)


def _hints(celsius: int) -> tuple[str, ...]:
    """Common practice with fleece, no source."""
    if not celsius:
        return ()
    return ("Close the zipper, turn it inside out, wash it with like colors, no fabric softener.",)
