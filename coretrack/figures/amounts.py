"""The one reader of an amount of money from a field or a file."""

from __future__ import annotations

from coretrack.figures import money
from coretrack.figures.numbers import NotANumber, parse_number, quoted
from coretrack.figures.stray_codes import why_a_code


def parse_amount(
    text: str, *, decimal_mark: str | None = None, allow_negative: bool = False
) -> money.Money:
    """Return the amount that `text` writes, in ten-thousandths of the currency unit, exactly.

    Thousands may be parted (`1.234,50`, `1 234,50`); what could be two amounts raises
    AmbiguousNumber. A barcode, a negative amount (unless allowed) or one finer than a
    ten-thousandth raises NotANumber; the message says what would be right.
    """
    code = why_a_code(text)
    if code:
        raise NotANumber(f"{code}, not an amount; type the amount, such as 65.00")
    number = parse_number(text, decimal_mark=decimal_mark, allow_thousands=True)
    if number < 0 and not allow_negative:
        raise NotANumber(f"{quoted(text)} is negative; an amount here is zero or more")
    try:
        return money.from_decimal(number)
    except ValueError as error:
        raise NotANumber(f"{error}; give four decimals at most") from error
