"""What the receiving station needs: people's badges, deliveries, photos, drafts, sessions."""

from peewee import (
    AutoField,
    BigIntegerField,
    BlobField,
    BooleanField,
    IntegerField,
    Model,
    SqliteDatabase,
    TextField,
)

# Columns that existing tables gain. A stored row must equal its replayed history, so each default
# is what the object has before any event sets it.
COLUMNS = {
    "core": (
        ("hold_until", "TEXT", "''"),
        ("credit_note", "TEXT", "''"),
        ("place", "TEXT", "''"),
        ("photos", "INTEGER", "0"),
        ("labels", "INTEGER", "0"),
    ),
    "line": (
        ("waived", "INTEGER", "0"),
        ("forfeited", "INTEGER", "0"),
        ("slide_most", "TEXT", "'100'"),
        ("nothing_after", "INTEGER", "0"),
    ),
    "lot": (
        ("status", "TEXT", "''"),
        ("counted", "INTEGER", "0"),
        ("arrived_on", "TEXT", "''"),
        ("carrier", "TEXT", "''"),
        ("reference", "TEXT", "''"),
        ("note", "TEXT", "''"),
        ("difference_by", "TEXT", "''"),
        ("photos", "INTEGER", "0"),
        ("sorting", "TEXT", "'[]'"),
        ("estimate", "TEXT", "'{}'"),
    ),
    "person": (
        ("badge", "INTEGER", "0"),
        ("pin_hash", "TEXT", "''"),
        ("active", "BOOLEAN", "TRUE"),
    ),
    "shop": (
        ("hold_days", "INTEGER", "10"),
        ("idle_minutes", "INTEGER", "10"),
        ("paper_size", "TEXT", "'a4'"),
        ("label_stock", "TEXT", "'roll-50x25'"),
        ("sheet_stock", "TEXT", "'a4-24'"),
        ("print_command", "TEXT", "'[]'"),
        ("slide_most", "TEXT", "'100'"),
        ("nothing_after", "INTEGER", "0"),
    ),
}


OBJECT = ("id auto", "version integer", "head text", "key text unique")

TABLES = {
    "label_stock": (*OBJECT, "next_free integer"),
    "reason": (*OBJECT, "number integer unique", "family text", "fault text"),
    "place": (*OBJECT, "kind text", "number integer", "name text"),
    "credit_note": (*OBJECT, "customer text index", "day text index", "tags text", "total big"),
    "photo": (
        "id auto",
        "object_kind text",
        "object_key text",
        "sha256 text",
        "what text",
        "at text",
        "by text",
        "width integer",
        "height integer",
        "content bytes",
    ),
    "draft": ("key text key", "person text", "at text", "body text"),
    "web_session": (
        "token_hash text key",
        "person text index",
        "station text",
        "started_at text",
        "seen_at text",
        "ends_at text",
        "by_badge yes_no",
        "locked yes_no",
    ),
    "sign_in": ("key text key", "failures integer", "until text"),
}

INDEXES = {"photo": ((("object_kind", "object_key"), False),)}


FIELDS = {
    "auto": AutoField,
    "text": TextField,
    "integer": IntegerField,
    "big": BigIntegerField,
    "yes_no": BooleanField,
    "bytes": BlobField,
}


def field(words):
    kind, *rest = words
    options = {"primary_key": "key" in rest, "unique": "unique" in rest, "index": "index" in rest}
    return FIELDS[kind](**{name: True for name, wanted in options.items() if wanted})


def model(db, name, columns):
    meta = {
        "database": db,
        "table_name": name,
        "legacy_table_names": False,
        "indexes": INDEXES.get(name, ()),
    }
    fields = {line.split()[0]: field(line.split()[1:]) for line in columns}
    return type(name.title().replace("_", ""), (Model,), {"Meta": type("Meta", (), meta), **fields})


def up(migrator, db):
    del migrator
    # On SQLite yes and no are whole numbers, as in the tables that the first step made.
    own = {"BOOLEAN": "INTEGER"} if isinstance(db, SqliteDatabase) else {}
    for table, columns in COLUMNS.items():
        for name, kind, default in columns:
            stored = f"{own.get(kind, kind)} NOT NULL DEFAULT {default}"
            db.execute_sql(f'ALTER TABLE "{table}" ADD COLUMN "{name}" {stored}')
    db.create_tables([model(db, name, columns) for name, columns in TABLES.items()], safe=False)
