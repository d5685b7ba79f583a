"""Whom a letter speaks of: the patient by name, calling or pronoun."""

import re

from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.segments import Segment, is_light
from candidacy.reading.letters.words import words
from candidacy.reading.phrase_steps import Role

_NAMED = re.compile(r"\b(Mr|Mrs|Ms|Miss|Mx)\b\.?\s+([A-Z][A-Za-z'’\-]*)")
_NAMES = re.compile(r"[A-Z][A-Za-z'’\-]*(?:\s+[A-Z][A-Za-z'’\-]*)*")
_BESIDE = re.compile(r"\b(?:by|with|from|under|colleague)\s+(?:Mr|Mrs|Ms|Miss|Mx)\b")
"""Before a title these bring in somebody beside the patient."""
_ADDRESSED = re.compile(r"\s*(?:dear|cc|to|from)\b", re.IGNORECASE)
"""Behind these stands whom a letter goes to or comes from."""
_PRONOUNS = {"female": ("she", "her"), "male": ("he", "his")}
_ANOTHER = "of another person"
_TELLS = 4
"""So many words behind the word for another person may stand what he or she does: ``mother Mrs Green called``."""
_CALLING = 3
"""Words of the longest calling that is taken for one."""


def is_unknown(part: Part) -> bool:
    """A word that stands in no list."""
    return part.kind == "phrase" and not part.roles and part.text not in words().data["quotes"]


def names_of_patient(text: str, of_others: list[str]) -> set[str]:
    """Give the name behind a title where a letter, its greetings apart, names one person so and brings nobody else in by it.

    ``of_others`` is what stands in it behind words for another person: ``Mrs Green`` of ``his wife Mrs Green``.
    """
    lines = [line.partition(",")[2] if _ADDRESSED.match(line) else line for line in text.splitlines()]
    named = {(m[1] == "Mr", m[2]) for line in lines for m in _NAMED.finditer(line)}
    names = {name for _, name in named}
    met = any(_NAMED.search(said) for said in of_others) or any(_BESIDE.search(line) for line in lines)
    return names if len(named) == 1 and not met else set()  # "Mr Hill" is not "Mrs Hill"


def first_named(text: str) -> tuple[bool, str]:
    """Give whom a letter first names behind a title, its greetings apart: whether a man, and the name."""
    for line in text.splitlines():
        said = line.partition(",")[2] if _ADDRESSED.match(line) else line
        found = _NAMED.search(said)
        if found is not None:
            rest = _NAMES.match(said, found.start(2))
            return found[1] == "Mr", rest[0] if rest is not None else found[2]
    return False, ""


def begins_with_another(said: str, first: tuple[bool, str]) -> bool:
    """Say whether a sentence begins with a title and a name other than the one that the letter first names."""
    found = _NAMED.match(said)
    return found is not None and (found[1] == "Mr", found[2] in first[1].split()) != (first[0], True)


def known_by_name(parts: list[Part], names: set[str]) -> list[Part]:
    """Take the name of the patient behind a title, and whoever is greeted, for a word of no weight."""
    return [
        p._replace(roles=(Role("fillers"),))
        if is_unknown(p) and _is_name(p, parts[max(0, n - 2) : n], names)
        else p
        for n, p in enumerate(parts)
    ]


def _is_name(part: Part, before: list[Part], names: set[str]) -> bool:
    lead = [p.text.lower() for p in before]
    greeted = bool(lead) and lead[-1].startswith("dear ")
    return greeted or (part.text in names and any(w in words().data["titles"] for w in lead))


def is_doubtful(part: Part) -> bool:
    """A word whose ending says that it may take back what follows it."""
    return part.text.lower().endswith(tuple(words().data["doubtful_endings"]))


def _tells_sex(part: Part) -> bool:
    role = part.role("values")
    return part.role("sex_letters") is not None or (role is not None and "sex" in role.value["says"])


def is_calling(cut: list[Segment], n: int) -> bool:
    """Say whether a segment is no more than what the patient does for a living: ``this 43-year-old school teacher``."""
    aged = cut[n - 1].parts if n else ()
    return (
        [p.unit for p in aged if not (is_light(p) or _tells_sex(p))] == ["year_old"]
        and cut[n].by == ""
        and len(cut[n].parts) <= _CALLING
        and all(is_unknown(p) and p.text.isalpha() and not is_doubtful(p) for p in cut[n].parts)
    )


def is_aged_thing(parts: list[Part], at: int) -> bool:
    """Say whether an age, at ``at``, is perhaps that of a thing named behind it: ``a 20-year-old scar``, ``a 3-year-old history``."""
    behind = next((p for p in parts[at + 1 :] if not is_light(p)), None)
    if parts[at].end - parts[at].start == len("31"):
        return False  # "she is 31 and has back pain"
    if behind is None or _tells_sex(behind) or behind.text.lower() in words().data["patient"]:
        return False
    if any(
        behind.role(n)
        for n in (
            "surgeries",
            "injections",
            "findings",
            "labels",
            "lumbar",
            "discs",
            "treatments",
            "history",
            "of_back",
            "back_pain",
            "leg_pain",
        )
    ):
        return behind.text != ":" and not any(behind.role(n) for n in ("values", "numbers"))
    data = words().data
    said = behind.text.lower()
    rest = [p for p in parts[at + 1 :] if p.start >= behind.start]
    named = [p.text.lower() for p in rest[:_CALLING] if is_unknown(p)]
    return (
        is_unknown(behind)
        and said.isalpha()
        and not any(
            w.endswith(tuple(data["calling_endings"])) and w not in data["not_callings"] for w in named
        )
    )


def sex_of_patient(rows: list[list[Part]]) -> str:
    """Give the sex of the patient as a letter states it, or by which pronoun most of its sentences begin; ``open`` if as many begin by either, empty if none does."""
    stated = {
        str(r.value["says"]["sex"])
        for parts in rows
        if not any(p.role("stops") for p in parts)
        for p in parts
        if (r := p.role("values")) and "sex" in r.value["says"]
    }
    if stated:
        return stated.pop() if len(stated) == 1 else ""
    begins = [s for parts in rows if (s := sex_of_subject(parts))]
    women = begins.count("female")
    if begins and 2 * women == len(begins):
        return "open"
    return "" if not begins else "female" if 2 * women > len(begins) else "male"


def sex_of_subject(parts: list[Part]) -> str:
    """Give the sex of the pronoun by which a sentence begins: ``He smokes``."""
    first = parts[0].text.lower() if parts else ""
    words_of = re.split(r"\W+", first)
    return next((sex for sex, some in _PRONOUNS.items() if words_of[0] in some), "")


def sex_of_others(parts: list[Part]) -> str:
    """Give the sex of all others whom a sentence names beside the patient, where it is one and told by what they are: ``his wife``."""
    named = [p.text.lower() for p in parts if (r := p.role("stops")) and str(r.value) == _ANOTHER]
    by_sex = words().data["others_by_sex"]
    return next((sex for sex in _PRONOUNS if named and all(n in by_sex[sex] for n in named)), "")


def told_by_another(text: str, parts: list[Part]) -> bool:
    """Say whether a sentence names another person as the one who tells something, perhaps of the patient.

    ``His daughter told me that he had melanoma``; and with a pronoun that cannot mean that person: ``his sister called; he is worse``.
    """
    data = words().data
    at = next((n for n, p in enumerate(parts) if (r := p.role("stops")) and str(r.value) == _ANOTHER), -1)
    if at < 0:
        return False
    behind = re.findall(r"[a-z]+", text[parts[at].end : parts[-1].end].lower())
    person = parts[at].text.lower().removesuffix("'s").removesuffix("’s")
    sex = next((sex for sex in _PRONOUNS if person in data["others_by_sex"][sex]), "")
    own = _PRONOUNS[sex] if sex else ()
    said = any(w in data["telling"] for w in behind[:_TELLS]) and not {"he", "she"}.isdisjoint(behind)
    return said or any(w in ("he", "she") and w not in own for w in behind if sex)


def is_of_patient(parts: list[Part], until: Segment) -> bool:
    """Say whether a sentence begins with the patient, or tells the patient's age, before ``until``."""
    lead = [p for p in parts if p.start < until.start]
    subjects = words().data["subjects"]
    if lead and not lead[-1].roles and is_doubtful(lead[-1]):
        return False
    return any(p.text.lower() in subjects for p in lead[:3]) or any(p.unit == "year_old" for p in lead)
