"""Events of an XML document, with what makes XML dangerous refused: entities, document types, deep nesting."""

from typing import Protocol
from xml.parsers import expat

from candidacy.foundation.errors import Code
from candidacy.reading.flow import MAX_DEPTH
from candidacy.reading.report_bytes import refuse


class Listener(Protocol):
    """What takes the events; names are the namespace, a blank and the local name."""

    def start(self, name: str, attributes: dict[str, str]) -> None: ...

    def end(self, name: str) -> None: ...

    def data(self, text: str) -> None: ...


def parse(content: bytes | str, listener: Listener, name: str) -> None:
    """Send the events of a document to a listener.

    Raises
    ------
    ReportError
        E104 not well-formed (cut off, for one), E106 it declares a document type or entities, E107 nested too deeply.
    """
    depth = 0

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > MAX_DEPTH:
            raise refuse(
                Code.TOO_DEEP, "the document is nested too deeply", name, next_step=f"at most {MAX_DEPTH}"
            )
        listener.start(tag, attributes)

    def end(tag: str) -> None:
        nonlocal depth
        depth -= 1
        listener.end(tag)

    def declares(*_: object) -> None:
        raise refuse(
            Code.ALIAS,
            "the document declares a document type or entities",
            name,
            next_step="send it without a DOCTYPE",
        )

    parser = expat.ParserCreate(
        namespace_separator=" ", encoding="utf-8" if isinstance(content, str) else None
    )
    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = listener.data
    parser.StartDoctypeDeclHandler = declares
    parser.EntityDeclHandler = declares
    try:
        parser.Parse(content.encode("utf-8", "replace") if isinstance(content, str) else content, True)
    except expat.ExpatError as error:
        raise refuse(Code.SYNTAX, "not well-formed XML", name, str(error)) from error
    except (LookupError, ValueError) as error:
        raise refuse(
            Code.NOT_TEXT, "the document is in a code that is not known", name, str(error)
        ) from error
