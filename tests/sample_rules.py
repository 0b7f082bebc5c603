"""The arithmetic and the verdict rules of the second opinion on the invented shop.

Plain Python; nothing here imports coretrack. Sizes are exact fractions of the check's unit.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Any

UNIT = 10_000
BY_NUMBER = ("dimension", "hardness", "count", "time")
ISO_H7 = ((Fraction(18), Fraction(30), Fraction(21, 1000)),)
"""ISO 286-1 grade IT7: above 18 up to 30 mm, 21 micrometres (the only size the shop uses)."""


def money(amount: Fraction | Decimal | str) -> int:
    """Return currency units as ten-thousandths, rounded half-up (amounts are never negative)."""
    exact = Fraction(amount) * UNIT + Fraction(1, 2)
    return exact.numerator // exact.denominator


def split(total: int, weights: list[Fraction]) -> list[int]:
    """Split by largest remainder, ties to the earlier; in whole cents when the total is."""
    step = 100 if total % 100 == 0 else 1
    exact = [Fraction(total // step) * weight / sum(weights) for weight in weights]
    parts = [int(share) for share in exact]
    ranked = sorted(range(len(exact)), key=lambda i: (-(exact[i] - parts[i]), i))
    for i in ranked[: total // step - sum(parts)]:
        parts[i] += 1
    return [part * step for part in parts]


def limits(text: str) -> tuple[Fraction | None, Fraction | None]:
    """Return the two inclusive limits of a text such as 6 +0.01/0, 1..2, <= 3, >= 55 or 21 H7."""
    text = text.strip()
    if text.startswith(("<=", ">=")):
        bound = Fraction(text[2:].strip())
        return (None, bound) if text[0] == "<" else (bound, None)
    if ".." in text:
        low, high = text.split("..")
        return Fraction(low), Fraction(high)
    if text.endswith("H7"):
        size = Fraction(text[:-2].strip())
        width = next(it7 for above, to, it7 in ISO_H7 if above < size <= to)
        return size, size + width
    size_text, deviations = text.split()
    upper, lower = deviations.split("/")
    size = Fraction(size_text)
    return size + Fraction(lower), size + Fraction(upper)


def inside(
    value: Fraction, band: tuple[Fraction | None, Fraction | None], wider: Fraction = Fraction(0)
) -> bool:
    """Return whether `value` is inside `band` widened by `wider` (shrunk when negative)."""
    low, high = band
    return (low is None or value >= low - wider) and (high is None or value <= high + wider)


def plain_number(text: str) -> str:
    """Return a part number without what people type differently."""
    return re.sub(r"[\s.\-]", "", text).upper()


def size(text: str) -> Fraction:
    """Return a reading in its check's unit (millimetres when inches are written out)."""
    amount, _, unit = text.replace(",", ".").partition(" ")
    return Fraction(amount) * (Fraction("25.4") if unit == "in" else 1)


def verdict(check: dict[str, Any], texts: list[str]) -> str:
    """Return keep, rework, undecided, open (not measured) or scrap for one check."""
    if check["kind"] in BY_NUMBER:
        return number_verdict(check, [size(text) for text in texts])
    if not texts:
        return "open"
    answer = texts[-1].split()[0]
    if check["kind"] == "look":
        if answer in check["look_scraps"]:
            return "scrap"
        return "rework" if answer in dict(check["look_reworks"]) else "keep"
    return {
        "none": "keep",
        "go": "keep",
        "unsure": "undecided",
        "indication": "scrap",
        "no-go": "scrap",
    }[answer]


def number_verdict(check: dict[str, Any], values: list[Fraction]) -> str:
    judged, complete = values, len(values) >= check.get("readings", 1)
    if values and check["judged"] in ("max", "min"):
        judged = [max(values) if check["judged"] == "max" else min(values)]
    found = {one_size(check, value) for value in judged}
    if "scrap" in found:
        return "scrap"
    if not complete:
        return "open"
    return next((what for what in ("undecided", "rework") if what in found), "keep")


def one_size(check: dict[str, Any], value: Fraction) -> str:
    guard = Fraction(check["uncertainty"]) if check["rule"] == "guarded" else Fraction(0)
    usable = limits(check["usable"])
    bands = [limits(row["limits"]) for row in check.get("rework", ())]
    if inside(value, usable, -guard):
        return "keep"
    if not any(inside(value, band, guard) for band in (usable, *bands)):
        return "scrap"
    if inside(value, usable, guard) and guard:
        return "undecided"
    return "rework" if any(inside(value, band, -guard) for band in bands) else "undecided"
