"""What the bench needs: baskets, metal tags, gauges, studies, second looks, the shelf."""

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
        ("basket", "TEXT", "''"),
        ("slot", "INTEGER", "0"),
        ("metal_tag", "INTEGER", "0"),
        ("rework_begun", "TEXT", "''"),
        ("built_into", "TEXT", "''"),
    ),
    "gauge": (
        ("checked_on", "TEXT", "''"),
        ("interval_days", "INTEGER", "0"),
        ("out_of_use", "BOOLEAN", "FALSE"),
        ("note", "TEXT", "''"),
    ),
    "shop": (("second_look_percent", "TEXT", "'0'"),),
}

OBJECT = ("id auto", "version integer", "head text", "key text unique")

TABLES = {
    "wash": (
        *OBJECT,
        "basket text index",
        "status text",
        "slots text",
        "counted integer",
        "note text",
    ),
    "process_check": (
        *OBJECT,
        "day text index",
        "kind text",
        "place text",
        "measured text",
        "result text",
        "by text",
        "note text",
    ),
    "process_rule": (
        *OBJECT,
        "methods text",
        "limits text",
        "source text",
    ),
    "gauge_study": (
        *OBJECT,
        "gauge text index",
        "family text",
        "check_code text",
        "unit text",
        "status text",
        "design text",
        "readings text",
        "proposed text",
        "day text",
    ),
    "second_look": (
        *OBJECT,
        "tag text index",
        "family text",
        "why text",
        "status text index",
        "first_grade text",
        "first_inspector text",
        "grade text",
        "inspector text",
        "findings text",
    ),
    "stock_take": (
        *OBJECT,
        "scope text",
        "status text",
        "expected text",
        "found text",
        "note text",
    ),
}

INDEXES: dict = {}


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
