"""Builds the Flask application; it opens no database and reads no environment."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from flask import Flask
from jinja2 import StrictUndefined

from coretrack.errors import InvalidInput
from coretrack.figures.summary import ShopSummary
from coretrack.resources import data_dir
from coretrack.web import errors, filters, hooks, office

Paper = Callable[[ShopSummary], bytes]
"""Draws a paper from the figures on the page, so that both always say the same."""


def create_app(
    settings: object | None,
    *,
    summary: Callable[[], ShopSummary],
    secret: str,
    charge_sheet: Paper | None = None,
    workbook: Paper | None = None,
) -> Flask:
    """Return the application that serves one shop's pages.

    `settings` is kept for the views as CORETRACK_SETTINGS; `summary` is asked for the figures at
    each request. `charge_sheet` gives the PDF (ours when it is left out), `workbook` the XLSX;
    without one no workbook is offered. InvalidInput when the secret is empty, since sessions would
    then be signed with nothing.
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
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        MAX_CONTENT_LENGTH=64 * 1024 * 1024,
        CORETRACK_SETTINGS=settings,
    )
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    filters.register(app)
    hooks.register(app)
    errors.register(app)
    app.register_blueprint(
        office.blueprint(summary, charge_sheet or _charge_sheet, workbook), url_prefix="/"
    )
    return app


def _charge_sheet(summary: ShopSummary) -> bytes:
    from coretrack.paper.charge_sheet import charge_sheet_pdf

    return charge_sheet_pdf(summary)
