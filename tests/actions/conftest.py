"""The made-up shop that the tests of actions work in."""

from __future__ import annotations

import pytest
from core_yard import Yard
from databases import TestDatabase


@pytest.fixture
def yard(db: TestDatabase) -> Yard:
    """A shop with two families, two customers, a broker and a salvage yard, and no cores yet."""
    yard = Yard()
    yard.set_up()
    return yard
