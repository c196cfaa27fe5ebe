"""Readings of the units, by the thousand, from the files of their loggers."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reading",
        sa.Column("site", sa.Text, nullable=False),
        sa.Column("unit", sa.Text, nullable=False),
        sa.Column("at", sa.BigInteger, nullable=False),
        sa.Column("hundredths", sa.Integer, nullable=False),
        sa.Column("scale", sa.Text, nullable=False),
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
    if op.get_bind().dialect.name == "sqlite":
        _sqlite_triggers()
    else:
        _postgresql_triggers()


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
