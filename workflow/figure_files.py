"""Files of figures: SVG and PNG, kept small, with title and description inside."""

from __future__ import annotations

import base64
import hashlib
import re
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree
from xml.sax.saxutils import escape

from matplotlib.figure import Figure
from PIL import Image
from PIL.PngImagePlugin import PngInfo

PIXELS_PER_INCH = 200
_COLOURS = 256
_COLOURS_INSIDE = 128  # of a picture in an SVG, which base64 makes a third longer
_REFINEMENTS = 3  # of the palette: without them the ends of a colour bar run together
_SVG = "{http://www.w3.org/2000/svg}"
_ROOT = re.compile(r"<svg\b[^>]*>")
_LINES = re.compile(r'(?<=\bd=")[^"]+')
_LONG = re.compile(r"-?\d+\.\d{4,}")
_EMBEDDED = re.compile(r"data:image/png;base64,([A-Za-z0-9+/=\s]+)")


def write_svg(figure: Figure, path: str | Path, title: str, description: str) -> None:
    """Write a figure as SVG; title and description are its first children and its name.

    Pictures in it are packed as `write_png` packs a figure.
    """
    drawn = BytesIO()
    figure.savefig(drawn, format="svg", dpi=PIXELS_PER_INCH, metadata={"Date": None})
    text = _EMBEDDED.sub(_packed_again, drawn.getvalue().decode("utf-8"))
    text = _LINES.sub(lambda line: _LONG.sub(_thousandths, line[0]), text)
    # Ids of their own, so that several figures can stand in one page.
    key = hashlib.sha256(f"{title}\n{description}".encode()).hexdigest()[:8]
    ids = (f"title-{key}", f"desc-{key}")
    named = (
        f'\n <title id="{ids[0]}">{escape(title)}</title>'
        f'\n <desc id="{ids[1]}">{escape(description)}</desc>'
    )

    def with_words(root: re.Match[str]) -> str:
        return f'{root[0][:-1]} role="img" aria-labelledby="{ids[0]} {ids[1]}">{named}'

    Path(path).write_text(_ROOT.sub(with_words, text, count=1), encoding="utf-8")


def write_png(figure: Figure, path: str | Path, title: str, description: str) -> None:
    """Write a figure as PNG of at most 256 colours, with title and description as text chunks."""
    drawn = BytesIO()
    figure.savefig(drawn, format="png", dpi=PIXELS_PER_INCH)
    words = PngInfo()
    words.add_itxt("Title", title)
    words.add_itxt("Description", description)
    dots = (PIXELS_PER_INCH, PIXELS_PER_INCH)
    _reduced(Image.open(drawn)).save(path, "png", optimize=True, pnginfo=words, dpi=dots)


def read_words(path: str | Path) -> tuple[str, str]:
    """Title and description that a figure's file carries.

    Raises
    ------
    ValueError
        If it carries none.
    """
    if Path(path).suffix == ".png":
        with Image.open(path) as picture:
            found = [picture.info.get(name) for name in ("Title", "Description")]
    else:
        root = ElementTree.parse(path).getroot()
        found = [root.findtext(f"{_SVG}{name}") for name in ("title", "desc")]
    if not all(found):
        raise ValueError(f"{path}: has no title or no description; draw it again")
    return str(found[0]), str(found[1])


def _thousandths(number: re.Match[str]) -> str:
    """A place to 0.001 of a point, 0.35 µm on paper: the rest only makes files long."""
    return f"{float(number[0]):.3f}".rstrip("0").rstrip(".")


def _packed_again(match: re.Match[str]) -> str:
    picture = Image.open(BytesIO(base64.b64decode(match[1])))
    packed = BytesIO()
    _reduced(picture, _COLOURS_INSIDE).save(packed, "png", optimize=True)
    return f"data:image/png;base64,{base64.b64encode(packed.getvalue()).decode('ascii')}"


def _reduced(picture: Image.Image, colours: int = _COLOURS) -> Image.Image:
    """The picture with a palette of its own, fitted to its colours; pure white stays white."""
    if picture.mode == "RGBA" and picture.getchannel("A").getextrema() != (255, 255):
        return picture.quantize(colours, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    opaque = picture.convert("RGB")
    return opaque.quantize(
        colours, Image.Quantize.MEDIANCUT, kmeans=_REFINEMENTS, dither=Image.Dither.NONE
    )
