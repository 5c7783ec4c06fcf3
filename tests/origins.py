"""What a reader sees of the project: its words, colours and colour maps, read in the sources.

Templates and scripts of pages, style sheets and the modules that draw or write them. What is filled
in when a page is made reads … here.
"""

import ast
import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

WORKFLOW = Path("workflow")
PAGES = sorted(WORKFLOW.glob("report/*.j2"))
SCRIPTS = sorted(WORKFLOW.glob("report/*.js"))
STYLES = sorted(WORKFLOW.glob("report/*.css"))
MODULES = sorted(p for p in WORKFLOW.rglob("*.py") if "scripts" not in p.parts)

HOLE = "…"
_NAMED = {"h1", "h2", "h3", "h4", "th", "caption", "button", "label", "legend", "summary"}
_NAMED |= {"option", "dt", "a", "figcaption", "title"}
_ATTRIBUTES = {"aria-label", "placeholder", "title", "alt", "label"}
_VOID = {"img", "input", "br", "col", "link", "meta"}


def _words(text):
    """A text in one line, its holes marked; empty if nothing else is in it."""
    plain = re.sub(r"\s+", " ", unescape(text)).strip()
    plain = re.sub(rf"{HOLE}(\s*{HOLE})+", HOLE, plain)
    return plain if re.search(r"[A-Za-zµ]{2}", plain) else ""


class _Named(HTMLParser):
    """Texts of headings, table heads, controls and links, and names for readers of screens."""

    def __init__(self):
        super().__init__()
        self.found, self.open = set(), []

    def handle_starttag(self, tag, attrs):
        self.found |= {_words(value or "") for name, value in attrs if name in _ATTRIBUTES}
        if tag in _NAMED:
            self.open.append((tag, []))

    def handle_endtag(self, tag):
        if self.open and self.open[-1][0] == tag:
            text = _words("".join(self.open.pop()[1]))
            self.found.add(text)

    def handle_data(self, data):
        for _, parts in self.open:
            parts.append(data)


def _of_page(path):
    text = path.read_text(encoding="utf-8")
    quoted = {
        _words(word)
        for call in re.findall(r"{{(.*?)}}", text, re.S)
        for word in re.findall(r'"([^"{}<>]*)"', call)
    }
    text = re.sub(r"{#.*?#}|{%.*?%}", "", text, flags=re.S)
    text = re.sub(r"{{.*?}}", HOLE, text, flags=re.S)
    text = re.sub(r"<(style|script)\b.*?</\1>", "", text, flags=re.S)
    parser = _Named()
    parser.feed(text)
    return parser.found | {word for word in quoted if word[:1].isupper()}


def _of_script(path):
    """Strings that begin like a label and hold a word."""
    text = re.sub(r"^\s*//.*$", "", path.read_text(encoding="utf-8"), flags=re.M)
    strings = re.findall(r'"((?:[^"\\\n])*)"|`((?:[^`\\])*)`', text)
    plain = {_words(re.sub(r"\$\{[^}]*\}", HOLE, one or other)) for one, other in strings}
    return {words for words in plain if re.match(r"[A-Z][a-z]+\b(?!-)", words)}


# Calls that write on figures and pages, keywords that name what is drawn, and names under which
# texts are kept until then.
_CALLS = {
    "set_xlabel",
    "set_ylabel",
    "set_title",
    "suptitle",
    "supxlabel",
    "supylabel",
    "set_label",
    "text",
    "annotate",
    "put_text",
    "legend",
    "figtext",
    "Table",
}
_KEYWORDS = {"label", "title", "xlabel", "ylabel", "caption", "head"}
_KEPT = re.compile(
    r"(caption|heads?|title|columns|ylabel|xlabel|label|_?([A-Z]+_)*"
    r"(LABELS?|TITLES?|HEADS?|HEADINGS?|CONTENTS|CHAPTERS|SECTIONS))$"
)


def _joined(node):
    """A constant or f-string as text with holes; None for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(p.value if isinstance(p, ast.Constant) else HOLE for p in node.values)
    return None


def _strings(node):
    """Texts in an expression: one, or those of a list, of the values of a mapping, of a choice."""
    text = _joined(node)
    if text is not None:
        return [text]
    parts = {
        ast.List: ("elts",),
        ast.Tuple: ("elts",),
        ast.Dict: ("values",),
        ast.IfExp: ("body", "orelse"),
        ast.BinOp: ("left", "right"),
        ast.Starred: ("value",),
    }.get(type(node), ())
    found = [getattr(node, part) for part in parts]
    inside = [one for part in found for one in (part if isinstance(part, list) else [part])]
    return [text for part in inside for text in _strings(part)]


def _shown(node):
    """Expressions in a call or an assignment that end up before a reader."""
    if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        names = [getattr(target, "id", "") for target in targets]
        return [node.value] if any(map(_KEPT.match, names)) else []
    if not isinstance(node, ast.Call):
        return []
    called = getattr(node.func, "attr", getattr(node.func, "id", ""))
    if called == "Told":
        return [node.args[1]]
    own = node.args if called in _CALLS else []
    return [*own, *(k.value for k in node.keywords if k.arg in _KEYWORDS)]


def _of_module(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {_words(t) for node in ast.walk(tree) for part in _shown(node) for t in _strings(part)}


def draws(path):
    """Whether a module draws figures or writes pages."""
    text = path.read_text(encoding="utf-8")
    drawn = r"new_figure|matplotlib|pyvista|import .*\bpage\b|\bTable\(|Told\("
    return bool(re.search(drawn, text))


_READERS = {".j2": _of_page, ".js": _of_script, ".py": _of_module}
SOURCES = [*PAGES, *SCRIPTS, *filter(draws, MODULES)]


def texts(sources=SOURCES):
    """Every text, and the file it stands in first."""
    return {
        words: path.name
        for path in reversed(sources)
        for words in _READERS[path.suffix](path)
        if words
    }


def colours():
    """Colours by number, and by name in modules that draw."""
    found = {}
    for path in [*PAGES, *SCRIPTS, *STYLES, *MODULES]:
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"(href|xlink:href)=\"#\w+\"|#chart\b", "", text)
        for colour in re.findall(r"#(?:[0-9A-Fa-f]{6}|[0-9A-Fa-f]{3})\b(?!-)", text):
            found.setdefault(colour.lower(), path.name)
        if path.suffix == ".py" and draws(path):
            for name in re.findall(r"colou?r[s]?\w*=\"([a-z]+\d?)\"", text):
                found.setdefault(name, path.name)
    return {colour: name for colour, name in found.items() if colour != "none"}


def colour_maps():
    """Colour maps by their name in cmcrameri, matplotlib or plotly."""
    found = {}
    for path in [*SCRIPTS, *MODULES]:
        text = path.read_text(encoding="utf-8")
        for name in re.findall(r"\b(?:cm|cmc)\.([a-z]\w+)|colorscale: \"(\w+)\"", text):
            found.setdefault("".join(name), path.name)
    return found


def layouts():
    """Pages, and modules that draw figures: each has a layout."""
    pages = {p.name for p in PAGES if "<!DOCTYPE" in p.read_text(encoding="utf-8")}
    figures = {p.stem for p in MODULES if "new_figure(" in p.read_text(encoding="utf-8")}
    return pages | figures - {"figures"}
