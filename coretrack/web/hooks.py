"""What happens around every request: one connection, the same-origin check, security headers."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Flask, Response, request

from coretrack.errors import Forbidden, InvalidInput
from coretrack.records.database import keep_connection, let_connection_go
from coretrack.web.access import access, host_name, is_loopback

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

HEADERS = {
    # Everything a page uses is served by us: no outside font, script, picture or frame.
    "Content-Security-Policy": (
        # blob: is a photo before it is sent. Labels are printed from a hidden frame of our own.
        "default-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; base-uri 'none';"
        " form-action 'self'; frame-ancestors 'self'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "SAMEORIGIN",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=()",
}


def register(app: Flask) -> None:
    """Add the connection, the checks and the headers to `app`."""
    app.before_request(keep_connection)
    app.before_request(refuse_other_names)
    app.before_request(refuse_other_sites)
    app.before_request(refuse_null_signs)
    app.after_request(add_headers)
    app.teardown_request(lambda _error: let_connection_go())


def refuse_other_names() -> None:
    """Raise Forbidden when the page is asked for under a name that is not this computer's.

    A name on the internet can be made to point here; its page could then read what ours shows.
    Where other stations are served, the name they use is not known and the sign-in protects.
    """
    served = access()
    if served.only_this_computer and not served.behind_tls and not is_loopback(host_name()):
        raise Forbidden("This page is only for this computer; open it at http://127.0.0.1.")


def refuse_other_sites() -> None:
    """Raise Forbidden for a write that another site's page sent in the person's name.

    Browsers say where a request comes from in Sec-Fetch-Site, or in Origin where the shop's network
    is plain HTTP; a program that sends neither has no signed-in person whose name it could use.
    """
    if request.method in SAFE_METHODS:
        return
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin")
    foreign = site is not None and site not in ("same-origin", "none")
    if site is None and origin is not None:
        foreign = urlsplit(origin).netloc != request.host
    if foreign:
        raise Forbidden("This was sent from another site's page. Open the shop's own page again.")


def refuse_null_signs() -> None:
    """Raise InvalidInput for the one sign that no database keeps in a text."""
    told = [*request.args.lists(), *request.form.lists()]
    wrong = [name for name, values in told if any("\x00" in text for text in (name, *values))]
    if wrong:
        raise InvalidInput(f"'{wrong[0]}' holds a null sign, which is no text; type it again.")


def add_headers(response: Response) -> Response:
    """Add the security headers; a page of figures is not kept by browsers or boxes between."""
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.endpoint != "static":
        response.headers.setdefault("Cache-Control", "private, no-store")
    return response
