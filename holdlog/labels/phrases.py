"""Every phrase a label can say, in English: the keys under which translations are kept.

``~`` is a space at which no line may end; what stands in braces is filled in. Large forms are
phrases of their own and not ``.upper()`` of the small ones: languages differ in what a capital
letter is. A phrase added here is red in the tests until every catalogue in ``locale`` has it.
"""

from typing import Literal, get_args

Phrase = Literal[
    # the largest words, and what stands above or beside them
    "USE BY",
    "USE OR DISCARD BY",
    "THAWED",
    "OPENED",
    "RECEIVED",
    "PACKED",
    "COOLING",
    "do not serve",
    "FROZEN",
    "HOT HOLD",
    "ON HOLD",
    "do not use yet",
    "DO NOT USE",
    "DISCARD",
    "reason: {reason}",
    "no days left",
    "NO LIMIT KNOWN",
    "ask the person in charge",
    "NO DATE NEEDED",
    "not TCS: no safety limit",
    "NOT TCS",
    "BEST BY",
    # the small lines
    "Made",
    "made",
    "Opened",
    "Received",
    "Packed",
    "Set aside",
    "Frozen {day}",
    "frozen {day}",
    "Thawed {day}",
    "then use by {day}",
    "use or discard by {day}",
    "then: no limit known, ask",
    "then: no date needed",
    "days left not known: ask",
    "not TCS: no days to count",
    "{number}~of~{count}",
    "COPY~{number}",
    "Full label on the lid",
    "{limit} or below",
    "{limit} or above",
    "keep frozen",
    "keep at {limit} or below",
    "keep at {limit} or above",
    # boxes for the pen
    "thawed on",
    "use by",
    "1st reading:",
    "2nd reading:",
    "{limit} by {when}, at:",
    "{limit} at:",
    # lists
    "ALLERGENS",
    "none listed",
    "…~+{count}~more",
    # who decides
    "Local health authority has the last word. Rules: {book}.",
    "Rules: {book}. Health authority has the last word.",
    "Rules: {book}. Health authority decides.",
    "{book}. Health authority decides.",
    "{book}. Authority decides.",
    # the head of the journal, the last thing that gets room
    "Journal {head}",
]

PHRASES: tuple[Phrase, ...] = get_args(Phrase)

BRIEF: tuple[Phrase, ...] = ("USE BY", "USE OR DISCARD BY", "BEST BY", "Full label on the lid")
"""Those that have a brief wording too, for where the whole one does not fit."""

Counted = Literal[
    "{count}~days~left once thawed",
    "discard unless served or eaten within {count}~days of packing",
]

PLURALS: dict[Counted, str] = {
    "{count}~days~left once thawed": "{count}~day~left once thawed",
    "discard unless served or eaten within {count}~days of packing": (
        "discard unless served or eaten within {count}~day of packing"
    ),
}
"""Phrases with a number, and what they are of one thing."""

# The major food allergens of US law: 21 U.S.C. 321(qq) as amended by the FASTER Act of 2021.
NINE = (
    "milk", "egg", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans",
    "sesame",
)  # fmt: skip

# Regulation (EU) No 1169/2011, Annex II, in short words.
FOURTEEN = (
    "cereals containing gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk",
    "nuts", "celery", "mustard", "sesame", "sulphur dioxide", "lupin", "molluscs",
)  # fmt: skip

ALLERGENS = tuple(dict.fromkeys(NINE + FOURTEEN))
