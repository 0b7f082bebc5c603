"""Turns errors into pages that say what to do and never show a stack trace."""

from __future__ import annotations

import secrets

from flask import Flask, render_template
from werkzeug.exceptions import HTTPException

from coretrack.errors import CoretrackError
from coretrack.web.pages import ErrorPage

_TITLES = {
    400: "That request cannot be used",
    403: "That is not allowed",
    404: "Not here",
    405: "That cannot be done here",
    409: "Changed meanwhile",
    413: "That file is too large",
    422: "That cannot be used",
    503: "Not available right now",
}
_HINTS = {
    404: "Nothing lies at this address. Check it, or go back to the shop's page.",
    405: "This address does not take that kind of request.",
    413: "Send a smaller file, or split it.",
}


def register(app: Flask) -> None:
    """Add the error pages to `app`."""
    app.register_error_handler(CoretrackError, _known)
    app.register_error_handler(HTTPException, _http)

    @app.errorhandler(Exception)
    def unknown(error: Exception) -> tuple[str, int]:
        number = secrets.token_hex(4)
        app.logger.error("error %s", number, exc_info=error)
        message = (
            "Something went wrong on our side; nothing was stored. Tell whoever looks after this"
            f" computer the number {number}: it stands beside the cause in the log."
        )
        return _page(500, "Something went wrong", message)


def _known(error: CoretrackError) -> tuple[str, int]:
    status = error.status
    return _page(status, _TITLES.get(status, "That did not work"), error.message)


def _http(error: HTTPException) -> tuple[str, int] | HTTPException:
    status = error.code or 500
    if status < 400:
        return error
    title = _TITLES.get(status, "That did not work")
    return _page(status, title, _HINTS.get(status, "Go back and try again."))


def _page(status: int, title: str, message: str) -> tuple[str, int]:
    return render_template("error.html", page=ErrorPage(title, status, message)), status
