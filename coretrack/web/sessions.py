"""Who is signed in at this request: looked up before every view, by the stored session."""

from __future__ import annotations

from collections.abc import Callable

from flask import Flask, g, jsonify, redirect, request, session, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import generate_csrf
from markupsafe import Markup
from werkzeug.middleware.proxy_fix import ProxyFix

from coretrack import clock
from coretrack.actions import first_owner, signing_in
from coretrack.web import sign_in
from coretrack.web.access import Access, wants_json
from coretrack.web.here import SignedIn

PUBLIC = frozenset({sign_in.pages.name})
"""The blueprints that are there for people who are not signed in."""

FIRST_OWNER = frozenset({"sign_in.first", "sign_in.make_first"})


def register(
    app: Flask, signed_in: Callable[[], SignedIn | None] | None, access: Access | None = None
) -> None:
    """Let `app` know at each request who is signed in; `signed_in` replaces the sessions."""
    served = access or Access()
    app.config["CORETRACK_ACCESS"] = served
    if served.behind_tls:
        app.config["SESSION_COOKIE_SECURE"] = True
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=1, x_proto=1, x_host=1
        )
    owner_known = False

    @app.before_request
    def who() -> ResponseReturnValue | None:
        nonlocal owner_known
        g.signed_in = g.arrival = None
        if signed_in is not None:
            g.signed_in = signed_in()
            return None
        if request.endpoint in (None, "static"):
            return None
        # Once there is an owner there always is one: the last cannot be taken away.
        owner_known = owner_known or not first_owner.needs_first_owner()
        if not owner_known:
            return _to_the_first_owner()
        return _look_up()

    app.context_processor(lambda: {"lock_tags": lock_tags})


def _to_the_first_owner() -> ResponseReturnValue | None:
    if request.endpoint in FIRST_OWNER:
        return None
    if wants_json():
        return jsonify(error="signed out"), 401
    return redirect(url_for("sign_in.first"), 303)


def _look_up() -> ResponseReturnValue | None:
    """Note who is signed in; return the page that is shown instead when nobody may go on."""
    token = session.get("token", "")
    look = request.endpoint == "sign_in.look"
    g.arrival = signing_in.arrival(token, clock.now(), in_use=not look) if token else None
    found = g.arrival
    if found is not None and not found.locked:
        g.signed_in = SignedIn(found.name, found.role, found.station, found.session)
        return None
    if request.blueprint in PUBLIC:
        return None
    return sign_in.turn_away(found)


def lock_tags() -> Markup:
    """Return what a page needs to lock itself when nobody uses it: nothing while signed out."""
    found = g.get("arrival")
    if found is None or found.locked or not found.idle_seconds:
        return Markup("")
    return Markup(
        '<link rel="stylesheet" href="{css}">'
        '<script src="{js}" defer data-person="{name}" data-idle="{idle}" data-token="{token}"'
        ' data-unlock="{unlock}" data-lock="{lock}" data-awake="{awake}" data-sign-in="{sign_in}">'
        "</script>"
    ).format(
        css=url_for("static", filename="sign_in.css"),
        js=url_for("static", filename="lock.js"),
        name=found.name,
        idle=found.idle_seconds,
        token=generate_csrf(),
        unlock=url_for("sign_in.unlock"),
        lock=url_for("sign_in.lock"),
        awake=url_for("sign_in.awake"),
        sign_in=url_for("sign_in.sign_in"),
    )
