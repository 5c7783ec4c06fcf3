"""The readable parts of a sheet: cells with their labels, paragraphs, captions, descriptions."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

_TEXTS = {"p", "li", "dt", "dd", "figcaption", "caption", "th", "td", "h1", "h2", "label", "option"}
_UNREAD = {"style", "script"}


@dataclass
class Block:
    """A piece of text and where it stands.

    Attributes
    ----------
    section
        ``id`` of the section.
    kind
        Tag, or ``alt`` of a picture's description.
    number
        Which of its kind it is in its section, from 0 on.
    caption, row, column
        Of a cell: caption of its table, head of its row and of its column.
    figure
        ``id`` of the figure it belongs to.
    """

    section: str
    kind: str
    number: int = 0
    caption: str = ""
    row: str = ""
    column: str = ""
    figure: str = ""
    pieces: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Text with single blanks."""
        return " ".join("".join(self.pieces).split())


class Blocks(HTMLParser):
    """All blocks of a page, in reading order; text outside any block is kept as one too."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.blocks: list[Block] = []
        self._section = self._figure = ""
        self._open: list[Block] = []
        self._skipped = ""
        self._caption = ""
        self._head: list[str] = []
        self._row: list[Block] = []
        self._in_head = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {key: value or "" for key, value in attrs}
        if tag in _UNREAD:
            self._skipped = tag
        if tag in {"header", "footer", "nav"}:
            self._section = tag
        if tag == "section":
            self._section = given["id"]
        if tag == "figure":
            self._figure = given["id"]
        if tag == "img":
            self._add("alt").pieces.append(given["alt"])
        if tag == "thead":
            self._in_head, self._head = True, []
        if tag == "tr":
            self._row = []
        if tag in _TEXTS:
            block = self._add(tag)
            self._open.append(block)
            if tag in {"th", "td"}:
                self._row.append(block)

    def handle_endtag(self, tag: str) -> None:
        if tag == self._skipped:
            self._skipped = ""
        if tag == "figure":
            self._figure = ""
        if tag == "caption":
            self._caption = self._open[-1].text
        if tag == "thead":
            self._in_head = False
        if tag == "tr" and self._in_head:
            self._head = [cell.text for cell in self._row]
        elif tag == "tr":
            for cell, column in zip(self._row, self._head, strict=True):
                cell.caption, cell.row, cell.column = self._caption, self._row[0].text, column
        if self._open and tag == self._open[-1].kind:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        if self._skipped or not data.strip():
            if self._open and not self._skipped:
                self._open[-1].pieces.append(data)
            return
        if not self._open:
            self._add("loose").pieces.append(data)
        else:
            self._open[-1].pieces.append(data)

    def _add(self, kind: str) -> Block:
        number = sum(b.kind == kind and b.section == self._section for b in self.blocks)
        block = Block(self._section, kind, number, figure=self._figure)
        self.blocks.append(block)
        return block
