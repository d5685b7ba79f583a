"""Codes beside the words of their source: words that plainly tell another code, another disc or another side.

Only what is plain counts: words that hold several codes, a denial, or nothing that is known here, tell nothing. The words
are common practice; nothing is guessed from near spellings.
"""

import re
from datetime import date
from math import isinf

from candidacy.case.element import Element
from candidacy.case.facts import Fact, normal_level
from candidacy.foundation.values import Members, Options, Span

_NEGATION = re.compile(
    r"\b(?:no|not|non|nor|never|none|nil|without|absen\w+|neg\w*|den(?:y|ies|ied|ying)|free of|rules? out|ruled out|excluded|normal"
    r"|unremarkable|intact|patent|preserved|maintained|clear|adequate|ceased|stopped|n't|kein\w*|ohne|sans|pas|sin|senza)\b|n't\b"
)
# Words of a denial as a whole, with nothing behind it that could take it back.
_DENIED = re.compile(
    r"\W*(?:there (?:is|was|are|were) )?(?:no|without|denies|denied|absent|not?ne)\b(?! (?:change|longer|doubt|other))[^,;.:]*\W*"
)
_BUT = re.compile(r"\b(?:but|except|apart|other than|only|until|since|although|however|and)\b")
_ASSERTED = re.compile(r"\W*(?:takes|taking|uses|has|had|known|history of|on)\b")
# What is asked for was not done: "form not yet signed", "could not be confirmed". A plan or an arrangement goes without its verb.
_NOT_DONE = re.compile(
    r"\b(?:not|never)\b (?:yet |be |been |fully )*(?:signed|confirmed|done|performed|recorded|documented|given|received|checked|matched"
    r"|followed|arranged|planned|available|completed|obtained|agreed|understood)\b|n't (?:yet |been )*(?:signed|confirmed|done|given|received)\b"
)
_ARRANGED = frozenset(("plann", "arran", "sched"))
_YES = re.compile(r"\W*(?:yes|positive|confirmed|present)\b")
# Letters of a word of an element's name by which it is found in other forms, and words too short to tell.
_STEM, _SHORT, _FEW_WORDS = 5, 3, 8
# Codes whose names stand in words about anything.
_TELLS_NOTHING = frozenset(
    ("other", "none", "normal", "mild", "moderate", "severe", "minimal", "past", "current", "unclear")
)
_DOUBT = re.compile(
    r"\b(?:\?|possibl\w+|perhaps|may|might|if|unless|rather than|versus|vs|previous\w*|earlier|ago|was|were|in (?:19|20)\d\d)\b|\?"
)

_YEAR = re.compile(r"(?<![\d.,-])(?:19|20)\d\d(?!\d|[.,]\d)")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = re.compile(
    r"\b(?:january|february|march|april|may|june|july|august|september|october|november|december"
    r"|jan|feb|mar|apr|jun|jul|aug|sept?|oct|nov|dec)\b"
)
_DAY = re.compile(
    r"\b(?P<before>\d{1,2})(?:st|nd|rd|th)?\.? (?:of )?(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)"
    r"|\b(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.? (?P<behind>\d{1,2})(?!\d)"
)
# Words of a day that is counted from the one that is named.
_BESIDE = re.compile(r"\b(?:before|after|earlier|later|prior|ago|since|until|from|report\w*|letter|seen)\b")
_LEVEL = re.compile(r"\b[TL]\d{1,2}\s?[-/–]\s?[LS]?\d\b", re.IGNORECASE)
# Words that carry a statement over to discs that they do not name, or compare with one.
_OTHER_DISCS = re.compile(
    r"\b(?:to|through|thru|all|each|every|other|others|remaining|rest|elsewhere|both|except|unlike|than|compar\w+|above|below|"
    r"adjacent|next to|neighbo\w+|beside|caudal\w*|cranial\w*|between|levels|discs|like|as at)\b",
    re.IGNORECASE,
)
# Where words may go on to another disc.
_CLAUSES = re.compile(r"[,;:()\d\n.]|\b(?:and|but|with|while|whereas|where|also|plus|then)\b", re.IGNORECASE)
# "To" that leads to no disc.
_TO_DO = re.compile(r"\bto (?:be|inject|treat)\b", re.IGNORECASE)
_GRADE = re.compile(
    r"\b(?:grade|grading|type|class|stage)s?\W{0,3}(?P<one>\d|i{1,3}|iv|v)\b(?!\s*(?:[-/–]|to|or)\s*(?:\d|[iv]))"
)
_ANY_GRADE = re.compile(r"\b(?:grade|grading|type|class|stage)s?\b")
_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5}
_ORIGINAL_SCALE = re.compile(r"\bpfirrmann\W+(?:grade\W*)?(?:iv|v|i{1,3})\b")
_NAMED_SCALE = re.compile(r"\bmodified\b|\bgriffith\b|\b8\b")

# By codes of an element, expressions that tell one of them. Those of an earlier row are taken out before a later is sought.
_SEVERITY = (
    ("severe", r"severe\w*|marked\w*|high-grade|critical\w*"),
    ("moderate", r"moderate\w*"),
    ("mild", r"mild\w*|slight\w*|minimal\w*"),
)
_SEDATION = (
    ("deep", r"general an(?:a)?esthe\w+|deep(?:ly)?|propofol"),
    ("light", r"light(?:ly)?|conscious|minimal"),
)
_PATTERNS: dict[str, tuple[tuple[str, str], ...]] = {
    "displacement": (
        ("sequestration", r"sequest\w*|free fragments?"),
        ("extrusion", r"extru\w+"),
        ("protrusion", r"protru\w+"),
        ("bulge", r"bulg\w+"),
    ),
    "discography_concordance": (
        ("none unfamiliar", r"(?:(?:usual|familiar|typical|same|concordant)(?: pain)? )?(?:not|\w+n't|never|no|without|fail\w* to|unable to)"
            r" reproduc\w+(?: of)?(?: (?:the|her|his|their))?(?: usual| familiar| typical| same)?(?: pain)?"
            r"|(?:no|without) (?:concordant|familiar|usual|typical)(?: pain)?"),
        ("unfamiliar", r"discordant\w*|(?:non-?|not )concordant\w*|unfamiliar|dissimilar|atypical"
            r"|(?:not|unlike|different (?:from|to)|nothing like) (?:the |her |his |their )?(?:usual|familiar|typical|same)(?: pain)?"),
        ("none", r"no pain|painless|pain-?free|without pain"),
        ("exact similar", r"concordant\w*|familiar|usual|typical|exact\w*|identical"),
    ),
    "smoking_status": (
        ("never", r"never smoked|non-?smoker|does not smoke|never"),
        ("former", r"ex-?smoker|former\w*|stopped smoking|quit\w*|gave up"),
        ("current", r"smokes|current smoker|smoker|\d+ (?:cigarettes )?(?:a|per) day"
            r"|\d+ (?:cigarettes?|cigs?|cigars?|packs?|packets?)\b(?![- ]years?)|packs? (?:a|per) day"),
    ),
    "sex": (("female", r"female|woman|lady|girl"), ("male", r"male|man|gentleman|boy")),
    "pregnancy_status": (("not_pregnant", r"not pregnant"), ("pregnant", r"pregnant|(?:test|hcg) (?:was |is |came back )?positive|(?<!no )positive (?:pregnancy |urine |blood )?(?:test|hcg)"
            r"|\d+ weeks? (?:along|gestation|of gestation|by dates)|expecting a (?:baby|child)")),
    "skin_at_entry_site": (
        ("infected", r"pustul\w+|infected|purulent|pus|abscess\w*|follic\w+|impetigo"),
        ("broken", r"abrasions?|abraded|broken|wounds?|ulcer\w*|graze[ds]?|weeping|blister\w*|excoriat\w+|sores?"),
        ("inflamed", r"inflam\w+|eczema|rash\w*|dermatitis|psoria\w+|erythema\w*|redness"),
    ),
    "planned_contrast": (
        ("gadolinium", r"gadolinium|gado\w+"),
        ("iodinated_intrathecal iodinated_other", r"iodinated|iohexol|iopamidol|iodine"),
    ),
    "planned_antibiotic": (
        ("cefazolin", r"cefazolin"), ("clindamycin", r"clindamycin"), ("vancomycin", r"vancomycin"),
        ("other", r"gentamicin|cefuroxime|ceftriaxone|teicoplanin|ciprofloxacin"),
    ),
    "planned_sedation": _SEDATION,
    "discography_sedation": _SEDATION,
}  # fmt: skip
# What the words of a severity must speak of, so that those of another finding of the same sentence tell nothing.
_OF_WHAT = {
    "canal_stenosis": r"canal|central|spinal stenosis",
    "recess_stenosis": r"recess|subarticular",
    "foraminal_stenosis": r"foram[ei]n",
    "facet_arthropathy": r"facet|zygapophys",
    "disc_height_loss_words": r"height|narrow|collaps",
    "contrast_reaction": r"",
    "gadolinium_reaction": r"",
}
# Words that say of a finding answered with yes or no that it is there.
_PRESENT = {
    "neural_compression": re.compile(r"\b(?:compress|imping)\w*"),
    "annular_fissure": re.compile(r"\b(?:fissures?|annular tears?)\b"),
    "high_intensity_zone": re.compile(r"\bhigh[- ]intensity zones?\b|\bhiz\b"),
    "pars_defect": re.compile(r"\b(?:pars defects?|spondylolysis)\b"),
    "transitional_vertebra": re.compile(r"\b(?:transitional|lstv|castellvi|lumbari[sz]\w*|sacrali[sz]\w*)\b"),
    "vacuum_sign": re.compile(r"\b(?:vacuum|gas)\b"),
    "disc_desiccation": re.compile(r"\b(?:desiccat|dehydrat)\w*"),
    "osteoporosis": re.compile(r"\bt-?scores?\b[^;,]{0,30}?[-−–](?:2[.,][5-9]|[3-9](?:[.,]\d)?)"),
    "implant_at_level": re.compile(r"\b(?:screws?|cages?|rods?|hardware|prosthes[ie]s|spacer)\b"),
}
# Words that say of what is answered with yes that it is not so.
_ABSENT = {
    "axial_dominance": re.compile(
        r"\blegs?\b(?: (?:pain|symptoms?))?(?: \w+){0,2} (?:worse|greater|stronger|more severe|dominant|dominates?|predominant|hurts? more)\b"
    ),
    "failed_conservative_care": re.compile(
        r"\bno (?:\w+ )?(?:treatment|therapy|care|physiotherapy)\b(?: \w+){0,3} (?:tried|so far|yet|to date|done|had)\b|\buntreated\b"
        r"|\b(?:not|never) (?:yet )?(?:been )?(?:treated|tried)\b"
    ),
    "supervised_therapy_completed": re.compile(
        r"\b(?:did not|didn't|never) (?:attend|finish|complete|start|go)\w*|\bbroken off\b|\bdropped out\b"
        r"|\bstopped after (?:one|two|three|[1-3]) (?:visits?|sessions?|times?)\b"
    ),
}
# The answers of the items of the PHQ-9, in the order of their numbers.
_OFTEN = ("not at all", "several days", "more than half the days", "nearly every day")
_DENIAL_TOLD = frozenset(("discography_concordance", "smoking_status", "pregnancy_status"))


def words_tell_another(element: Element, fact: Fact) -> bool:
    """Whether the words of the source of a fact plainly tell another value, disc or side than is recorded."""
    text = fact.provenance.words
    if not text or fact.value is None:
        return False
    if element.scope == "disc" and of_another_disc(text, fact.subject):
        return True
    if isinstance(fact.value, Members):
        return element.levels and _other_levels(text, fact.value)
    words = " ".join(text.casefold().split())
    if isinstance(fact.value, Span) and element.kind == "date":
        return _another_date(words, fact.value)
    if isinstance(fact.value, Span) and element.name.startswith("phq9_item"):
        told = {number for number, answer in enumerate(_OFTEN) if answer in words}
        return bool(told) and not any(fact.value.low <= number <= fact.value.high for number in told)
    if isinstance(fact.value, Span):
        exact = fact.value.exact and element.kind == "integer"
        return exact and (_another_scale(element, words) or _another_grade(words, {int(fact.value.low)}))
    if not isinstance(fact.value, Options) or not fact.value.exact:
        return False
    (code,) = fact.value.codes
    if isinstance(code, bool):
        denied = _ABSENT.get(element.name)
        if code and denied is not None and denied.search(words):
            return True
        return _another_answer(element, words, code) or (not code and _present(element, words))
    return (
        _another_side(words, code)
        or _another_code(element, words, code)
        or _another_grade(words, _numbers(code))
    )


def of_another_disc(text: str, level: str) -> bool:
    """Whether words that head or end with levels name other discs than one."""
    found = list(_LEVEL.finditer(text))
    named = {normal_level("".join(match[0].split())) for match in found}
    if not found or level in named or None in named or _OTHER_DISCS.search(text):
        return False
    # a level that heads the words, or ends them; behind one in between they may go on to another disc, but not in one
    # clause; a number may be of whatever disc
    heads = not text[: found[0].start()].strip() and text[found[0].end() :].lstrip().startswith(":")
    one_clause = len(named) == 1 and not _CLAUSES.search(_LEVEL.sub(" ", text).strip(" ."))
    return heads or one_clause or not text[found[-1].end() :].strip(" .")


def _other_levels(text: str, value: Members) -> bool:
    """Whether words plainly name a disc that a list lacks."""
    text = _TO_DO.sub(" ", text)
    named = {normal_level("".join(match.split())) for match in _LEVEL.findall(text)}
    if (
        value.possible is None
        or None in named
        or _OTHER_DISCS.search(text)
        or _NEGATION.search(text.casefold())
    ):
        return False
    return bool(named - value.possible)


def _another_date(words: str, value: Span) -> bool:
    """Whether words hold one year, or one year and month, and it is not that of the date."""
    years, months = set(_YEAR.findall(words)), set(_MONTH.findall(words))
    if isinf(value.low) or isinf(value.high):
        return False
    first, last = (date.fromordinal(int(end)) for end in (value.low, value.high))
    if len(years) != 1:
        return False
    year = int(*years)
    if not first.year <= year <= last.year:
        return True
    if len(months) != 1 or first.year != last.year:
        return False
    month = _MONTHS.index(min(months)[:3]) + 1
    if not first.month <= month <= last.month:
        return True
    # a day of the month, where the date has one and no other day is spoken of
    days = [int(match["before"] or match["behind"]) for match in _DAY.finditer(words)]
    return first == last and len(days) == 1 and days[0] != first.day and not _BESIDE.search(words)


def _another_answer(element: Element, words: str, code: bool) -> bool:
    """Whether words answer yes for no, or no for yes, and name what is asked for: "no relief" says yes to failed care."""
    asked = [word[:_STEM] for word in element.label.casefold().split() if len(word) > _SHORT]
    named = [bool(re.search(rf"\b{re.escape(stem)}", words)) for stem in asked]
    if code and (_BUT.search(words) or not any(named)):
        return False
    if code:
        denied = all(found or stem in _ARRANGED for found, stem in zip(named, asked, strict=True))
        # in words of several parts another part may be what is recorded
        return (denied and bool(_DENIED.fullmatch(words))) or (
            "," not in words and ";" not in words and bool(_NOT_DONE.search(words))
        )
    said = _YES.match(words) or (any(named) and _ASSERTED.match(words))
    return bool(said) and not _NEGATION.search(words) and not _DOUBT.search(words)


def _present(element: Element, words: str) -> bool:
    told = _PRESENT.get(element.name)
    return (
        told is not None
        and bool(told.search(words))
        and not _NEGATION.search(words)
        and not _DOUBT.search(words)
    )


def _another_side(words: str, code: str) -> bool:
    sides = {side for side in ("left", "right") if re.search(rf"\b{side}\b", words)}
    own = {side for side in ("left", "right") if code == side or code.startswith(f"{side}_")}
    return bool(own) and len(sides) == 1 and own != sides


def _another_code(element: Element, words: str, code: str) -> bool:
    of_what = _OF_WHAT.get(element.name)
    if of_what is None and element.name not in _PATTERNS:
        return _another_name(element, words, code)
    patterns = _PATTERNS.get(element.name, ()) if of_what is None else _SEVERITY
    denied = element.name not in _DENIAL_TOLD and _NEGATION.search(words)
    if denied or _DOUBT.search(words) or (of_what and not re.search(of_what, words)):
        return False
    told: set[str] = set()
    for codes, expression in patterns:
        found = re.compile(rf"\b(?:{expression})(?!\w)")
        if found.search(words):
            told |= set(codes.split())
            words = found.sub(" ", words)
    return bool(told) and code not in told


def _another_name(element: Element, words: str, code: str) -> bool:
    """Whether a few words hold the name of another code of a patient's or a disc's choice, and not its own."""
    if element.scope not in ("patient", "disc") or len(words.split()) > _FEW_WORDS or _DOUBT.search(words):
        return False
    named = [each for each in element.codes if _names(each) and re.search(rf"\b{_names(each)}\b", words)]
    if len(named) != 1 or named == [code]:
        return False
    before = words[: words.index(_names(named[0]))]
    own = {word for word in _names(code).split() if len(word) > _SHORT}
    return not _NEGATION.search(before) and not any(word in words for word in own)


def _names(code: str) -> str:
    """The name of a code as words may hold it; empty where it is none by which it is told."""
    grade = code.isdigit() or code.casefold() in _ROMAN
    return "" if grade or code in _TELLS_NOTHING else code.replace("_", " ").casefold()


def _another_scale(element: Element, words: str) -> bool:
    return (
        element.name == "modified_pfirrmann_grade"
        and bool(_ORIGINAL_SCALE.search(words))
        and not _NAMED_SCALE.search(words)
    )


def _another_grade(words: str, recorded: set[int]) -> bool:
    """Whether words hold one grade, and it is none of those that are recorded."""
    grades = list(_GRADE.finditer(words))
    if not recorded or len(grades) != 1 or len(_ANY_GRADE.findall(words)) != 1:
        return False
    said = grades[0]["one"]
    return _ROMAN.get(said, int(said) if said.isdigit() else 0) not in recorded


def _numbers(code: str) -> set[int]:
    """The numbers of a code that is a grade: "1-2" holds two, "III" and "IIIa" one, "mild" none."""
    parts = [re.sub(r"[ab]$", "", part) for part in code.casefold().split("-")]
    if not all(part in _ROMAN or part.isdigit() for part in parts):
        return set()
    return {_ROMAN.get(part, int(part) if part.isdigit() else 0) for part in parts}
