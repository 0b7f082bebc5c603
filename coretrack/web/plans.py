"""Inspection plans: the owner's editor, its versions, import and export."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from flask import Blueprint, Response, flash, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from coretrack.actions import check_orders, plan_editing
from coretrack.actions.check_orders import OrderView
from coretrack.actions.plan_editing import FamilyLine, FamilyView, LookedOver
from coretrack.errors import Conflict, CoretrackError, InvalidInput, NotFound
from coretrack.figures.limits import plain_text
from coretrack.figures.plain_words import counted
from coretrack.figures.plan_files import CREDIT_MOMENTS, FAULT_EFFECTS
from coretrack.figures.plans import (
    CRACK_METHODS,
    JUDGED_WAYS,
    KINDS,
    RULES,
    Check,
    Operation,
    Plan,
    limits_text,
)
from coretrack.figures.wording import SAFETY
from coretrack.web.here import doer, now, only
from coretrack.web.plan_forms import (
    PlanForm,
    changed_by,
    fields_of_places,
    form_of,
    form_sent,
    form_tables,
    hints,
    limits_hint,
    problems_by_field,
    put_in_order,
)

pages = Blueprint("plans", __name__)

CHOICES = {
    "kind": KINDS,
    "judged": JUDGED_WAYS,
    "rule": RULES,
    "method": CRACK_METHODS,
    "effect": FAULT_EFFECTS,
    "credit_when": CREDIT_MOMENTS,
}
"""Fields that are chosen from a list."""


@dataclass(frozen=True)
class PlansPage:
    """plans/home.html"""

    families: tuple[FamilyLine, ...]
    title: str = "Inspection plans"


@dataclass(frozen=True)
class PlanPage:
    """plans/plan.html; `problems` by field, `summary` by place, `places` the field of each place.

    `view` is None for a family that is not stored yet; `looked` is None before a look.
    """

    title: str
    form: PlanForm
    view: FamilyView | None
    hints: Mapping[str, str]
    message: str = ""
    problems: Mapping[str, str] = field(default_factory=dict)
    summary: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, str] = field(default_factory=dict)
    looked: LookedOver | None = None
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: CHOICES)
    safety: str = SAFETY

    @property
    def code(self) -> str:
        """The family's code, empty while it is new."""
        return self.view.code if self.view else ""


@dataclass(frozen=True)
class VersionPage:
    """plans/version.html: one stored version, to be read."""

    title: str
    family: str
    plan: Plan

    def bands(self, check: Check) -> list[tuple[str, str]]:
        """Return a check's bands as name and limits."""
        named = [("new", check.new), ("usable", check.usable), ("plausible", check.plausible)]
        told = [(name, limits_text(limits, check.unit)) for name, limits in named if limits]
        return told + [
            (f"rework by {band.operation}", limits_text(band.limits, check.unit))
            for band in check.rework
        ]

    def size(self, micro: int, check: Check) -> str:
        """Return a size of a check (millionths of its unit) in words."""
        return f"{plain_text(micro)} {check.unit}"

    def stock(self, operation: Operation) -> str:
        """Return the stock that a pass takes off, and the most over all lives."""
        unit = self.plan.check(operation.check).unit if operation.check else ""
        most = "no limit" if operation.allowance is None else plain_text(operation.allowance)
        return f"{plain_text(operation.removes or 0)}, {most} {unit}"


@dataclass(frozen=True)
class FilePage:
    """plans/file.html"""

    text: str = ""
    looked: LookedOver | None = None
    title: str = "A plan as a file"

    @property
    def problems(self) -> Mapping[str, str]:
        """What is wrong with the file as a whole."""
        return {"": self.looked.message} if self.looked and self.looked.message else {}


@dataclass(frozen=True)
class OrderPage:
    """plans/order.html; `typed` are seconds by check."""

    title: str
    view: OrderView
    typed: Mapping[str, str]
    problems: Mapping[str, str] = field(default_factory=dict)


@pages.get("/")
@only("owner")
def home() -> str:
    """All families with their plans."""
    return render_template("plans/home.html", page=PlansPage(plan_editing.plans_view()))


@pages.get("/plan")
@only("owner")
def plan() -> str:
    """One family's plan as a form; without a code the form of a new family."""
    code = request.args.get("code", "")
    if not code:
        form = PlanForm({"credit_when": "sight"})
        changed_by(form, "add:c")
        return _plan(form, None)
    view = plan_editing.family_view(code)
    form = form_of(view.tables)
    order = [part for part in request.args.getlist("order") if part]
    if order:
        put_in_order(form, order)
        return _plan(form, view, looked=plan_editing.look_over(form_tables(form), code))
    return _plan(form, view)


@pages.post("/plan")
@only("owner")
def change() -> ResponseReturnValue:
    """Add or take out a row, look the plan over, or store it as a new version."""
    code = request.args.get("code", "")
    view = plan_editing.family_view(code) if code else None
    form = form_sent(request.form)
    act = request.form.get("act", "look")
    if changed_by(form, act):
        return _plan(form, view)
    tables = form_tables(form)
    if act != "save":
        looked = plan_editing.look_over(tables, code)
        return _plan(form, view, looked=looked), 422 if looked.message else 200
    try:
        stored, changes = plan_editing.save_plan(
            tables,
            code,
            request.form.get("seen", ""),
            key=request.form.get("key", ""),
            **doer(),
        )
    except InvalidInput as error:
        wrong = LookedOver(problems=error.fields, message=error.message)
        return _plan(form, view, looked=wrong), error.status
    except Conflict as error:
        page = _page(form, view, error.message, plan_editing.look_over(tables, code))
        return render_template("plans/plan.html", page=page), error.status
    flash(_stored(stored, changes))
    return redirect(url_for("plans.plan", code=stored), 303)


@pages.get("/version")
@only("owner")
def version() -> str:
    """One stored version of a plan, to be read and printed."""
    code, number = request.args.get("code", ""), request.args.get("number", "")
    if not (number.isascii() and number.isdecimal() and len(number) < 7):
        raise NotFound(f"'{number[:20]}' is no number of a plan's version.")
    found = plan_editing.stored_plan(code, int(number))
    page = VersionPage(f"Plan {code}/{number}", code, found)
    return render_template("plans/version.html", page=page)


@pages.get("/file.toml")
@only("owner")
def file() -> Response:
    """A family with its plan as one file to be read, kept and taken in again."""
    number = request.args.get("version", "")
    chosen = int(number) if number.isascii() and number.isdecimal() and len(number) < 7 else 0
    name, text = plan_editing.plan_file(request.args.get("code", ""), chosen)
    response = Response(text, mimetype="application/toml")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@pages.get("/file")
@only("owner")
def file_form() -> str:
    """The form that takes a plan file in."""
    return render_template("plans/file.html", page=FilePage())


@pages.post("/file")
@only("owner")
def take_file() -> ResponseReturnValue:
    """Show what a plan file would change, or store it."""
    sent = request.files.get("file")
    text = request.form.get("text", "")
    if sent is not None and sent.filename:
        text = sent.read(plan_editing.MOST_TEXT + 1).decode("utf-8-sig", "replace")
    if request.form.get("act") != "save":
        looked = plan_editing.look_at_file(text)
        page = FilePage(text, looked)
        return render_template("plans/file.html", page=page), 422 if looked.message else 200
    try:
        code, changes = plan_editing.save_file(text, key=request.form.get("key", ""), **doer())
    except CoretrackError as error:
        page = FilePage(text, LookedOver(problems=error.fields, message=error.message))
        return render_template("plans/file.html", page=page), error.status
    flash(_stored(code, changes))
    return redirect(url_for("plans.plan", code=code), 303)


@pages.get("/limits")
@only("owner")
def limits() -> Response:
    """What limits mean, or what is wrong with them, while they are typed."""
    asked = (request.args.get(name, "")[:200] for name in ("text", "unit", "nominal"))
    return jsonify(limits_hint(*asked, flag=True))


@pages.get("/order")
@only("owner")
def order() -> ResponseReturnValue:
    """The order of checks that costs least, from what happened so far."""
    code = request.args.get("code", "")
    typed = {
        name.removeprefix("s-"): value
        for name, value in request.args.items()
        if name.startswith("s-")
    }
    title = f"Cheapest order of checks: {code}"
    try:
        page = OrderPage(title, check_orders.order_advice(code, typed, now()), typed)
    except InvalidInput as error:
        page = OrderPage(title, check_orders.order_advice(code, {}, now()), typed, error.fields)
        return render_template("plans/order.html", page=page), error.status
    return render_template("plans/order.html", page=page)


def _plan(form: PlanForm, view: FamilyView | None, looked: LookedOver | None = None) -> str:
    message = looked.message if looked else ""
    return render_template("plans/plan.html", page=_page(form, view, message, looked))


def _page(
    form: PlanForm, view: FamilyView | None, message: str, looked: LookedOver | None
) -> PlanPage:
    wrong = (looked.problems or {}) if looked else {}
    return PlanPage(
        title=f"Plan of {view.code}, {view.name}" if view else "A new family",
        form=form,
        view=view,
        hints=hints(form),
        message=message,
        problems=problems_by_field(form, wrong),
        summary=wrong,
        places=fields_of_places(form, wrong),
        looked=looked,
    )


def _stored(code: str, changes: tuple[str, ...]) -> str:
    if not changes:
        return f"{code}: nothing differs from what is stored, so there is no new version."
    return f"{code} stored: {counted(len(changes), 'change')}. Cores already begun keep their plan."
