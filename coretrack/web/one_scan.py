"""One scan by the person at the page, however it came: scanner, keyboard, photo."""

from __future__ import annotations

from coretrack.actions import station_scans
from coretrack.errors import Forbidden
from coretrack.figures.scan_replies import ScanReply, Spot
from coretrack.web.here import doer, person

CLERKS_PAGES = ("delivery", "lot")
"""Where a scan changes what came in: only for those who receive."""

BENCH_PAGES = ("bench", "rack", "wash", "rework", "second", "study")
"""Where a scan says what was found on a body: only for those who inspect."""


def act_on(text: str, spot: Spot, key: str) -> ScanReply:
    """Act on a scan and return the reply; Forbidden where the person's role does not receive."""
    here = person()
    if spot.page in CLERKS_PAGES and not here.may("clerk"):
        raise Forbidden(f"Receiving is the clerk's; {here.name} is signed in as {here.role}.")
    if spot.page in BENCH_PAGES and not here.may("inspector"):
        raise Forbidden(f"The bench is the inspector's; {here.name} is signed in as {here.role}.")
    return station_scans.scan(text, spot, key=key, **doer())
