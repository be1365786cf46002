"""What a team order costs, what has been paid, and what is open: computed, never stored.

Amounts are decimals in the workroom's one currency. Each line is rounded to what the currency can
pay before anything is added up, so that the sums on a page are the sums of what stands above them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

#: Decimals of a currency by its code (ISO 4217, quoted from memory); all others have two.
DECIMALS: Mapping[str, int] = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW"), 0),
    **dict.fromkeys(("PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}
#: Codes of the currencies that are paid with (ISO 4217, quoted from memory; without funds, metals
#: and codes for tests).
CURRENCIES = frozenset(
    re.findall(
        "[A-Z]{3}",
        "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB "
        "BRL BSD BTN BWP BYN BZD CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK "
        "DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD HNL "
        "HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD "
        "KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR "
        "MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG "
        "QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC "
        "SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU UZS VED VES "
        "VND VUV WST XAF XCD XCG XOF XPF YER ZAR ZMW ZWG ",
    )
)
ZERO = Decimal(0)
REFUND = "refund"

#: How many digits a card's number has (ISO/IEC 7812, quoted from memory; 13 is the shortest still
#: met with).
CARD_DIGITS = range(13, 20)


def decimals_of(currency: str) -> int:
    return DECIMALS.get(currency, 2)


def rounded(amount: Decimal, currency: str) -> Decimal:
    """To what the currency can pay, halves up (common practice, no source)."""
    return amount.quantize(Decimal(1).scaleb(-decimals_of(currency)), ROUND_HALF_UP)


def amount_words(amount: Decimal, currency: str) -> str:
    return f"{rounded(amount, currency)} {currency}"


def unit_price_words(price: Decimal, currency: str) -> str:
    """The price of one unit, never rounded away: '4.60 EUR', '0.0825 EUR', '4.6 JPY'. A spool may
    cost less than the smallest coin, and a price may be finer than what is paid in the end."""
    coins = rounded(price, currency)
    return f"{coins if coins == price else price.normalize():f} {currency}"


def plain(amount: Decimal) -> Decimal:
    """With two decimals, or with more where it is finer: as a form shows what is stored."""
    coins = round(amount, 2)
    return coins if coins == amount else amount.normalize()


def balance_words(balance: Decimal, currency: str) -> str:
    """What is left to pay; a negative balance is money that the club or member gets back."""
    if balance > 0:
        return f"{amount_words(balance, currency)} open"
    if balance < 0:
        return f"{amount_words(-balance, currency)} overpaid"
    return "all paid"


@dataclass(frozen=True, slots=True)
class Line:
    """One jacket: its key, and what is taken off the price for it alone."""

    key: int
    discount: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Entry:
    """Money that came in, or went back where `kind` is refund; `line` is the key of the jacket
    that it was paid for, None where it was paid for the order as a whole."""

    kind: str
    amount: Decimal
    line: int | None = None

    @property
    def signed(self) -> Decimal:
        return -self.amount if self.kind == REFUND else self.amount


@dataclass(frozen=True, slots=True)
class LineAccount:
    """`price` is what the jacket costs after `discount`, the part of it that could be taken off."""

    key: int
    discount: Decimal
    price: Decimal
    paid: Decimal

    @property
    def balance(self) -> Decimal:
        return self.price - self.paid


@dataclass(frozen=True, slots=True)
class Account:
    """A team order's money. `discount` is taken off the order as a whole, not off any jacket, and
    `paid_for_order` was paid for it as a whole. `price` is None while none is agreed."""

    currency: str
    price: Decimal | None
    lines: tuple[LineAccount, ...]
    discount: Decimal
    paid_for_order: Decimal

    @property
    def jackets_total(self) -> Decimal:
        return sum((line.price for line in self.lines), ZERO)

    @property
    def total(self) -> Decimal:
        return self.jackets_total - self.discount

    @property
    def paid_for_jackets(self) -> Decimal:
        return sum((line.paid for line in self.lines), ZERO)

    @property
    def paid(self) -> Decimal:
        return self.paid_for_jackets + self.paid_for_order

    @property
    def balance(self) -> Decimal:
        return self.total - self.paid

    @property
    def words(self) -> str:
        if self.price is None:
            paid = f", {amount_words(self.paid, self.currency)} paid" if self.paid else ""
            return f"no price agreed yet{paid}"
        return balance_words(self.balance, self.currency)


def settle(
    currency: str,
    price: Decimal | None,
    lines: Iterable[Line],
    discount: Decimal,
    entries: Iterable[Entry],
) -> Account:
    """The account of an order whose jackets cost `price` each, less their own discounts, less
    `discount` on the whole. A discount takes no price below 0. ValueError for an entry that names
    a jacket which is not among the lines."""
    paid: dict[int | None, Decimal] = {None: ZERO}
    known = list(lines)
    paid.update((line.key, ZERO) for line in known)
    for entry in entries:
        if entry.line not in paid:
            raise ValueError(f"A payment is for jacket {entry.line}, which the order lacks.")
        paid[entry.line] += rounded(entry.signed, currency)
    accounts = tuple(_line_account(line, price, paid[line.key], currency) for line in known)
    jackets_total = sum((account.price for account in accounts), ZERO)
    return Account(
        currency=currency,
        price=None if price is None else rounded(price, currency),
        lines=accounts,
        discount=min(rounded(discount, currency), jackets_total),
        paid_for_order=paid[None],
    )


def _line_account(line: Line, price: Decimal | None, paid: Decimal, currency: str) -> LineAccount:
    full = rounded(price or ZERO, currency)
    discount = min(rounded(line.discount, currency), full)
    return LineAccount(key=line.key, discount=discount, price=full - discount, paid=paid)


def looks_like_card_number(text: str) -> bool:
    """Whether the text holds 13 to 19 digits that pass the check sum of card numbers, written in
    one go or in groups."""
    for run in re.findall(r"\d(?:[\W_]{0,3}\d)*", text):
        groups = re.findall(r"\d+", run)
        for first in range(len(groups)):
            for last in range(first + 1, len(groups) + 1):
                digits = "".join(groups[first:last])
                if len(digits) in CARD_DIGITS and passes_luhn(digits):
                    return True
    return False


def passes_luhn(digits: str) -> bool:
    """The check sum of ISO/IEC 7812-1, annex B (quoted from memory): every second digit from the
    right is doubled, and the digits of all add up to a multiple of ten."""
    doubled = (int(digit) * (1 + place % 2) for place, digit in enumerate(reversed(digits)))
    return sum(sum(divmod(number, 10)) for number in doubled) % 10 == 0


def next_receipt(last: str | None, year: int) -> str:
    """Receipt numbers run on within a year: 2026-0001, 2026-0002, …; `last` is that year's."""
    number = int(last.partition("-")[2]) + 1 if last else 1
    return f"{year}-{number:04d}"
