"""Changes of an order in words, as its amendments say them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from orders.facts import JacketFacts
from patterns.models import Block, FabricColor, ThreadColor


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
