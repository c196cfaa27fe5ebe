"""Readings of the units, by the thousand, from the files of their loggers; and an index that
finds the containers that were there in a span of the past; and makers' lots, to look one up.
"""

import re
import unicodedata

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

# In the order of its bytes on both: PostgreSQL's own order is that of a language.
TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    op.create_table(
        "reading",
        sa.Column("site", TEXT, nullable=False),
        sa.Column("unit", TEXT, nullable=False),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("hundredths", sa.Integer, nullable=False),
        sa.Column("scale", TEXT, nullable=False),
        sa.Column("entry", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("site", "unit", "at", name="pk_reading"),
        sa.ForeignKeyConstraint(
            ["site", "entry"],
            ["entry.site", "entry.number"],
            name="fk_reading_entry",
            deferrable=True,
            initially="DEFERRED",
        ),
        sa.CheckConstraint("scale IN ('F', 'C')", name="ck_reading_scale"),
        # The key is nearly the whole row: kept once, in the order in which it is asked for.
        sqlite_with_rowid=False,
    )
    op.create_index("ix_container_ended_at", "container", ["site", "ended_at"])
    op.add_column("batch", sa.Column("lot_key", TEXT, nullable=False, server_default=""))
    op.create_index("ix_batch_lot_key", "batch", ["site", "lot_key"])
    _lot_keys()
    op.drop_index("ix_link_into", "link")
    op.create_index("ix_link_into", "link", ["site", "into", "code"])
    if op.get_bind().dialect.name == "sqlite":
        _sqlite_triggers()
    else:
        _postgresql_triggers()


def _lot_keys() -> None:
    """The key of every lot there is, by the rule of the day this was written."""
    conn = op.get_bind()
    lots = [lot for (lot,) in conn.execute(sa.text("SELECT DISTINCT lot FROM batch")) if lot]
    for lot in lots:
        plain = unicodedata.normalize("NFKC", lot)
        bare = re.sub(
            r"^\s*lot(?![a-z])(\W*n[or](?![a-z]))?", "", plain, flags=re.IGNORECASE
        ).upper()
        key = "".join(each for each in bare if each.isalnum()) or plain.strip().upper()
        conn.execute(
            sa.text("UPDATE batch SET lot_key = :key WHERE lot = :lot"), {"key": key, "lot": lot}
        )


def _sqlite_triggers() -> None:
    op.execute(
        "CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading BEGIN"
        " SELECT RAISE(ABORT, 'a reading is never changed'); END"
    )
    op.execute(
        "CREATE TRIGGER reading_no_delete BEFORE DELETE ON reading BEGIN"
        " SELECT RAISE(ABORT, 'a reading is never deleted'); END"
    )
    # Also against INSERT OR REPLACE, which walks past the trigger on DELETE.
    op.execute(
        "CREATE TRIGGER reading_once BEFORE INSERT ON reading"
        " WHEN EXISTS (SELECT 1 FROM reading"
        " WHERE site = NEW.site AND unit = NEW.unit AND at = NEW.at) BEGIN"
        " SELECT RAISE(ABORT, 'a reading is kept once'); END"
    )


def _postgresql_triggers() -> None:
    op.execute(
        "CREATE FUNCTION reading_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        " RAISE EXCEPTION 'a reading is never changed or deleted'; END $$"
    )
    op.execute(
        "CREATE TRIGGER reading_no_change BEFORE UPDATE OR DELETE ON reading"
        " FOR EACH ROW EXECUTE FUNCTION reading_refuse()"
    )
    op.execute(
        "CREATE TRIGGER reading_no_truncate BEFORE TRUNCATE ON reading"
        " FOR EACH STATEMENT EXECUTE FUNCTION reading_refuse()"
    )
