"""What all tables share: the one database, the columns of every object, columns added later.

Moments and days are text (see times.py), money is ten-thousandths in big integers, anything
with structure is canonical JSON text.
"""

from __future__ import annotations

from peewee import SQL, AutoField, IntegerField, Model, TextField

from coretrack.records.database import database


def later_number(start: int = 0) -> IntegerField:
    """Return a whole number column that existing rows gained: they hold `start`."""
    return IntegerField(constraints=[SQL(f"DEFAULT {start}")])


def later_text(start: str = "") -> TextField:
    """Return a text column that existing rows gained: they hold `start`."""
    return TextField(constraints=[SQL(f"DEFAULT '{start}'")])


class BaseModel(Model):
    """What all tables share: the one database and names that do not depend on the class."""

    class Meta:
        database = database
        legacy_table_names = False
        only_save_dirty = True


class ObjectRow(BaseModel):
    """What every object's row carries beside its facts: its version and the head of its chain."""

    id = AutoField()
    version = IntegerField()
    head = TextField()
