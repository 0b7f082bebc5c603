"""Files as answers: the right kind, a safe name, shown in the browser where it can."""

from __future__ import annotations

from pathlib import PurePosixPath

from flask import Response

from coretrack.actions.printing import PrintedFile

_KINDS = {".pdf": "application/pdf", ".svg": "image/svg+xml", ".png": "image/png"}


def file_answer(file: PrintedFile) -> Response:
    """Return a file for the browser to show; its name is safe already (safe_file_name)."""
    kind = _KINDS.get(PurePosixPath(file.name).suffix, "application/octet-stream")
    response = Response(file.content, mimetype=kind)
    response.headers["Content-Disposition"] = f'inline; filename="{file.name}"'
    return response
