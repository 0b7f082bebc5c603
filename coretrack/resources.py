"""Finds templates/, labels/ and sample_cores/ in a checkout and in an installed wheel."""

from __future__ import annotations

from pathlib import Path

from coretrack.errors import NotFound

_PACKAGE = Path(__file__).resolve().parent


def data_dir(name: str) -> Path:
    """Return the folder `name` that ships with coretrack.

    A wheel carries it inside the package, a checkout keeps it beside the package. An editable
    install leaves a frozen copy elsewhere in site-packages; looking beside the imported package
    passes that copy by.
    """
    for folder in (_PACKAGE / "_data" / name, _PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    raise NotFound(f"The folder '{name}' that ships with coretrack is missing; install it again.")
