"""A stock-take compared: what should lie on the shelf against what was scanned there.

Every core falls under exactly one result, so that the results add up to all that was expected and
all that was found.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

FOUND = "found"
WRONG_BIN = "in the wrong bin"
MISSING = "missing"
NOT_EXPECTED = "not expected"
LEFT = "left meanwhile"

RESULTS = (MISSING, WRONG_BIN, NOT_EXPECTED, LEFT, FOUND)
"""What a stock-take can say of a core; what somebody has to look at comes first."""

ELSEWHERE = "elsewhere"
GONE = "gone"


@dataclass(frozen=True)
class Expected:
    """A core that the books hold: the bin it should lie in, empty for none.

    `how` is empty for a core the count began with; "gone" when it left the shelf while the count
    ran; "elsewhere" when the books had it in a bin that was not to be counted.
    """

    tag: str
    place: str
    how: str = ""

    def to_text(self) -> str:
        """Return it as the stock-take keeps it."""
        return "|".join((self.tag, self.place, self.how))

    @classmethod
    def from_text(cls, text: str) -> Expected:
        """Return what `to_text` wrote."""
        tag, place, how = text.split("|")
        return cls(tag, place, how)


@dataclass(frozen=True)
class Compared:
    """One core of a stock-take: its result, where it should lie and where it was scanned."""

    tag: str
    result: str
    expected: str
    found: str


def compare(expected: Iterable[Expected], found: Mapping[str, str]) -> tuple[Compared, ...]:
    """Return what the count says of each core, the results in the order of RESULTS, then by tag."""
    by_tag = {each.tag: each for each in expected}
    rows = [_expected_one(each, found.get(tag)) for tag, each in by_tag.items()]
    rows += [
        Compared(tag, NOT_EXPECTED, "", place) for tag, place in found.items() if tag not in by_tag
    ]
    return tuple(sorted(rows, key=lambda row: (RESULTS.index(row.result), row.tag)))


def _expected_one(each: Expected, found: str | None) -> Compared:
    if found is None:
        return Compared(each.tag, LEFT if each.how == GONE else MISSING, each.place, "")
    result = FOUND if found == each.place else WRONG_BIN
    return Compared(each.tag, result, each.place, found)


def as_it_stands(
    expected: Iterable[Expected],
    found: Mapping[str, str],
    now_in: Mapping[str, str],
    gone: Collection[str],
) -> tuple[Expected, ...]:
    """Return the expectation as the books are now, for a count that ran while people worked.

    `now_in` is the bin each core lies in by the books now, `gone` are cores that left the shelf
    since. A core that was moved by the books lies right in its old bin as well as in its new one:
    it depends on when it was scanned.
    """
    settled = []
    for each in expected:
        present = now_in.get(each.tag, each.place)
        if each.tag not in found:
            how = GONE if each.tag in gone and not each.how else each.how
            settled.append(replace(each, place=present if not how else each.place, how=how))
        else:
            right = present if found[each.tag] == present else each.place
            settled.append(replace(each, place=right))
    return tuple(settled)


def tally(rows: Iterable[Compared]) -> dict[str, int]:
    """Return how many cores each result has; those without any are there with 0."""
    counts = Counter(row.result for row in rows)
    return {result: counts[result] for result in RESULTS}
