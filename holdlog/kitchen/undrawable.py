"""Labels that cannot be drawn at all: among many, they must not keep the others back."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from holdlog.core.errors import Mistake
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.printers import Device, spoken
from holdlog.kitchen.printing import Pages, Wanted, filled, form_for, look_at
from holdlog.labels import layout, sheet, template


def undrawable(
    kitchen: Kitchen,
    codes: Sequence[str],
    wanted: Wanted,
    device: Device | None = None,
    pages: Pages | None = None,
) -> Mapping[str, Mistake]:
    """Those of ``codes`` whose label cannot be set on its template, with the reason of each: a
    name in letters that labels cannot set yet, a purpose that the template refuses.
    """
    if pages is not None:
        form, dpi = form_for(sheet.find(pages.sheet), wanted.template), sheet.DPI
    else:
        wanted = filled(wanted, device)
        form, dpi = template.find(wanted.template), wanted.dpi
    with kitchen.db.reading() as conn:
        words = spoken(kitchen, conn)
    found: dict[str, Mistake] = {}
    for each in look_at(kitchen, codes, tag=wanted.tag):
        for twin in (False, True)[: 1 + wanted.twin]:
            label = replace(each.label, twin=twin)
            try:
                layout.lay_out(form, dpi, label, words.words, words.fonts)
            except Mistake as error:
                found.setdefault(each.label.code, error)
    return found
