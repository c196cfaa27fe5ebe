"""The gallery is what people look at instead of printing: it has to show every label."""

from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from docs.label_gallery import contact_sheet, labels, write_gallery
from holdlog.labels import template
from tests.labels.samples import CODE, every_face


def test_a_sheet_holds_every_label_of_its_template() -> None:
    found = template.find("two-by-two")
    names = [name for name, _ in labels(found)]
    assert set(every_face()) < set(names)
    assert "prepared, en + es" in names
    seen = zxingcpp.read_barcodes(contact_sheet(found), formats=(zxingcpp.BarcodeFormat.QRCode,))  # type: ignore[arg-type]
    assert [code.text for code in seen] == [CODE] * len(names)


def test_a_sheet_of_a_template_that_is_no_more_is_taken_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Image.new("1", (1, 1)).save(tmp_path / "three-by-three.png")
    monkeypatch.setattr(template, "names", lambda: ("one-by-one",))
    write_gallery(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["one-by-one.png"]
