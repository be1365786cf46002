"""What plans need beside cloth, by the key of the ware that is bought for it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class WareNeed:
    """So much of one ware: whole spools, cones and pieces, or metres. The key says what it is:
    `thread:<color>:spool`, `thread:<color>:cone`, `zipper:<color>:<length in mm>`, one made to
    length `zipper:<color>:<length sold>:made-<length>`, `elastic:<place>`, `notion:<code>`, or
    `notion:<code>:<size>` where it differs by size."""

    ware: str
    name: str
    unit: str
    quantity: Decimal
    size: str = ""
    color: str = ""
