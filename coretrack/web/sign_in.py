"""Signing in by name and password or by badge and PIN; the first owner; the lock."""

from __future__ import annotations

from zoneinfo import available_timezones

from flask import (
    Blueprint,
    Response,
    current_app,
    g,
    jsonify,
    make_response,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import generate_csrf
from itsdangerous import BadSignature, URLSafeSerializer

from coretrack.actions import first_owner, signing_in
from coretrack.actions.signing_in import Arrival
from coretrack.errors import InvalidInput, NotAllowed
from coretrack.web import kept
from coretrack.web.access import access, at_this_computer, own_address, wants_json
from coretrack.web.here import now
from coretrack.web.kept import Kept
from coretrack.web.sign_in_pages import FirstOwnerPage, LockPage, SignInPage

pages = Blueprint("sign_in", __name__)

SECRET_FORMS = frozenset({"sign_in.enter", "sign_in.open_lock", "sign_in.make_first"})
"""Views whose forms hold a password or PIN, which no other page carries on."""

STATION_COOKIE = "coretrack-station"
STATION_SECONDS = 400 * 24 * 60 * 60

_TOO_OLD = "This page had lain open for too long, so nothing was sent. Type it again."
_SCANNED = (
    "That was a scan, not a PIN or password: it does not count as a try, and nothing was done with "
    "it. Unlock or sign in first, then scan again."
)
_BACK_AGAIN = "You were away, so this was not stored yet. Look it over, then send it."


@pages.get("/sign-in")
def sign_in() -> ResponseReturnValue:
    """The sign-in page."""
    return _sign_in_page(address=own_address(request.args.get("next", "")))


@pages.post("/sign-in")
def enter() -> ResponseReturnValue:
    """Sign somebody in; a badge in the name field goes on to its PIN."""
    form = request.form
    name, password = form.get("name", "").strip(), form.get("password", "")
    station = form.get("station", "") or _station()
    badge = form.get("badge", "")
    if not badge and signing_in.badge_number(name) is not None:
        badge, name = name, ""
    leaving = session.get("token", "")
    if signing_in.is_other_code(password) or signing_in.is_other_code(name):
        return _sign_in_page(InvalidInput(_SCANNED), badge=badge, station=station, status=422)
    try:
        if badge:
            if not password:
                return _sign_in_page(badge=badge, station=station)
            token = signing_in.sign_in_by_badge(
                badge, password, station=station, now=now(), leaving=leaving
            )
        else:
            _both(name, password)
            token = signing_in.sign_in(name, password, station=station, now=now(), leaving=leaving)
    except InvalidInput as error:
        return _sign_in_page(error, name=name, badge=badge, station=station, status=422)
    return _entered(token, station, kept.from_form(form), own_address(form.get("next", "")))


@pages.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    """End the session at the server, so that a copy of its cookie is dead too."""
    signing_in.sign_out(session.get("token", ""))
    session.clear()
    return redirect(url_for("sign_in.sign_in"), 303)


@pages.post("/lock")
def lock() -> ResponseReturnValue:
    """Lock the page until its person is back."""
    if g.arrival is not None:
        signing_in.lock(session["token"])
    if wants_json():
        return jsonify(locked=g.arrival is not None)
    return redirect(url_for("sign_in.unlock", next=own_address(request.form.get("next", ""))), 303)


@pages.get("/unlock")
def unlock() -> ResponseReturnValue:
    """The lock page."""
    address = own_address(request.args.get("next", ""))
    found: Arrival | None = g.arrival
    if found is None:
        return redirect(url_for("sign_in.sign_in", next=address or None), 303)
    if not found.locked:
        return redirect(address or url_for("start"), 303)
    return _lock_page(found, address=address)


@pages.post("/unlock")
def open_lock() -> ResponseReturnValue:
    """Unlock for the same person; what was sent meanwhile is shown to be sent now."""
    form = request.form
    secret, badge = form.get("secret", ""), form.get("badge", "")
    found: Arrival | None = g.arrival
    if signing_in.is_other_code(secret):
        return _scanned(found, badge)
    if found is None:
        return _after_the_end(form.get("name", ""), secret)
    if not badge and signing_in.badge_number(secret) is not None:
        badge, secret = secret, ""
    if form.get("name", found.name) != found.name:
        return _wrong(found, f"{found.name} is signed in here now; load the page anew.", "", 422)
    try:
        if badge and not secret:
            return _wrong(found, "Badge read. Now the PIN.", badge, 200)
        signing_in.unlock(session["token"], secret, badge=badge, now=now())
    except InvalidInput as error:
        return _wrong(found, error.message, "", 422)
    if wants_json():
        return jsonify(ok=True, token=generate_csrf())
    again = kept.from_form(form)
    if again.address:
        return kept.ask(again, _BACK_AGAIN)
    return redirect(own_address(form.get("next", "")) or url_for("start"), 303)


@pages.post("/awake")
def awake() -> ResponseReturnValue:
    """Note that the person at the page is typing, though nothing was sent."""
    return _state()


@pages.get("/awake")
def look() -> ResponseReturnValue:
    """Say whether the session is locked or over; asking is no use of the page."""
    return _state()


@pages.get("/first-owner")
def first() -> ResponseReturnValue:
    """The page that makes the shop's first owner."""
    if not first_owner.needs_first_owner():
        return redirect(url_for("sign_in.sign_in"), 303)
    return _first_page({"site": "1"})


@pages.post("/first-owner")
def make_first() -> ResponseReturnValue:
    """Make the first owner, at this computer or with the printed code."""
    form = request.form
    told = {
        name: form.get(name, "") for name in ("name", "shop_name", "currency", "time_zone", "site")
    }
    try:
        if not at_this_computer():
            first_owner.check_first_code(form.get("code", ""), access().first_owner_code, now=now())
        token = first_owner.make_first_owner(
            first_owner.FirstOwner(
                password=form.get("password", ""), again=form.get("again", ""), **told
            ),
            station=_station(),
            now=now(),
        )
    except NotAllowed:
        return redirect(url_for("sign_in.sign_in"), 303)
    except InvalidInput as error:
        return _first_page(told, error, 422)
    return _entered(token, _station(), Kept(), "")


def turn_away(found: Arrival | None) -> ResponseReturnValue:
    """Answer a request of somebody who is signed out, or locked (`found`); nothing is lost.

    A form that was sent is carried through the lock or the sign-in and shown again after it.
    """
    if wants_json():
        return jsonify(error="locked" if found else "signed out"), 423 if found else 401
    reading = request.method in ("GET", "HEAD")
    again = Kept() if reading else kept.from_request()
    address = own_address(request.full_path.rstrip("?")) if reading else ""
    if found is not None:
        return _lock_page(found, address=address, again=again, status=423)
    if reading:
        return redirect(url_for("sign_in.sign_in", next=None if address == "/" else address), 303)
    message = "You are signed out. What you typed is kept: sign in, look it over and send it."
    return _sign_in_page(InvalidInput(message), again=again, status=401)


def once_more() -> ResponseReturnValue:
    """Answer a sign-in, unlock or first owner whose form had lain open for too long."""
    form = request.form
    if request.endpoint == "sign_in.make_first":
        told = {name: value for name, value in form.items() if name not in ("password", "again")}
        return _first_page(told, InvalidInput(_TOO_OLD), 400)
    if request.endpoint == "sign_in.open_lock" and g.arrival is not None:
        return _wrong(g.arrival, _TOO_OLD, "", 400)
    return _sign_in_page(
        InvalidInput(_TOO_OLD),
        name=form.get("name", ""),
        badge=form.get("badge", ""),
        station=form.get("station", ""),
        status=400,
    )


def _both(name: str, password: str) -> None:
    if not name:
        raise InvalidInput(
            "Type your name, or scan your badge.", {"name": "Your name, or your badge."}
        )
    if not password:
        raise InvalidInput("The password is missing.", {"password": "Type your password."})


def _entered(token: str, station: str, again: Kept, address: str) -> ResponseReturnValue:
    """Start the session under a new cookie and go on to where the person wanted."""
    session.clear()
    g.pop("csrf_token", None)
    session["token"] = token
    if again.address:
        message = "You are signed in; this was not stored yet. Look it over, then send it."
        response = make_response(kept.ask(again, message))
    else:
        response = make_response(redirect(address or url_for("start"), 303))
    _keep_station(response, signing_in.clean_station(station))
    return response


def _after_the_end(name: str, secret: str) -> ResponseReturnValue:
    """Unlock a page whose session ended meanwhile: its person signs in anew."""
    if not wants_json():
        return _sign_in_page(
            InvalidInput("Your session is over; sign in again."),
            again=kept.from_form(request.form),
            status=401,
        )
    try:
        token = signing_in.sign_in(name, secret, station=_station(), now=now())
    except InvalidInput as error:
        return jsonify(ok=False, message=f"The session is over. {error.message}"), 422
    session.clear()
    g.pop("csrf_token", None)
    session["token"] = token
    return jsonify(ok=True, token=generate_csrf())


def _scanned(found: Arrival | None, badge: str) -> ResponseReturnValue:
    """Answer a scan that went where a PIN belongs: it is no try, and nothing was done with it."""
    if found is not None:
        return _wrong(found, _SCANNED, badge, 422)
    if wants_json():
        return jsonify(ok=False, message=_SCANNED, badge=badge), 422
    return _sign_in_page(InvalidInput(_SCANNED), again=kept.from_form(request.form), status=422)


def _state() -> ResponseReturnValue:
    found: Arrival | None = g.arrival
    if found is None:
        return jsonify(error="signed out"), 401
    return jsonify(locked=found.locked, person=found.name, unused_seconds=found.unused_seconds)


def _wrong(found: Arrival, message: str, badge: str, status: int) -> ResponseReturnValue:
    if wants_json():
        return jsonify(ok=False, message=message, badge=badge), status
    form = request.form
    address = own_address(form.get("next", ""))
    return _lock_page(found, message, badge, address, kept.from_form(form), status)


def _sign_in_page(
    error: InvalidInput | None = None,
    *,
    name: str = "",
    badge: str = "",
    station: str = "",
    address: str = "",
    again: Kept | None = None,
    status: int = 200,
) -> ResponseReturnValue:
    carrying = again or kept.from_form(request.form)
    page = SignInPage(
        title="Sign in",
        shop_name=first_owner.shop_name(),
        name=name,
        badge=badge,
        station=station or _station(),
        message=error.message if error else "",
        wrong=error.fields if error else {},
        address=address or own_address(request.form.get("next", "")),
        carried=kept.carried(carrying),
        demo_people=access().demo_people,
    )
    return render_template("sign_in/sign_in.html", page=page), status


def _lock_page(
    found: Arrival,
    message: str = "",
    badge: str = "",
    address: str = "",
    again: Kept | None = None,
    status: int = 200,
) -> ResponseReturnValue:
    page = LockPage(
        title="Locked",
        name=found.name,
        station=found.station,
        badge=badge,
        message=message,
        address=address,
        carried=kept.carried(again or Kept()),
    )
    return render_template("sign_in/lock.html", page=page), status


def _first_page(
    told: dict[str, str], error: InvalidInput | None = None, status: int = 200
) -> ResponseReturnValue:
    place = "here" if at_this_computer() else "code" if access().first_owner_code else "away"
    page = FirstOwnerPage(
        title="The shop's first owner",
        place=place,
        needs_shop=not first_owner.shop_name(),
        message=error.message if error else "",
        zones=tuple(sorted(available_timezones())),
        told=told,
        wrong=error.fields if error else {},
    )
    return render_template("sign_in/first_owner.html", page=page), status


def _signer() -> URLSafeSerializer:
    return URLSafeSerializer(str(current_app.secret_key), salt="station")


def _station() -> str:
    """Return this screen's name, as its cookie says it; "" where none was given."""
    try:
        name = _signer().loads(request.cookies.get(STATION_COOKIE, ""))
    except BadSignature:
        name = ""
    return signing_in.clean_station(name if isinstance(name, str) else "")


def _keep_station(response: Response, name: str) -> None:
    response.set_cookie(
        STATION_COOKIE,
        str(_signer().dumps(name)),
        max_age=STATION_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=bool(current_app.config["SESSION_COOKIE_SECURE"]),
    )
