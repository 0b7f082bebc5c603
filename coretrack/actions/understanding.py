"""How a reading or a tolerance is understood, in plain values: for testing gauges and plans."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from coretrack.errors import InvalidInput
from coretrack.figures.limits import plain_text, to_micro
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.readings import Question, Reading, Refusal, read_reading
from coretrack.figures.tolerances import NotLimits, read_limits, understand_limits
from coretrack.figures.units import UnknownUnit, canonical_unit


def reading_answer(
    text: str, unit: str, nominal: str | None, plausible: str | None, resolution: str | None
) -> dict[str, Any]:
    """Return what a reading means in `unit`: a reading, a question to ask back, or a refusal."""
    own = _unit(unit)
    band = None
    if plausible:
        try:
            band = read_limits(plausible, unit=own)
        except NotLimits as error:
            raise InvalidInput(f"The plausible band: {error}.") from None
    answer = read_reading(
        text,
        unit=own,
        resolution=_micro("resolution", resolution),
        nominal=_micro("nominal size", nominal),
        plausible=band,
    )
    match answer:
        case Reading():
            value = plain_text(answer.value)
            rounded = "" if answer.exact else " (rounded to a millionth)"
            return {
                "outcome": "reading",
                "as_typed": text,
                "value": value,
                "unit": answer.unit,
                "given_unit": answer.given_unit,
                "exact": answer.exact,
                "sentence": f"{value} {answer.unit}{rounded}",
                "why": None,
            }
        case Question():
            return {
                "outcome": "question",
                "as_typed": text,
                "value": None,
                "unit": own,
                "suggestions": [
                    {"value": plain_text(s.value), "why": s.text} for s in answer.suggestions
                ],
                "sentence": answer.text,
                "why": answer.text,
            }
        case Refusal():
            return {
                "outcome": "refused",
                "as_typed": text,
                "value": None,
                "unit": own,
                "sentence": answer.text,
                "why": answer.text,
            }


def limits_answer(text: str, unit: str, nominal: str | None) -> dict[str, Any]:
    """Return the limits that a tolerance means; NotLimits (a ValueError) says what is wrong."""
    own = _unit(unit)
    found = understand_limits(text, unit=own, nominal=_micro("nominal size", nominal))
    lower, upper = found.limits.lower, found.limits.upper
    return {
        "as_typed": text,
        "lower": None if lower is None else plain_text(lower),
        "upper": None if upper is None else plain_text(upper),
        "unit": own,
        "understood": found.understood,
        "sentence": found.understood,
    }


def _unit(unit: str) -> str:
    try:
        return canonical_unit(unit)
    except UnknownUnit as error:
        raise InvalidInput(f"--unit: {error}.") from None


def _micro(name: str, text: str | None) -> int | None:
    if not text:
        return None
    try:
        return to_micro(Decimal(parse_number(text, comma_is_decimal=True)))
    except NotANumber as error:
        raise InvalidInput(f"The {name}: {error}.") from None
