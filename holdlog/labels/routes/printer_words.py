"""What printers say of themselves, in a cook's words.

The keywords are those of RFC 8011, 5.3.8 (job-state-reasons) and 5.4.12
(printer-state-reasons), of PWG 5100.13, and the few that print services add. A keyword may end
in how bad it is; printers disagree about that ending, so it is dropped before looking.
"""

from collections.abc import Iterable

_BADNESS = ("-error", "-warning", "-report")

_WORDS = {
    # of the printer
    "media-empty": "out of labels",
    "media-low": "few labels are left",
    "media-needed": "it wants other labels loaded",
    "media-jam": "labels are jammed",
    "cover-open": "the cover is open",
    "door-open": "a door is open",
    "interlock-open": "a cover or a door is open",
    "input-tray-missing": "the tray or roll holder is missing",
    "output-tray-missing": "the output tray is missing",
    "output-area-almost-full": "the output is nearly full",
    "output-area-full": "the output is full",
    "marker-supply-empty": "ribbon or ink is used up",
    "marker-supply-low": "ribbon or ink is running low",
    "marker-waste-almost-full": "the waste box is nearly full",
    "marker-waste-full": "the waste box is full",
    "toner-empty": "toner is used up",
    "toner-low": "toner is running low",
    "developer-empty": "developer is used up",
    "developer-low": "developer is running low",
    "fuser-over-temp": "it is too hot",
    "fuser-under-temp": "it is warming up",
    "offline": "it is switched off or not connected",
    "shutdown": "it is shut down",
    "paused": "paused",
    "moving-to-paused": "it is about to pause",
    "stopping": "it is stopping",
    "stopped-partly": "a part of it has stopped",
    "hold-new-jobs": "it holds new jobs back",
    "connecting-to-device": "still connecting to the printer",
    "timed-out": "the printer did not answer its print service",
    "spool-area-full": "no room for another job",
    "interpreter-resource-unavailable": "it lacks something to draw the job with",
    "resuming": "it is starting again",
    "testing": "it is testing itself",
    "other": "a trouble it does not name",
    # of the job
    "job-incoming": "the job is still arriving",
    "job-data-insufficient": "the job did not arrive whole",
    "job-queued": "the job is waiting its turn",
    "job-queued-for-marker": "the job is waiting its turn",
    "job-interpreting": "the job is being read",
    "job-transforming": "the job is being made ready",
    "job-printing": "the job is printing",
    "job-outgoing": "the job is on its way to the printer",
    "job-hold-until-specified": "the job is held back",
    "job-canceled-by-user": "the job was cancelled",
    "job-canceled-by-operator": "the job was cancelled",
    "job-canceled-at-device": "the job was cancelled at the printer",
    "job-canceled-after-timeout": "the job was given up",
    "aborted-by-system": "the printer gave the job up",
    "document-access-error": "the printer could not read the labels",
    "document-format-error": "the printer could not read the labels",
    "unsupported-document-format": "the printer does not take this kind of file",
    "unsupported-compression": "the printer does not take this kind of file",
    "compression-error": "the labels arrived damaged",
    "submission-interrupted": "the job broke off on its way",
    "printer-stopped": "the printer has stopped",
    "printer-stopped-partly": "a part of the printer has stopped",
    "processing-to-stop-point": "the job is being stopped",
    "queued-in-device": "the job is waiting in the printer",
    "resources-are-not-ready": "something the job needs is not loaded",
    "service-off-line": "the print service is off",
    "job-completed-with-errors": "it met errors",
    "job-completed-with-warnings": "it had something to warn of",
}
# Said of every job that ends well, or nothing at all.
_NO_NEWS = {
    "none",
    "job-completed-successfully",
    "job-restartable",
    "job-fetchable",
    "cups-waiting-for-job-completed",
    "",
}
# With these no label comes out.
_STANDSTILL = {
    _WORDS[key]
    for key in (
        "media-empty",
        "media-needed",
        "media-jam",
        "cover-open",
        "door-open",
        "interlock-open",
        "input-tray-missing",
        "output-area-full",
        "marker-supply-empty",
        "offline",
        "timed-out",
    )
}

MOST = 200
"""The longest piece of a printer's own text that is shown, in characters."""


_LONGEST_NAME = 255  # octets: RFC 8011, 5.1.3, from memory


def plain(text: str) -> str:
    """A printer's own text in one line without control characters, cut at ``MOST``."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= MOST else line[: MOST - 1] + "…"


def as_a_name(title: str) -> str:
    """``title`` as the name of a job: one line, no longer than a name may be."""
    return plain(title).encode()[:_LONGEST_NAME].decode("utf-8", "ignore")


def in_words(keywords: Iterable[str]) -> tuple[str, ...]:
    """The keywords as words for a person, each once, in their order; unknown ones as they are."""
    return tuple(dict.fromkeys(word for key in keywords if (word := _word(key))))


def standstill(words: Iterable[str]) -> tuple[str, ...]:
    """Those of the words, as ``in_words`` makes them, with which no label comes out."""
    return tuple(word for word in words if word in _STANDSTILL)


def _word(keyword: str) -> str:
    key = keyword.strip().lower()
    for ending in _BADNESS:
        key = key.removesuffix(ending)
    if key in _NO_NEWS:
        return ""
    while key:
        if key in _WORDS:
            return _WORDS[key]
        key = key.rpartition("-")[0]  # "media-empty-tray-2" is still out of labels
    return plain(keyword)
