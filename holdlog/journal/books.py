"""The exact bytes of every rulebook that was used, so that an old decision can be replayed.

Kept by SHA-256: a book that was edited has another digest and can never pass for the old one.
Sites share them, since the same bytes are the same book everywhere.
"""

import hashlib
from collections.abc import Iterator

from sqlalchemy import Connection, bindparam, select

from holdlog.core.errors import Fault
from holdlog.core.moments import Instant
from holdlog.journal.rows import insert_over, streamed, tuples
from holdlog.journal.tables import book as table
from holdlog.journal.turns import take_books

_CONTENT = select(table.c.content).where(table.c.digest == bindparam("digest"))
_IS_KEPT = select(table.c.digest).where(table.c.digest == bindparam("digest"))


def keep(conn: Connection, id: str, data: bytes, at: Instant) -> str:  # noqa: A002
    """Keep ``data``, the file of rulebook ``id``, unless it is kept already; give its digest.

    ``at`` is when it is first used. The digest is the SHA-256 in 64 hexadecimal characters.
    """
    digest = hashlib.sha256(data).hexdigest()
    if tuples(conn, _IS_KEPT, digest=digest):
        return digest
    take_books(conn)
    values = {"digest": digest, "id": id, "first_used_at": at, "content": data}
    conn.execute(insert_over(conn.dialect.name, table).on_conflict_do_nothing(), values)
    return digest


def load(conn: Connection, digest: str) -> bytes:
    """The bytes with this digest.

    Raises ``Fault("book-missing")`` if they are not kept, ``Fault("book-changed")`` if what is
    kept has another digest: nothing is decided by a book that was tampered with.
    """
    rows = tuples(conn, _CONTENT, digest=digest)
    if not rows:
        raise Fault(
            "book-missing",
            f"The journal has no rulebook with digest {digest[:12]}….",
            "Go back to the latest good copy of the journal.",
        )
    data = rows[0][0]
    if not isinstance(data, bytes) or hashlib.sha256(data).hexdigest() != digest:
        raise Fault(
            "book-changed",
            f"The rulebook with digest {digest[:12]}… was changed after it was kept.",
            "Do not rely on it; go back to the latest good copy of the journal.",
        )
    return data


def kept(conn: Connection) -> Iterator[tuple[str, str, Instant, object]]:
    """Digest, id, when it was first used and content of every rulebook, as they are kept."""
    rows = streamed(
        conn, select(table.c.digest, table.c.id, table.c.first_used_at, table.c.content)
    )
    return ((digest, name, Instant(at), content) for digest, name, at, content in rows)
