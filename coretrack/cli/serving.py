"""Serving the pages with waitress: to this computer, or to the other stations of the shop."""

from __future__ import annotations

import secrets
import socket
from ipaddress import ip_address
from pathlib import Path

import click

from coretrack.config import Settings
from coretrack.errors import NotAllowed, Unavailable
from coretrack.resources import data_dir
from coretrack.web.access import Access, DemoPerson, is_loopback

LARGEST_BODY = 512 * 1024 * 1024
"""Bytes that are read of one upload. Above what the pages take (48 MB), so that a file that is too
large is answered by a page that says so, not by a cut connection."""

_CODE_SIGNS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""No I, O, 0 and 1, which are read for one another."""

_OPEN_NETWORK = """\
Plain HTTP: whoever is on this network can overhear what is sent, passwords and PINs included.
Serve it so only on a network you trust, with no guests in it; else put a reverse proxy with TLS
in front (see docs/security.md) and start this with --behind-tls."""


def serve_pages(settings: Settings, *, behind_tls: bool = False, demo: bool = False) -> None:
    """Serve until interrupted; Unavailable when the port is taken.

    `behind_tls`: a reverse proxy in front speaks HTTPS and passes on where a request came from.
    `demo`: the sign-in page says the passwords of the invented people. NotAllowed when the demo's
    shop would be served to others, since everybody knows these passwords.
    """
    import waitress

    from coretrack import clock
    from coretrack.actions import first_owner, overview, upkeep
    from coretrack.paper.workbook import summary_workbook
    from coretrack.records.database import held_open
    from coretrack.web.app import create_app

    upkeep.seal_if_due(clock.now())
    alone = is_loopback(settings.host)
    if not alone or behind_tls:
        _refuse_the_demo()
    code = _one_time_code() if first_owner.needs_first_owner() else ""
    app = create_app(
        settings,
        summary=lambda: overview.shop_summary(clock.now()),
        secret=_secret(settings.data_folder),
        workbook=summary_workbook,
        access=Access(
            only_this_computer=alone and not behind_tls,
            behind_tls=behind_tls,
            first_owner_code=code,
            demo_people=_demo_people() if demo else (),
        ),
    )
    for line in _said(settings, alone, behind_tls, code):
        click.echo(line)
    try:
        with held_open():
            waitress.serve(
                app,
                host=settings.host,
                port=settings.port,
                threads=settings.threads,
                ident=None,
                max_request_body_size=LARGEST_BODY,
            )
    except OSError as error:
        raise Unavailable(
            f"Port {settings.port} cannot be used ({error}); choose another with --port."
        ) from error


def _refuse_the_demo() -> None:
    from coretrack.actions import first_owner, setting_up

    if first_owner.shop_name() == setting_up.shop_name(data_dir("sample_cores") / "shop"):
        raise NotAllowed(
            "This is the demo's shop, whose passwords anybody can read; it is served to this "
            "computer only. Set up a shop of your own for other stations."
        )


def _demo_people() -> tuple[DemoPerson, ...]:
    from coretrack.actions import setting_up

    return tuple(
        DemoPerson(person.name, person.role, person.demo_password)
        for person in setting_up.demo_people(data_dir("sample_cores") / "shop")
    )


def _said(settings: Settings, alone: bool, behind_tls: bool, code: str) -> list[str]:
    """Return what is said before serving: addresses, the warning, the first owner's code."""
    here = settings.host if alone else "127.0.0.1"
    lines = [f"The pages: http://{_in_address(here)}:{settings.port}/  (Ctrl+C ends)"]
    if not alone:
        station = settings.host if _is_one_address(settings.host) else own_address()
        lines.append(f"Other stations: http://{_in_address(station)}:{settings.port}/")
    if not alone and not behind_tls:
        lines.append(_OPEN_NETWORK)
    if code:
        lines.append(
            "Nobody looks after this shop yet: open the page at this computer to become its "
            f"first owner; from another one it asks for the code {code[:4]}-{code[4:]}."
        )
    return lines


def own_address() -> str:
    """Return this computer's address on the shop's network, its name when it has none."""
    # Nothing is sent: choosing the way to an address (of a block kept for examples) names ours.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _is_one_address(host: str) -> bool:
    try:
        return not ip_address(host).is_unspecified
    except ValueError:
        return True


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _one_time_code() -> str:
    return "".join(secrets.choice(_CODE_SIGNS) for _ in range(8))


def _secret(folder: Path) -> str:
    """Return the key that signs sessions, made once and kept in the data folder."""
    path = folder / "session-key"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_hex(32), encoding="ascii")
    return path.read_text(encoding="ascii").strip()
