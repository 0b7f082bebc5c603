"""What an import says to a person, at the terminal and on the pages."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from coretrack.actions.imports import ImportAnswer

SAID = ("grade", "outcome", "state", "operation")
"""What is worth counting of the rows that were stored: the first of these that an item has."""

SHOWN = (
    "row", "core", "tag", "serial", "key", "number", "family", "quantity", "charge", "day",
    "check", "place", "outcome", "line", "credit", "state", "price", "freight", "operation",
    "grade", "because", "why",
)  # fmt: skip
"""What a preview shows a person of a row that was understood, in this order."""

BESIDE = {
    "source": "From whom",
    "lot": "Code of the lot or delivery",
    "received": "Day of arrival",
    "price": "Price",
    "freight": "Freight",
    "mass": "Mass on the weigh ticket",
    "bid-yield": "Yield expected",
    "basis": "How the lot was bought",
    "hidden": "Hidden rows",
    "dates": "Dates such as 3/4/2026",
    "decimal": "Decimal mark",
    "sheet": "Sheet",
}
"""What the options that the terminal takes beside a file are called on the pages."""

_PHRASES = (
    (r": --hidden include or --hidden skip", ""),
    (r"say --hidden include or --hidden skip to import", "say beside the file whether they count"),
    (r": --dates day-first or --dates month-first", " beside the file"),
    (r"read it with 'sales'", "read it in as sales"),
    (r"Add one with 'source'", "A new customer is added where a sale is typed"),
    (r" \(--[a-z-]+\)", ""),
)


def outcomes(answer: ImportAnswer) -> list[str]:
    """Return what became of the stored rows, counted, and the credits they earned."""
    counted: Counter[str] = Counter()
    for item in answer.items:
        named = next((item[name] for name in SAID if item.get(name)), None)
        if named:
            counted[str(named)] += len(item.get("tags", ())) or 1
    lines = [", ".join(f"{number} {name}" for name, number in counted.most_common())]
    credits = [Decimal(item["credit"]) for item in answer.items if item.get("credit")]
    if credits:
        lines.append(f"credits {sum(credits)} in all")
    return [line for line in lines if line]


def shown_fields(item: Mapping[str, Any]) -> dict[str, str]:
    """Return what a person is shown of one understood row, by name."""
    skip = {"line"} if "key" in item else set()
    return {
        name: str(item[name])
        for name in SHOWN
        if name not in skip and item.get(name) not in (None, "")
    }


def shown_names(items: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Return the names that at least one of the rows has something to show under."""
    found = {name for item in items for name in shown_fields(item)}
    return tuple(name for name in SHOWN if name in found)


def without_options(text: str) -> str:
    """Return a message in the words of the pages, where there are no options to be typed."""
    for pattern, words in _PHRASES:
        text = re.sub(pattern, words, text)
    return re.sub(r"--([a-z-]+)", lambda found: f"“{BESIDE.get(found[1], found[1])}”", text)


def answer_without_options(answer: ImportAnswer) -> ImportAnswer:
    """Return an answer with every message in the words of the pages."""
    return replace(
        answer,
        notes=tuple(without_options(note) for note in answer.notes),
        rejected=tuple(
            replace(one, column=_column(one.column), why=without_options(one.why))
            for one in answer.rejected
        ),
    )


def _column(heading: str) -> str:
    return BESIDE.get(heading[2:], heading) if heading.startswith("--") else heading
