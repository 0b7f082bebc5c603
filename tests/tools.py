"""Programs outside Python that some tests need."""

from __future__ import annotations

import os
import shutil

import pytest


def needs_tool(name: str) -> str:
    """Return the path of a program; without it the test is skipped, or fails under a strict run.

    A strict run sets CORETRACK_TEST_NO_SKIPS=1.
    """
    path = shutil.which(name)
    if path is not None:
        return path
    if os.environ.get("CORETRACK_TEST_NO_SKIPS") == "1":
        raise RuntimeError(f"'{name}' is not installed and no test may be skipped here")
    pytest.skip(f"'{name}' is not installed")
