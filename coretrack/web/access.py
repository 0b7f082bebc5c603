"""From where the pages may be reached, and small questions about the request at hand."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import current_app, request

_FORWARDED = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-Ip")


@dataclass(frozen=True)
class DemoPerson:
    """Somebody of the invented shop, whose password the demo's sign-in page says."""

    name: str
    role: str
    password: str


@dataclass(frozen=True)
class Access:
    """How this process is served.

    `only_this_computer`: it listens to this computer alone, so no other name for it is answered.
    `behind_tls`: a proxy in front of it speaks HTTPS. `first_owner_code` lets the first owner be
    made from another computer. `demo_people` is empty but in the demo.
    """

    only_this_computer: bool = True
    behind_tls: bool = False
    first_owner_code: str = ""
    demo_people: tuple[DemoPerson, ...] = ()


def access() -> Access:
    """Return how the application at hand is served."""
    served: Access = current_app.config["CORETRACK_ACCESS"]
    return served


def is_loopback(name: str) -> bool:
    """Return whether a host name or address is this computer's own."""
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name == "localhost"


def host_name() -> str:
    """Return the name under which the page was asked for, without its port."""
    try:
        return urlsplit(f"//{request.host}").hostname or ""
    except ValueError:
        return ""


def at_this_computer() -> bool:
    """Return whether the browser certainly runs on the computer that serves the pages.

    Behind a proxy everybody seems to; and a name on the internet can be made to point here.
    """
    return (
        not access().behind_tls
        and not any(name in request.headers for name in _FORWARDED)
        and is_loopback(request.remote_addr or "")
        and is_loopback(host_name())
    )


def wants_json() -> bool:
    """Return whether a script asks, which wants JSON and no page."""
    accepted = request.accept_mimetypes
    return accepted["application/json"] > accepted["text/html"]


def own_address(address: str) -> str:
    """Return an address of this site's own as it is, "" for anything that leads elsewhere."""
    plain = address.startswith("/") and not address.startswith(("//", "/\\"))
    return address if plain and address.isprintable() and "\\" not in address else ""
