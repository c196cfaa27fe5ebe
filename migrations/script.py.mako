"""${message}

Before you write this, four rules that keep other people's journals whole:

* The table ``entry`` is never batch-altered, renamed or rebuilt: on SQLite that drops its
  triggers without a word. A nullable column may be added with plain ``op.add_column``.
* A migration never imports the program; it spells out the tables as they are on this day.
* Once released it is frozen. A mistake in it is corrected by the next one.
* Revisions count up, four digits: the program knows an older journal from a newer one by that.
  Set ``HEAD`` in holdlog/journal/migrate.py to this one.

There is no way down: ``holdlog db upgrade`` copies the journal first, and the copy is the way
back.
"""

from alembic import op
import sqlalchemy as sa
${imports if imports else ""}

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = ${repr(depends_on)}


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}
