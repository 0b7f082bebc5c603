"""Serving the pages with waitress."""

from __future__ import annotations

import secrets
from ipaddress import ip_address
from pathlib import Path

import click

from coretrack.config import Settings
from coretrack.errors import InvalidInput, Unavailable


def serve_pages(settings: Settings) -> None:
    """Serve until interrupted; Unavailable when the port is taken."""
    if not _this_computer_only(settings.host):
        raise InvalidInput(
            f"The page shows all money and asks nobody to sign in, so it is not served at "
            f"{settings.host}; use 127.0.0.1, this computer only."
        )
    import waitress

    from coretrack import clock
    from coretrack.actions import overview, upkeep
    from coretrack.paper.workbook import summary_workbook
    from coretrack.web.app import create_app

    upkeep.seal_if_due(clock.now())
    app = create_app(
        settings,
        summary=lambda: overview.shop_summary(clock.now()),
        secret=_secret(settings.data_folder),
        workbook=summary_workbook,
    )
    click.echo(f"The pages: http://{settings.host}:{settings.port}/  (Ctrl+C ends)")
    try:
        waitress.serve(
            app, host=settings.host, port=settings.port, threads=settings.threads, ident=None
        )
    except OSError as error:
        raise Unavailable(
            f"Port {settings.port} cannot be used ({error}); choose another with --port."
        ) from error


def _this_computer_only(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _secret(folder: Path) -> str:
    """Return the key that signs sessions, made once and kept in the data folder."""
    path = folder / "session-key"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(secrets.token_hex(32), encoding="ascii")
        path.chmod(0o600)
    return path.read_text(encoding="ascii").strip()
