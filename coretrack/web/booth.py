"""The booth: pages so dark that eyes used to the dark stay so, switched on for one browser.

A cookie says it, since the very first byte of a page has to be dark; a script would come too late.
"""

from __future__ import annotations

from flask import Blueprint, Flask, redirect, request
from flask.typing import ResponseReturnValue

from coretrack.web.access import own_address
from coretrack.web.here import only

pages = Blueprint("booth", __name__)

COOKIE = "coretrack_booth"
_YEAR = 365 * 24 * 60 * 60


def register(app: Flask) -> None:
    """Let every template of `app` know whether the browser at the page is in the booth."""
    app.context_processor(lambda: {"booth": in_booth()})


def in_booth() -> bool:
    """Return whether the browser of this request is switched to the booth's dark pages."""
    return request.cookies.get(COOKIE) == "on"


@pages.post("/")
@only("inspector")
def switch() -> ResponseReturnValue:
    """Switch this browser to the booth's dark pages, or back."""
    answer = redirect(own_address(request.form.get("back", "")) or "/bench/", 303)
    if request.form.get("booth") == "on":
        answer.set_cookie(COOKIE, "on", max_age=_YEAR, samesite="Lax", httponly=True)
    else:
        answer.delete_cookie(COOKIE, samesite="Lax", httponly=True)
    return answer
