"""Messages of the Internet Printing Protocol, as octets.

RFC 8010, 3: version, operation or status, a number that ties answer to question, groups of
attributes, an end, and after it the document. What arrives is taken for hostile: every length is
checked against what is there, nesting and count have a limit, and whatever is wrong is one
``Fault``. What was not asked for is read over.
"""

import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from holdlog.core.errors import Fault

# Operations: RFC 8011, 5.4.15.
PRINT_JOB = 0x0002
GET_JOB_ATTRIBUTES = 0x0009
GET_PRINTER_ATTRIBUTES = 0x000B

# Groups: RFC 8010, 3.5.1.
OPERATION, JOB, END, PRINTER, UNSUPPORTED = 0x01, 0x02, 0x03, 0x04, 0x05
_LAST_DELIMITER = 0x0F

# Values: RFC 8010, 3.5.2.
_LAST_OUT_OF_BAND = 0x1F
INTEGER, BOOLEAN, ENUM = 0x21, 0x22, 0x23
RESOLUTION, RANGE, COLLECTION = 0x32, 0x33, 0x34
TEXT_IN_LANGUAGE, NAME_IN_LANGUAGE, END_COLLECTION = 0x35, 0x36, 0x37
TEXT, NAME, KEYWORD, URI, CHARSET, LANGUAGE, MIME, MEMBER = (
    0x41, 0x42, 0x44, 0x45, 0x47, 0x48, 0x49, 0x4A,
)  # fmt: skip
_FIRST_STRING = 0x40

_VERSION = 2, 0
_PER_CM = 4  # units of a resolution: RFC 8010, 3.9

MOST_OCTETS = 1 << 20
"""The longest answer that is read."""
_MOST_VALUES, _MOST_GROUPS = 20_000, 1_000
_DEEPEST = 8


@dataclass(frozen=True, slots=True)
class Resolution:
    """Dots per inch across and along the feed."""

    across: int
    along: int


@dataclass(frozen=True, slots=True)
class Range:
    """Whole numbers from ``least`` to ``most``, both included."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Collection:
    """Named values that belong together."""

    members: Mapping[str, "Sequence[Value]"]


Value = int | bool | str | bytes | Resolution | Range | Collection | None
Attributes = Mapping[str, Sequence[Value]]


@dataclass(frozen=True, slots=True)
class Answer:
    """``status`` (RFC 8011, appendix B) and the groups, each with its tag, in their order."""

    status: int
    number: int
    groups: tuple[tuple[int, Attributes], ...]

    def first(self, group: int) -> Attributes:
        """The attributes of the first group of that kind; empty where there is none."""
        return next((found for tag, found in self.groups if tag == group), {})


# --- questions -------------------------------------------------------------------------------

Given = tuple[str, int, Sequence[str | int] | bytes]
"""An attribute to send: name, tag, values; octets stand for a value that is already made up."""


def question(
    operation: int, number: int, uri: str, given: Iterable[Given], job: bytes = b""
) -> bytes:
    """The octets of a request to the printer ``uri``, without its document.

    ``given`` are further attributes of the operation, in the order that RFC 8011 asks for;
    ``job`` is the group of job attributes as ``attributes`` makes it.
    """
    out = bytearray(struct.pack(">BBHIB", *_VERSION, operation, number, OPERATION))
    out += attribute("attributes-charset", CHARSET, ["utf-8"])
    out += attribute("attributes-natural-language", LANGUAGE, ["en"])
    out += attribute("printer-uri", URI, [uri])
    for name, tag, values in given:
        out += attribute(name, tag, values)
    if job:
        out.append(JOB)
        out += job
    out.append(END)
    return bytes(out)


def attribute(name: str, tag: int, values: Sequence[str | int] | bytes) -> bytes:
    """One attribute with all its values; only the first carries the name."""
    if isinstance(values, bytes):
        return _tagged(tag, name, b"") + values
    out = b""
    for position, value in enumerate(values):
        content = value.encode() if isinstance(value, str) else struct.pack(">i", value)
        out += _tagged(tag, "" if position else name, content)
    return out


def media_size(width: int, length: int) -> bytes:
    """The values of ``media-col`` for a size in hundredths of a millimetre: RFC 8010, 3.1.6."""
    size = (
        _tagged(MEMBER, "", b"x-dimension")
        + _tagged(INTEGER, "", struct.pack(">i", width))
        + _tagged(MEMBER, "", b"y-dimension")
        + _tagged(INTEGER, "", struct.pack(">i", length))
        + _tagged(END_COLLECTION, "", b"")
    )
    opened = _tagged(MEMBER, "", b"media-size") + _tagged(COLLECTION, "", b"")
    return opened + size + _tagged(END_COLLECTION, "", b"")


def _tagged(tag: int, name: str, content: bytes) -> bytes:
    label = name.encode()
    return struct.pack(">BH", tag, len(label)) + label + struct.pack(">H", len(content)) + content


# --- answers ---------------------------------------------------------------------------------


def answer(octets: bytes) -> Answer:
    """Read what a printer answered; ``Fault`` for anything that is not an IPP message."""
    if len(octets) > MOST_OCTETS:
        raise _not_ipp("it is too long")
    return _Reading(octets).answer()


def _not_ipp(why: str) -> Fault:
    return Fault(
        "printer-answer",
        f"the printer's answer cannot be read: {why}",
        "Is this the address of a printer?",
    )


class _Reading:
    """One walk over the octets, first to last."""

    def __init__(self, octets: bytes) -> None:
        self._octets, self._at, self._values = octets, 0, 0

    def _take(self, count: int) -> bytes:
        end = self._at + count
        if end > len(self._octets):
            raise _not_ipp("it breaks off")
        taken = self._octets[self._at : end]
        self._at = end
        return taken

    def _length(self) -> int:
        return int.from_bytes(self._take(2), "big")

    def answer(self) -> Answer:
        major, _, status, number = struct.unpack(">BBHI", self._take(8))
        if major not in {1, 2}:
            raise _not_ipp(f"version {major} of the protocol is unknown")
        groups: list[tuple[int, dict[str, list[Value]]]] = []
        values: list[Value] | None = None
        while (tag := self._take(1)[0]) != END:
            if tag <= _LAST_DELIMITER:
                if len(groups) == _MOST_GROUPS:
                    raise _not_ipp("it holds too many groups")
                groups.append((tag, {}))
                values = None
                continue
            name = self._text(self._take(self._length()))
            if name and groups:
                values = []
                # A name may stand once in a group (RFC 8010, 3.1.3). Some printers describe
                # themselves and then once more by their defaults: the first is meant.
                groups[-1][1].setdefault(name, values)
            if values is None:
                raise _not_ipp("a value has no name, or stands outside of all groups")
            values.append(self._value(tag, 0))
        return Answer(status, number, tuple(groups))

    def _value(self, tag: int, depth: int) -> Value:
        self._values += 1
        if self._values > _MOST_VALUES:
            raise _not_ipp("it holds too many values")
        content = self._take(self._length())
        if tag == COLLECTION:
            return self._collection(depth + 1)
        if tag in {MEMBER, END_COLLECTION}:
            raise _not_ipp("a collection ends before it began")
        return _simple(tag, content)

    def _collection(self, depth: int) -> Collection:
        if depth > _DEEPEST:
            raise _not_ipp("its collections are nested too deeply")
        members: dict[str, list[Value]] = {}
        name = ""
        while True:
            tag = self._take(1)[0]
            if self._take(self._length()):
                raise _not_ipp("a member of a collection has two names")
            if tag == END_COLLECTION:
                self._take(self._length())
                return Collection(members)
            if tag == MEMBER:
                name = self._text(self._take(self._length()))
                continue
            if not name or tag <= _LAST_DELIMITER:
                raise _not_ipp("a collection is broken")
            members.setdefault(name, []).append(self._value(tag, depth))

    @staticmethod
    def _text(octets: bytes) -> str:
        return octets.decode("utf-8", "replace")


def _simple(tag: int, content: bytes) -> Value:  # noqa: PLR0911  (one for each kind)
    if tag <= _LAST_OUT_OF_BAND:
        return None
    try:
        if tag in {INTEGER, ENUM}:
            return int(struct.unpack(">i", content)[0])
        if tag == BOOLEAN:
            return bool(struct.unpack(">B", content)[0])
        if tag == RESOLUTION:
            across, along, units = struct.unpack(">iib", content)
            scale = 2.54 if units == _PER_CM else 1
            return Resolution(round(across * scale), round(along * scale))
        if tag == RANGE:
            return Range(*struct.unpack(">ii", content))
    except struct.error:
        raise _not_ipp(f"a value of kind {tag:#04x} has {len(content)} octets") from None
    if tag in {TEXT_IN_LANGUAGE, NAME_IN_LANGUAGE}:
        return _in_language(content)
    return content.decode("utf-8", "replace") if tag >= _FIRST_STRING else content


def _in_language(content: bytes) -> str:
    """The text of a value that carries its language before it: RFC 8010, 3.9."""
    language = int.from_bytes(content[:2], "big")
    rest = content[2 + language :]
    length = int.from_bytes(rest[:2], "big")
    if len(rest) != 2 + length:
        raise _not_ipp("a text and its language do not fit their lengths")
    return rest[2:].decode("utf-8", "replace")
