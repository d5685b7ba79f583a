"""What kind of document a text is: an imaging report, a discography, a procedure note or a letter."""

from functools import cache
from typing import Literal, NamedTuple

from candidacy.foundation.errors import Code, Problem, ReportError
from candidacy.reading.notes.vocabulary import vocabulary

Kind = Literal["imaging", "discography", "procedure", "letter"]
KINDS: tuple[Kind, ...] = ("imaging", "discography", "procedure", "letter")
_OPENING = 200
"""A title is looked for in so many characters, not counting blank ones."""
_WITH_TITLE, _WITHOUT = 2, 4
"""Different words of the body that it takes beside a title, and without one."""


class Guess(NamedTuple):
    """A kind with the words that tell it; no kind where the text does not tell, ``among`` then what it could be."""

    kind: Kind | None
    why: str
    among: tuple[Kind, ...] = ()


@cache
def _phrases() -> dict[Kind, dict[str, list[str]]]:
    rows = vocabulary().data["kinds"]
    return {
        kind: {part: [_flat(p) for p in rows[kind][part]] for part in ("title", "body")} for kind in KINDS
    }


def _flat(text: str) -> str:
    """Small letters, one blank between words, hyphens as blanks."""
    return " ".join(text.lower().replace("-", " ").split())


def _stands(phrase: str, text: str) -> bool:
    """Say whether a phrase stands in a flat text as whole words."""
    at = text.find(phrase)
    while at >= 0:
        end = at + len(phrase)
        if not (text[at - 1 : at].isalnum() or text[end : end + 1].isalnum()):
            return True
        at = text.find(phrase, at + 1)
    return False


def kind_of(text: str) -> Guess:
    """Tell the kind of a document from its words; one that could be two kinds, or none, is left open.

    A discography is never read as imaging because a CT followed it, nor a letter as a discography because it tells
    of one: a letter's greeting decides first.
    """
    flat, opening = _flat(text), _flat(text.lstrip()[:_OPENING])
    found: dict[Kind, tuple[bool, list[str]]] = {}
    for kind, parts in _phrases().items():
        title = [p for p in parts["title"] if _stands(p, opening)]
        body = [p for p in parts["body"] if _stands(p, flat)]
        found[kind] = (bool(title), list(dict.fromkeys([*title, *body])))
    fits = [k for k in KINDS if len(found[k][1]) - found[k][0] >= (_WITH_TITLE if found[k][0] else _WITHOUT)]
    if "letter" in fits and found["letter"][0]:
        return _guess("letter", found)
    titled = [k for k in fits if found[k][0]]
    if "discography" in fits and found["discography"][0] and "procedure" in titled:
        titled.remove("procedure")
    if (
        "discography" in titled
        and "imaging" in titled
        and len(found["discography"][1]) > len(found["imaging"][1])
    ):
        titled.remove("imaging")
    if len(titled) == 1:
        return _guess(titled[0], found)
    if not titled and len(fits) == 1:
        return _guess(fits[0], found)
    several = titled or fits
    if several:
        return Guess(None, "its words fit " + " and ".join(several), tuple(several))
    return Guess(None, "its words fit none of " + ", ".join(KINDS))


def _guess(kind: Kind, found: dict[Kind, tuple[bool, list[str]]]) -> Guess:
    words = ", ".join(f'"{w}"' for w in found[kind][1][:4])
    return Guess(kind, f"found from the words {words}")


def settled(text: str, asked: str, name: str, default: Kind | None = None) -> Guess:
    """Give the kind that was asked for, or the one the text tells.

    Raises
    ------
    ReportError
        E401 if none was asked for and the text does not tell, though a text without
        the words of any kind is taken for ``default``.
    """
    if asked:
        return Guess(next(k for k in KINDS if k == asked), "as asked for")
    guess = kind_of(text)
    if guess.kind is None and default is not None and not guess.among:
        return Guess(default, f"{guess.why}; taken for {default}")
    if guess.kind is None:
        raise ReportError(
            [Problem(Code.BAD_REPORT, "the text does not tell what kind of document it is", name, found=guess.why,
                     expected=", ".join(KINDS), next_step="say it with --kind")]
        )  # fmt: skip
    return guess


def note_problems(text: str, name: str) -> tuple[Problem, ...]:
    """Give the reason why a note or letter is no imaging report; nothing for any other text."""
    kind = kind_of(text).kind
    if kind is None or kind == "imaging":
        return ()
    called = "referral letter" if kind == "letter" else f"{kind} note"
    step = f"read it by itself: candidacy read {called.split()[-1].upper()} --into CASE; --kind imaging reads all as reports"
    return (Problem(Code.BAD_REPORT, f"a {called}, no imaging report", name, next_step=step),)
