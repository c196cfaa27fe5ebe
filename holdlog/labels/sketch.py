"""The text of a template file while it is being put together."""

from dataclasses import dataclass, field

from holdlog.labels.faces import FACES
from holdlog.labels.fields import FLOOR_MM, INSET_MM

Place = tuple[float, float, float, float]
"""x, y, width and height in mm, from the top left corner."""

_HEAD = """\
# All sizes in millimetres from the top left corner; "largest" and "least" are the height of a
# capital letter. No text may go below 1.5. A field without "on" is on every face.
"""


@dataclass(slots=True)
class Sketch:
    """A label of ``width`` x ``height`` mm with an empty ``margin``, and its tables so far.

    ``beside_qr`` is how wide the column left of the QR is, ``qr_top`` where the white around
    the QR begins, ``foot`` where the rows that are stacked from the bottom begin.
    """

    width: float
    height: float
    margin: float
    beside_qr: float = 0.0
    qr_top: float = 0.0
    foot: float = 0.0
    leaves_out: tuple[str, ...] = ()
    refuses: tuple[tuple[str, str], ...] = ()
    shown: set[str] = field(default_factory=set)
    tables: list[str] = field(default_factory=list)

    @property
    def inner(self) -> float:
        """The width between the margins."""
        return self.width - 2 * self.margin

    def put(self, name: str, kind: str, place: Place, **keys: object) -> None:
        """One table with its ``keys``, as they are."""
        if keys.get("on") == FACES:
            del keys["on"]
        # Edges are rounded, not sizes, so that boxes which meet still meet.
        x, y = round(place[0], 2), round(place[1], 2)
        right, bottom = round(place[0] + place[2], 2), round(place[1] + place[3], 2)
        size = {"width": round(right - x, 2), "height": round(bottom - y, 2)}
        told = {"kind": kind, **keys, "x": x, "y": y, **size}
        lines = [f"{key} = {_value(value)}" for key, value in told.items()]
        self.tables.append("\n".join([f"[field.{name}]", *lines]))

    def text(
        self,
        name: str,
        show: str,
        on: tuple[str, ...],
        place: Place,
        *,
        bold: str = "",
        keep: str = "",
        lines: int = 1,
        largest: float | None = None,
        **keys: object,
    ) -> None:
        """A field of text, or of another ``kind``, with its parts as words between spaces.

        Without ``largest`` its letters may be as large as its height allows for ``lines``.
        """
        kind = str(keys.pop("kind", "text"))
        high = place[3] - (0 if kind == "text" else 2 * INSET_MM)
        most = largest or high / (1.5 + 1.45 * (lines - 1))
        more: dict[str, object] = {"show": tuple(show.split()), "on": on}
        if bold:
            more["bold"] = tuple(bold.split())
        if keep:
            more["keep"] = tuple(keep.split())
        more["largest"] = max(FLOOR_MM, round(most - 0.05, 1))
        self.shown |= set(show.split())
        self.put(name, kind, place, **more, lines=lines, **keys)

    def toml(self) -> str:
        """The whole file."""
        head = [
            _HEAD,
            f'title = "{self.width:g} x {self.height:g} mm"',
            f"width = {self.width:g}",
            f"height = {self.height:g}",
        ]
        if self.leaves_out:
            head.append(f"leaves_out = {_value(self.leaves_out)}")
        if self.refuses:
            head += ["", "[refuses]", *(f'{face} = "{other}"' for face, other in self.refuses)]
        return "\n\n".join(["\n".join(head), *self.tables]) + "\n"


def _value(value: object) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple):
        return f"[{', '.join(_value(each) for each in value)}]"
    return f"{value:g}" if isinstance(value, float) else str(value)
