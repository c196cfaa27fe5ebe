"""The date that binds by what is written on a container."""

from holdlog.core.events import Labelled
from holdlog.core.moments import Instant


def label_date(before: Instant | None, label: Labelled) -> Instant | None:
    """The date that binds by what is written on a container, once ``label`` was made.

    ``before`` is the date that bound until then. A label without a date takes the place of one
    with a date, like any other; but one that nobody knows to have come out frees no earlier date,
    for the label of before may be all that there is on the tub. A discard tag stands beside the
    label and frees none either.
    """
    if label.purpose == "discard":
        return before
    said = Instant(label.use_by) if label.use_by is not None else None
    unseen = label.state in ("sent", "accepted")
    return before if unseen and before is not None and (said is None or said > before) else said
