"""A customer as people call one: by code, by name, or by a part of the name that only one has."""

from __future__ import annotations

from collections.abc import Sequence

from coretrack.actions.lookups import Catalogue
from coretrack.errors import InvalidInput
from coretrack.figures.trade_objects import Source

BUYING = ("customer", "dealer")
"""Kinds of source that buy a unit and owe its core; a clerk may add such."""

MOST_NAMED = 8
SHORTEST_PART = 3
"""Letters of a name that may stand for all of it."""


def customer_called(told: str, catalogue: Catalogue) -> Source:
    """Return whose cores are meant by a code, a name or a unique part of a name.

    InvalidInput at "customer" names those who could be meant, or whom the shop knows. Whoever only
    sells cores is none.
    """
    wanted = " ".join(told.split()).casefold()
    everybody = catalogue.sources()
    exact = [s for s in everybody if wanted in (s.key.casefold(), s.name.casefold())]
    code = [source for source in exact if source.key.casefold() == wanted]
    found = code or exact
    if len(found) != 1:
        found = _by_part(wanted, [s for s in everybody if s.kind in BUYING])
        if len(found) > 1:
            raise _wrong(f"'{told}' may be {named(found)}; type more of the name, or the code.")
    if not found:
        known = named([source for source in everybody if source.kind in BUYING])
        raise _wrong(
            f"No customer is called '{told}'. Known: {known or 'nobody yet'}. Somebody new is "
            "added first."
        )
    return found[0]


def taken_for(told: str, source: Source) -> str:
    """Return what a part of a name was taken for, in a sentence; empty for the whole name."""
    if told.strip().casefold() in ("", source.key.casefold(), source.name.casefold()):
        return ""
    return f"'{told.strip()}' was taken for {named([source])}."


def named(sources: Sequence[Source]) -> str:
    """Return customers as "Name (CODE)", the first few of many."""
    words = [f"{s.name} ({s.key})" if s.name else s.key for s in sources[:MOST_NAMED]]
    more = len(sources) - MOST_NAMED
    return ", ".join([*words, *([f"{more} more"] if more > 0 else [])])


def _by_part(wanted: str, customers: Sequence[Source]) -> list[Source]:
    """Return those whose name holds the text; a word that begins so goes before one inside."""
    if len(wanted) < SHORTEST_PART:
        return []
    holding = [source for source in customers if wanted in source.name.casefold()]
    begins = [source for source in holding if f" {wanted}" in f" {source.name.casefold()}"]
    return begins or holding


def _wrong(message: str) -> InvalidInput:
    return InvalidInput(message, {"customer": message})
