"""The bench: one core on its plan, one check at a time, and the verdict it comes to."""

from __future__ import annotations

from dataclasses import fields, replace

from flask import Blueprint, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import bench_store, crack_entries
from coretrack.actions.bench_home import bench_home, waiting_list
from coretrack.actions.bench_views import bench_view, title_of
from coretrack.actions.crack_entries import CrackTold
from coretrack.errors import CoretrackError, InvalidInput, NotAllowed
from coretrack.figures.scan_replies import Spot
from coretrack.web.bench_pages import BenchHomePage, InspectPage, WaitingPage, Way
from coretrack.web.forms import sender, summed_up
from coretrack.web.here import doer, now, only, person
from coretrack.web.panel import say

pages = Blueprint("bench", __name__)

SPOT = "bench"


@pages.get("/")
@only("inspector")
def home() -> str:
    """What is begun and what waits; a tag scanned here opens the core."""
    return render_template("bench/home.html", page=_home(), spot=Spot(SPOT))


@pages.get("/waiting")
@only("inspector")
def waiting() -> str:
    """The cores of a family in a state, the longest waiting first."""
    told = request.args.get("first", "")
    first = int(told) if told.isascii() and told.isdecimal() and len(told) < 7 else 0
    found = waiting_list(
        request.args.get("state", ""), request.args.get("family", ""), first, now()
    )
    return render_template("bench/waiting.html", page=WaitingPage(found), spot=Spot(SPOT))


@pages.get("/core")
@only("inspector")
def inspect() -> ResponseReturnValue:
    """One core on its plan."""
    tag = request.args.get("tag", "")
    try:
        page = _page(tag)
    except NotAllowed as error:
        flash(error.message)
        return redirect(url_for("cores.core", tag=tag), 303)
    return render_template("bench/inspect.html", page=page, spot=_spot(page))


@pages.post("/overrule")
@only()
def overrule() -> ResponseReturnValue:
    """The owner changes a stored verdict for good, with a reason."""
    form = request.form
    tag = form.get("tag", "")
    try:
        said = bench_store.overrule(
            tag,
            form.get("to", ""),
            form.get("reason", ""),
            tuple(form.getlist("operation")),
            role=person().role,
            key=form.get("key", ""),
            **doer(),
        )
    except (InvalidInput, NotAllowed) as error:
        page = _page(tag, error)
        return render_template("bench/inspect.html", page=page, spot=_spot(page)), error.status
    flash(said)
    return redirect(url_for("bench.inspect", tag=tag), 303)


@pages.post("/told")
@only("inspector")
def tell() -> ResponseReturnValue:
    """More is told of an indication: its kind, length and place, where it is marked, a photo."""
    form = request.form
    tag = form.get("tag", "")
    told = {each.name: form.get(each.name, "") for each in fields(CrackTold)}
    try:
        said = crack_entries.tell(tag, CrackTold(**told), **sender())
    except (InvalidInput, NotAllowed) as error:
        page = replace(_page(tag), crack_typed=told, crack_problems=summed_up(error))
        return render_template("bench/inspect.html", page=page, spot=_spot(page)), error.status
    say("note", "TOLD", f"Kept with the indication: {said or 'nothing more'}.")
    return redirect(url_for("bench.inspect", tag=tag), 303)


def part(code: str) -> tuple[str, Spot]:
    """Return the fresh inside of a core's page (of the bench's own without one), and its spot."""
    if not code:
        return render_template("bench/_home.html", page=_home()), Spot(SPOT)
    shown = _page(code)
    return render_template("bench/_inspect.html", page=shown), _spot(shown)


def _home() -> BenchHomePage:
    home = bench_home(now(), person().name)
    places = (
        ("Wash baskets", "washes.home", home.washes),
        ("Racks for crack checks", "racks.home", None),
        ("Lamp and bath checks", "process_checks.home", None),
        ("Rework", "rework.home", home.rework),
        ("Second looks", "second_looks.home", home.looks),
        ("Shelf", "shelf.home", home.shelf),
        ("Gauges", "gauges.home", None),
    )
    known = current_app.view_functions
    ways = tuple(Way(name, url_for(end), count) for name, end, count in places if end in known)
    return BenchHomePage("Bench", home, ways)


def _page(tag: str, error: CoretrackError | None = None) -> InspectPage:
    here = person()
    view = bench_view(tag, here.name, here.station, now())
    if error is None:
        return InspectPage(title_of(tag), view)
    problems = error.fields or {"": error.message}
    return InspectPage(title_of(tag), view, request.form.to_dict(), problems)


def _spot(page: InspectPage) -> Spot:
    return Spot(SPOT, page.view.tag, page.view.seen)
