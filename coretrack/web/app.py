"""Builds the Flask application; it opens no database and reads no environment."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from flask import Flask, redirect, url_for
from flask_wtf import CSRFProtect
from jinja2 import StrictUndefined
from werkzeug.wrappers import Response

from coretrack.config import Settings
from coretrack.errors import InvalidInput
from coretrack.figures.summary import ShopSummary
from coretrack.resources import data_dir
from coretrack.web import (
    bench,
    blind,
    body_pictures,
    booth,
    cores,
    errors,
    filters,
    frame,
    gauges,
    here,
    hooks,
    imports,
    labels,
    lists,
    lots,
    office,
    people,
    photos,
    plans,
    process_checks,
    racks,
    rework,
    scanning,
    second_looks,
    sessions,
    shelf,
    sign_in,
    washes,
)
from coretrack.web.access import Access

Paper = Callable[[ShopSummary], bytes]
"""Draws a paper from the figures on the page, so that both always say the same."""

TOKEN_SECONDS = 12 * 60 * 60
"""How long a form may lie open; what was typed is kept and asked back after that."""

LARGEST_UPLOAD = 48 * 1024 * 1024

START = {"owner": "office.shop", "clerk": "receiving.home", "inspector": "bench.home"}
"""Which page each role begins with."""

STATION_PAGES = (
    (scanning, "/receiving"),
    (lists, "/receiving/lists"),
    (lots, "/receiving/lots"),
    (imports, "/receiving/files"),
    (labels, "/labels"),
    (photos, "/photos"),
    (cores, "/cores"),
    (people, "/people"),
    (bench, "/bench"),
    (racks, "/bench/racks"),
    (process_checks, "/bench/process"),
    (booth, "/bench/booth"),
    (body_pictures, "/plans/pictures"),
    (washes, "/bench/washes"),
    (rework, "/bench/rework"),
    (second_looks, "/bench/second"),
    (shelf, "/shelf"),
    (plans, "/plans"),
    (gauges, "/gauges"),
)
"""Modules of pages and where each begins."""


def create_app(
    settings: Settings | None,
    *,
    summary: Callable[[], ShopSummary],
    secret: str,
    charge_sheet: Paper | None = None,
    workbook: Paper | None = None,
    signed_in: Callable[[], here.SignedIn | None] | None = None,
    access: Access | None = None,
) -> Flask:
    """Return the application that serves one shop's pages.

    `settings` is kept for the views as CORETRACK_SETTINGS; `summary` is asked for the figures at
    each request. `charge_sheet` gives the PDF (ours when it is left out), `workbook` the XLSX;
    without one no workbook is offered. `signed_in` says who is at the page; the stored sessions
    when it is left out; `access` from where the pages may be reached (this computer only, when it
    is left out). InvalidInput when the secret is empty, since sessions would then be signed
    with nothing.
    """
    if not secret:
        raise InvalidInput("The pages need a secret to sign sessions with; run setup again.")
    app = Flask(
        "coretrack",
        template_folder=str(data_dir("templates")),
        static_folder=str(Path(__file__).resolve().parent / "static"),
        static_url_path="/static",
    )
    app.config.update(
        SECRET_KEY=secret,
        SESSION_COOKIE_NAME="coretrack",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        WTF_CSRF_TIME_LIMIT=TOKEN_SECONDS,
        WTF_CSRF_SSL_STRICT=False,  # the same-origin check in hooks.py does it, also without TLS
        MAX_CONTENT_LENGTH=LARGEST_UPLOAD,
        MAX_FORM_MEMORY_SIZE=4 * 1024 * 1024,
        CORETRACK_SETTINGS=settings,
    )
    _prepare_templates(app)
    hooks.register(app)
    # Sessions first: a form that lay open too long is shown again only to who is signed in.
    sessions.register(app, signed_in, access)
    blind.register(app)
    CSRFProtect(app)
    errors.register(app)
    app.register_blueprint(sign_in.pages)
    app.register_blueprint(
        office.blueprint(summary, charge_sheet or _charge_sheet, workbook), url_prefix="/office"
    )
    for module, prefix in STATION_PAGES:
        app.register_blueprint(module.pages, url_prefix=prefix)
    app.add_url_rule("/", "start", _start)
    return app


def _prepare_templates(app: Flask) -> None:
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    filters.register(app)
    frame.register(app)
    booth.register(app)


def _start() -> Response:
    return redirect(url_for(START[here.person().role]), 303)


def _charge_sheet(summary: ShopSummary) -> bytes:
    from coretrack.paper.charge_sheet import charge_sheet_pdf

    return charge_sheet_pdf(summary)
