"""Labels to send, and a reader of PWG raster that knows nothing of the writer.

PWG 5102.4-2012, 4.3 (page header) and 4.4 (rows).
"""

import random
import struct

from PIL import Image

SIZE_MM = (50.8, 50.8)
DOTS = 406  # of 2 in at 203 dpi


def labels(number: int, side: int = DOTS) -> list[Image.Image]:
    """Pictures without any order in them: what is shifted, scaled or mixed up does not match."""
    chance = random.Random(number)
    stride = (side + 7) // 8
    return [
        Image.frombytes("1", (side, side), chance.randbytes(stride * side)) for _ in range(number)
    ]


def pages(octets: bytes) -> list[Image.Image]:
    """The pages of a PWG raster file, 1-bit, 0 black."""
    assert octets[:4] == b"RaS2"
    at, found = 4, []
    while at < len(octets):
        head = octets[at : at + 1796]
        at += 1796
        assert head[:10] == b"PwgRaster\0"
        assert struct.unpack_from(">II", head, 276) == (203, 203)
        width, height = struct.unpack_from(">II", head, 372)
        _, bits, stride, _, space = struct.unpack_from(">IIIII", head, 384)
        assert (bits, space) in {(1, 3), (8, 18)}
        size = bits // 8 or 1
        rows = bytearray()
        while len(rows) < stride * height:
            repeat = octets[at] + 1
            at += 1
            row = bytearray()
            while len(row) < stride:
                control = octets[at]
                at += 1
                if control < 128:
                    row += octets[at : at + size] * (control + 1)
                    at += size
                else:
                    count = (257 - control) * size
                    row += octets[at : at + count]
                    at += count
            assert len(row) == stride
            rows += row * repeat
        if bits == 1:
            found.append(Image.frombytes("1", (width, height), bytes(rows), "raw", "1;I"))
        else:
            grey = Image.frombytes("L", (width, height), bytes(rows))
            assert set(grey.tobytes()) <= {0, 255}
            found.append(grey.point(lambda dot: dot, "1"))
    return found


def dots(images: list[Image.Image]) -> list[tuple[tuple[int, int], bytes]]:
    """What two pictures have to have in common to print the same."""
    return [(image.size, image.tobytes()) for image in images]
