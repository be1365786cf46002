"""What a way to cut a ticket takes from stock and leaves to buy, before it is chosen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import TYPE_CHECKING

from production.models import CutTicket
from production.planning.cutting.rows import LaidKey
from production.planning.explode import explode, fabrics_by_color, shapes_by_key
from production.planning.plan import Lay
from production.planning.snapshot import BlockShape, BoltSpec, FabricSpec, RunSnapshot
from production.planning.supplies.materials import fabric_needed_mm
from production.stock.cloth import with_bolts_again

if TYPE_CHECKING:
    from production.planning.cloth.dye_lots import Needs

#: Lengths taken from stock and to buy, in mm.
Split = tuple[int, int]
#: The pieces of each jacket, as a key.
_NeedsKey = tuple[tuple[str, tuple[tuple[LaidKey, int], ...]], ...]


def splitter(
    snapshot: RunSnapshot, tickets: Iterable[CutTicket]
) -> Callable[[CutTicket, tuple[Lay, ...]], Split]:
    """Splits the cloth for lays of these tickets as choosing these lays would: on the cloth of
    today that nothing else is planned on."""
    open_tickets = list(tickets)
    today = with_bolts_again(snapshot, open_tickets)
    fabrics = fabrics_by_color(snapshot)
    needs: dict[str, _NeedsKey] = {}
    colors = {ticket.fabric_color.code for ticket in open_tickets}
    if any(bolt.fabric_color in colors for bolt in today.bolts):
        from production.planning.cloth.ticket_cloth import needs_by_color

        needs = {color: _key(each) for color, each in needs_by_color(explode(snapshot)).items()}

    def split(ticket: CutTicket, lays: tuple[Lay, ...]) -> Split:
        color = ticket.fabric_color.code
        bolts = tuple(bolt for bolt in today.bolts if bolt.fabric_color == color)
        if not bolts:
            return 0, fabric_needed_mm(lays, fabrics[color])
        return _split(lays, snapshot.shapes, bolts, fabrics[color], needs[color])

    return split


def _key(needs: Needs) -> _NeedsKey:
    return tuple((jacket, tuple(pieces.items())) for jacket, pieces in needs.items())


# A page that follows a search asks for the same ways again and again.
@lru_cache(maxsize=128)
def _split(
    lays: tuple[Lay, ...],
    shapes: tuple[BlockShape, ...],
    bolts: tuple[BoltSpec, ...],
    fabric: FabricSpec,
    needs: _NeedsKey,
) -> Split:
    from production.planning.cloth.bolts import lay_onto_bolts

    jackets = {jacket: Counter(dict(pieces)) for jacket, pieces in needs}
    use = lay_onto_bolts(lays, shapes_by_key(shapes), bolts, fabric, jackets)
    return use.from_stock_mm, use.to_buy_mm
