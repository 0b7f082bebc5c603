"""The page of one core, and the search for it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import core_life, crack_entries, station_labels
from coretrack.errors import CoretrackError
from coretrack.figures.scan_replies import Spot
from coretrack.figures.tags import show_tag
from coretrack.web.core_pages import CorePage, CoresPage
from coretrack.web.forms import sender
from coretrack.web.here import only, person
from coretrack.web.reply_address import print_address

pages = Blueprint("cores", __name__)


@pages.get("/")
@only("clerk", "inspector")
def home() -> ResponseReturnValue:
    """The search: a tag, serial, number or paper; one core found is opened at once."""
    found = core_life.cores_found(request.args.get("q", ""))
    if found.only:
        return redirect(url_for("cores.core", tag=found.only), 303)
    return render_template("cores/home.html", page=CoresPage("Cores", found))


@pages.get("/core")
@only("clerk", "inspector")
def core() -> str:
    """One core."""
    return _page(request.args.get("tag", ""))


@pages.post("/put")
@only("clerk", "inspector")
def put() -> ResponseReturnValue:
    """Put a core into a bin, basket or rack."""
    form = request.form
    tag = form.get("tag", "")
    try:
        name = core_life.put_core(
            tag,
            form.get("place", ""),
            **sender(),
        )
    except CoretrackError as error:
        if error.status == 404 and "place" not in error.fields:
            raise
        return _page(tag, error), error.status
    flash(f"Put into {name}." if name else "Taken out of its bin.")
    return redirect(url_for("cores.core", tag=tag), 303)


@pages.post("/label")
@only("clerk", "inspector")
def label() -> ResponseReturnValue:
    """Print a core's label again: note it as sent, then open the print page."""
    form = request.form
    tag = form.get("tag", "")
    try:
        run = station_labels.note_printed(
            [tag],
            **sender(),
        )
    except CoretrackError as error:
        if error.status == 404:
            raise
        return _page(tag, error), error.status
    if not run.tags:
        flash(f"No label: {run.refused[0][1]}.")
        return redirect(url_for("cores.core", tag=tag), 303)
    return redirect(print_address(run, url_for("cores.core", tag=tag)), 303)


def _page(tag: str, error: CoretrackError | None = None) -> str:
    view = core_life.core_view(tag, costs=person().role == "owner")
    page = CorePage(
        title=f"Core {show_tag(view.tag)}",
        core=view,
        cracks=crack_entries.cracks_of(view.tag),
        message=error.message if error else "",
        problems=error.fields if error else {},
    )
    return render_template("cores/core.html", page=page, spot=Spot("core", view.tag))
