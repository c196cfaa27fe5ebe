"""Starting the program must not pay for labels that nobody prints."""

import subprocess
import sys


def test_neither_the_room_nor_its_plain_data_loads_a_picture_library() -> None:
    modules = "holdlog.labels, holdlog.labels.label, holdlog.labels.template, holdlog.labels.press"
    heavy = ("PIL", "segno", "barcode")
    code = f"import {modules}, sys; print([m for m in {heavy} if m in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
