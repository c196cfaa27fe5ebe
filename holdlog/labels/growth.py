"""Labels on continuous stock: as long as what they have to say, within the template's limits."""

from dataclasses import replace

from holdlog.labels.content import Part
from holdlog.labels.faces import Face
from holdlog.labels.fields import INSET_MM, Field, Template
from holdlog.labels.fitting import fit, room
from holdlog.labels.geometry import MM_PER_INCH, Box, Dots, dots, to_dots
from holdlog.labels.typefaces import Fonts

_PLENTY_MM = 1000.0


def grown(
    template: Template, face: Face, parts: dict[str, Part], dpi: int, fonts: Fonts = ()
) -> Template:
    """``template`` with each field that ``grows`` as tall as its text needs at its largest size,
    what stands below it moved down, and the label made longer, up to ``longest``.

    Fields are served from the top; where the length runs out, text is fitted and cut as on any
    other label.
    """
    if template.longest is None:
        return template
    names = [field.name for field in sorted(template.on(face), key=_top) if field.grows]
    for name in names:
        field = next(each for each in template.fields if each.name == name)
        said = tuple(parts[key] for key in field.show if key in parts)
        spare = template.longest - template.height if template.longest is not None else 0
        more = min(spare, _lacking(field, said, dpi, fonts)) if said else 0
        if more > 0:
            template = _stretched(template, field, more)
    return template


def _top(field: Field) -> float:
    return field.box.y


def _lacking(field: Field, said: tuple[Part, ...], dpi: int, fonts: Fonts) -> float:
    """How many mm ``field`` is too low to hold ``said`` at its largest size."""
    box = to_dots(field.box, dpi)
    inset = dots(INSET_MM, dpi) if field.kind == "box" else 0
    tall = Dots(box.x, box.y, box.width - 2 * inset, dots(_PLENTY_MM, dpi))
    fitted = fit(said, room(field, tall, dpi, fonts))
    # A dot more, since both edges of a box are rounded.
    return (fitted.height + 2 * inset + 1 - box.height) * MM_PER_INCH / dpi


def _stretched(template: Template, field: Field, more: float) -> Template:
    fields = tuple(_moved(other, field, more) for other in template.fields)
    return replace(template, height=template.height + more, fields=fields)


def _moved(other: Field, field: Field, more: float) -> Field:
    box = other.box
    if other.name == field.name:
        return replace(other, box=Box(box.x, box.y, box.width, box.height + more))
    if box.y >= field.box.bottom:
        return replace(other, box=Box(box.x, box.y + more, box.width, box.height))
    return other
