"""What a label survives: the share of damaged labels on which each of the two symbols is read.

Run: python -m benchmarks damage. Everything is seeded, so that two runs print the same table.
Damage is simulated and seen by one software reader (zxing-cpp): it ranks designs, it does not
promise what a scanner reads in a kitchen. With N labels a line, differences below about 15 points
are noise.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import cos, pi, sin
from random import Random

import zxingcpp
from PIL import Image, ImageDraw, ImageFilter

DPI = 203
SCALE = 2  # camera pixels a printer dot
N = 40
SEED = 20_260_601

MM = DPI * SCALE / 25.4  # camera pixels a millimetre
_FORMATS = (zxingcpp.BarcodeFormat.Code128, zxingcpp.BarcodeFormat.QRCode)

Harm = Callable[[Image.Image, Random], Image.Image]


@dataclass(frozen=True, slots=True)
class Damage:
    """Something that happens to a label. ``printer``: to its dots, before it is on paper."""

    name: str
    harm: Harm
    printer: bool = False


def dead_dots(count: int) -> Harm:
    """Dots of the print head that no longer heat: white stripes along the feed."""

    def harm(dots: Image.Image, chance: Random) -> Image.Image:
        for x in chance.sample(range(dots.width), count):
            dots.paste(1, (x, 0, x + 1, dots.height))
        return dots

    return harm


def lost_lines(count: int) -> Harm:
    """Lines that the head missed while the paper went on: white stripes across the feed."""

    def harm(dots: Image.Image, chance: Random) -> Image.Image:
        for y in chance.sample(range(dots.height), count):
            dots.paste(1, (0, y, dots.width, y + 1))
        return dots

    return harm


def blur(sigma_mm: float) -> Harm:
    """Out of focus, or under a film of water."""
    return lambda paper, _: paper.filter(ImageFilter.GaussianBlur(sigma_mm * MM))


def fade(lost: float) -> Harm:
    """Print that has lost that share of its contrast, as direct thermal paper does with age."""
    return lambda paper, _: paper.point([round(255 - (255 - v) * (1 - lost)) for v in range(256)])


def spots(count: int, mm: float) -> Harm:
    """Grease: round spots anywhere, half of them dark, half of them wiped white."""

    def harm(paper: Image.Image, chance: Random) -> Image.Image:
        draw, r = ImageDraw.Draw(paper), mm * MM / 2
        for n in range(count):
            x, y = chance.uniform(0, paper.width), chance.uniform(0, paper.height)
            draw.ellipse((x - r, y - r, x + r, y + r), fill=40 if n % 2 else 245)
        return paper

    return harm


def scratches(count: int, mm: float) -> Harm:
    """White scratches of that width, 10 to 40 mm long, at any angle."""

    def harm(paper: Image.Image, chance: Random) -> Image.Image:
        draw = ImageDraw.Draw(paper)
        for _ in range(count):
            x, y = chance.uniform(0, paper.width), chance.uniform(0, paper.height)
            angle, half = chance.uniform(0, pi), chance.uniform(10, 40) * MM / 2
            along = cos(angle) * half, sin(angle) * half
            ends = (x - along[0], y - along[1], x + along[0], y + along[1])
            draw.line(ends, fill=245, width=round(mm * MM))
        return paper

    return harm


def torn(share: float) -> Harm:
    """That share of the label gone at one of its four edges."""

    def harm(paper: Image.Image, chance: Random) -> Image.Image:
        gone = (
            (0, 0, round(paper.width * share), paper.height),
            (round(paper.width * (1 - share)), 0, paper.width, paper.height),
            (0, 0, paper.width, round(paper.height * share)),
            (0, round(paper.height * (1 - share)), paper.width, paper.height),
        )
        paper.paste(200, chance.choice(gone))
        return paper

    return harm


NONE = Damage("none", lambda paper, _: paper)
ALL = (
    NONE,
    *(Damage(f"blur, sigma {mm:.2f} mm", blur(mm)) for mm in (0.10, 0.15, 0.20, 0.25)),
    *(Damage(f"contrast lost {lost:.0%}", fade(lost)) for lost in (0.8, 0.9, 0.95)),
    *(Damage(f"{n} grease spots of 3 mm", spots(n, 3)) for n in (5, 20, 40)),
    *(Damage(f"{n} dead head dots", dead_dots(n), printer=True) for n in (2, 5, 10)),
    *(Damage(f"{n} lost lines", lost_lines(n), printer=True) for n in (2, 10, 40)),
    *(Damage(f"{n} scratches of 0.5 mm", scratches(n, 0.5)) for n in (5, 10, 20)),
    *(Damage(f"torn off {share:.0%}", torn(share)) for share in (0.1, 0.2)),
)


@dataclass(frozen=True, slots=True)
class Seen:
    """What was read from one picture: every text, by the symbol it came from."""

    bars: frozenset[str]
    qr: frozenset[str]


@dataclass(slots=True)
class Count:
    """Of how many labels each symbol gave the true code, and how many texts were another.

    ``either`` is counted as a till does it: any text that checks as a container code counts.
    ``wrong`` are texts that are not the code; ``accepted`` those of them that check all the same.
    """

    labels: int = 0
    bars: int = 0
    qr: int = 0
    either: int = 0
    wrong: int = 0
    accepted: int = 0

    def add(self, code: str, seen: Seen, checks: Callable[[str], bool]) -> None:
        """Count one picture of the label of ``code``."""
        texts = seen.bars | seen.qr
        believed = {text for text in texts if checks(text)}
        self.labels += 1
        self.bars += code in seen.bars
        self.qr += code in seen.qr
        self.either += code in believed
        self.wrong += len(texts - {code})
        self.accepted += len(believed - {code})


def photograph(dots: Image.Image, damage: Damage, chance: Random) -> Image.Image:
    """A printed label, damaged, as a camera sees it: slightly soft and with some noise."""
    printed = damage.harm(dots.copy(), chance) if damage.printer else dots
    size = (printed.width * SCALE, printed.height * SCALE)
    paper = printed.convert("L").resize(size, Image.Resampling.NEAREST)
    if not damage.printer:
        paper = damage.harm(paper, chance)
    desk = Image.new("L", (size[0] + 40, size[1] + 40), 255)
    desk.paste(paper, (20, 20))
    noise = Image.frombytes("L", desk.size, chance.randbytes(desk.width * desk.height))
    return Image.blend(desk.filter(ImageFilter.GaussianBlur(0.5)), noise, 0.03)


def scan(picture: Image.Image) -> Seen:
    """What the reader finds, whatever it is."""
    found = zxingcpp.read_barcodes(picture, formats=_FORMATS)  # type: ignore[arg-type]
    by_kind = [
        frozenset(each.text for each in found if (each.format == _FORMATS[0]) == bars)
        for bars in (True, False)
    ]
    return Seen(*by_kind)


def labels(count: int, seed: int) -> Iterator[tuple[str, Image.Image]]:
    """Codes and their labels of 2 x 2 inches, as dots."""
    from benchmarks.label import TEMPLATE, a_label
    from holdlog.core import codes
    from holdlog.labels import press, template

    pick, two_by_two = Random(seed), template.load(TEMPLATE)
    for number in range(1, count + 1):
        code = codes.new_code(pick.choice)
        yield code, press.render(two_by_two, DPI, a_label(code, number)).image


def measure(damage: Damage, count: int, seed: int, *, turned: bool = False) -> Count:
    """Damage ``count`` labels and count what can be read. ``turned``: bars across the feed."""
    from holdlog.core import codes

    counted = Count()
    for number, (code, dots) in enumerate(labels(count, seed)):
        fed = dots.transpose(Image.Transpose.ROTATE_90) if turned else dots
        chance = Random(f"{damage.name} {seed} {number}")
        counted.add(code, scan(photograph(fed, damage, chance)), codes.is_code)
    return counted


def main() -> None:
    """Print the table."""
    print(f"2 x 2 inch label at {DPI} dpi, {N} labels a line, % of labels read\n")
    print(f"{'':28}{'upright':^24}{'turned':^24}")
    print(f"{'damage':28}" + f"{'bars':>8}{'QR':>8}{'either':>8}" * 2)
    total, under = Count(), []
    for damage in ALL:
        line = f"{damage.name:28}"
        for turned in (False, True):
            seen = measure(damage, N, SEED, turned=turned)
            for read in (seen.bars, seen.qr, seen.either):
                line += f"{100 * read / N:8.0f}"
            total.wrong += seen.wrong
            total.accepted += seen.accepted
            total.labels += seen.labels
            if seen.either < max(seen.bars, seen.qr):
                under.append(damage.name)
        print(line)
    print(
        f"\nBoth together under one alone: {', '.join(under) or 'never'}. "
        f"Of {total.labels} pictures, {total.wrong} texts were read wrong; "
        f"{total.accepted} of them passed the check character."
    )


if __name__ == "__main__":
    main()
