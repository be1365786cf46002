"""What every printed document shares: letters, lengths in words, bands on pages, safe writing.

Positions on a page are reportlab points, y up; `MM` turns millimetres of paper into points.
"""

from __future__ import annotations

import hashlib
import math
import os
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from functools import cache
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import BinaryIO, TypeVar

import msgspec
import segno
from reportlab import rl_config
from reportlab.lib.units import mm as MM
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from production.errors import DocumentError
from production.planning.plan import Plan

#: Where DejaVu Sans is looked for: Debian and Ubuntu, Fedora, Arch, and older layouts.
FONT_FOLDERS: tuple[Path, ...] = (
    Path("/usr/share/fonts/truetype/dejavu"),
    Path("/usr/share/fonts/dejavu-sans-fonts"),
    Path("/usr/share/fonts/TTF"),
    Path("/usr/share/fonts/dejavu"),
)

#: No letter on paper is smaller than this, in points.
LEAST_SIZE = 7.0

#: The symbol without its quiet zone; a phone reads 25 mm at arm's length (common practice, no
#: source).
QR_SYMBOL_MM = 26.0
QR_QUIET_MODULES = 4  # ISO/IEC 18004, quoted from memory

# Text armor for streams is for mail of the 1990s: it costs a quarter more bytes and is slow.
rl_config.useA85 = 0

Draw = Callable[[Canvas, float, float], None]
Target = str | os.PathLike[str] | BinaryIO
Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class Letters:
    """The names of the two registered fonts; `wide` says whether they go beyond Latin letters."""

    regular: str
    bold: str
    wide: bool


def letters() -> Letters:
    """DejaVu Sans if it is installed, else reportlab's own Vera; see `font_warning`."""
    return _registered(FONT_FOLDERS)


@cache
def _registered(folders: tuple[Path, ...]) -> Letters:
    for folder in folders:
        regular, bold = folder / "DejaVuSans.ttf", folder / "DejaVuSans-Bold.ttf"
        if regular.is_file() and bold.is_file():
            pdfmetrics.registerFont(TTFont("Sans", str(regular)))
            pdfmetrics.registerFont(TTFont("Sans-Bold", str(bold)))
            return Letters("Sans", "Sans-Bold", wide=True)
    pdfmetrics.registerFont(TTFont("Vera", "Vera.ttf"))
    pdfmetrics.registerFont(TTFont("Vera-Bold", "VeraBd.ttf"))
    return Letters("Vera", "Vera-Bold", wide=False)


def font_warning(texts: Iterable[str] = ()) -> str:
    """What may not show on paper, in words: a missing font, and the letters of `texts` that the
    font at hand lacks. Empty when everything prints."""
    sentences = []
    if not letters().wide:
        sentences.append(
            "The font DejaVu Sans was not found, so letters other than Western European ones may "
            "be missing on paper: install it (on Debian the package fonts-dejavu-core)."
        )
    font = pdfmetrics.getFont(letters().regular)
    assert isinstance(font, TTFont)  # both fonts that `letters` registers are TrueType
    known = font.face.charToGlyph
    lacking = {char for text in texts for char in clean(text) if ord(char) not in known}
    if lacking:
        sentences.append(f"These letters cannot be printed: {' '.join(sorted(lacking))}")
    return " ".join(sentences)


def clean(text: str) -> str:
    """One line, composed letters: fonts hold é far more often than e with a combining accent.
    No-break spaces stay, so that `wrapped` keeps what they join on one line."""
    return re.sub(r"[^\S\xa0]+", " ", unicodedata.normalize("NFC", text)).strip()


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    font = letters().bold if bold else letters().regular
    return pdfmetrics.stringWidth(text, font, size)


def shortened(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits the width with an ellipsis."""
    # A size that was chosen to fit may miss the width by a float's last digits.
    if text_width(text, size, bold=bold) <= width + 0.01:
        return text
    while text and text_width(text + "…", size, bold=bold) > width:
        text = text[:-1].rstrip()
    return text + "…"


def put_text(
    canvas: Canvas,
    x: float,
    y: float,
    text: str,
    size: float = 9.0,
    *,
    bold: bool = False,
    width: float = math.inf,
    least: float = LEAST_SIZE,
    align: str = "left",
) -> float:
    """Writes one line with its baseline at y and returns its width. Text wider than `width` is set
    smaller down to `least` points, then shortened. `align` is left, center or right of x."""
    text = clean(text)
    natural = text_width(text, size, bold=bold)
    if natural > width:
        size = max(min(least, size), size * width / natural)
        text = shortened(text, size, width, bold=bold)
    taken = text_width(text, size, bold=bold)
    canvas.setFont(letters().bold if bold else letters().regular, size)
    canvas.drawString(x - {"left": 0.0, "center": taken / 2, "right": taken}[align], y, text)
    return taken


def wrapped(
    text: str, size: float, width: float, most_lines: int | None = None, *, bold: bool = False
) -> list[str]:
    """The text in lines of at most `width`, broken at blanks; the last of `most_lines` lines is
    shortened with an ellipsis when there is more."""
    lines: list[str] = []
    for word in clean(text).split(" "):
        together = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(together, size, bold=bold) <= width:
            lines[-1] = together
        else:
            lines.append(word)
    if most_lines is not None and len(lines) > most_lines:
        rest = " ".join(lines[most_lines - 1 :])
        lines = [*lines[: most_lines - 1], rest]
    return [shortened(line, size, width, bold=bold) for line in lines]


def day_in_words(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B %Y}"


def counted(count: int, one: str, many: str | None = None) -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"


def found(things: Mapping[str, Found], code: str, what: str) -> Found:
    """The thing of that code; DocumentError when the plan names one that the snapshot lacks."""
    if code not in things:
        raise DocumentError(
            f"The plan names {what} '{code}', which is not in the run's snapshot: "
            "plan the run again before printing."
        )
    return things[code]


def plan_id(plan: Plan) -> str:
    """Eight hex digits that tell the paper of one plan from that of another."""
    return hashlib.sha256(msgspec.json.encode(plan, order="sorted")).hexdigest()[:8]


@dataclass(frozen=True, slots=True)
class Band:
    """A strip across the page, drawn from its left edge and top. `repeats` is drawn again above it
    where it opens a page; `with_next` keeps a heading off the foot of a page."""

    height: float
    draw: Draw
    repeats: Band | None = None
    with_next: bool = False


def paged(bands: Sequence[Band], first_room: float, room: float) -> list[list[Band]]:
    """Bands dealt out to pages, in order; `first_room` is the height free on the first page."""
    pages: list[list[Band]] = [[]]
    left = first_room
    for band, following in zip(bands, (*bands[1:], None), strict=True):
        wanted = band.height + (following.height if following and band.with_next else 0.0)
        if wanted > left and (pages[-1] or left < room):
            pages.append([])
            left = room
            if band.repeats:
                pages[-1].append(band.repeats)
                left -= band.repeats.height
        pages[-1].append(band)
        left -= band.height
    return pages


def draw_bands(canvas: Canvas, bands: Sequence[Band], left: float, top: float) -> None:
    for band in bands:
        band.draw(canvas, left, top)
        top -= band.height


def qr_edge(data: str) -> float:
    """How wide the square with its quiet zone is, in points."""
    return QR_SYMBOL_MM * MM + 2 * qr_quiet(data)


def qr_quiet(data: str) -> float:
    """How wide the quiet zone on one side is, in points."""
    return QR_QUIET_MODULES * QR_SYMBOL_MM * MM / len(_qr_matrix(data))


def draw_qr(canvas: Canvas, data: str, left: float, top: float) -> None:
    """Draws the code as one filled path, its quiet zone inside the square at (left, top)."""
    matrix = _qr_matrix(data)
    module = QR_SYMBOL_MM * MM / len(matrix)
    path = canvas.beginPath()
    for row, cells in enumerate(matrix, QR_QUIET_MODULES + 1):
        column = QR_QUIET_MODULES
        for dark, run in groupby(cells):
            length = len(list(run))
            if dark:
                path.rect(left + column * module, top - row * module, length * module, module)
            column += length
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


@cache
def _qr_matrix(data: str) -> tuple[bytearray, ...]:
    return tuple(segno.make(data, error="m", micro=False).matrix)


def tick_box(canvas: Canvas, left: float, bottom: float, edge: float = 3.2 * MM) -> None:
    canvas.setLineWidth(0.6)
    canvas.setStrokeGray(0)
    canvas.rect(left, bottom, edge, edge, stroke=1, fill=0)


def pdf(
    title: str, page_size: tuple[float, float], pages: Sequence[Callable[[Canvas], None]]
) -> bytes:
    """The document; the same pages give the same bytes."""
    content = BytesIO()
    canvas = Canvas(content, pagesize=page_size, invariant=1, lang="en")
    canvas.setTitle(title)
    canvas.setAuthor("Jacket Muster")
    for draw_page in pages:
        draw_page(canvas)
        canvas.showPage()
    canvas.save()
    return content.getvalue()


def save(target: Target, content: bytes) -> None:
    """Writes to an open binary file, or to a path by way of a file beside it, so that a failed
    write leaves the old document or none, never half of one."""
    if not isinstance(target, (str, os.PathLike)):
        target.write(content)
        return
    path = Path(target)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, path)
    except OSError:
        with suppress(FileNotFoundError):
            part.unlink()
        raise
