"""Fiber content as it is written on a label, read: '80 % polyester, 20 % cotton'."""

from __future__ import annotations

import re
from enum import Enum

PART = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:%|percent\b)\s*([^\W\d]+(?:[ '-][^\W\d]+)*)")

#: Raised-surface fabric wholly of these, or of blends of these, is exempt from flammability
#: testing: 16 CFR 1610.1(d) (CPSC staff talk, September 2016).
EXEMPT = frozenset({"acrylic", "modacrylic", "nylon", "olefin", "polyester", "wool"})
#: The same fibers under the names that labels elsewhere give them; from memory.
SAME = {"polyamide": "nylon", "polypropylene": "olefin", "polyethylene": "olefin"}
#: Fibers that are not of it; which there are is common knowledge, no source.
OTHERS = frozenset(
    {
        "cotton",
        "linen",
        "flax",
        "hemp",
        "jute",
        "ramie",
        "silk",
        "viscose",
        "rayon",
        "modal",
        "lyocell",
        "cupro",
        "bamboo",
        "acetate",
        "triacetate",
        "elastane",
        "spandex",
    }
)
#: Words that do not change what the fiber is.
BESIDE = frozenset({"recycled", "virgin", "merino", "new", "spun", "and"})
#: Fibers that a hot iron melts (common practice, no source).
MELTING = EXEMPT - {"wool"} | {"elastane", "spandex", "acetate", "triacetate"}


class Exempt(Enum):
    """Whether a fabric's fibers exempt it; UNTOLD where the text does not say all of them."""

    YES = "yes"
    NO = "no"
    UNTOLD = "untold"


def fibers_of(text: str) -> tuple[tuple[float, str], ...]:
    """The fibers named with their percent, in order; the plain name of each in small letters."""
    return tuple(
        (float(share.replace(",", ".")), _plain(name)) for share, name in PART.findall(text)
    )


def exempt(text: str) -> Exempt:
    """By the fibers alone: NO where one is named that is not of the list, however little of it
    there is; YES only where parts of the list add up to 100 % and nothing else is said."""
    fibers = fibers_of(text)
    if {SAME.get(word, word) for word in _words(text)} & OTHERS:
        return Exempt.NO
    said = any(word not in BESIDE for word in _words(PART.sub(" ", text)))
    known = all(name in EXEMPT for _, name in fibers)
    whole = abs(sum(share for share, _ in fibers) - 100) < 0.01
    return Exempt.YES if known and whole and not said else Exempt.UNTOLD


def _plain(name: str) -> str:
    plain = " ".join(word for word in _words(name) if word not in BESIDE)
    return SAME.get(plain, plain)


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", text.lower())


def melts(text: str) -> bool:
    """Whether a hot iron melts something in it."""
    return bool({SAME.get(word, word) for word in _words(text)} & MELTING)
