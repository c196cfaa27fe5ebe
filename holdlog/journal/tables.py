"""The tables, for queries and for comparing with what the migrations made.

``site`` stands in every key: sites may share a database, never a chain. Instants are UTC
milliseconds. ``entry`` is the journal; ``batch``, ``container`` and ``link`` are the on-hand
picture, which can be rebuilt from it; ``reading`` holds what the units' loggers measured;
``book`` holds rulebooks by the SHA-256 of their bytes, the same for every site.
"""

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

NAMING = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(referred_table_name)s",
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
}
metadata = MetaData(naming_convention=NAMING)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _number(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False)


def _instant(name: str) -> Column[int]:
    return Column(name, BigInteger, nullable=False)


def _site() -> Column[str]:
    return Column("site", Text, ForeignKey("site.site"), primary_key=True)


# The row that an append locks on PostgreSQL, so that one site's chain has one writer.
site = Table("site", metadata, Column("site", Text, primary_key=True), _instant("opened_at"))

entry = Table(
    "entry",
    metadata,
    _site(),
    Column("number", Integer, primary_key=True, autoincrement=False),
    _text("kind"),
    _number("version"),
    _instant("at"),
    _instant("recorded_at"),
    _text("by"),
    _text("station"),
    _text("subject"),
    _text("body"),
    _text("previous"),
    _text("hash"),
    CheckConstraint("number > 0", name="counts_from_one"),
    CheckConstraint("at <= recorded_at", name="not_in_the_future"),
    Index("ix_entry_subject", "site", "subject"),
    Index("ix_entry_kind_at", "site", "kind", "at"),
)

# What keeps the journal and the readings append-only on SQLite. RAISE(ABORT) undoes the
# statement. The third trigger of each also stops INSERT OR REPLACE on a connection that left
# recursive_triggers off, where the replaced row is deleted without the delete trigger.
TRIGGERS = {
    "entry_no_update": (
        "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN"
        " SELECT RAISE(ABORT, 'an entry is never changed'); END"
    ),
    "entry_no_delete": (
        "CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN"
        " SELECT RAISE(ABORT, 'an entry is never deleted'); END"
    ),
    "entry_in_order": (
        "CREATE TRIGGER entry_in_order BEFORE INSERT ON entry"
        " WHEN NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM entry"
        " WHERE site = NEW.site) BEGIN"
        " SELECT RAISE(ABORT, 'an entry only follows the last one'); END"
    ),
    "reading_no_update": (
        "CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading BEGIN"
        " SELECT RAISE(ABORT, 'a reading is never changed'); END"
    ),
    "reading_no_delete": (
        "CREATE TRIGGER reading_no_delete BEFORE DELETE ON reading BEGIN"
        " SELECT RAISE(ABORT, 'a reading is never deleted'); END"
    ),
    "reading_once": (
        "CREATE TRIGGER reading_once BEFORE INSERT ON reading"
        " WHEN EXISTS (SELECT 1 FROM reading"
        " WHERE site = NEW.site AND unit = NEW.unit AND at = NEW.at) BEGIN"
        " SELECT RAISE(ABORT, 'a reading is kept once'); END"
    ),
}
# The same on PostgreSQL: its table, its kind (the bits of pg_trigger.tgtype, pg_trigger.h: 1 row,
# 2 before, 4 insert, 8 delete, 16 update, 32 truncate), its function and what that does.
_REFUSES = "BEGIN RAISE EXCEPTION '{} is never changed or deleted'; END"
_FOLLOWS = (
    "BEGIN IF NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM entry"
    " WHERE site = NEW.site) THEN"
    " RAISE EXCEPTION 'an entry only follows the last one'; END IF; RETURN NEW; END"
)
SERVER_TRIGGERS = {
    "entry_no_change": ("entry", 1 | 2 | 8 | 16, "entry_refuse", _REFUSES.format("an entry")),
    "entry_no_truncate": ("entry", 2 | 32, "entry_refuse", _REFUSES.format("an entry")),
    "entry_in_order": ("entry", 1 | 2 | 4, "entry_follows", _FOLLOWS),
    "reading_no_change": (
        "reading",
        1 | 2 | 8 | 16,
        "reading_refuse",
        _REFUSES.format("a reading"),
    ),
    "reading_no_truncate": ("reading", 2 | 32, "reading_refuse", _REFUSES.format("a reading")),
}
# The tables that they guard.
GUARDED = ("entry", "reading")

batch = Table(
    "batch",
    metadata,
    _site(),
    Column("batch", Text, primary_key=True),
    _number("number"),
    _text("item"),
    _text("item_name"),
    _text("category"),
    _instant("day_one"),
    _text("kind"),
    _text("lot"),
    # A lot however it was typed; a recall looks for it. Empty for what was made here.
    _text("lot_key"),
    Index("uq_batch_number", "site", "number", unique=True),
    Index("ix_batch_lot_key", "site", "lot_key"),
)

container = Table(
    "container",
    metadata,
    _site(),
    Column("code", Text, primary_key=True),
    _text("batch"),
    _text("parent"),
    _text("item"),
    _text("item_name"),
    _text("category"),
    _text("unit"),
    _number("number"),
    _number("count"),
    _text("amount"),
    _instant("made_at"),
    _text("made_kind"),
    _text("state"),
    _text("tcs"),
    Column("use_by", BigInteger),
    Column("last_day", Text),
    Column("of", Integer),
    Column("days_left", Integer),
    _text("verdict"),
    _text("reason"),
    Column("review_at", BigInteger),
    Column("printed_use_by", BigInteger),
    _text("binds"),
    _text("cite"),
    _text("says"),
    _text("cautions"),
    _instant("judged_at"),
    Column("ended_at", BigInteger),
    _text("ended_as"),
    ForeignKeyConstraint(["site", "batch"], ["batch.site", "batch.batch"]),
    Index("ix_container_batch", "site", "batch"),
    Index("ix_container_parent", "site", "parent"),
    # What was here in a span of the past is asked after a bad night.
    Index("ix_container_ended_at", "site", "ended_at"),
)
# Only what is on hand: its size, and the cost of the day's list, do not grow with history. The
# migration makes it partial on PostgreSQL too; to say so here would load that whole dialect at
# every start.
Index(
    "ix_container_live",
    container.c.site,
    container.c.use_by,
    container.c.code,
    sqlite_where=container.c.ended_at.is_(None),
)

link = Table(
    "link",
    metadata,
    _site(),
    Column("code", Text, primary_key=True),
    Column("into", Text, primary_key=True),
    # With the code, so that SQLite has no reason to walk the key of the table instead.
    Index("ix_link_into", "site", "into", "code"),
)

book = Table(
    "book",
    metadata,
    Column("digest", Text, primary_key=True),
    _text("id"),
    _instant("first_used_at"),
    Column("content", LargeBinary, nullable=False),
)

# What the loggers of the units measured, in hundredths of a degree on the logger's own scale.
# ``entry`` is the number of the entry that tells of the import. Its key is deferred, so that the
# entry may be written after the readings it counts.
reading = Table(
    "reading",
    metadata,
    Column("site", Text, primary_key=True),
    Column("unit", Text, primary_key=True),
    Column("at", BigInteger, primary_key=True, autoincrement=False),
    _number("hundredths"),
    _text("scale"),
    _number("entry"),
    ForeignKeyConstraint(
        ["site", "entry"], ["entry.site", "entry.number"], deferrable=True, initially="DEFERRED"
    ),
    CheckConstraint("scale IN ('F', 'C')", name="scale"),
    sqlite_with_rowid=False,
)
