"""The names of stitches, and what to take care of at the machine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from production.planning.labels.fibers import melts
from production.planning.snapshot import FabricSpec, OperationSpec

#: Plain names by ISO 4915 stitch type, quoted from memory.
STITCH_NAMES: Mapping[str, str] = {
    "101": "chainstitch of one thread",
    "301": "lockstitch",
    "304": "zigzag lockstitch",
    "401": "chainstitch of two threads",
    "406": "cover stitch with two needles",
    "407": "cover stitch with three needles",
    "503": "overedge with two threads",
    "504": "overedge with three threads",
    "512": "overedge with four threads, mock safety",
    "514": "overedge with four threads",
    "516": "overedge with five threads, safety stitch",
    "602": "flat cover stitch with two needles",
    "605": "flat cover stitch with three needles",
    "607": "flat seam with four needles",
}

#: All cautions are common practice, without a source.
POWER = (
    "Switch the machine off before you thread it or change a needle or a presser foot, and keep "
    "fingers clear of the needle."
)
KNIVES = "A serger cuts while it sews: keep fingers, pins and clips away from its knives."
IRON = (
    "No hot iron on {fabrics}: the fiber melts. Park the iron or pull its plug, and never leave it "
    "alone while it is hot."
)
MANUALS = "The manual of each machine and the rules of the workroom go before this sheet."


def stitch_name(stitch_type: str) -> str:
    """'301 lockstitch'; the number alone for a type that has no name here."""
    return " ".join(filter(None, (stitch_type, STITCH_NAMES.get(stitch_type, ""))))


def cautions(operations: Iterable[OperationSpec], fabrics: Iterable[FabricSpec]) -> tuple[str, ...]:
    """What to take care of with these operations and fabrics, one sentence or two each."""
    at_machines = [operation for operation in operations if operation.machine]
    cutting = any(_cuts(operation) for operation in at_machines)
    melting = [f"{one.name} ({one.fiber})" for one in fabrics if melts(one.fiber)]
    return (
        *((POWER,) if at_machines else ()),
        *((KNIVES,) if cutting else ()),
        *((IRON.format(fabrics=" and ".join(melting)),) if melting else ()),
        MANUALS,
    )


def _cuts(operation: OperationSpec) -> bool:
    """Overedge stitches are the class 500 of ISO 4915."""
    return "serger" in operation.machine.lower() or operation.stitch_type.startswith("5")
