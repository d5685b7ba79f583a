"""What a letter says and then corrects: ``BMI 28. Correction: BMI 38.``, or takes back as a whole: a list, and then ``None taken``.

What stood before is not asserted: a value of the patient is no longer certain, and a medicine or treatment is shown as unread.
"""

import re

from candidacy.reading.letters.doubts import SentenceRead
from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.told import Told
from candidacy.reading.letters.words import words
from candidacy.reading.model import Span
from candidacy.reading.turns import is_weak, opens_inside, turn_in

_CORRECTED = "words behind it correct it"
_NOT_TAKEN = "the list is said not to be taken"
_ASK = "the medicines listed are said not to be taken, or not on the day: which of them are taken"
_WORD = re.compile(r"[a-z]+")
_UNCERTAIN = {"unknown": "uncertain_in_source"}
_LISTS = ("medicines", "surgeries", "injections", "treatments")


def corrected(text: str, rows: list[SentenceRead]) -> None:
    """Take back, before words that correct, what they speak of anew; what stands right before them, where they name nothing told."""
    for n, row in enumerate(rows):
        span = row.sentence.span
        turn = turn_in(text, *span) if row.sentence.skip != "heading" and (n or row.told) else None
        if turn is None:
            continue
        anew = {e for p in row.parts if p.start >= turn.end for e in _speaks_of(p)}
        if not anew and not any(c.isalnum() for c in text[turn.end : span.end]):
            anew = {e for p in rows[n + 1].parts for e in _speaks_of(p)} if n + 1 < len(rows) else set()
        told = [(k, i) for k in range(n + 1) for i, (s, t) in enumerate(rows[k].told)
                if s.start < turn.start and (t.said or t.entry)]  # fmt: skip
        meant = [(k, i) for k, i in told if anew & _tells(rows[k].told[i][1])]
        if not meant and is_weak(text, turn) and (anew or not _tells_of_before(text, row, turn)):
            continue
        near = n if opens_inside(text, span.start, turn.start) else max((k for k, _ in told), default=-1)
        for k, i in meant or [(k, i) for k, i in told if k == near]:
            _take_back(rows[k], i, anew if meant else set())


def _tells_of_before(text: str, row: SentenceRead, turn: Span) -> bool:
    """``Actually 38``, ``in fact stopped``: a number or an end without what it is of."""
    number = any(c.isdigit() for c in text[turn.end : row.sentence.span.end])
    return number or any(p.role("stops") for p in row.parts if p.start >= turn.end)


def not_taken(text: str, rows: list[SentenceRead]) -> None:
    """Take back a list of medicines of which the sentence below it says that none is taken; of the day alone it is asked about."""
    for n, row in enumerate(rows):
        said = _WORD.findall(text[row.sentence.span.start : row.sentence.span.end].lower())
        if row.sentence.section != "medicines" or row.sentence.skip or not _of_whole_list(said):
            continue
        listed = n
        while (
            listed and rows[listed - 1].sentence.section == "medicines" and not rows[listed - 1].sentence.skip
        ):
            listed -= 1
        if set(said).isdisjoint(words().data["whole_list"]["of_today"]):
            for before in rows[listed:n]:
                for i, (_, told) in enumerate(before.told):
                    if told.entry is not None and told.entry[0] == "medicines":
                        _take_back(before, i, set(), _NOT_TAKEN)
        row.told.append((row.sentence.span, Told(ask=_ASK)))


def _of_whole_list(said: list[str]) -> bool:
    """``None of these taken``, ``not taking any of the above``, ``all stopped``: no more than that a list is not taken."""
    data = {name: frozenset(some) for name, some in words().data["whole_list"].items()}
    some = set(said)
    if not some <= data["alone"]:
        return False
    denied = not some.isdisjoint(data["not_taken"]) and not some.isdisjoint(data["taken"])
    return denied or (not some.isdisjoint(data["ended"]) and not some.isdisjoint(data["whole"]))


def _take_back(row: SentenceRead, i: int, only: set[str], why: str = _CORRECTED) -> None:
    """Leave open the values of a segment, those of ``only`` where any are given, and take no entry of a list from it."""
    span, told = row.told[i]
    said = tuple((of, e, _UNCERTAIN, why) if not only or e in only else (of, e, form, note)
                 for of, e, form, note in told.said)  # fmt: skip
    entry = told.entry if only and told.entry is not None and told.entry[0] not in only else None
    row.told[i] = (span, told._replace(said=said, entry=entry, why=why))
    row.missed.append((span, why))


def _tells(told: Told) -> set[str]:
    """The elements that a segment gives values of, and the list it adds to."""
    return {e for _, e, _, _ in told.said} | ({told.entry[0]} if told.entry is not None else set())


def _speaks_of(part: Part) -> set[str]:
    """The elements, or the list, that a phrase speaks of, whether or not a value is read."""
    out: set[str] = {name for name in _LISTS if part.role(name)}
    for role in part.roles:
        value = role.value
        if role.name == "numbers":
            out |= {value["of"], *value.get("says", ())}
        elif role.name in ("values", "allergens"):
            out |= set(value["says"])
        elif role.name == "findings":
            out |= set(value.get("stated") or ()) | set(value.get("denied") or ())
    if part.unit == "cigarettes":
        out |= {"cigarettes_per_day", "smoking_status"}
    return out
