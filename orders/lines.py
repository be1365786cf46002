"""One line of text as it is stored and compared."""

from __future__ import annotations

import re
import unicodedata

#: They join letters and emoji, so they change what is read; all other unseen signs do not.
JOINERS = "\u200c\u200d"


def one_line(text: str) -> str:
    """Trimmed, each accented letter in its one composed form, single blanks, and without signs
    that nobody sees (zero-width blanks, marks that turn the reading direction). Line breaks and
    other control signs stay, to be refused."""
    if not text.isascii():
        text = unicodedata.normalize("NFC", "".join(map(_seen, text)))
    tidy = re.sub(" +", " ", text).strip()
    return tidy if tidy.strip(JOINERS) else ""


def _seen(sign: str) -> str:
    category = unicodedata.category(sign)
    if category == "Zs":
        return " "
    return "" if category == "Cf" and sign not in JOINERS else sign


def folded(name: str) -> str:
    """The same for two names that a reader takes for one."""
    return one_line(one_line(name).casefold())
