"""What a denial of a fracture leaves open: ``no acute fracture`` says nothing of an older one, unless more is said."""

import re

from candidacy.reading.coverage import weighty
from candidacy.reading.lexer import Tokens, match, tokenise
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import Parts
from candidacy.reading.model import ABSENT, BODY, NOT_READ, PRESENT, Finding, Reading

_BEHIND = re.compile(r"[ \t]+[A-Za-z]+")
_EXCEPT = re.compile(
    r"\b(?:except\w*|but|apart|aside|other than|save|although|however|though|with)\b", re.IGNORECASE
)
_HEIGHT = "vertebral_height"


def of_recent_alone(reading: Reading, finding: Finding) -> bool:
    """Say whether a denial is only of a recent fracture, in a report that says nothing to deny an older one.

    Vertebrae of kept height, a study called normal and a second denial without an age deny it too.
    """
    if finding.kind != "fracture" or finding.status != ABSENT or not _of_recent(reading, finding):
        return False
    rows = [f for f in reading.findings if f.section in BODY]
    if any(f.kind == "normal_study" and f.status == PRESENT for f in rows):
        return False
    others = [f for f in rows if f.kind == "fracture" and f.status == ABSENT and f.rule == finding.rule]
    return all(_of_recent(reading, f) for f in others) and not _heights_kept(reading)


def _of_recent(reading: Reading, finding: Finding) -> bool:
    behind = _BEHIND.match(reading.text, finding.quoted.end)  # "fractures: none acute"
    said = reading.words(finding.quoted) + (behind[0] if behind else "")
    words = {w.strip(",/()").lower() for w in said.split()}
    return not grammar("recent").isdisjoint(words) and grammar("of_old").isdisjoint(words)


def _heights_kept(reading: Reading) -> bool:
    """Say whether a sentence of the body calls the heights of the vertebrae normal, all of them and without reserve."""
    lex = lexicon()
    for row in reading.statements:
        if row.section not in BODY or row.region in NOT_READ:
            continue
        begin = row.start
        for piece in _apart(reading.text[row.start : row.end]):
            tokens = tokenise(reading.text, begin, begin + len(piece), lex)
            if _all_of_height(tokens, Parts(tokens.words, match(tokens.words, lex))):
                return True
            begin += len(piece) + 1
    return False


def _apart(sentence: str) -> list[str]:
    """The pieces of a sentence between semicolons, unless one of them takes something out of the others."""
    return [sentence] if _EXCEPT.search(sentence) else sentence.split(";")


def _all_of_height(tokens: Tokens, parts: Parts) -> bool:
    heights = [o for o in parts.objs if o.entry.kind == _HEIGHT]
    if not heights or tokens.groups or parts.places or parts.mods or parts.heads:
        return False
    kinds = {a.entry.kind for a in parts.acts}
    told = kinds == {"normal"} or (
        not kinds and any("normal" in parts.words[o.start : o.end] for o in heights)
    )
    return told and not weighty(parts, tokens.groups, 0)
