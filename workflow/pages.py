"""Self-contained pages: templates of `workflow/report`, with pictures and files inside."""

from __future__ import annotations

import base64
import re
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup, escape

_TEMPLATES = Path(__file__).with_name("report")
# An amount in both units, as force_text, couple_text and sheet_amounts write it.
_NUMBER = r"[−-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?"
_AMOUNT = re.compile(rf"({_NUMBER}) (N·mm|N/mm|N|kPa)\s\(({_NUMBER}) (gf·mm|gf/mm|gf|gf/cm²)\)")
_MEDIA = {".svg": "image/svg+xml", ".png": "image/png", ".pdf": "application/pdf"}


def page(template: str, **values: Any) -> str:
    """A page as text; every value is escaped, and a name that the template lacks is an error."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["unbroken"] = _unbroken
    environment.filters["amounts"] = amounts
    return environment.get_template(template).render(**values)


def _unbroken(text: str) -> str:
    """Numbers kept on one line with their units."""
    return re.sub(r"(?<=\d) (?=%|mm|MPa|h\b)", "\u00a0", text)


def amounts(text: str) -> Markup:
    """Escaped text whose amounts in both units can be shown in one of them."""
    shown = (
        '<span class="si">\\1\u00a0\\2</span><span class="pair"> (</span>'
        '<span class="gf">\\3\u00a0\\4</span><span class="pair">)</span>'
    )
    return Markup(_AMOUNT.sub(shown, str(escape(text))))


def data_uri(path: str | Path) -> str:
    """A picture or document as an address that holds it.

    Raises
    ------
    ValueError
        If the file is of a kind that pages do not hold.
    """
    kind = _MEDIA.get(Path(path).suffix)
    if kind is None:
        raise ValueError(f"{path}: a page holds files of {', '.join(_MEDIA)}; write one of them")
    return f"data:{kind};base64,{base64.b64encode(Path(path).read_bytes()).decode('ascii')}"
