"""Which page a scan's reply opens, and where its labels are printed from."""

from __future__ import annotations

from typing import Any

from flask import url_for

from coretrack.actions.station_labels import LabelRun

_PAGES = {
    "home": ("receiving.home", ""),
    "core": ("cores.core", "tag"),
    "delivery": ("receiving.delivery", "code"),
    "customer": ("lists.customer", "code"),
    "lot": ("lots.lot", "code"),
    "label": ("labels.home", "tags"),
    "line": ("lists.line", "line"),
    "number": ("cores.home", "q"),
    "bench": ("bench.inspect", "tag"),
    "rack": ("racks.rack", "code"),
    "wash": ("washes.wash", "code"),
    "rework": ("rework.home", "tag"),
    "second": ("second_looks.look", "tag"),
    "shelf": ("shelf.home", "at"),
    "take": ("shelf.take", "code"),
    "study": ("gauges.study", "code"),
    "start": ("receiving.home", "reference"),
}
"""Endpoint and name of the key's argument for each target of a scan's reply."""


def address_of(target: str, code: str) -> str:
    """Return the address of the page that a reply names, "" to stay where one is."""
    if target not in _PAGES:
        return ""
    endpoint, argument = _PAGES[target]
    values: dict[str, Any] = {argument: code} if argument else {}
    return url_for(endpoint, **values)


def print_address(run: LabelRun, back: str = "") -> str:
    """Return the address of the print page of labels that were noted as sent, "" without any.

    `back` is the page that the print page leads back to.
    """
    if not run.tags and not run.texts:
        return ""
    return url_for(
        "labels.print_view",
        tags=",".join(run.tags) or None,
        text=list(run.texts) or None,
        stock=run.stock,
        first=run.first,
        wash=run.wash or None,
        back=back or None,
    )
