"""Second looks: which verdicts are drawn for one, and what the finished ones say of the bench.

A verdict is drawn when a number from 0 to 9 999, which nobody can foresee, lies below the shop's
share in hundredths of a percent. Agreement, false rejects and misses: `agreement`; of the pairs
only blind looks drawn by lot count, whatever their first grade.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from coretrack.figures.agreement import (
    GRADES,
    InspectionErrors,
    Kappa,
    Share,
    agreement_share,
    cohens_kappa,
    grade_table,
    inspection_errors,
    kappa_in_words,
)
from coretrack.figures.numbers import NotANumber, parse_number
from coretrack.figures.plain_words import counted

PARTS = 10_000
"""How many equally likely numbers a draw has: the share is exact to a hundredth of a percent."""

FEWEST = 20
"""With fewer cores graded twice no kappa is shown: one core more or less would turn it (the shop's
own habit; common practice asks for more)."""

Pair = tuple[str, str]
"""The first grade and the second look's."""


def is_drawn(number: int, percent: str) -> bool:
    """Return whether the draw `number` (0 to PARTS - 1) falls into a share in percent."""
    return number < int(Decimal(percent or "0") * 100)


def share_from(text: str) -> str:
    """Return a share as typed ("5", "2,5 %") in percent; ValueError says what would be right."""
    wanted = "a share is 0 to 100 percent with two decimals at most, such as 5 or 2.5"
    try:
        value = Decimal(parse_number(text.strip().removesuffix("%"), comma_is_decimal=True))
    except (NotANumber, ValueError):
        raise ValueError(wanted) from None
    if not 0 <= value <= 100 or value != round(value, 2):
        raise ValueError(wanted)
    return f"{value.normalize():f}"


@dataclass(frozen=True)
class AgreementRow:
    """What the second looks of a family, or of all, say.

    `table`: a row for each first grade, a column for each second one, in the order of GRADES, of
    the `graded` pairs. `unsure` looks came out undecided and count nowhere else. `words` is the
    kappa in a word, empty without one.
    """

    name: str
    looks: int
    graded: int
    unsure: int
    table: tuple[tuple[int, ...], ...]
    agreed: Share
    kappa: Kappa
    words: str
    errors: InspectionErrors


def agreement_row(name: str, pairs: Sequence[Pair]) -> AgreementRow:
    """Return what these finished blind looks say; what too few of them cannot say has a `why`."""
    graded = [pair for pair in pairs if set(pair) <= set(GRADES)]
    table = grade_table(graded)
    kappa = cohens_kappa(table)
    if kappa.value is not None and len(graded) < FEWEST:
        why = f"{counted(len(graded), 'core')} graded twice; from {FEWEST} on it is shown"
        kappa = replace(kappa, value=None, why=why)
    return AgreementRow(
        name,
        len(pairs),
        len(graded),
        len(pairs) - len(graded),
        table,
        agreement_share(graded),
        kappa,
        "" if kappa.value is None else kappa_in_words(kappa.value),
        inspection_errors(graded),
    )


def agreement(looks: Iterable[tuple[str, Pair]]) -> tuple[AgreementRow, ...]:
    """Return a row for all, then one for each family by code where there are several.

    `looks` are pairs with the family each belongs to.
    """
    every: list[Pair] = []
    by_family: dict[str, list[Pair]] = {}
    for family, pair in looks:
        every.append(pair)
        by_family.setdefault(family, []).append(pair)
    rows = [agreement_row(family, by_family[family]) for family in sorted(by_family)]
    return (agreement_row("", every), *(rows if len(rows) > 1 else ()))
