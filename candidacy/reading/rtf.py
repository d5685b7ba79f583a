"""Text out of RTF: control words, groups and code pages after the Rich Text Format Specification 1.9.1 (Microsoft).

Struck, hidden and deleted text (``\\strike``, ``\\v``, ``\\deleted``) is no part of the report and is told.
"""

import codecs
import re

from candidacy.foundation.errors import Code
from candidacy.reading.flow import MAX_DEPTH, Flow
from candidacy.reading.report_bytes import refuse

_TOKEN = re.compile(
    rb"\\([A-Za-z]{1,32})(-?\d{1,10})? ?|\\'([0-9A-Fa-f]{2})|\\([^A-Za-z])|([{}])|[\r\n]+|([^\\{}\r\n]+)|(.)",
    re.DOTALL,
)
_APART = frozenset(
    b"fonttbl colortbl stylesheet listtable listoverridetable revtbl rsidtbl info generator pict object header footer "
    b"headerl headerr headerf footerl footerr footerf footnote annotation atnid atnauthor fldinst themedata colorschememapping "
    b"latentstyles datastore xmlnstbl filetbl bkmkstart bkmkend nonshppict shpinst mmathPr objdata pntext".split()
)
_MARKS = {
    b"tab": "\t", b"emdash": "—", b"endash": "–", b"bullet": "•", b"lquote": "‘", b"rquote": "’", b"ldblquote": "“",
    b"rdblquote": "”", b"emspace": " ", b"enspace": " ", b"qmspace": " ",
}  # fmt: skip
_LINES = frozenset((b"par", b"line", b"sect", b"page", b"column"))
_STRUCK = frozenset((b"strike", b"striked", b"v", b"deleted"))


class _State:
    __slots__ = ("apart", "skip", "struck")

    def __init__(self, apart: bool = False, skip: int = 1, struck: frozenset[bytes] = frozenset()) -> None:
        self.apart, self.skip, self.struck = apart, skip, struck


def rtf_text(raw: bytes, name: str) -> tuple[str, list[str]]:
    """Give the text of an RTF document, and the words struck, hidden or deleted in it.

    Raises
    ------
    ReportError
        E401 if the document ends inside a group, E107 if groups stand too deep inside one another.
    """
    return _Document(name).read(raw)


class _Document:
    def __init__(self, name: str) -> None:
        self.name = name
        self.flow = Flow()
        self.page = "cp1252"
        self.states: list[_State] = [_State()]
        self.pending = bytearray()
        self.fallback = 0
        self.cell = False

    def read(self, raw: bytes) -> tuple[str, list[str]]:
        for m in _TOKEN.finditer(raw):
            word, number, byte, symbol, brace, plain, _ = m.groups()
            if byte is not None:
                self._bytes(bytes((int(byte, 16),)))
            elif plain is not None:
                self._bytes(plain)
            else:
                self._flush()
                if brace == b"{":
                    self._group()
                elif brace == b"}":
                    if len(self.states) < 2:
                        break
                    self.states.pop()
                    self.fallback = 0
                    if len(self.states) == 1:
                        break  # the end of the document; what may follow is no part of it
                elif word == b"bin":
                    raise refuse(
                        Code.BAD_REPORT, "the RTF holds binary data", self.name, next_step="save it as text"
                    )
                elif word is not None:
                    self._word(word, None if number is None else int(number))
                elif symbol is not None:
                    self._symbol(symbol)
        self._flush()
        if len(self.states) > 1:
            raise refuse(
                Code.BAD_REPORT, "the RTF document is cut off", self.name, next_step="ask for the whole file"
            )
        return self.flow.text(), self.flow.left_out

    def _group(self) -> None:
        if len(self.states) > MAX_DEPTH:
            raise refuse(Code.TOO_DEEP, "the RTF document is nested too deeply", self.name)
        top = self.states[-1]
        self.states.append(_State(top.apart, top.skip, top.struck))

    def _bytes(self, some: bytes) -> None:
        if self.fallback:
            used = min(self.fallback, len(some))
            self.fallback -= used
            some = some[used:]
        self.pending += some

    def _flush(self) -> None:
        if self.pending:
            self._put(self.pending.decode(self.page, "replace"))
            self.pending.clear()

    def _put(self, text: str) -> None:
        top = self.states[-1]
        if top.apart:
            return
        if top.struck:
            self.flow.leave_out(text)
        else:
            self.flow.add(text)

    def _symbol(self, symbol: bytes) -> None:
        if symbol == b"*":
            self.states[-1].apart = True
        elif symbol in b"\\{}":
            self._put(symbol.decode())
        elif symbol == b"~":
            self._put(" ")
        elif symbol == b"_":
            self._put("-")
        elif symbol in b"\r\n":
            self._end()

    def _end(self) -> None:
        if not self.states[-1].apart:
            self.flow.end_line()

    def _word(self, word: bytes, number: int | None) -> None:
        top = self.states[-1]
        if word in _APART:
            top.apart = True
        elif word == b"ansicpg" and number:
            self.page = _known(f"cp{number}", self.name)
        elif word in (b"mac", b"pc", b"pca"):
            self.page = {b"mac": "mac_roman", b"pc": "cp437", b"pca": "cp850"}[word]
        elif word == b"uc":
            top.skip = max(0, min(number or 0, 8))
        elif word == b"u" and number is not None:
            code = number % 0x10000
            self._put("\ufffd" if 0xD800 <= code < 0xE000 else chr(code))
            self.fallback = top.skip
        elif word in _STRUCK:
            top.struck = top.struck - {word} if number == 0 else top.struck | {word}
        elif word == b"plain":
            top.struck = frozenset()
        elif word in _LINES:
            self._end()
        elif word == b"cell" and not top.apart:
            self.flow.add(" | ")
        elif word == b"row" and not top.apart:
            self.flow.end_block()
        elif word in _MARKS:
            self._put(_MARKS[word])


def _known(page: str, name: str) -> str:
    try:
        return codecs.lookup(page).name
    except LookupError:
        raise refuse(Code.NOT_TEXT, "the RTF is in a code page that is not known", name, page) from None
