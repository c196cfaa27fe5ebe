"""Runs the migrations on a connection.

The program hands over an open connection inside a transaction (``attributes["connection"]``),
which it commits or rolls back itself: SQLite undoes half a migration only if the transaction
was begun explicitly. At a developer's prompt the database is the one that HOLDLOG_DB names.
"""

import os

from alembic import context
from sqlalchemy import Connection


def run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=context.config.attributes.get("metadata"),
        render_as_batch=connection.dialect.name == "sqlite",
    )
    context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    # Only here: a migration itself never imports the program.
    from holdlog.journal.engine import open_database
    from holdlog.journal.tables import metadata

    context.config.attributes["metadata"] = metadata
    database = open_database(os.environ["HOLDLOG_DB"])
    with database.appending() as connection:
        run(connection)
    database.close()
