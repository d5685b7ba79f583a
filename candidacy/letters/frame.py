"""The words that stand on every letter, and the words that may not: read from ``frame.yaml``."""

import re
import unicodedata
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from candidacy.foundation.visible import clean

LONGEST = 300
"""Signs of one free text of a record that a letter shows; what is longer is cut, and says so."""
# What no XML file may hold: halves of a character, and code points that are none.
_NO_CHARACTER = re.compile("[\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")


@cache
def frame() -> dict[str, Any]:
    """The content of the file of words."""
    found: dict[str, Any] = yaml.safe_load((files("candidacy.letters") / "frame.yaml").read_text("utf-8"))
    return found


def shown(text: str, most: int = LONGEST) -> str:
    """Foreign text as one line of visible signs, no longer than ``most``."""
    line = _NO_CHARACTER.sub("�", clean(" ".join(text.split(" "))))
    return line if len(line) <= most else line[:most].rsplit(" ", 1)[0] + frame()["cut"]


@cache
def _any_of(words: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(
        r"(?<!\w)(?:" + "|".join(re.escape(word).replace(r"\ ", "[ -]") for word in words) + r")(?!\w)",
        re.IGNORECASE,
    )


def words_of(name: str, text: str) -> list[str]:
    """The words of a list of the file (``forbidden``, ``factual``, ``numbers``) that a text says, as written there."""
    return _said(tuple(frame()[name]), text)


def _said(words: tuple[str, ...], text: str) -> list[str]:
    return list(dict.fromkeys(match.group().lower() for match in _any_of(words).finditer(_plain(text))))


def _plain(text: str) -> str:
    """A text as a reader takes it in: signs without width left out, wide and joined letters and every dash as the plain ones."""
    seen = "".join(
        sign for sign in unicodedata.normalize("NFKC", text) if unicodedata.category(sign) not in ("Cf", "Mn")
    )
    dashed = "".join("-" if unicodedata.category(sign) == "Pd" else sign for sign in seen)
    return " ".join(dashed.replace("-", " - ").replace("_", " ").split()).replace(" - ", "-")


def words_under(condition: str, text: str) -> list[str]:
    """The words of a text that belong to one standing alone."""
    return _said(tuple(frame()["only_under"][condition]), text)
