"""Keeps second looks blind at every request; what that means is said in `actions/blind.py`."""

from __future__ import annotations

from flask import Flask, flash, g, jsonify, redirect, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import blind
from coretrack.web.access import wants_json

OWN_RULES = ("receiving.scan", "photos.read", "static")
"""Where texts are scans: `actions/station_scans.py` asks the same rule there."""


def register(app: Flask) -> None:
    """Let `app` hide, at each request, what the person signed in may not see yet."""
    app.before_request(hide)
    app.teardown_request(lambda _error: blind.look_as(None))


def hide() -> ResponseReturnValue | None:
    """Note who looks; lead away from an address or form that names a core hidden from them."""
    here = g.get("signed_in")
    blind.look_as(here.name if here is not None and here.role == "inspector" else None)
    if request.endpoint in OWN_RULES or request.blueprint == "second_looks":
        return None
    texts = [text for _, values in _told() for text in values]
    tag = blind.hidden_in(texts)
    if not tag:
        return None
    if wants_json():
        return jsonify(error=blind.wanted_words(tag)), 409
    flash(blind.wanted_words(tag))
    return redirect(url_for("second_looks.look", tag=tag), 303)


def _told() -> list[tuple[str, list[str]]]:
    return [*request.args.lists(), *request.form.lists()]
