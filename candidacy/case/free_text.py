"""Free text of a record: what it may hold of danger, and words that say that nothing is known.

No rule reads free text. Where a word of it may tell a sign of danger that no recorded fact tells, the record gains the
fact ``danger_in_text``, which says where the words stand; it settles nothing and is there to be read by a person.
"""

import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import NamedTuple

from candidacy.case.catalogue import catalogue
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
# What stands between two words of danger without denying them, as `danger_words.txt` writes it.
_GAP = re.compile(r"<(?P<most>\d+)(?P<commas>,?)>")
_NO_DENIAL = r"(?!\b(?:no(?! doubt)|not(?! only)|without(?! doubt)|never|none|nil)\b)"
# The element in words that a formula reads, and how many letters of a name are the same in the spellings of one medicine.
_NAME, _SAME = "medicine_name", 6
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
_DENIES = re.compile(
    r"\b(?:no(?! (?:\w+ ){0,2}doubt| (?:improvement|resolution|regression|healing|cure|break) (?:of|in|from)\b| change of (?:the|her|his)\b)|not(?! (?:deny|denying|without)\b)|non|nor|neither|never|none|nil|denie[sd]|denying|(?<!not )without(?! (?:\w+ )?doubt)|negative for|free of|absence of|absent|rules? out|"
    r"ruled out|excluded|unremarkable for"
    # in other languages; "no" and "non" are those of several
    r"|kein\w*|ohne|nicht|verneint|sans|pas d\w*|aucune?|nie|sin|niega|senza|nega|sem|geen|zonder)\b"
)
_DENIED_BEHIND = re.compile(
    r"(?:\W{0,3}(?:was|is|are|were|has been|have been|signs?|symptoms?|nerve|roots?|appears?|tests?|screen(?:s|ing)?|markers?|panel|"
    r"serology|swabs?|cultures?|status|work-?up|disease|[a-e]|all)\b"
    # the rest of a list that is denied as a whole
    r"|(?:, ?\w+(?: \w+)?)*,? ?(?:and|or|/) ?\w+(?: \w+)?(?=\W)|(?:, ?\w+(?: \w+)?)+(?= ?:))*\W{0,3}"
    r"(?:unremarkable|normal|clear|intact|excluded|ruled out|denied|absent|neg(?:ative)?\b|not (?:present|seen|suspected|reported|applicable)"
    r"|n/a|unlikely"
    # not "not taken today", "never taken as prescribed"
    r"|never (?:been )?(?:taken|given|used|started|prescribed|needed)(?=\W*(?:$|[,):]|(?:and|or|nor)\b|by (?:her|him|the patient)\b))"
    r"|not (?:been )?(?:taken|given|used|started|prescribed|needed)(?=\W*$)|(?:none|no|nein|non|keine?)\b(?! ?\w))"
)
# What may happen, and what to do then: "risk of infection", "call if fever occurs", "fear of cancer".
_MAY_HAPPEN = re.compile(
    r"\b(?:risks?(?: factors?)? (?:of|for|like|such as|including)|fear of|in case of"
    r"|(?:told|advised|instructed|asked|knows|is) to (?:call|return|report|phone|ring|come back|attend|seek help)"
    r"|(?:call|return|phone|ring|come back|attend)\b[^.;]{0,40}? if)\b"
)
# What is to be kept away, and not what keeps it away: "prevention of stroke with apixaban". What was not prevented came.
_PREVENTED = re.compile(
    r"(?<!not )(?<!n't )(?<!failed to )(?<!unable to )(?<!despite )(?<!secondary )\b(?:prevent(?:s|ing|ion of)?|prophyla\w+ (?:of|against|for))\b"
    r"(?![^.;]*(?::|\b(?:with|by|using|on|takes|given"
    # what is to be kept from coming again has come
    r"|second|further|another|recurr\w*|relaps\w*|repeat\w*|rejection)\b))"
)
# A risk, and what is taken for it or brings it: "risk of stroke, so on warfarin", "risk of bleeding while on dabigatran".
_FOR_IT = re.compile(
    r"\b(?:so|hence|therefore|thus|because|due to|owing to)\b|\b(?:on|under)(?: (?:(?:her|his|the|daily|oral|long-term)))? $"
)
_LIST_ABSENT = re.compile(
    r"(?:(?!\b(?:present|yes|positive|since|was|is|has|had)\b)[^()])*\)\W{0,2}(?:(?:were|are|was|is) )?(?:all )?(?:asked and )?"
    r"(?:absent|denied|negative|(?:none|no)\b(?! ?\w))"
)
# What stands behind a comma is denied with what stands before it only where it is a bare part of a list.
_SAYS_SOMETHING = re.compile(
    r"\b(?:has|had|have|having|was|is|were|on|takes|taking|took|new|since|reports?|reported|says|told|tells|mention\w*|admit\w*"
    r"|describ\w*|complain\w*|now|recent|last|yesterday|"
    r"with|after|known|history|started|treated|under)\b"
)
# What is asked together with signs of danger, and so denied with them.
_ASKED_TOO = re.compile(
    r"\b(?:signs?|evidence|history|symptoms?|features?|red flags?|weight|sweats?|bowel|bladder|sphincter|numb\w*|weak\w*|trauma|bleed\w*|night|"
    r"chills?|allerg\w*|deficits?|illness|latex|iodine|diabetes|smok\w*|pregnan\w*|drugs?|alcohol|steroids?|falls?|injur\w*|surger\w*|incontinen\w*"
    r"|diseases?|disorders?|\w{3,}(?:opath(?:y|ies)|itis|osis|a?emia|uria|oma))\b"
)
# What a person is, and no item of a list behind "no": "no gait disorder, ataxic".
_IS_SO = re.compile(
    r"(?:ataxic|febrile|feverish|incontinent|unsteady|confused|suicidal|pregnant|anticoagulated|septic|infected|hypotensive|hypoxic|tachycardic"
    r"|bradycardic|breathless|demented|diabetic|immunosuppressed|neutropenic|haemophiliac|hemophiliac)"
)
_OF_WHAT_ONE_IS = re.compile(r"\b(?:not|nor|neither|never|n't|non|denies being)\b")
# Where the items of a denied list part, and words behind which a denial reaches no further.
_PARTS = re.compile(r"\b(?P<and>and|plus)\b|(?P<sign>[&+])|\b(?:or|nor)\b|/|,|\(")
_NO_FURTHER = re.compile(
    r"\b(?:because|due to|despite|after|since|only|just|(?:with the )?exception|excluding|apart from|aside from|other than|save for|besides|yet|then|when|while|until|from)\b"
    r"|\s[-–—]\s"
)
# What may stand between "and" and an item of a denied list, and behind such an item; anything else may assert it.
_BARE_LEAD = re.compile(
    r"\W*(?:(?:any|other|active|acute|signs?|symptoms?|evidence|features|red|flags?|of|for|spinal|lumbar|local|systemic|urinary|"
    r"fa?ecal|bowel|bladder|neck)\W+)*"
)
_BARE_TAIL = re.compile(
    r"(?:\W+(?:signs?|symptoms?|risks?|sweats?|disorders?|diathesis|events?|in the past|of any kind|of the (?:lumbar )?spine|at any level"
    r"|on (?:mri|ct|imaging|the images)|(?:(?:is|are|was|were|has been|have been)\W+)?(?:seen|reported|noted|identified|recorded|mentioned"
    r"|described|elicited|suspected|evident)|either|at all|so far|to date|at present|currently))*\W*(?:$|[,)/:]|\b(?:and|or|nor)\b)"
)
_ASSERTS_BEHIND = re.compile(
    r"(?:(?!\b(?:or|nor)\b)[^,])*?(?:\b(?:19|20)\d\d|(?<!over )(?<!than )(?<!above )(?<!beyond )(?<![\d.,>])\d+(?:[.,]\d+)? ?(?:cm|mm|mg|g|mcg|ml|l)|\b(?:has|had|have|having|is|was|were|are|drained|treated|now|since|yesterday|today"
    r"|tonight|ago|implanted|inserted|removed|resected|diagnosed|confirmed|placed|put in|started|biopsied|carrier|running|in a row|in remission|go(?:es)? on|continues?|ongoing|under (?:treatment|investigation|review|antibiotics?|observation|surveillance)|on (?:surveillance|antibiotics?)|until|planned|scheduled|booked|overdue|daily|weekly|monthly|nightly|times|twice|once a|(?:a|per|each|every) (?:day|week|month|night)"
    r"|in (?:(?:her|his|the) (?:chart|notes|records?)|(?:early |late |mid-?)?(?:january|february|march|april|may|june|july|august|september|october"
    r"|november|december))|(?:last|this|on|at) (?:week(?:ends?)?|month|year|night|morning|evening|afternoon|spring|summer|autumn|fall|winter|\w+day)))\b"
)
# The same where nothing says that the list goes on: "rash after cefazolin", but "fever, pain with cough, or sweats".
_ASSERTS_WEAKLY = re.compile(
    r"[^,]*?\b(?:after|following|with|when|while|during|over(?! \d)|from (?:the|her|his|an?)|for(?! (?:\w+ )?(?:years|months|weeks)\b)|on(?! (?:(?:the|an?|any|direct"
    r"|further|repeated|plain|recent|physical|clinical|\w*spine) )?(?:\w*mri|ct|imaging|images?|scans?|films?|x-?rays?|radiographs?|ultrasound"
    r"|sonography|screen\w*|exam\w*|question\w*|history|review|inspection|palpation|enquiry|inquiry|asking|request)\b))\b"
)
# What counts as the thing that is denied: "no fever (> 38 °C)".
_LIMIT = re.compile(r"\W*(?:[<>≤≥]|(?:over|above|beyond|more than|at least)\b)")
# What makes of a bracket behind a denial a statement of its own: "no surgery (now foot drop)", but "no red flags (fever, foot drop)".
_ASSERTS_IN_BRACKET = re.compile(
    r"\b(?:now|currently|today|tonight|yesterday|meanwhile|instead|newly|has|have|having|had|is|was|are|were|takes|taking|took|uses|using"
    r"|reports?|reported|says|said|tells|told|shows?|showed|developed|developing|started|known (?:to have|for)|treated|admitted|presents?"
    r"|presented|noticed|complain\w*|mention\w*|though|although|still|remains|persist\w*|continues?|awaiting|awaits|switched)\b"
    r"|\b(?:on|under)(?: (?:long-term|daily|oral|low-dose|regular|chronic|lifelong))? $"
)
_PRESENT_BEHIND = re.compile(r"\W{1,2}(?:(?:is|are|was|were) )?(?:present|positive|yes)\b")
_LIST_GOES_ON = re.compile(r"\b(?:or|nor)\b")
_LIST_GOES_ON_HERE = re.compile(r"\b(?:and|or|nor)\b")
# Words that are no bare item of a list: a value that was measured, or what something does.
_ASSERTED = re.compile(
    r"\d|\b(?:is|are|was|were|has|had|feels?|getting|became|gone|grew|grows|fell|tripped|slipped|thrown|knocked|hit|drinks?|snorts?"
    r"|injects|shoots|cannot|can't|can not|unable|could not|couldn't|did not|didn't|does not|doesn't|lost|losing|wakes?|woken"
    r"|bleeds|bruises|wets?|soils|leaks|took|takes|taken|reacts|reacted|collapsed|fainted|vomit(?:s|ed)|died|refus(?:es|ed)"
    r"|declin(?:es|ed)|withdrew|wants|changed|expects|points|missed|overdue|late|would|rather|positive|gives|gave|buckles|buckled)\b"
)
_NOR = re.compile(r"\bnor\b")
# To deny that something was stopped says that it goes on: "no reason to stop apixaban".
_STOPS = re.compile(
    r"\b(?:stop(?:s|ped|ping)?|hold(?:ing)?|held|paus(?:e|ed|es|ing)|discontinu\w+|interrupt\w*|withh[eo]ld\w*|skip\w*|miss\w*"
    r"|(?:come|coming|came) off|(?:not|n't) prevent(?:ed)?)(?: (?:an?|spinal|another|the|her|his|their|any|taking|(?:a )?doses? of))* $"
)
_STOPPED = re.compile(
    r"(?: (?:and|or|nor) [\w-]+)? (?:was|were|is|are|has been|have been|being|to be) (?:stopped|held|paused|discontinued|interrupted|withheld"
    r"|skipped|missed)\b"
)
# What begins anew behind a comma: "no test done, she may be pregnant".
_NEW_CLAUSE = re.compile(
    r"\s*(?:(?:the )?patient|she|he|they|takes|uses|injects|shoots|snorts|there (?:is|was|are|were))\b"
)
_ASSERTS_BEFORE = re.compile(
    r"\b(?:has|have|had|takes|taking|took|on|under|with|developed|treated|reports?)\b[^,]*$"
)
# What is said of the patient of today behind what may happen, or behind what a relative had.
_SAYS_TODAY = re.compile(
    r"\b(?:has|have|had|having|is|was|were|since|yesterday|today|now|reports?|reported|takes|taking|started|treated|developed|"
    r"he|she|they|patient|himself|herself)\b"
)
_FROM_A_DAY = re.compile(r"\W{0,3}(?:of \d|for \d|since|yesterday|today|last|this|now|present|confirmed)\b")
# Of a relative only what stands right behind: not "came with her husband, has fever", nor what one did or saw.
_OF_FAMILY = re.compile(
    r"\bfamily history\b|(?<!with )(?<!with her )(?<!with his )(?<!with the )\b(?:mother|father|sister|brother|husband|wife|son|daughter|uncle|aunt|cousin|friend)(?: \([^()]{0,12}\))? \(?on"
    # what one is on: not "her daughter on Sunday noticed fever"
    r"(?= (?:(?!the\b|\w+day\b|\w+ing\b|arrival\b|return\b)[\w-]+ ){0,2}$)|(?<!he and his )(?<!he and her )(?<!patient and his )(?<!patient and her )\b(?:mother|father|sister|brother|aunt|uncle|grandmother|grandfather|parent|cousin|husband|wife|partner"
    r"|son|daughter|friend|neighbour|neighbor)s?(?: \([^()]{0,12}\)|, who [^,.;]{1,40},)?(?:(?: (?!(?:and|with|he|she|they|it|who|patient|herself|himself)\b)[\w-]+)?|,? who(?! (?:is|was|are|were) a\b)) "
    r"(?:(?:is|was|are|were) (?:on|under|having|a|known|treated)|died|with|uses|takes|underwent"
    r"|(?:has|had|have|needs|needed)(?! (?:to|(?!been\b|treated\b)\w+(?:ed|en)|found|told|said|heard|felt|brought|kept|sent|got)\b))\b"
)
# What was said of a relative, said again of the patient: "her husband has it, so has she".
_THE_SAME = re.compile(
    r"[^.;]*\b(?:(?:so|as) (?:has|does|is|did|had|was) (?:she|he|they|the patient)|(?:she|he|patient)(?: [\w-]+){0,4} (?:too|as well|also|likewise)"
    r"|(?:she|he|patient) (?:too|also|likewise|herself|himself))\b"
)
# "Her mother died of it" is of the mother.
_A_RELATIVE = re.compile(
    r"\b(?:(?:grand)?(?:mother|father)|sister|brother|son|daughter|husband|wife|partner|parent|aunt|uncle|cousin|friend)s?(?: had|,? who)? $"
)
_DEATH = ("died", "deceased", "passed away")
# Where somebody works: "works as a nurse on an infectious diseases ward".
_AT_WORK = re.compile(
    r"\b(?:works?|worked|working|employed|volunteers?|job)(?: as (?:an? )?[\w-]+(?: [\w-]+)?)? (?:in|on|at|for) (?:(?:an?|the) )?"
    r"(?:(?!and\b|with\b)[\w-]+ )?$"
)
_PLACE_OF_WORK = re.compile(
    r"(?: \w+)? (?:wards?|units?|departments?|clinics?|hospitals?|charity|charities|laboratory|research)\b"
)


class _Topic(NamedTuple):
    name: str
    elements: frozenset[str]
    expressions: str

    @property
    def words(self) -> re.Pattern[str]:
        return _whole_words(self.expressions)

    @property
    def by_name(self) -> bool:
        """Whether its words are names of medicines."""
        return _NAME in self.elements


class Told(NamedTuple):
    """Words of a text that may tell a sign of danger."""

    topic: str
    words: str


def says_unknown(words: str | None) -> bool:
    """Whether the words of a source say by themselves that it does not tell: "n/a", "?", "pending"."""
    return words is not None and words.strip().casefold().rstrip(".") in _NOT_KNOWN


@cache
def _any_topic() -> re.Pattern[str]:
    """All expressions in one, which most texts hold none of."""
    return _whole_words("|".join(topic.expressions for topic in _topics()))


@cache
def _whole_words(expressions: str) -> re.Pattern[str]:
    # made ready when first asked for: of most records one text or none holds any
    return re.compile(rf"(?<![\w-])(?:{expressions})(?!\w)")


@cache
def _topics() -> tuple[_Topic, ...]:
    text = Path(__file__).with_name("danger_words.txt").read_text("utf-8")
    found = []
    for line in text.splitlines():
        if line and not line.startswith("#"):
            name, rest = line.split(":", 1)
            elements, *words = rest.split(" | ") if " | " in rest else rest.split("| ")
            pattern = "|".join(each.strip() for each in words)
            found.append(_Topic(name, frozenset(elements.split()), _GAP.sub(_gap, pattern)))
    return tuple(found)


def _gap(written: re.Match[str]) -> str:
    within = "[^.;]" if written["commas"] else "[^.;,]"
    return f"(?:{_NO_DENIAL}{within}){{0,{written['most']}}}"


# a record is gathered again after each edit, with all of its other texts as they were
@lru_cache(maxsize=1024)
def told_in(text: str) -> tuple[Told, ...]:
    """What a text may hold of danger, topic by topic, without what it denies or says of the family."""
    return tuple(_told_in(text))


def _told_in(text: str) -> Iterator[Told]:
    lowered = _plain(text)
    if not _any_topic().search(lowered):
        return
    for part in _END.split(lowered):
        if not _any_topic().search(part):
            continue
        for topic in _topics():
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
    before, behind = part[:start], part[end:]
    if _UNSETTLED.search(part):
        return False
    if denial := _DENIED_BEHIND.match(behind):
        # "on amoxicillin and fever denied": only the last of the two is
        return not (_PARTS.search(denial[0]) and _ASSERTS_BEFORE.search(before))
    if _AT_WORK.search(before) and _PLACE_OF_WORK.match(behind):
        return True
    if part[start:end].endswith(_DEATH) and _A_RELATIVE.search(before):
        return True
    if _THE_SAME.match(behind) or _STOPS.search(before) or _STOPPED.match(behind):
        return False
    aside = [found for words in (_OF_FAMILY, _MAY_HAPPEN, _PREVENTED) if (found := words.search(before))]
    if any(
        not _SAYS_TODAY.search(before, found.end())
        and not _FOR_IT.search(before, found.end())
        and not (found.re is _PREVENTED and _ends_before(before[found.end() :], behind))
        for found in aside
    ) and not _FROM_A_DAY.match(behind):
        return True
    if before.rfind("(") > before.rfind(")") and _LIST_ABSENT.match(behind):
        return True
    pieces = before.split(",")
    for far, piece in enumerate(reversed(pieces)):
        # "neither antibiotic cured it" denies nothing of what was treated
        if denials := [d for d in _DENIES.finditer(piece) if d[0] != "neither" or _NOR.search(part)]:
            # "no relief, fever": a list of what is denied begins with something of its kind
            listed = not far or _of_a_list(piece[denials[0].start() :])
            if far and _IS_SO.fullmatch(part[start:end]) and not _OF_WHAT_ONE_IS.search(denials[-1].group()):
                return False
            gap = ",".join((piece[denials[-1].end() :], *pieces[len(pieces) - far :]))
            return listed and _reaches(gap, part[start:end], behind)
        if _SAYS_SOMETHING.search(piece) or len(piece.split()) > 4:
            return False
    return False


def _ends_before(gap: str, behind: str) -> bool:
    """Whether what is prevented ends before what follows a comma: "prophylaxis for cellulitis, doxycycline daily"."""
    return "," in gap and not _LIST_GOES_ON_HERE.search(gap + behind)


def _reaches(gap: str, found: str, behind: str) -> bool:
    """Whether a denial reaches over what follows it: "no fever and abscess drained" denies the fever alone."""
    opened = gap.rfind("(")
    within = opened > gap.rfind(")")
    if _NO_FURTHER.search(gap) or (within and _ASSERTS_IN_BRACKET.search(gap, opened)):
        return False
    if within and _PRESENT_BEHIND.match(behind):
        return False
    part = next(reversed(list(_PARTS.finditer(gap))), None)
    if part is None:
        return True
    if part["and"] or part["sign"]:
        return bool(_BARE_LEAD.fullmatch(gap, part.end()) and _BARE_TAIL.match(behind))
    if part[0] not in (",", "(") or (part[0] == "(" and _LIMIT.match(gap, part.end())):
        return True
    if _ASSERTED.search(found) or _ASSERTS_BEHIND.match(found + behind) or _NEW_CLAUSE.match(gap, part.end()):
        return False
    return not _ASSERTS_WEAKLY.match(found + behind) or _LIST_GOES_ON.search(behind) is not None


def _of_a_list(piece: str) -> bool:
    return _ASKED_TOO.search(piece) is not None or any(topic.words.search(piece) for topic in _topics())


def add_danger_in_text(record: CaseRecord, facts: CaseFacts) -> None:
    """Add what the free text of a record may hold of danger to its facts."""
    if ELEMENT not in catalogue():
        return
    told: dict[str, str] = {}
    present = _present(facts)
    for where, text, about in _texts(record):
        codes = told_by_codes(text) if where.startswith(f"{DIAGNOSIS} ") else ()
        for topic, words in (
            *_told(text, about),
            *_not_valid(where, text),
            *_fever_beside(where, text),
            *codes,
        ):
            if not (_elements(topic) & present) or _of_another_medicine(topic, words, facts):
                told.setdefault(topic, f"{where}: “{shorten(text)}” ({words})")
        if said := _another_person(_plain(text), record, facts):
            told.setdefault("another person", f"{where}: “{shorten(text)}” ({said})")
    for where, text, words in _of_another_part(record):
        told.setdefault("another part of the body", f"{where}: “{shorten(text)}” ({words})")
    if told:
        where = "; ".join(f"{topic}: {words}" for topic, words in told.items())
        facts.patient[ELEMENT] = Fact(
            ELEMENT, "patient", TRUE, None, Provenance(document="free text", as_written="true", words=where)
        )


def _of_another_medicine(topic: str, name: str, facts: CaseFacts) -> bool:
    """Whether the words of a topic are the name of a medicine that a list of medicines lacks.

    A record that lists none names none, so there the recorded fact tells what the words tell.
    """
    if _NAME not in _elements(topic):
        return False
    listed = [fact for fact in facts.stated() if fact.element in (_NAME, "medicine_agent")]
    names = [_ASPIRIN.sub("aspirin", _plain(fact.provenance.as_written)) for fact in listed]
    same = re.compile(rf"\b{re.escape(_ASPIRIN.sub('aspirin', name)[:_SAME])}")
    return bool(names) and not any(map(same.search, names))


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
    return next((each.elements for each in _topics() if each.name == topic), frozenset())


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
            is_text = known is not None and known.kind == "words" and element != _NAME
            if is_text and isinstance(entry.value, str):
                yield f"{element} of {subject}", entry.value, None
