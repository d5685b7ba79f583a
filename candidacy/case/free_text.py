"""Free text of a record: what it may hold of danger, and words that say that nothing is known.

No rule reads free text. Where a word of it may tell a sign of danger that no recorded fact tells, the record gains the
fact ``danger_in_text``, which says where the words stand; it settles nothing and is there to be read by a person.
"""

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.case.danger_topics import MEDICINE_NAME, topics, topics_in
from candidacy.case.diagnosis_codes import ELEMENT as DIAGNOSIS
from candidacy.case.diagnosis_codes import told_by_codes
from candidacy.case.facts import CaseFacts, Fact, Provenance
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.foundation.dates import MEAN_DAYS, DateError, day
from candidacy.foundation.errors import shorten
from candidacy.foundation.values import TRUE, Members, Options, Span

ELEMENT = "danger_in_text"
_OF_A_DOCUMENT = " of the document "
# Words that, standing alone as the words of a source, say that the source does not tell.
_NOT_KNOWN = frozenset((
    "?", "??", "n/a", "na", "n.a.", "nk", "n/k", "not known", "unknown", "unk", "not asked", "not stated", "not recorded",
    "never asked", "not mentioned", "not documented", "not clear", "not assessed", "not examined", "not done", "not available", "not applicable", "pending", "awaited", "tbc", "to be confirmed", "tbd", "unclear",
    "not sure", "unsure", "-", "—",
))  # fmt: skip
# Who a text speaks of; a text may be some years older than the record (common practice), and speak of relatives.
_PERSON = re.compile(
    r"\b(?P<age>\d{1,3})[- ](?:years?|yrs?|y)[- ](?:old|of age) (?:\w+ )?(?P<noun>man|gentleman|male|woman|lady|female|patient)\b"
)
_MEN, _WOMEN = frozenset(("man", "gentleman", "male")), frozenset(("woman", "lady", "female"))
# What only one of the sexes has, or has had taken out.
_ORGANS = {
    "male": re.compile(
        r"\b(?:prostat(?:e|ic|ectomy)|testic\w+|testis|testes|scrot\w+|seminal vesicles?|penile|penis)\b"
    ),
    "female": re.compile(
        r"\b(?:uter(?:us|ine)|ovar(?:y|ies|ian)|endometri\w+|hysterectomy|vagin\w+|cervix uteri|menopaus\w+|menstruat\w+)\b"
    ),
}
_RELATIVE = re.compile(
    r"\b(?:mother|father|sister|brother|son|daughter|husband|wife|partner|parents?|aunt|uncle|cousin|friend|carer)\b"
)
_NEAR, _YEARS_BEFORE = 30, 5
# How many letters of a text are shown on either side of words of danger.
_BESIDE = 30
# How many letters of a name are the same in the spellings of one medicine.
_SAME = 6
_ASPIRIN = re.compile(r"\b(?:asa|a[cz]et[iy]l ?sali[czk]\w*)\b")
# Codes by which a recorded fact says that nothing is there.
_ABSENT = frozenset((False, "none", "normal", "negative", "not_pregnant"))
_UNSETTLED = re.compile(
    r"\b(?:(?:still )?pending|awaited|awaiting|to be confirmed|unconfirmed|not (?:yet )?confirmed"
    r"|(?:cannot|can't|not|could not) (?:yet )?(?:be )?(?:excluded|ruled out)"
    r"|nicht ausgeschlossen|non exclue?|no descartad[ao]|non escluso)\b"
)
# What says of a value, in its own words or note, that it cannot be relied upon.
_UNRELIABLE = re.compile(
    r"\b(?:unreliable|not reliable|illegible|clumped|clotted|(?:sample|specimen) h(?:a)?emoly[sz]ed|uninterpretable"
    r"|(?:could not|cannot|can't) be (?:confirmed|measured|read|assessed|verified|obtained|determined)"
    # somebody else says otherwise, or the one who wrote it doubts it
    r"|disagree\w*|contradict\w*|discrepan\w*|disputed?|(?<!no )conflicts?\b(?! (?:at|of interest))|(?:in|some|grave) doubt|doubtful"
    r"|(?:says?|said|states?|reads?|reports?|shows?) (?:otherwise|the opposite|the contrary))\b"
)
# What says of a document that another one counts, or that it does not count yet; one that itself replaces another counts.
_NOT_VALID = re.compile(
    r"\b(?:superseded|replaced by|withdrawn|retracted|(?<!post[- ])void(?:ed)?(?! (?:residual|volume))|preliminary|provisional|draft|unverified|should read"
    r"|non-?diagnostic|degraded|(?:repeat|repetition)\b[^.;]{0,20}\b(?:advised|recommended|needed|required|requested|suggested))\b"
)
# What says of a sample that its results are none.
_SAMPLE = re.compile(
    r"\b(?:samples?|specimens?|blood|tubes?)\b[^.;]{0,20}\b(?:h(?:a)?emoly[sz]ed|clotted|clumped|contaminat\w+|insufficient|mislabel+ed|lost|old)\b"
)
# A study of another part of the body, by its title, where nothing of it speaks of the low back.
_STUDY = re.compile(
    r"\b(?:mri?|mrt|ct|x-?rays?|radiographs?|films?|scans?|sonography|ultrasound|images|imaging)\b"
)
_OTHER_PART = re.compile(
    r"\b(?:cervical|thoracic|c-?spine|t-?spine|brain|head|skull|neck|knees?|hips?|shoulders?|abdom\w+|chest|thorax|ankles?|f(?:oo|ee)t|wrists?|hands?"
    r"|elbows?|heart|liver|kidneys?)\b"
)
_LOW_BACK = re.compile(
    r"lumb|lumbal|lws|\bl-?spine|\bl[1-5]\b|sacr|low(?:er)? back|(?:whole|total|full|entire) spine"
)
_COUNTS = re.compile(
    r"\b(?:replaces|supersedes|corrects|no longer (?:preliminary|provisional)|(?:after|of) the (?:preliminary|provisional))\b"
)
_EXCEPTED = re.compile(
    r"\ballerg\w*\b[^.;]{0,15}\b(?:except|excepting|other than|apart from|besides|but|only|save)\b[^.;]{0,20}\b(?:contrast|iodine|dye|gadolinium"
    r"|latex|rubber|\w+caine|an(?:a)?esthetics?|chlorhexidine|povidone|penicillins?|cephalosporins?|cef\w+|gentamicin|vancomycin|\w+mycin|\w+cillin|sulf\w+|antibiotics?|gelatine?|dmso|bacitracin|polymyxin\w*|bovine|pork|glycerol|hyaluron\w+|plasters?|adhesives?)\b"
)
# A number that is a temperature of fever where it stands beside a fact about it.
_ABOUT_FEVER = re.compile(r" of (?:fever|chills_or_rigors|infection_signs|active_infection) of ")
_FEVER = re.compile(
    r"(?<![\d.,/])(?:3[89][.,]\d|4[01](?:[.,]\d)?|100[.,][4-9]|10[1-6](?:[.,]\d)?)(?![\d.,/%])"
)
# A letter with a full stop before the name of a germ ends no sentence, nor does what opens a list of examples.
_END = re.compile(
    r"(?<!\btemp)(?<!\be\.g)(?<!\bi\.e)(?<!\bincl)[.;\n!]+(?=\s|$)(?! (?:coli|diff(?:icile)?)\b)|\b(?:but|however|although|except|though)\b"
)


class Told(NamedTuple):
    """Words of a text that may tell a sign of danger."""

    topic: str
    words: str


def says_unknown(words: str | None) -> bool:
    """Whether the words of a source say by themselves that it does not tell: "n/a", "?", "pending"."""
    return words is not None and words.strip().casefold().rstrip(".") in _NOT_KNOWN


# a record is gathered again after each edit, with all of its other texts as they were
@lru_cache(maxsize=1024)
def told_in(text: str) -> tuple[Told, ...]:
    """What a text may hold of danger, topic by topic, without what it denies or says of the family."""
    return tuple(_told_in(text))


def _told_in(text: str) -> Iterator[Told]:
    lowered = _plain(text)
    near = list(topics_in(lowered))
    if not any(topic.words.search(lowered) for topic in near):
        return
    for part in _END.split(lowered):
        for topic in near:
            for match in topic.words.finditer(part):
                if not _denied(part, match.start(), match.end()):
                    yield Told(topic.name, match.group())
                    if not topic.by_name:
                        break  # one word of a topic is enough, but each name may be that of another medicine


def _plain(text: str) -> str:
    """A text in small letters without accents, in which words are sought: "Fièvre" is "fievre"."""
    lowered = text.casefold().replace("’", "'")
    if lowered.isascii():
        return lowered
    return "".join(c for c in unicodedata.normalize("NFKD", lowered) if not unicodedata.combining(c))


def _denied(part: str, start: int, end: int) -> bool:
    """Whether a part of a text denies the words between two places."""
    if _UNSETTLED.search(part):
        return False
    # its expressions take long to make ready, and most records hold no word of danger
    from candidacy.case.denied_danger import denies

    return denies(part, start, end)


def add_danger_in_text(record: CaseRecord, facts: CaseFacts) -> None:
    """Add what the free text of a record may hold of danger to its facts."""
    if ELEMENT not in catalogue():
        return
    told: dict[
        str, tuple[str, str]
    ] = {}  # by topic, where its words stand, and a part of the text around them
    present = _present(facts)
    for where, text, about in _texts(record):
        codes = told_by_codes(text) if where.startswith(f"{DIAGNOSIS} ") else ()
        for topic, words in (
            *_told(text, about),
            *_not_valid(where, text),
            *_fever_beside(where, text),
            *codes,
        ):
            if _tells_anew(topic, words, facts, present):
                told.setdefault(topic, (where, _around(text, words)))
        if said := _another_person(_plain(text), record, facts):
            told.setdefault("another person", (where, _around(text, said)))
    for where, text, words in _of_another_part(record):
        told.setdefault("another part of the body", (where, _around(text, words)))
    if told:
        places: dict[str, list[str]] = {}
        for topic, (where, words) in told.items():
            places.setdefault(where, []).append(f"“{words}” ({topic})")
        says = "; ".join(f"{where}: {', '.join(some)}" for where, some in places.items())
        facts.patient[ELEMENT] = Fact(
            ELEMENT, "patient", TRUE, None, Provenance(document="free text", as_written="true", words=says)
        )


def _around(text: str, words: str) -> str:
    """Some words of a text as it is written, with what stands beside them."""
    at = text.casefold().find(words)
    if at < 0:
        text = _plain(text)
        at = text.find(words)
    begin, end = max(0, at - _BESIDE), at + len(words) + _BESIDE
    if at < 0 or len(text) <= end - begin:
        return shorten(text)
    if begin:
        begin = text.find(" ", begin, at) + 1 or begin
    if end < len(text):
        end = max(text.rfind(" ", at + len(words), end), at + len(words))
    part = shorten(text[begin:end], end - begin)
    return ("…" if begin else "") + part + ("…" if end < len(text) else "")


def _tells_anew(topic: str, words: str, facts: CaseFacts, present: frozenset[str]) -> bool:
    """Whether the words of a topic tell what no recorded fact tells.

    The name of a medicine is told by a list of medicines that holds it, and by none that does not; a record that lists none
    names none, so there another recorded fact tells it.
    """
    elements = _elements(topic)
    if MEDICINE_NAME in elements:
        listed = [fact for fact in facts.stated() if fact.element in (MEDICINE_NAME, "medicine_agent")]
        names = [_ASPIRIN.sub("aspirin", _plain(fact.provenance.as_written)) for fact in listed]
        same = re.compile(rf"\b{re.escape(_ASPIRIN.sub('aspirin', words)[:_SAME])}")
        if names:
            return not any(map(same.search, names))
    return not elements & present


def _another_person(text: str, record: CaseRecord, facts: CaseFacts) -> str:
    """Words of a text that speak of a patient of another sex or age than is recorded; empty where there are none."""
    if said := _organ_of_the_other_sex(text, facts):
        return said
    for match in _PERSON.finditer(text):
        if _RELATIVE.search(text[max(0, match.start() - _NEAR) : match.start()]):
            continue
        sex, birth = facts.patient.get("sex"), facts.patient.get("birth_date")
        other = "female" if match["noun"] in _MEN else "male" if match["noun"] in _WOMEN else ""
        if sex is not None and sex.value == Options(frozenset((other,))):
            return match[0]
        if record.as_of is None or birth is None or not isinstance(birth.value, Span):
            continue
        try:
            today = day(record.as_of).toordinal()
        except DateError:
            continue  # it is refused elsewhere
        oldest, youngest = ((today - end) / MEAN_DAYS["year"] for end in (birth.value.low, birth.value.high))
        if not youngest - _YEARS_BEFORE <= int(match["age"]) <= oldest + 1:
            return match[0]
    return ""


def _organ_of_the_other_sex(text: str, facts: CaseFacts) -> str:
    """What a text says of an organ that a patient of the recorded sex has not; empty where it does not."""
    sex = facts.patient.get("sex")
    for other, organs in _ORGANS.items():
        if sex is None or not isinstance(sex.value, Options) or other in sex.value.codes:
            continue
        for part in _END.split(text):
            for match in organs.finditer(part):
                of_a_relative = _RELATIVE.search(part[max(0, match.start() - _NEAR) : match.start()])
                if not of_a_relative and not _denied(part, match.start(), match.end()):
                    return match[0]
    return ""


def _told(text: str, about: FactEntry | None) -> Iterator[Told]:
    yield from told_in(text)
    yield from _allergy_excepted(text)
    if about is not None and about.unknown is None:
        plain = _plain(text)
        if open_ := _UNSETTLED.search(plain) or _UNRELIABLE.search(plain):
            yield Told("not settled", open_.group())


def _not_valid(where: str, text: str) -> Iterator[Told]:
    plain = _plain(text) if _OF_A_DOCUMENT in where else ""
    if plain and (said := _SAMPLE.search(plain)):
        yield Told("a document that does not count", said.group())
    if (said := _NOT_VALID.search(plain)) and not _COUNTS.search(plain):
        yield Told("a document that does not count", said.group())


def _allergy_excepted(text: str) -> Iterator[Told]:
    """An allergy that is taken out of a denial: "no allergies except to gentamicin"."""
    if said := _EXCEPTED.search(_plain(text)):
        yield Told("allergy", said.group())


def _fever_beside(where: str, text: str) -> Iterator[Told]:
    """A temperature of fever that stands alone beside a fact about it: "38.4 at home"."""
    if _ABOUT_FEVER.search(where) and (said := _FEVER.search(text)):
        yield Told("infection", said.group())


def _of_another_part(record: CaseRecord) -> Iterator[tuple[str, str, str]]:
    """Titles of documents that tell of discs, and are of a study of another part of the body."""
    for key, document in record.documents.items():
        plain = _plain(document.title or "")
        if not (_STUDY.search(plain) and (said := _OTHER_PART.search(plain))) or _LOW_BACK.search(plain):
            continue
        if any(entry.source == key for table in record.discs.values() for entry in table.values()):
            yield f"title{_OF_A_DOCUMENT}{key}", document.title or "", said.group()


def _elements(topic: str) -> frozenset[str]:
    return next((each.elements for each in topics() if each.name == topic), frozenset())


def _present(facts: CaseFacts) -> frozenset[str]:
    """Elements of which some subject is recorded as having them, and those with a code that is recorded: ``kind=code``."""
    found: set[str] = set()
    for fact in facts.stated():
        if isinstance(fact.value, Options) and not fact.value.codes & _ABSENT:
            found |= {fact.element, *(f"{fact.element}={code}" for code in fact.value.codes)}
        elif isinstance(fact.value, Members) and fact.value.certain:
            found.add(fact.element)
    return frozenset(found)


def _texts(record: CaseRecord) -> Iterator[tuple[str, str, FactEntry | None]]:
    shelf = catalogue()
    if record.title:
        yield "title", record.title, None
    if record.note:
        yield "note", record.note, None
    for key, document in record.documents.items():
        for name in ("title", "note", "author"):
            if text := getattr(document, name):
                yield f"{name}{_OF_A_DOCUMENT}{key}", text, None
    tables = [("patient", record.patient), *record.discs.items()]
    for name in ("medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"):
        listed = getattr(record, name)
        if listed is not None:
            tables += [(f"{name}[{n}]", t) for n, t in zip(listed.numbers, listed.entries, strict=True)]
    for subject, table in tables:
        for element, entry in table.items():
            for form in ("words", "note", "by"):
                text = getattr(entry, form)
                if text:
                    yield f"{form} of {element} of {subject}", text, entry
            known = shelf.get(element)
            is_text = known is not None and known.kind == "words" and element != MEDICINE_NAME
            if is_text and isinstance(entry.value, str):
                yield f"{element} of {subject}", entry.value, None
