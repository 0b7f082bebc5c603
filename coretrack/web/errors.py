"""Turns errors into pages that say what to do and never show a stack trace."""

from __future__ import annotations

import secrets

from flask import Flask, current_app, jsonify, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError, generate_csrf
from werkzeug.exceptions import HTTPException

from coretrack.errors import CoretrackError
from coretrack.web import kept, sign_in
from coretrack.web.access import wants_json
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
    404: "Nothing lies at this address. Check it, or go back to the first page.",
    405: "This address does not take that kind of request.",
}
_AGED = "This page had lain open for too long, so nothing was stored. Look it over, then send it."
_MEGABYTE = 1024 * 1024


def register(app: Flask) -> None:
    """Add the error pages to `app`."""
    app.register_error_handler(CoretrackError, _known)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(CSRFError, _aged)

    @app.errorhandler(Exception)
    def unknown(error: Exception) -> ResponseReturnValue:
        number = secrets.token_hex(4)
        app.logger.error("error %s", number, exc_info=error)
        message = (
            "Something went wrong on our side; nothing was stored. Tell whoever looks after this"
            f" computer the number {number}: it stands beside the cause in the log."
        )
        return _page(500, "Something went wrong", message)


def _known(error: CoretrackError) -> ResponseReturnValue:
    status = error.status
    return _page(status, _TITLES.get(status, "That did not work"), error.message)


def _http(error: HTTPException) -> ResponseReturnValue | HTTPException:
    status = error.code or 500
    if status < 400:
        return error
    title = _TITLES.get(status, "That did not work")
    hint = _too_large() if status == 413 else _HINTS.get(status, "Go back and try again.")
    return _page(status, title, hint)


def _too_large() -> str:
    most = int(current_app.config["MAX_CONTENT_LENGTH"]) // _MEGABYTE
    sent = request.content_length
    size = f"It has {sent / _MEGABYTE:.1f} MB; " if sent else ""
    return (
        f"{size}{most} MB at once are the most. Nothing was stored. Split a long file, or take a "
        "photo with fewer pixels, and go back to send it."
    )


def _aged(error: CSRFError) -> ResponseReturnValue:
    """Answer a form whose token is too old or not ours: nothing is stored and nothing lost."""
    del error
    if wants_json():
        return jsonify(error="token", token=generate_csrf()), 400
    if request.endpoint in sign_in.SECRET_FORMS:
        return sign_in.once_more()
    return kept.ask(kept.from_request(), _AGED, 400)


def _page(status: int, title: str, message: str) -> ResponseReturnValue:
    if wants_json():
        return jsonify(error=message), status
    return render_template("error.html", page=ErrorPage(title, status, message)), status
