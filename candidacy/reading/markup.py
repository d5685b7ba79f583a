"""Text out of HTML, read by its structure: what is struck, hidden or a script is no part of the report.

Elements and their meaning after the HTML Living Standard (WHATWG): del and s (4.5, 4.7), hidden (6.1), tables (4.9).
"""

import re
from html.parser import HTMLParser

from candidacy.reading.flow import Flow

_TAGS = (
    "html|head|body|div|p|br|hr|b|i|u|s|del|ins|strike|em|strong|span|font|center|pre|h[1-6]|ul|ol|li|dl|dt|dd|"
    "table|thead|tbody|tr|td|th|section|article|script|style"
)
_TAG = re.compile(rf"<\s*/?\s*(?:{_TAGS})(?:\s[^<>]*)?/?>", re.IGNORECASE)
_START = re.compile(rf"\s*(?:<!doctype\s+html|<!--|<(?:{_TAGS})(?:\s[^<>]*)?/?>)", re.IGNORECASE)
_VOID = frozenset(
    ["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"]
)
_SILENT = frozenset(
    ["script", "style", "template", "noscript", "head", "title", "object", "iframe", "svg", "math"]
)
_STRUCK = frozenset(("del", "s", "strike"))
_BLOCKS = frozenset(
    [
        "p",
        "div",
        "section",
        "article",
        "header",
        "footer",
        "main",
        "aside",
        "ul",
        "ol",
        "dl",
        "dt",
        "dd",
        "li",
        "table",
        "thead",
        "tbody",
        "tfoot",
        "caption",
        "blockquote",
        "pre",
        "address",
        "form",
        "fieldset",
        "legend",
        "center",
    ]
)
_HEADINGS = frozenset(("h1", "h2", "h3", "h4", "h5", "h6"))
_CELLS = frozenset(("td", "th"))
_CLOSES = {
    "li": frozenset(("li", "p")), "td": frozenset(("td", "th", "p", "li", "ul", "ol")),
    "th": frozenset(("td", "th", "p", "li", "ul", "ol")),
    "tr": frozenset(("tr", "td", "th", "p", "li", "ul", "ol")), "dt": frozenset(("dt", "dd", "p")),
    "dd": frozenset(("dt", "dd", "p")), "option": frozenset(("option",)),
    **dict.fromkeys(("p", "div", "ul", "ol", "table", *_HEADINGS), frozenset(("p",))),
}  # fmt: skip
"""What is open and ends without a word where one of these begins."""
_HIDES = re.compile(r"display\s*:\s*none|visibility\s*:\s*(?:hidden|collapse)|line-through", re.IGNORECASE)
_RULE = re.compile(r"([^{}]{1,300})\{([^{}]*)\}")
_CLASS = re.compile(r"[.#]([\w-]+)")


def is_markup(text: str) -> bool:
    """Say whether a text is HTML or has HTML in it."""
    return _TAG.search(text) is not None


def markup_text(text: str) -> tuple[str, list[str]]:
    """Give the text that a reader of the page would see, and the words struck out or hidden in it."""
    page = _Page(keep_lines=_START.match(text) is None)
    for rule in _RULE.finditer(text) if "<style" in text.lower() else ():
        if _HIDES.search(rule[2]):
            page.hiding.update(_CLASS.findall(rule[1]))
    page.feed(text)
    page.close()
    return page.flow.text(), page.flow.left_out


class _Page(HTMLParser):
    def __init__(self, *, keep_lines: bool) -> None:
        super().__init__(convert_charrefs=True)
        self.flow = Flow()
        self.hiding: set[str] = set()
        self._keep = int(keep_lines)
        self._open: list[tuple[str, str]] = []
        self._quiet: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _VOID:
            self._void(tag, dict(attrs))
            return
        while self._open and self._open[-1][0] in _CLOSES.get(tag, ()):
            self._pop()
        how = self._how(tag, dict(attrs))
        self._open.append((tag, how))
        if how:
            self._quiet.append(how)
        if self._quiet:
            return
        self._keep += tag == "pre"
        if tag == "tr":
            self.flow.open_row()
        elif tag in _CELLS:
            if not any(t == "tr" for t, _ in self._open):  # a cell outside a row is a block
                self._open[-1] = ("div", "")
                self.flow.end_block()
            else:
                self.flow.open_cell()
        elif tag in _HEADINGS:
            self.flow.end_block()
            self.flow.end_line()
        elif tag in _BLOCKS:
            self.flow.end_block()
            self.flow.add("- " if tag == "li" else "")

    def _void(self, tag: str, attrs: dict[str, str | None]) -> None:
        if self._quiet:
            return
        if tag in ("br", "hr"):
            self.flow.end_line()
        elif tag == "input" and (attrs.get("type") or "").lower() in ("checkbox", "radio"):
            self.flow.add("[x] " if "checked" in attrs else "[ ] ")

    def _how(self, tag: str, attrs: dict[str, str | None]) -> str:
        """Why an element is not read: struck or hidden, which is told, or no text at all."""
        if tag in _SILENT or (tag == "option" and "selected" not in attrs):
            return "silent"
        names = {*(attrs.get("class") or "").split(), attrs.get("id") or ""}
        hidden = (
            "hidden" in attrs or _HIDES.search(attrs.get("style") or "") or not names.isdisjoint(self.hiding)
        )
        return "told" if tag in _STRUCK or hidden else ""

    def handle_endtag(self, tag: str) -> None:
        within = [t for t, _ in self._open]
        if tag not in within or (
            tag in _CELLS and "table" in within[len(within) - within[::-1].index(tag) :]
        ):
            return
        while self._pop() != tag:
            pass

    def _pop(self) -> str:
        tag, how = self._open.pop()
        if how:
            self._quiet.pop()
        if self._quiet or how:
            return tag
        self._keep -= tag == "pre"
        if tag == "tr":
            self.flow.close_row()
        elif tag in _CELLS:
            self.flow.close_cell()
        elif tag in _BLOCKS or tag in _HEADINGS:
            self.flow.end_block()
        return tag

    def handle_data(self, data: str) -> None:
        if self._quiet:
            if "silent" not in self._quiet:
                self.flow.leave_out(data)
        elif self._keep:
            for n, line in enumerate(data.replace("\r\n", "\n").replace("\r", "\n").split("\n")):
                if n:
                    self.flow.end_line()
                self.flow.add(line)
        else:
            self.flow.add(re.sub(r"[ \t\r\n\f]+", " ", data))
