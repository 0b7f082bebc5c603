"""What every station page shows around its work: where one can go, and the last scans."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from flask import Flask, request, url_for

from coretrack.figures.scan_replies import Shown, Spot
from coretrack.web import here
from coretrack.web.panel import also_said, panel_now

PAGES = (
    ("Receiving", "receiving.home", ("clerk",)),
    ("Lists", "lists.overview", ("clerk",)),
    ("Lots", "lots.overview", ("clerk",)),
    ("Bench", "bench.home", ("inspector",)),
    ("Shelf", "shelf.home", ("clerk", "inspector")),
    ("Files", "imports.home", ("clerk", "inspector")),
    ("Labels", "labels.home", ("clerk", "inspector")),
    ("Cores", "cores.home", ("clerk", "inspector")),
    ("Plans", "plans.home", ()),
    ("Gauges", "gauges.home", ("inspector",)),
    ("Office", "office.shop", ()),
    ("People", "people.home", ()),
)
"""Name, endpoint, and the roles that see it beside the owner."""


def register(app: Flask) -> None:
    """Give the templates of `app` what station.html asks for."""

    @app.context_processor
    def given() -> dict[str, object]:
        return {
            "here": here.someone(),
            "new_key": lambda: secrets.token_hex(16),
            "spot": Spot(),
            "station_nav": station_nav,
            "last_said": last_said,
            "panel_now": panel_now,
            "also_said": also_said,
        }


def station_nav(signed_in: here.SignedIn) -> list[tuple[str, str, bool]]:
    """Return the pages this person may open: name, address, whether it is the present one."""
    mine = request.blueprint
    return [
        (name, url_for(endpoint), endpoint.split(".")[0] == mine)
        for name, endpoint, roles in PAGES
        if signed_in.may(*roles)
    ]


def last_said() -> Sequence[Shown]:
    """Return this person's last scans at this station, newest first."""
    from coretrack.actions.station_scans import last_results

    signed_in = here.someone()
    return last_results(signed_in.name, signed_in.station) if signed_in else ()
