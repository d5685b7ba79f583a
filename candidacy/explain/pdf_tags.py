"""The structure of a PDF: which words are headings, paragraphs, lists and tables, in the order in which they are read.

Written as ISO 32000-1, 14.7 and 14.8 describe it: each piece of text is marked content of its page, and a tree of structure
elements names the pieces. Rules, frames and the foot of a page are artifacts, which a reader aloud passes over.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObjectReference
from reportlab.platypus import Paragraph, Table

_HEADERS = {"TH"}


class Element:
    """One structure element: its role (``H1``, ``P``, ``L``, ``Table``, …), and what is inside it in reading order."""

    def __init__(self, role: str, scope: str = "") -> None:
        self.role, self.scope = role, scope
        self.inside: list[Element | tuple[int, int]] = []

    def add(self, role: str, scope: str = "") -> "Element":
        """A new element at the end of this one."""
        made = Element(role, scope)
        self.inside.append(made)
        return made

    @property
    def drawn(self) -> bool:
        """Whether any text of its own is on a page."""
        return any(isinstance(part, tuple) for part in self.inside)


class Structure:
    """The structure of one document in the making."""

    def __init__(self) -> None:
        self.root = Element("Document")
        self._pages: dict[int, list[Element]] = {}

    @contextmanager
    def marked(self, canvas: Any, element: Element) -> Iterator[None]:
        """What is drawn inside is text of an element."""
        page = canvas.getPageNumber()
        found = self._pages.setdefault(page, [])
        element.inside.append((page, len(found)))
        with _content(canvas, f"/{element.role} <</MCID {len(found)}>> BDC"):
            yield
        found.append(element)

    def write(self, document: Any) -> None:
        """Put the tree into a PDF whose pages are complete."""
        root = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        root_ref = document.Reference(root)
        written: dict[int, PDFObjectReference] = {}
        root.dict["K"] = PDFArray([self._element(document, self.root, root_ref, written)])
        numbers: list[Any] = []
        for page, elements in sorted(self._pages.items()):
            numbers += [page - 1, PDFArray([written[id(element)] for element in elements])]
        root.dict["ParentTree"] = document.Reference(PDFDictionary({"Nums": PDFArray(numbers)}))
        root.dict["ParentTreeNextKey"] = max(self._pages, default=0)
        document.Catalog.StructTreeRoot = root
        document.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})

    def _element(
        self, document: Any, element: Element, parent: Any, written: dict[int, PDFObjectReference]
    ) -> PDFObjectReference:
        made = PDFDictionary({"Type": PDFName("StructElem"), "S": PDFName(element.role), "P": parent})
        reference = written[id(element)] = document.Reference(made)
        if element.scope:
            made.dict["A"] = PDFDictionary({"O": PDFName("Table"), "Scope": PDFName(element.scope)})
        parts = []
        for part in element.inside:
            if isinstance(part, Element):
                parts.append(self._element(document, part, reference, written))
            else:
                page, number = part
                parts.append(PDFDictionary({"Type": PDFName("MCR"), "MCID": number,
                                            "Pg": PDFObjectReference(f"Page{page}")}))  # fmt: skip
        made.dict["K"] = PDFArray(parts)
        return reference


def number_page(page: Any, number: int) -> None:
    """Say in a page which branch of the structure its marked content belongs to, and that this is the order of focus."""
    page.__NoDefault__ = [*page.__NoDefault__, "StructParents", "Tabs"]
    page.StructParents, page.Tabs = number - 1, PDFName("S")


def title_in_window(document: Any) -> None:
    """Have a viewer show the title, not the name of the file."""
    document.Catalog.ViewerPreferences = PDFDictionary({"DisplayDocTitle": "true"})


@contextmanager
def artifact(canvas: Any) -> Iterator[None]:
    """What is drawn inside says nothing."""
    with _content(canvas, "/Artifact BMC"):
        yield


@contextmanager
def _content(canvas: Any, begin: str) -> Iterator[None]:
    canvas._code.append(begin)
    yield
    canvas._code.append("EMC")


class TaggedParagraph(Paragraph):  # type: ignore[misc]
    """A paragraph that knows which element its words belong to; without one they are an artifact."""

    structure: Structure | None = None
    element: Element | None = None
    continued = False

    def belongs_to(self, structure: Structure, element: Element) -> None:
        self.structure, self.element = structure, element

    def split(self, width: float, height: float) -> list[Any]:
        parts: list[Any] = super().split(width, height)
        for place, part in enumerate(parts):
            if part is not self:
                part.structure, part.element = self.structure, self.element
                part.continued = self.continued or place > 0
        return parts

    def draw(self) -> None:
        element = self.element
        # the head of a table is drawn again on each page, and read once
        again = element is not None and element.role in _HEADERS and element.drawn and not self.continued
        if self.structure is None or element is None or again:
            with artifact(self.canv):
                super().draw()
        else:
            with self.structure.marked(self.canv, element):
                super().draw()


class TaggedTable(Table):  # type: ignore[misc]
    """A table whose rules and colours are artifacts; its cells are tagged by their paragraphs."""

    def _drawBkgrnd(self) -> None:
        with artifact(self.canv):
            super()._drawBkgrnd()

    def _drawLines(self) -> None:
        with artifact(self.canv):
            super()._drawLines()
