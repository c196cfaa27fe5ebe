"""Queries whose text is made once: the same answers, in the same transaction, by the same rules."""

import sqlite3
from dataclasses import FrozenInstanceError, fields
from typing import Any

import pytest

from holdlog.core.chain import Entry
from holdlog.core.errors import Fault
from holdlog.journal import entries, on_hand
from holdlog.journal.engine import Database
from holdlog.journal.rows import Prepared, maker, tuples
from tests.journal.made import NOW, SITE, batch_row, container_row, write

ASKED: dict[str, Any] = {
    "site": SITE, "code": "H7K39QX2", "batch": "B1", "id": "B1", "number": 1,
    "subject": "H7K39QX2", "kind": "reading", "since": 0, "until": NOW + 1, "written_since": 0,
    "subjects": ["H7K39QX2", "B1"], "kinds": ["reading", "voided"], "first": 1, "last": 9,
}  # fmt: skip
PREPARED = {
    f"{module.__name__}.{name}": query
    for module in (entries, on_hand)
    for name, query in vars(module).items()
    if isinstance(query, Prepared)
} | {
    f"of_kinds{bounds}": entries._of_kinds(*bounds)
    for bounds in ((), ("since", "until"), ("until", "written_since"))
}


@pytest.mark.parametrize("name", PREPARED)
def test_a_prepared_query_answers_as_sqlalchemy_does(db: Database, name: str) -> None:
    write(db)
    write(db)
    with db.appending() as conn:
        on_hand.put(conn, SITE, batches=[batch_row()], containers=[container_row()])
        query = PREPARED[name]
        found = [tuple(row) for row in tuples(conn, query, **ASKED)]
        assert found == [tuple(row) for row in tuples(conn, query.statement, **ASKED)]
        if not name.endswith(("_CHILDREN", "_FROM")):
            assert found  # what was written a moment ago, before it was committed


def test_a_list_of_values_may_be_of_any_length(db: Database) -> None:
    write(db)
    query = PREPARED["holdlog.journal.entries._OF_SUBJECTS"]
    with db.reading() as conn:
        for subjects in (["H7K39QX2"], [], ["B1", "H7K39QX2"], ["B1"], ["H7K39QX2"]):
            found = tuples(conn, query, site=SITE, subjects=subjects)
            assert len(found) == ("H7K39QX2" in subjects), subjects


def test_what_is_made_quickly_is_the_real_thing(db: Database) -> None:
    (entry,) = write(db)
    made = maker(Entry)(*(getattr(entry, field.name) for field in fields(Entry)))
    assert type(made) is Entry
    assert (made, hash(made), repr(made)) == (entry, hash(entry), repr(entry))
    with pytest.raises(FrozenInstanceError):
        made.number = 2  # type: ignore[misc]


def test_what_the_driver_refuses_is_explained_like_anything_else(filed: Database) -> None:
    write(filed)

    class Broken:
        """A driver whose disk is gone."""

        def execute(self, *_: object) -> None:
            raise sqlite3.OperationalError("disk I/O error")

    class Behind:
        dialect = type("dialect", (), {"name": "sqlite"})
        connection = type("connection", (), {"driver_connection": Broken()})

    with filed.reading() as real:
        head = PREPARED["holdlog.journal.entries._HEAD"]
        head.text(real)
    behind: Any = Behind()
    with pytest.raises(Fault, match="disk"), filed.reading():
        tuples(behind, head, site=SITE)
