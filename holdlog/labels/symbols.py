"""The two symbols of a container code: Code 128 and QR, as modules, before any dots.

Both stand on every label, because the same grease, scratch or dead print-head dot harms them
differently. python-barcode's pattern is read back before it is drawn: version 0.16.1 turns a
code that starts with ``99`` in set C into another code, with a checksum that fits.
"""

from functools import lru_cache

from holdlog.core.errors import Fault

BARS_QUIET = 10  # modules left and right of Code 128 (ISO/IEC 15417)
QR_QUIET = 4  # modules on all four sides (ISO/IEC 18004)
QR_SIDE = 21  # modules of a version 1 symbol (ISO/IEC 18004)

_PATTERN = 11  # modules a Code 128 symbol character
_STOP = 106
_CHECK_MODULUS = 103
_DIGITS = b"01" + bytes(254)  # module values 0 and 1 as the digits
# Symbol values of Code 128 that switch the set; the values mean this in both A and B, and in C.
_START = {103: "A", 104: "B", 105: "C"}


def bars_width(characters: int) -> int:
    """The most modules a code of so many letters and digits can take, without quiet zones.

    Set B throughout; set C only makes it shorter. Start, check and stop (13 modules) included.
    """
    return _PATTERN * (characters + 2) + 13


@lru_cache(maxsize=1024)
def bars(code: str) -> str:
    """The Code 128 modules of ``code``: ``1`` a bar, ``0`` a gap, without quiet zones.

    Raises ``Fault("wrong-bars")`` if the pattern does not read back as ``code``.
    """
    from barcode.codex import Code128  # noqa: PLC0415
    from barcode.errors import BarcodeError  # noqa: PLC0415

    try:
        # A fresh object a code: build() leaves its character set behind for the next call.
        modules = str(Code128(code).build()[0])
    except BarcodeError as error:
        raise Fault("wrong-bars", f"No barcode can hold {code!r}: {error}.") from error
    seen = read_bars(modules)
    if seen != code:
        raise Fault(
            "wrong-bars",
            f"The barcode for {code} would scan as {seen or 'nothing'}; it was not printed.",
            "Start the code with a letter.",
        )
    return modules


def read_bars(modules: str) -> str | None:
    """What a scanner makes of Code 128 ``modules``; ``None`` if it is no valid symbol.

    Walks the published pattern table; knows sets A, B, C and their switches, not SHIFT and FNC.
    """
    values = _values(modules)
    if values is None or len(values) < 3 or values[0] not in _START:  # noqa: PLR2004
        return None
    *data, check = values[1:]
    if (values[0] + sum(i * value for i, value in enumerate(data, 1))) % _CHECK_MODULUS != check:
        return None
    current, text = _START[values[0]], ""
    for value in data:
        switch = {99: "C", 100: "B", 101: "A"}.get(value)
        if current == "C" and value <= 99:  # noqa: PLR2004
            text += f"{value:02d}"
        elif switch and switch != current:
            current = switch
        elif current == "C" or value > 95:  # noqa: PLR2004
            return None
        elif value < 64:  # noqa: PLR2004
            text += chr(value + 32)
        else:
            text += chr(value - 64 if current == "A" else value + 32)
    return text


def _values(modules: str) -> list[int] | None:
    table, end = _table()
    if not modules.endswith(end):
        return None
    body = modules[: -len(end)]
    if len(body) % _PATTERN:
        return None
    found = [table.get(body[i : i + _PATTERN]) for i in range(0, len(body), _PATTERN)]
    return None if None in found else [value for value in found if value is not None]


@lru_cache(maxsize=1)
def _table() -> tuple[dict[str, int], str]:
    """The value of each pattern, and the modules that end a symbol: stop and last bar."""
    from barcode.charsets.code128 import CODES, STOP  # noqa: PLC0415

    return {pattern: value for value, pattern in enumerate(CODES) if value < _STOP}, STOP + "11"


def qr(code: str) -> tuple[str, ...]:
    """The QR modules of ``code``, row by row, ``1`` dark, ``0`` light, without quiet zone.

    Version 1, level Q (a quarter may be lost), up to 16 upper-case letters and digits. The mask
    is fixed: any of the eight is valid, and trying them all takes five times as long.
    Raises ``Fault("wrong-qr")`` for what does not fit.
    """
    if len(code) == len(_NOTHING) and code[0].isalpha() and _QR_SIGNS.issuperset(code):
        return _rows(_by_parts(code))
    return _rows(_made(code))


# Everything between the text and the modules of a QR is linear over single bits: the text's own
# bits, the check words (a Reed-Solomon code), their places, and a mask that is added at the end.
# So with version, level, mask and length fixed, a symbol is that of one text, with a pattern
# added (exclusive or) for each bit in which the text differs. segno makes the patterns, each at
# its first use; adding them takes a thirtieth of the time of a whole symbol.

_ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"  # ISO/IEC 18004, table 5
_QR_SIGNS = frozenset(_ALPHANUMERIC)
_NOTHING = "00000000"  # all its bits are zero; as long as a container code


def _by_parts(code: str) -> int:
    modules = _pattern(0, 0)
    for at in range(0, len(code), 2):
        modules ^= _pair(at, code[at : at + 2])
    return modules


@lru_cache(maxsize=4096)
def _pair(at: int, signs: str) -> int:
    """What two signs at ``at`` change: they are written as one number of eleven bits."""
    first, second = map(_ALPHANUMERIC.index, signs)
    value, changed = first * len(_ALPHANUMERIC) + second, 0
    for bit in range(value.bit_length()):
        if value >> bit & 1:
            changed ^= _pattern(at, 1 << bit) ^ _pattern(0, 0)
    return changed


@lru_cache(maxsize=64)
def _pattern(at: int, value: int) -> int:
    """The modules of ``_NOTHING`` with the two signs at ``at`` replaced by those of ``value``."""
    first, second = divmod(value, len(_ALPHANUMERIC))
    signs = _ALPHANUMERIC[first] + _ALPHANUMERIC[second]
    return _made(_NOTHING[:at] + signs + _NOTHING[at + 2 :], mode="alphanumeric")


def _made(code: str, mode: str | None = None) -> int:
    """The modules of ``code`` by segno, as one number, the top left module its highest bit."""
    import segno  # noqa: PLC0415

    try:
        made = segno.make_qr(code, version=1, error="q", mask=3, boost_error=False, mode=mode)
    except ValueError as error:
        raise Fault("wrong-qr", f"No QR symbol of this size can hold {code!r}.") from error
    return int(b"".join(made.matrix).translate(_DIGITS), 2)


def _rows(modules: int) -> tuple[str, ...]:
    text = f"{modules:0{QR_SIDE * QR_SIDE}b}"
    return tuple(text[at : at + QR_SIDE] for at in range(0, len(text), QR_SIDE))
