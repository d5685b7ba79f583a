"""The text of what a browser printed. The general reader takes seconds for the half million single signs of such a file."""

import re
from typing import Any

# What chooses a font (1), shows glyphs by their four-digit codes (2), or does anything else that may show text (3).
_PIECE = re.compile(
    rb"/(\S+) \S+ Tf\b|<((?:[0-9A-Fa-f]{4})*)> Tj\b|(?:^|\s)(TJ|Tj|'|\"|Do)(?=\s|$)", re.MULTILINE
)
_PAIRS = re.compile(rb"begin(bfchar|bfrange)(.*?)end\1", re.DOTALL)
_HEX = re.compile(rb"<([0-9A-Fa-f]+)>")


def _text_of(font: Any) -> dict[bytes, str]:
    """What each code of a font stands for, by the table that the file bears for whoever copies text."""
    found: dict[bytes, str] = {}
    for kind, body in _PAIRS.findall(font["/ToUnicode"].get_object().get_data()):
        codes = _HEX.findall(body)
        step = 2 if kind == b"bfchar" else 3
        for first, last, to in zip(
            codes[::step], codes[step - 2 :: step], codes[step - 1 :: step], strict=True
        ):
            start = bytes.fromhex(to.decode()).decode("utf-16-be")
            for number in range(int(first, 16), int(last, 16) + 1):
                sign = start[:-1] + chr(ord(start[-1]) + number - int(first, 16))
                found[b"%04X" % number] = sign
    return found


def printed_text(page: Any) -> str:
    """All text of a page in the order in which it was printed; spaces may lack.

    Raises
    ------
    AssertionError
        If the page shows anything in a way that is not read here.
    """
    tables = {name: _text_of(font.get_object()) for name, font in page["/Resources"]["/Font"].items()}
    table: dict[bytes, str] = {}
    text: list[str] = []
    for font, codes, other in _PIECE.findall(page.get_contents().get_data()):
        assert not other, f"{other!r} is not read"
        if font:
            table = tables[f"/{font.decode()}"]
        else:
            text += [table[codes[at : at + 4].upper()] for at in range(0, len(codes), 4)]
    return "".join(text)
