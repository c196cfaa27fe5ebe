"""The journal, what is on hand, and the rulebooks."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# In the order of its bytes on both: PostgreSQL's own order is that of a language.
TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    _site()
    _entry()
    _on_hand()
    _book()
    if op.get_bind().dialect.name == "sqlite":
        _sqlite_triggers()
    else:
        _postgresql_triggers()


def _text(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, TEXT, nullable=False) for name in names]


def _instant(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=nullable)


def _number(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, nullable=nullable)


def _to_site(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["site"], ["site.site"], name=f"fk_{table}_site")


def _site() -> None:
    op.create_table(
        "site",
        *_text("site"),
        _instant("opened_at"),
        sa.PrimaryKeyConstraint("site", name="pk_site"),
    )


def _entry() -> None:
    op.create_table(
        "entry",
        *_text("site"),
        _number("number"),
        *_text("kind"),
        _number("version"),
        _instant("at"),
        _instant("recorded_at"),
        *_text("by", "station", "subject", "body", "previous", "hash"),
        sa.PrimaryKeyConstraint("site", "number", name="pk_entry"),
        _to_site("entry"),
        sa.CheckConstraint("number > 0", name="ck_entry_counts_from_one"),
        sa.CheckConstraint("at <= recorded_at", name="ck_entry_not_in_the_future"),
    )
    op.create_index("ix_entry_subject", "entry", ["site", "subject"])
    op.create_index("ix_entry_kind_at", "entry", ["site", "kind", "at"])


def _on_hand() -> None:
    op.create_table(
        "batch",
        *_text("site", "batch"),
        _number("number"),
        *_text("item", "item_name", "category"),
        _instant("day_one"),
        *_text("kind", "lot"),
        sa.PrimaryKeyConstraint("site", "batch", name="pk_batch"),
        _to_site("batch"),
    )
    op.create_index("uq_batch_number", "batch", ["site", "number"], unique=True)
    op.create_table(
        "container",
        *_text("site", "code", "batch", "parent", "item", "item_name", "category", "unit"),
        _number("number"),
        _number("count"),
        *_text("amount"),
        _instant("made_at"),
        *_text("made_kind", "state", "tcs"),
        _instant("use_by", nullable=True),
        sa.Column("last_day", TEXT),
        _number("of", nullable=True),
        _number("days_left", nullable=True),
        *_text("verdict", "reason"),
        _instant("review_at", nullable=True),
        _instant("printed_use_by", nullable=True),
        *_text("binds", "cite", "says", "cautions"),
        _instant("judged_at"),
        _instant("ended_at", nullable=True),
        *_text("ended_as"),
        sa.PrimaryKeyConstraint("site", "code", name="pk_container"),
        _to_site("container"),
        sa.ForeignKeyConstraint(
            ["site", "batch"], ["batch.site", "batch.batch"], name="fk_container_batch"
        ),
    )
    op.create_index("ix_container_batch", "container", ["site", "batch"])
    op.create_index("ix_container_parent", "container", ["site", "parent"])
    op.create_index(
        "ix_container_live",
        "container",
        ["site", "use_by", "code"],
        sqlite_where=sa.text("ended_at IS NULL"),
        postgresql_where=sa.text("ended_at IS NULL"),
    )
    op.create_table(
        "link",
        *_text("site", "code", "into"),
        sa.PrimaryKeyConstraint("site", "code", "into", name="pk_link"),
        _to_site("link"),
    )
    op.create_index("ix_link_into", "link", ["site", "into"])


def _book() -> None:
    op.create_table(
        "book",
        *_text("digest", "id"),
        _instant("first_used_at"),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_book"),
    )


def _sqlite_triggers() -> None:
    op.execute(
        "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN"
        " SELECT RAISE(ABORT, 'an entry is never changed'); END"
    )
    op.execute(
        "CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN"
        " SELECT RAISE(ABORT, 'an entry is never deleted'); END"
    )
    # Also against INSERT OR REPLACE, which walks past the trigger on DELETE.
    op.execute(
        "CREATE TRIGGER entry_in_order BEFORE INSERT ON entry"
        " WHEN NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM entry"
        " WHERE site = NEW.site) BEGIN"
        " SELECT RAISE(ABORT, 'an entry only follows the last one'); END"
    )


def _postgresql_triggers() -> None:
    op.execute(
        "CREATE FUNCTION entry_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        " RAISE EXCEPTION 'an entry is never changed or deleted'; END $$"
    )
    op.execute(
        "CREATE FUNCTION entry_follows() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        " IF NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM entry"
        " WHERE site = NEW.site) THEN"
        " RAISE EXCEPTION 'an entry only follows the last one'; END IF;"
        " RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER entry_no_change BEFORE UPDATE OR DELETE ON entry"
        " FOR EACH ROW EXECUTE FUNCTION entry_refuse()"
    )
    op.execute(
        "CREATE TRIGGER entry_no_truncate BEFORE TRUNCATE ON entry"
        " FOR EACH STATEMENT EXECUTE FUNCTION entry_refuse()"
    )
    op.execute(
        "CREATE TRIGGER entry_in_order BEFORE INSERT ON entry"
        " FOR EACH ROW EXECUTE FUNCTION entry_follows()"
    )
