"""Plots for the record: what a reader of the paper sees, and that equal data give equal files."""

import xml.etree.ElementTree as ET
from datetime import datetime, timedelta
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader

from holdlog.reports.plots import Band, Curve, Kind, LimitLine, Plot, Span, drawn
from holdlog.reports.sketch import sketched

START = datetime(2026, 6, 1, 14, 5)


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def curve(*points: tuple[float, float]) -> Curve:
    return Curve(tuple(at(minute) for minute, _ in points), tuple(each for _, each in points))


COOLING = Plot(
    title="fish stock, B12",
    scale="F",
    readings=curve((0, 168), (30, 128), (60, 104)),
    limits=(LimitLine(135, "from"), LimitLine(70, "first", at(120)), LimitLine(41, "", at(360))),
    pace=curve((0, 135), (120, 70), (360, 41)),
    band=Band(70, at(125), at(160)),
    now=at(70),
    foot="Rules: a made-up book. The local health authority has the last word.",
)
NIGHT = Plot(
    title="walk-in",
    scale="C",
    readings=curve(*((float(m), 3 + (4 if 300 < m < 420 else 0)) for m in range(0, 720, 5))),
    limits=(LimitLine(5, "limit"),),
    spans=(Span(at(300), at(420), "beyond"), Span(at(600), at(660), "unknown")),
    marks=False,
)


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
@pytest.mark.parametrize("plot", [COOLING, NIGHT], ids=["cooling", "night"])
def test_equal_plots_are_equal_files(plot: Plot, kind: Kind) -> None:
    assert drawn(plot, kind) == drawn(plot, kind)


def words(svg: bytes) -> list[str]:
    texts = ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")
    return ["".join(each.itertext()).strip() for each in texts]


def test_a_cooling_plot_names_its_limits_deadlines_forecast_and_pace() -> None:
    said = words(drawn(COOLING, "svg"))
    for wanted in (
        "fish stock, B12", "from 135 °F", "first 70 °F", "by 16:05", "by 20:05", "pace to keep",
        "70 °F expected", "readings", "now", COOLING.foot,
    ):  # fmt: skip
        assert wanted in said


def test_a_forecast_without_an_end_says_or_never() -> None:
    endless = Plot("x", "F", COOLING.readings, COOLING.limits, band=Band(70, at(125), None))
    assert "70 °F expected, or never" in words(drawn(endless, "svg"))


def test_a_unit_plot_marks_what_was_beyond_and_what_is_not_known() -> None:
    said = words(drawn(NIGHT, "svg"))
    assert {"beyond the limit", "no readings", "limit 5 °C"} <= set(said)


def test_the_picture_is_not_blank_and_the_page_holds_its_text() -> None:
    image = Image.open(BytesIO(drawn(COOLING, "png"))).convert("L")
    assert image.size == (1200, 675)
    assert sum(image.histogram()[:64]) > 2000
    (page,) = PdfReader(BytesIO(drawn(COOLING, "pdf"))).pages
    assert "fish stock" in page.extract_text()


def test_a_title_in_letters_the_font_lacks_makes_no_noise() -> None:
    odd = Plot("枝豆, cooked", "F", COOLING.readings, COOLING.limits)
    assert drawn(odd, "png").startswith(b"\x89PNG")


def test_the_sketch_puts_readings_on_their_rows() -> None:
    lines = sketched(COOLING)
    assert lines[0].startswith("   168 °F o")
    limit = next(line for line in lines if line.startswith("    70 °F"))
    assert "V" in limit
    assert "-----" in limit
    assert lines[-2].split() == ["14:05", "20:05"]
    readings = sum(line[10:].count("o") for line in lines[:-2])
    assert readings == 3


def test_a_sketch_of_a_night_tells_the_days() -> None:
    longer = Plot("walk-in", "F", curve((0, 38), (1500, 39)), ())
    assert sketched(longer)[-2].split() == ["Mon", "14:05", "Tue", "15:05"]


def test_nothing_read_is_nothing_sketched() -> None:
    assert sketched(Plot("x", "F", Curve((), ()), (LimitLine(41, "limit"),))) == []
