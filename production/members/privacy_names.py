"""Who is called what in the texts of an order: the names that go and the words that stay."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import count

from orders.models import JacketOrder, TeamOrder
from patterns.models import FabricColor
from production.members.pseudonyms import Pseudonyms, all_names, harmless_changes, parts_of


def names_known_of(line: JacketOrder) -> list[str]:
    """The member's name, then those that it was changed from."""
    return all_names(line.member, _amendment_words(line.team_order))


def names_of_all(
    order: TeamOrder, lines: list[JacketOrder], labels: Mapping[int, str]
) -> Pseudonyms:
    """Labels of the members, then of those who were taken out of the order again, then of those
    who were only expected."""
    words = _amendment_words(order)
    named = {name: labels[line.pk] for line in lines for name in all_names(line.member, words)}
    named |= {line.member: labels[line.pk] for line in lines}
    known = {name.casefold() for name in named}
    others = dict.fromkeys(
        [
            *order.amendments.exclude(member="").order_by("pk").values_list("member", flat=True),
            *order.expected.values_list("name", flat=True),
        ]
    )
    numbers = count(len(lines) + 1)
    for name in others:
        if name.casefold() not in known:
            named[name] = f"Member {next(numbers)}"
            known.add(name.casefold())
    on_jackets = {line.name_on_jacket: labels[line.pk] for line in lines}
    return pseudonyms(order, named, words, keep=(), on_jackets=on_jackets)


def names_of_one(
    order: TeamOrder, line: JacketOrder, lines: list[JacketOrder], label: str
) -> Pseudonyms:
    words = _amendment_words(order)
    named = dict.fromkeys(all_names(line.member, words), label)
    others = [one.member for one in lines if one.pk != line.pk]
    return pseudonyms(order, named, words, keep=others, on_jackets={line.name_on_jacket: label})


def pseudonyms(
    order: TeamOrder | None,
    named: Mapping[str, str],
    words: Iterable[str],
    *,
    keep: Iterable[str],
    on_jackets: Mapping[str, str] | None = None,
) -> Pseudonyms:
    """`keep` are the names of members who stay; they stand for themselves, lest 'Anna' be taken
    out of 'Anna Berg'."""
    kept = list(keep)
    colors = list(FabricColor.objects.values_list("name", flat=True))
    colorways = list(order.colorways.values_list("name", flat=True)) if order else []
    sizes, blocks = _codes_of(order) if order else ([], [])
    plain = [*kept, *colors, *colorways, *sizes, *blocks]
    if order:
        plain += [order.code, order.title, order.club.name]
    named_parts = [*named.items(), *(on_jackets or {}).items()]
    return Pseudonyms(
        labels={name.casefold(): name for name in kept}
        | {name.casefold(): label for name, label in named.items()},
        parts=parts_of(named_parts, plain),
        changes=harmless_changes(sizes, colorways, blocks, colors),
        kept=frozenset(name.casefold() for name in kept) - {name.casefold() for name in named},
    )


def _codes_of(order: TeamOrder) -> tuple[list[str], list[str]]:
    blockings = order.colorways.select_related("blocking__pattern").prefetch_related(
        "blocking__blocks", "blocking__pattern__sizes"
    )
    sizes = {size.code for way in blockings for size in way.blocking.pattern.sizes.all()}
    blocks = {block.code for way in blockings for block in way.blocking.blocks.all()}
    return sorted(sizes), sorted(blocks)


def _amendment_words(order: TeamOrder) -> list[str]:
    return list(order.amendments.order_by("pk").values_list("words", flat=True))
