"""Names taken out of texts: each member becomes 'Member 1', 'Member 2', …

An amendment tells in free words what a member had on the jacket or wrote as a note; of such words
only what is known to be no one's own, sizes, colorways and colors, is kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

#: Shorter parts of names stand for too many other things in a text.
SHORTEST_PART = 3
SOMEONE = "a member"
#: A pattern that matches nothing.
NEVER = r"(?!)"
#: Amendments join their changes by this; see `orders.words.joined`.
BETWEEN = "; "
OWN_WORDS = re.compile(
    r"(?:^|(?<=; )|(?<=: ))(?:member|name on jacket|note) .+(?: to |…$)", re.DOTALL
)
#: Why a jacket was cancelled, up to the supplement that an amendment names after it.
WHY_CANCELLED = re.compile(r"(?<=cancelled): .+?(?=, supplement \d+$|$)", re.DOTALL)
OWN_LABEL = re.compile(r"(?:^|; )(member|name on jacket|note) ")


@dataclass(frozen=True, slots=True)
class Pseudonyms:
    """`labels` gives each full name, casefolded, its label. `parts` are further words to take out,
    as they are written: first names, names on jackets. `plain` are words of the order that stay,
    `changes` matches a change in an amendment that tells nothing of anybody, `kept` are the names
    of those who stay."""

    labels: Mapping[str, str]
    parts: Mapping[str, str] = field(default_factory=dict)
    changes: re.Pattern[str] = re.compile(NEVER)
    kept: frozenset[str] = frozenset()

    def cleared(self, text: str, *, own: bool = True) -> str:
        """The text without the names; where it is of one who goes (`own`), also without the own
        words that an amendment quotes."""
        return self._without_names(self._without_own_words(text) if own else text)

    def goes(self, name: str) -> bool:
        return name.casefold() in self.labels.keys() - self.kept

    def _without_own_words(self, text: str) -> str:
        text = WHY_CANCELLED.sub("", text)
        found = OWN_WORDS.search(text)
        if not found:
            return text
        told = text[found.start() :]
        labels = [f"{label} changed" for label in dict.fromkeys(OWN_LABEL.findall(told))]
        kept = [one for one in told.split(BETWEEN) if self.changes.fullmatch(one)]
        return text[: found.start()] + BETWEEN.join([*labels, *kept])

    def _without_names(self, text: str) -> str:
        """In one pass: a label may be another member's name."""
        if not (self.labels or self.parts):
            return text

        def label(match: re.Match[str]) -> str:
            return self.labels.get(match[0].casefold()) or self.parts.get(match[0], SOMEONE)

        names, parts = _any_of(self.labels), _any_of(self.parts)
        return re.sub(rf"(?<!\w)(?:(?i:{names})|{parts})(?!\w)", label, text)


def _any_of(words: Iterable[str]) -> str:
    """Longer ones first, so that 'Ann' is not taken out of 'Ann Berg'."""
    return "|".join(map(re.escape, sorted(words, key=len, reverse=True))) or NEVER


def parts_of(words: Iterable[tuple[str, str]], plain: Iterable[str]) -> dict[str, str]:
    """Labels by the parts of (name or name on a jacket, label), without those that the order's
    `plain` words hold; a part that two members share is no one's in particular."""
    stay = {word.casefold() for text in (*plain, "Member") for word in re.findall(r"\w+", text)}
    owners: dict[str, dict[str, None]] = {}
    for text, label in words:
        for part in (text, *re.findall(r"\w+", text)):
            if len(part) >= SHORTEST_PART and part.casefold() not in stay and not part.isdigit():
                owners.setdefault(part, {})[label] = None
    return {
        part: next(iter(labels)) if len(labels) == 1 else SOMEONE for part, labels in owners.items()
    }


def harmless_changes(
    sizes: Iterable[str], colorways: Iterable[str], blocks: Iterable[str], colors: Iterable[str]
) -> re.Pattern[str]:
    """Matches 'size S to M', 'colorway Dawn to Squall', 'CO oat to as colorway'."""

    size, colorway, block = _any_of(sizes), _any_of(colorways), _any_of(blocks)
    color = _any_of([*colors, "as colorway"])
    return re.compile(
        f"(?:size (?:{size}) to (?:{size})"
        f"|colorway (?:{colorway}) to (?:{colorway})"
        rf"|(?:{block}) (?:{color}) to (?:{color}))(?:, supplement \d+)?"
    )


def all_names(name: str, amendments: Sequence[str]) -> list[str]:
    """The name with those that it had before, as amendments tell: 'member Ana to Anna'."""
    names = [name]
    for known in names:
        told = re.compile(rf"(?:^|: )member (.+?) to {re.escape(known)}(?:; |, supplement |$)")
        former = [found[1] for words in amendments if (found := told.search(words))]
        names.extend(one for one in former if one not in names)
    return names
