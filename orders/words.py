"""Changes of an order in words, as its amendments say them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from orders.facts import JacketFacts, TeamOrderFacts
from orders.models import TeamOrder
from orders.money import plain
from patterns.models import Block, FabricColor, PatternSize, ThreadColor


def jackets_in_words(count: int) -> str:
    return f"{count} jacket" if count == 1 else f"{count} jackets"


def jacket_words(facts: JacketFacts) -> str:
    return f"{facts.member}, {facts.size}, {facts.colorway}"


def change(label: str, before: str, after: str) -> str:
    if before == after:
        return ""
    return f"{label} {before or 'none'} to {after or 'none'}"


def block_changes(
    before: Mapping[Block, FabricColor], after: Mapping[Block, FabricColor], *, otherwise: str
) -> list[str]:
    def name(color: FabricColor | None) -> str:
        return color.name if color else otherwise

    return [
        change(block.code, name(before.get(block)), name(after.get(block)))
        for block in sorted(before.keys() | after.keys(), key=lambda block: block.position)
    ]


def joined(words: Iterable[str], start: str = "") -> str:
    """The changes in one line, or nothing when nothing changed."""
    text = "; ".join(filter(None, words))
    return f"{start}{text}" if text else ""


def names_of(colors: Iterable[FabricColor]) -> str:
    return ", ".join(sorted(color.name for color in colors))


def thread_name(thread: ThreadColor | None) -> str:
    return thread.name if thread else "matching"


def _sizes_in_words(sizes: Iterable[PatternSize]) -> str:
    in_order = sorted(sizes, key=lambda size: size.position)
    return ", ".join(size.code for size in in_order) or "every size"


def choices_in_words(facts: TeamOrderFacts) -> str:
    """What members may choose, in one line."""
    blocks = ", ".join(dict.fromkeys(block.name for block in facts.free_blocks))
    return "; ".join(
        [
            f"a size: {_sizes_in_words(facts.sizes)}",
            f"the color of {blocks}" if blocks else "no own colors",
            "a name" if facts.names_allowed else "no name",
        ]
    )


#: What an amendment tells of a changed order: its label, and how a value is said.
TOLD: tuple[tuple[str, Callable[[TeamOrderFacts], str]], ...] = (
    ("code", lambda facts: facts.code),
    ("club", lambda facts: facts.club.name),
    ("title", lambda facts: facts.title),
    ("deadline", lambda facts: str(facts.deadline)),
    ("closing day", lambda facts: str(facts.closes_on or "")),
    ("palette", lambda facts: names_of(facts.palette)),
    ("sizes", lambda facts: _sizes_in_words(facts.sizes)),
    ("names on jackets", lambda facts: "allowed" if facts.names_allowed else "not allowed"),
    ("free blocks", lambda facts: ", ".join(sorted(block.code for block in facts.free_blocks))),
    ("price", lambda facts: "" if facts.price is None else str(plain(facts.price))),
    ("who pays", lambda facts: TeamOrder.Payer(facts.payer).label),
    ("discount", lambda facts: str(plain(facts.discount))),
    ("members' data kept", lambda facts: f"{facts.erase_after_days} days"),
)


def order_changes(before: TeamOrderFacts, after: TeamOrderFacts) -> list[str]:
    """Long texts and the coordinator's address are told as changed, not repeated."""
    return [
        *(change(label, say(before), say(after)) for label, say in TOLD),
        "note changed" if before.note != after.note else "",
        "welcome text changed" if before.welcome != after.welcome else "",
        "coordinator e-mail changed" if before.coordinator_email != after.coordinator_email else "",
    ]
