"""What a scanner read: the tag of a jacket, something else of the workroom, or nothing known."""

from __future__ import annotations

from urllib.parse import unquote, urlsplit

from production.errors import UnknownJacketError
from production.models import CutTicket, Jacket

PAGES = {"j": "a bundle tag", "tickets": "a cut ticket", "lots": "a label of cloth"}
CODE_LENGTH = 200


def read_code(text: str) -> str:
    """The code in what was read, which may be a whole address; stray blanks and signs that cannot
    be seen are left out."""
    text = "".join(char for char in text if char.isprintable()).strip()
    if "/" not in text:
        return text
    try:
        parts = [unquote(part) for part in urlsplit(text).path.split("/")]
    except ValueError:  # a broken address, as 'http://[x'
        return text
    folded = [part.casefold() for part in parts]
    for page in ("tickets", "j"):
        if page in folded[:-1]:
            return parts[folded.index(page) + 1].strip() or text
    return text


def find_jacket(text: str) -> Jacket:
    """The jacket whose tag was read. Raises UnknownJacketError, saying what else it is."""
    code = read_code(text)
    if "\0" not in code and len(code) <= CODE_LENGTH:  # a database compares no endless text
        exact = Jacket.objects.filter(code=code).first()
        alike = [exact] if exact else list(Jacket.objects.filter(code__iexact=code)[:2])
        if len(alike) == 1:
            return alike[0]
        if alike:
            raise UnknownJacketError(
                f"'{code}' can be {' or '.join(jacket.code for jacket in alike)}: type the code "
                "with its capital letters as on the tag."
            )
    raise UnknownJacketError(_what_it_is(code))


def _what_it_is(code: str) -> str:
    shown = code if len(code) <= 60 else f"{code[:60]}…"
    if not code:
        return "Nothing was read; scan the tag again or type its code."
    ticket = CutTicket.objects.filter(code__iexact=code[: CODE_LENGTH + 1]).first()
    if ticket:
        return f"This is a cut ticket, {ticket.code}. Scan the bundle tag of the jacket."
    if not code.isascii():
        return (
            f"No jacket has the code '{shown}'. If letters or signs are changed, set the scanner "
            "to the keyboard of this device."
        )
    return f"No jacket has the code '{shown}'; check the tag."
