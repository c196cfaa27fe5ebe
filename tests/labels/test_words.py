"""The languages of labels: catalogues that are whole, terms of law, days nobody can mix up."""

import re
import subprocess
import sys
import unicodedata
from dataclasses import replace
from datetime import date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from string import Formatter

import pytest
from babel.dates import format_date
from babel.messages.catalog import Catalog
from babel.messages.mofile import read_mo, write_mo
from babel.messages.pofile import read_po

from holdlog.core.errors import Mistake
from holdlog.labels.layout import TextMark, lay_out
from holdlog.labels.phrases import ALLERGENS, BRIEF, FOURTEEN, NINE, PHRASES, PLURALS
from holdlog.labels.template import Template
from holdlog.labels.words import ENGLISH, LANGUAGES, SHORT, Words, loose, speak
from tests.labels.samples import RESOLUTIONS, a_label, every_face

LOCALE = Path(__file__).resolve().parents[2] / "holdlog" / "labels" / "locale"
TRANSLATED = [language for language in LANGUAGES if language != "en"]
YEAR = [date(2026, 1, 1) + timedelta(days=i) for i in range(365)]


def catalogue(language: str) -> Catalog:
    with (LOCALE / language / "LC_MESSAGES" / "labels.po").open("rb") as file:
        return read_po(file, locale=language, abort_invalid=True)


def entries(language: str) -> list[tuple[str, list[str], list[str]]]:
    """Of each entry its key (of a counting one the plural), its translations, its comments."""
    found = []
    for entry in catalogue(language):
        if entry.id:
            assert not entry.fuzzy, entry.id
            texts = [entry.string] if isinstance(entry.string, str) else list(entry.string or ())
            key = entry.id if isinstance(entry.id, str) else entry.id[1]
            found.append((key, texts, entry.user_comments))
    return found


# ---- which languages there are -------------------------------------------------------------------


@pytest.mark.parametrize(
    "languages", [(), ("de",), ("en", "de"), ("EN",), ("en", "en"), ("en", "es", "fr")]
)
def test_a_label_speaks_one_or_two_languages_that_there_are(languages: tuple[str, ...]) -> None:
    with pytest.raises(Mistake, match=r"No labels in|one or two") as caught:
        speak(languages)
    assert caught.value.code == "bad-language"
    assert caught.value.hint.endswith(": en (English), es (Spanish), fr (French).")


def test_every_language_there_is_has_a_catalogue_and_none_is_left_over() -> None:
    assert sorted(path.name for path in LOCALE.iterdir() if path.is_dir()) == sorted(TRANSLATED)


def test_the_same_languages_are_the_same_words() -> None:
    assert speak(("es", "en")) is speak(("es", "en"))
    assert speak() is ENGLISH
    assert speak(("en", "es")) != speak(("es", "en"))


# ---- the catalogues ------------------------------------------------------------------------------


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_catalogue_has_every_phrase_and_nothing_else(language: str) -> None:
    wanted: set[tuple[object, str | None]] = {(phrase, None) for phrase in PHRASES}
    wanted |= {(phrase, SHORT) for phrase in BRIEF}
    wanted |= {((one, many), None) for many, one in PLURALS.items()}
    wanted |= {(name, None) for name in ALLERGENS}
    assert {(entry.id, entry.context) for entry in catalogue(language) if entry.id} == wanted


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_entry_is_empty_or_doubtful_and_each_says_where_it_is_from(language: str) -> None:
    for key, texts, comments in entries(language):
        assert texts, key
        assert all(text.strip() == text != "" for text in texts), key
        assert " ".join(comments).startswith(("our own", "Regulation (EU) No 1169/2011, A")), key


def blanks(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_translation_leaves_the_same_blanks(language: str) -> None:
    for key, texts, _ in entries(language):
        for text in texts:
            assert blanks(text) == blanks(key), key
            # Figures of a phrase stay figures: 1st and 2nd are what the boxes are told by.
            assert [c for c in text if c.isdigit()] == [c for c in key if c.isdigit()], key


@pytest.mark.parametrize("language", TRANSLATED)
def test_what_is_installed_is_what_was_translated(language: str) -> None:
    """Where this fails: pybabel compile -D labels -d holdlog/labels/locale."""
    compiled = BytesIO()
    write_mo(compiled, catalogue(language))
    compiled.seek(0)
    with (LOCALE / language / "LC_MESSAGES" / "labels.mo").open("rb") as file:
        committed = read_mo(file)
    made = {(str(e.id), e.context): e.string for e in read_mo(compiled) if e.id}
    assert {(str(e.id), e.context): e.string for e in committed if e.id} == made
    assert committed.plural_expr == catalogue(language).plural_expr
    assert len(made) > len(PHRASES)


# ---- terms of law --------------------------------------------------------------------------------

# Regulation (EU) No 1169/2011, Annex X, points 2(a) and 1(a), in the Spanish and the French text.
# The French was read in a consolidated text; the Spanish is from memory.
ANNEX_X = {
    "es": ("fecha de caducidad", "consumir preferentemente antes del"),
    "fr": ("à consommer jusqu'au", "à consommer de préférence avant le"),
}


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_words_before_a_date_are_those_of_the_regulation(language: str) -> None:
    words = speak((language,))
    assert (words.say("USE BY").casefold(), words.say("BEST BY").casefold()) == ANNEX_X[language]


# Regulation (EU) No 1169/2011, Annex II, the first noun of each of its fourteen points (of the
# twelfth, the substance). Read in Spanish and French reprints of the Annex.
ANNEX_II = {
    "es": [
        "cereales", "crustáceos", "huevos", "pescado", "cacahuetes", "soja", "leche",
        "frutos de cáscara", "apio", "mostaza", "sésamo", "dióxido de azufre", "altramuces",
        "moluscos",
    ],
    "fr": [
        "céréales", "crustacés", "œufs", "poisson", "arachides", "soja", "lait", "fruits à coque",
        "céleri", "moutarde", "sésame", "anhydride sulfureux", "lupin", "mollusques",
    ],
}  # fmt: skip


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_fourteen_allergens_are_named_as_the_regulation_names_them(language: str) -> None:
    words = speak((language,))
    said = [words.allergen(name) for name in FOURTEEN]
    for text, term in zip(said, ANNEX_II[language], strict=True):
        assert text == term or text.startswith(f"{term} ")
    assert len(set(said)) == 14


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_nine_are_nine_in_every_language(language: str) -> None:
    """21 U.S.C. 321(qq) as amended by the FASTER Act of 2021."""
    assert len({speak((language,)).allergen(name) for name in NINE}) == 9


def test_an_allergen_is_known_however_it_is_typed_and_an_unknown_one_stays() -> None:
    spanish = speak(("es",))
    assert spanish.allergen(" Milk") == "leche"
    assert spanish.allergen("Celery") == "apio"
    for name in ("kiwi", "Kiwi, raw", "FROZEN", "", "µ"):
        assert spanish.allergen(name) == name
    assert ENGLISH.allergen("Milk") == "Milk"


# ---- days ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_days_are_named_as_the_unicode_cldr_names_them(language: str) -> None:
    words = speak((language,))
    for on in YEAR:
        assert loose(words.day(on)) == format_date(on, "EEE d MMM", locale=language)
        assert loose(words.day(on, year=True)) == format_date(on, "EEE d MMM y", locale=language)


@pytest.mark.parametrize("language", LANGUAGES)
def test_large_days_are_the_small_ones_in_capitals_without_their_dots(language: str) -> None:
    words = speak((language,))
    for on in YEAR:
        large = words.day_large(on)
        assert large == unicodedata.normalize("NFC", large)
        assert large.casefold() == words.day(on).replace(".", "").casefold()
        assert not any(sign.islower() for sign in large)


def bare(text: str) -> str:
    """``text`` as it is when its accents were not seen."""
    return "".join(s for s in unicodedata.normalize("NFD", text) if not unicodedata.combining(s))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_two_days_of_a_year_look_the_same_even_without_accents(language: str) -> None:
    words = speak((language,))
    for said in (words.day, words.day_large):
        assert len({bare(said(on)) for on in YEAR}) == 365
        parts = [bare(said(on)).split("\N{NO-BREAK SPACE}") for on in YEAR]
        assert len({weekday for weekday, _, _ in parts}) == 7
        assert len({month for _, _, month in parts}) == 12
        for weekday, number, month in parts:
            assert weekday.strip(".").isalpha()
            assert month.strip(".").isalpha()
            assert number.isdigit()


@pytest.mark.parametrize(
    ("language", "small", "large"),
    [("en", "Sun 7 Jun", "SUN 7 JUN"), ("es", "dom 7 jun", "DOM 7 JUN"),
     ("fr", "dim. 7 juin", "DIM 7 JUIN")],
)  # fmt: skip
def test_a_day_is_one_piece_and_has_a_24_hour_clock(language: str, small: str, large: str) -> None:
    words = speak((language,))
    tight = str.maketrans({" ": "\N{NO-BREAK SPACE}"})
    assert words.day(date(2026, 6, 7)) == small.translate(tight)
    assert words.day_large(date(2026, 6, 7)) == large.translate(tight)
    at = datetime(2026, 6, 7, 19, 5)
    assert words.moment(at) == f"{small} 19:05".translate(tight)
    assert words.moment(datetime(2026, 6, 7)) == small.translate(tight)


# ---- sentences -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", ["0 days left", "1 day left", "3 days left"]),
     ("es", ["quedan 0 días", "queda 1 día", "quedan 3 días"]),
     ("fr", ["reste 0 jour ", "reste 1 jour ", "reste 3 jours "])],
)  # fmt: skip
def test_one_day_is_not_days_in_any_language(language: str, said: list[str]) -> None:
    """Zero is plural in English and Spanish, singular in French: Unicode CLDR plural rules."""
    for days, start in zip((0, 1, 3), said, strict=True):
        assert f"{loose(speak((language,)).days_left(days))} ".startswith(start)


def test_a_kicker_gives_way_from_the_fullest_wording_to_the_briefest() -> None:
    assert ENGLISH.kicker("RECEIVED", "USE BY") == ("RECEIVED · USE BY", "USE BY")
    assert ENGLISH.kicker("USE BY") == ("USE BY",)
    assert speak(("es",)).kicker("RECEIVED", "USE BY") == (
        "RECIBIDO · FECHA DE CADUCIDAD", "RECIBIDO · CADUCA", "FECHA DE CADUCIDAD", "CADUCA",
    )  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_limit_of_temperature_keeps_its_side(language: str) -> None:
    words = speak((language,))
    short = [loose(words.keep("41 °F", side)) for side in ("below", "above")]
    long = [loose(words.keep_long("41 °F", side)) for side in ("below", "above")]
    assert [text.split("41 °F ")[1] for text in long] == [text[6:] for text in short]
    assert short[0] != short[1]
    assert words.keep("0 °F", "frozen") == words.keep_long("0 °F", "frozen")
    assert "°F" not in words.keep("0 °F", "frozen")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_pack_says_how_cold_and_how_long(language: str) -> None:
    """FDA Food Code 2022, 3-502.12(B)(3): 41 °F (5 °C) or below, and 30 days from packing."""
    words = speak((language,))
    cold, long = words.pack_rule("41 °F", 30)
    assert cold == words.keep_long("41 °F", "below")
    assert re.search(r"\b30\N{NO-BREAK SPACE}(days|días|jours)\b", long)
    assert long.startswith({"en": "discard", "es": "desechar", "fr": "jeter"}[language])


def test_what_is_filled_in_is_printed_as_it_is() -> None:
    reason = "dropped ~ {twice} {0} 100%"
    for language in LANGUAGES:
        assert reason in speak((language,)).say("reason: {reason}", reason=reason)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_wording_of_the_small_print_names_the_book_and_who_decides(language: str) -> None:
    who = {"en": "authority", "es": "autoridad", "fr": "autorité"}[language]
    for text in speak((language,)).small_print("New York State Sanitary Code Subpart 14-1"):
        assert "New York State Sanitary Code Subpart 14-1" in text
        assert who in text.casefold()


def test_an_english_label_waits_for_no_other_language() -> None:
    code = (
        "import sys; from datetime import date; from holdlog.labels.words import ENGLISH as e; "
        "e.day(date(2026, 6, 7)), e.say('USE BY'), e.days_left(3); "
        "print([m for m in ('babel', 'gettext') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


# ---- whole labels --------------------------------------------------------------------------------


def read(template: Template, name: str, *languages: str, dpi: int = 203) -> str:
    """All text of a sample label, line ends as spaces."""
    layout = lay_out(template, dpi, every_face()[name], speak(languages))
    texts = [mark.text for mark in layout.marks if isinstance(mark, TextMark)]
    return loose(" ".join(texts))


SPEAKING = [("es",), ("fr",), ("en", "es"), ("es", "en"), ("en", "fr"), ("fr", "es")]


@pytest.mark.parametrize("dpi", RESOLUTIONS)
@pytest.mark.parametrize("languages", SPEAKING, ids="-".join)
def test_every_label_finds_room_in_every_language(
    two_by_two: Template, languages: tuple[str, ...], dpi: int
) -> None:
    for name, label in every_face().items():
        layout = lay_out(two_by_two, dpi, label, speak(languages))
        # Where a label says things twice, the shelf it stands on may have to go; at worst the
        # allergens in the second language, which is told.
        cut = [each for each in layout.warnings if not each.startswith(("place: ", "made: "))]
        if languages == ("es", "en") and name == "thawed":
            assert cut in ([], ["allergens: cut to fit, not printed: celery, milk"])
        else:
            assert cut == [], name
        assert layout.warnings == () or len(languages) > 1, name


@pytest.mark.parametrize("languages", SPEAKING, ids="-".join)
def test_every_label_names_its_allergens_in_the_first_language(
    two_by_two: Template, languages: tuple[str, ...]
) -> None:
    words = speak(languages)
    for name, label in every_face().items():
        if label.twin or label.purpose == "discard":
            continue
        text = read(two_by_two, name, *languages)
        assert words.say("ALLERGENS") in text
        assert all(words.allergen(allergen) in text for allergen in label.allergens), name


# What must be understood by whoever reads only the second language.
IN_SPANISH = {
    "prepared": ["CADUCIDAD DOM 7 JUN", "ALLERGENS/ALÉRGENOS", "milk/leche", "celery/apio"],
    "opened": ["CADUCIDAD DOM 7 JUN", "milk/leche"],
    "far": ["MIÉ 27 SEPT 2028"],
    "timed": ["CADUCIDAD 19:00 LUN 1 JUN"],
    "unknown": ["FALTA EL LÍMITE"],
    "no-date-needed": ["NO LLEVA FECHA"],
    "best-by": ["DOM 21 JUN"],
    "cooling": ["ENFRIANDO · no servir", "milk/leche"],
    "frozen": ["CONGELADO · quedan 3 días al descongelar"],
    "stop": ["NO USAR"],
    "hour": ["usar o desechar antes de 19:00 LUN 1 JUN", "celery/apio"],
    "hot": ["CALIENTE · mantener a 135 °F o más"],
    "hot-till": ["CALIENTE", "22:30 LUN 1 JUN"],
    "pack": ["MAR 30 JUN"],
    "hold": ["RETENIDO · no usar todavía"],
    "discard": ["NO USAR · DESECHAR"],
    "twin": ["DOM 7 JUN"],
    "twin-cooling": ["ENFRIANDO · no servir"],
}


@pytest.mark.parametrize("name", IN_SPANISH)
def test_the_second_language_says_what_keeps_guests_safe(two_by_two: Template, name: str) -> None:
    text, english = (read(two_by_two, name, *spoken) for spoken in (("en", "es"), ("en",)))
    for said in IN_SPANISH[name]:
        assert said in text
        assert said not in english


def test_the_first_language_is_whole_where_there_is_a_second(two_by_two: Template) -> None:
    compared = 0
    for name, label in every_face().items():
        if lay_out(two_by_two, 203, label, speak(("en", "es"))).warnings:
            continue
        alone = read(two_by_two, name, "en").split("ALLERGENS")[0].split()
        both = read(two_by_two, name, "en", "es").split()
        assert [word for word in alone if word not in both] == [], name
        compared += 1
    assert compared >= 13


def test_a_word_that_both_languages_share_stands_once(two_by_two: Template) -> None:
    label = a_label(allergens=("lupin", "kiwi"))
    layout = lay_out(two_by_two, 203, label, speak(("en", "fr")))
    text = " ".join(mark.text for mark in layout.marks if isinstance(mark, TextMark))
    assert "ALLERGENS/ALLERGÈNES lupin, kiwi" in text


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_many_allergens_stand_whole_in_one_language_before_half_of_them_in_two(
    two_by_two: Template, dpi: int
) -> None:
    label = replace(a_label(), allergens=FOURTEEN)
    layout = lay_out(two_by_two, dpi, label, speak(("en", "es")))
    text = " ".join(mark.text for mark in layout.marks if isinstance(mark, TextMark))
    assert all(name in text for name in FOURTEEN)
    (warning,) = (each for each in layout.warnings if each.startswith("allergens"))
    spanish = speak(("es",))
    assert all(spanish.allergen(name) in warning for name in FOURTEEN)
    assert "DOM\N{NO-BREAK SPACE}7\N{NO-BREAK SPACE}JUN" in text


def test_words_are_made_by_speak_and_can_be_compared() -> None:
    assert Words("en") == ENGLISH
    assert hash(Words("en")) == hash(ENGLISH)
