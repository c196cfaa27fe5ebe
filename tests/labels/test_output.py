"""PNG and PDF: the same dots, at their true size."""

from io import BytesIO

import pypdfium2  # type: ignore[import-untyped]
import pytest
from PIL import Image
from pypdf import PdfReader

from holdlog.core import codes
from holdlog.labels import output, press
from holdlog.labels.template import Template
from tests.labels.samples import CODE, RESOLUTIONS, a_label, scan


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_a_png_holds_the_same_dots_and_its_resolution(two_by_two: Template, dpi: int) -> None:
    image = press.render(two_by_two, dpi, a_label()).image
    back = Image.open(BytesIO(output.png_bytes(image, dpi)))
    assert back.mode == "1"
    assert back.tobytes() == image.tobytes()
    assert back.info["dpi"] == pytest.approx((dpi, dpi), abs=0.02)  # PNG counts dots per metre
    assert scan(back) == {"bars": CODE, "qr": CODE}


@pytest.mark.parametrize("dpi", RESOLUTIONS)
def test_a_pdf_page_is_two_inches_square_with_the_same_dots(two_by_two: Template, dpi: int) -> None:
    image = press.render(two_by_two, dpi, a_label()).image
    made = output.pdf_bytes([image], dpi)
    page = PdfReader(BytesIO(made)).pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == (144.0, 144.0)  # 1/72 in
    drawn = pypdfium2.PdfDocument(made)[0].render(scale=dpi / 72).to_pil().convert("1")
    assert drawn.size == image.size
    assert drawn.tobytes() == image.tobytes()
    assert scan(drawn) == {"bars": CODE, "qr": CODE}


def test_a_batch_is_one_page_a_container_in_order(two_by_two: Template) -> None:
    bodies = ["H7K39QX", "J2M4N6P", "K3N5P7R"]
    batch = [body + codes.check_character(body) for body in bodies]
    images = [
        press.render(two_by_two, 203, a_label(code=code, number=i, count=3)).image
        for i, code in enumerate(batch, 1)
    ]
    document = pypdfium2.PdfDocument(output.pdf_bytes(images, 203))
    seen = [scan(page.render(scale=203 / 72).to_pil())["qr"] for page in document]
    assert seen == batch


def test_equal_labels_give_equal_files(two_by_two: Template) -> None:
    image = press.render(two_by_two, 203, a_label()).image
    assert output.pdf_bytes([image], 203) == output.pdf_bytes([image.copy()], 203)
    assert output.png_bytes(image, 203) == output.png_bytes(image.copy(), 203)
    assert b"Date" not in output.pdf_bytes([image], 203)
