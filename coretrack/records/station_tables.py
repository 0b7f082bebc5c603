"""The tables of the stations: labels, reasons, credit notes, photos, drafts, who is signed in."""

from __future__ import annotations

from peewee import AutoField, BigIntegerField, BlobField, BooleanField, IntegerField, TextField

from coretrack.records.rows import BaseModel, ObjectRow


class LabelStockRow(ObjectRow):
    key = TextField(unique=True)
    next_free = IntegerField()

    class Meta:
        table_name = "label_stock"


class ReasonRow(ObjectRow):
    key = TextField(unique=True)
    number = IntegerField(unique=True)
    family = TextField()
    fault = TextField()

    class Meta:
        table_name = "reason"


class CreditNoteRow(ObjectRow):
    key = TextField(unique=True)
    customer = TextField(index=True)
    day = TextField(index=True)
    tags = TextField()
    total = BigIntegerField()

    class Meta:
        table_name = "credit_note"


class PhotoRow(BaseModel):
    """Photos, beside the history: events name them by their hash.

    `object_kind` is core or lot, or draft while the core in hand has no tag yet.
    """

    id = AutoField()
    object_kind = TextField()
    object_key = TextField()
    sha256 = TextField()
    what = TextField()
    at = TextField()
    by = TextField()
    width = IntegerField()
    height = IntegerField()
    content = BlobField()

    class Meta:
        table_name = "photo"
        indexes = ((("object_kind", "object_key"), False),)


class DraftRow(BaseModel):
    """What somebody has begun and not finished: it is no history, and goes once it is stored."""

    key = TextField(primary_key=True)
    person = TextField()
    at = TextField()
    body = TextField()

    class Meta:
        table_name = "draft"


class SessionRow(BaseModel):
    """Who is signed in where; the cookie holds a token of which only the hash is kept."""

    token_hash = TextField(primary_key=True)
    person = TextField(index=True)
    station = TextField()
    started_at = TextField()
    seen_at = TextField()
    ends_at = TextField()
    by_badge = BooleanField()
    locked = BooleanField()

    class Meta:
        table_name = "web_session"


class SignInRow(BaseModel):
    """How often signing in failed in a row under one name or badge, and until when it is shut."""

    key = TextField(primary_key=True)
    failures = IntegerField()
    until = TextField()

    class Meta:
        table_name = "sign_in"


class OnceRow(BaseModel):
    """Keys of forms, scans and import rows that were acted on, with the answer given."""

    key = TextField(primary_key=True)
    at = TextField()
    answer = TextField()

    class Meta:
        table_name = "once"


class PlaceRow(ObjectRow):
    key = TextField(unique=True)
    kind = TextField()
    number = IntegerField()
    name = TextField()

    class Meta:
        table_name = "place"
