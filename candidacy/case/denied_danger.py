"""Whether a sentence denies a word of danger that stands in it, or says it of a relative, of a risk, or of what is prevented."""

import re

from candidacy.case.danger_topics import topics_in

_DENIES = re.compile(
    # a review of systems begins so: "ROS: neg fever/chills"
    r"^\W*(?:ros\W+)?neg(?:ative)?\b(?= )|\b(?:no(?! (?:\w+ ){0,2}doubt| (?:improvement|resolution|regression|healing|cure|break) (?:of|in|from)\b| change of (?:the|her|his)\b)|not(?! (?:deny|denying|without)\b)|non|nor|neither|never|none|nil|denie[sd]|denying|(?<!not )without(?! (?:\w+ )?doubt)|neg(?:ative)? for|free of|absence of|absent|rules? out|"
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
    r"|n/a|unlikely|non-?reactive|immune\b(?! status)|tested neg(?:ative)?\b"
    # not "not taken today", "never taken as prescribed"
    r"|never (?:been )?(?:taken|given|used|started|prescribed|needed)(?=\W*(?:$|[,):]|(?:and|or|nor)\b|by (?:her|him|the patient)\b))"
    r"|not (?:been )?(?:taken|given|used|started|prescribed|needed)(?=\W*$)|(?:none|no|never|nein|non|keine?)\b(?! ?\w))"
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
_PRESENT_BEHIND = re.compile(r"\W{1,2}(?:(?:is|are|was|were) )?(?:present|pos(?:itive)?|yes)\b")
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
    r"\s*(?:(?:the )?patient|she|he|they|takes|uses|injects|shoots|snorts|pos(?:itive)?|there (?:is|was|are|were))\b"
)
_ASSERTS_BEFORE = re.compile(
    r"\b(?:has|have|had|takes|taking|took|on|under|with|developed|treated|reports?)\b[^,]*$"
)
# What is said of the patient of today behind what may happen, or behind what a relative had.
_SAYS_TODAY = re.compile(
    r"\b(?:has|have|had|having|is|was|were|since|yesterday|today|now|reports?|reported|takes|taking|started|treated|developed|"
    r"he|she|they|patient|himself|herself"
    # where the history of the patient begins behind that of the family
    r"|pmhx?|pshx?|past (?:medical|surgical)|medical history|personal(?:ly)?|own|self|s/p|status post|pt)\b"
)
_FROM_A_DAY = re.compile(r"\W{0,3}(?:of \d|for \d|since|yesterday|today|last|this|now|present|confirmed)\b")
# Of a relative only what stands right behind: not "came with her husband, has fever", nor what one did or saw.
_OF_FAMILY = re.compile(
    r"\b(?:family history|fam(?:ily)? hx|fhx?)\b(?!\W+(?:nil|none|negative|neg|unremarkable|non-?contributory|nc)\b(?! for))|(?<!with )(?<!with her )(?<!with his )(?<!with the )\b(?:mother|father|sister|brother|husband|wife|son|daughter|uncle|aunt|cousin|friend)(?: \([^()]{0,12}\))? \(?on"
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
# A relative right before what is told, as in notes: "mother CVA"; nobody who is there with the patient.
_RELATIVE_RIGHT_BEFORE = re.compile(
    r"(?:^|[,;:(/]\s*|\b(?:maternal|paternal|her|his) )(?:(?:grand)?(?:mother|father|parents?)|mom|mum|dad|sister|brother|aunt|uncle|cousin)(?: (?:w/|had))? $"
)
_A_RELATIVE = re.compile(
    r"\b(?:(?:grand)?(?:mother|father)|sister|brother|son|daughter|husband|wife|partner|parent|aunt|uncle|cousin|friend)s?(?: had|,? who)? $"
)
_WITH = re.compile(r"\b(?:with|and|by|of|for) (?:\w+ )?\S+ $")
_DEATH = ("died", "deceased", "passed away")
# Where somebody works: "works as a nurse on an infectious diseases ward".
_AT_WORK = re.compile(
    r"\b(?:works?|worked|working|employed|volunteers?|job)(?: as (?:an? )?[\w-]+(?: [\w-]+)?)? (?:in|on|at|for) (?:(?:an?|the) )?"
    r"(?:(?!and\b|with\b)[\w-]+ )?$"
)
_PLACE_OF_WORK = re.compile(
    r"(?: \w+)? (?:wards?|units?|departments?|clinics?|hospitals?|charity|charities|laboratory|research)\b"
)


def denies(part: str, start: int, end: int) -> bool:
    """Whether a part of a text denies the words between two places, or says them of nobody who is the patient of today."""
    before, behind = part[:start], part[end:]
    if denial := _DENIED_BEHIND.match(behind):
        # "on amoxicillin and fever denied": only the last of the two is
        return not (_PARTS.search(denial[0]) and _ASSERTS_BEFORE.search(before))
    if _AT_WORK.search(before) and _PLACE_OF_WORK.match(behind):
        return True
    if part[start:end].endswith(_DEATH) and _A_RELATIVE.search(before):
        return True
    if _THE_SAME.match(behind) or _STOPS.search(before) or _STOPPED.match(behind):
        return False
    if _RELATIVE_RIGHT_BEFORE.search(before) and not _WITH.search(before):
        return True
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
    if part[0] == "," and _PRESENT_BEHIND.match(behind):
        return False  # "no fever, chills present", but "no fever, chills or rash present"
    if _ASSERTED.search(found) or _ASSERTS_BEHIND.match(found + behind) or _NEW_CLAUSE.match(gap, part.end()):
        return False
    return not _ASSERTS_WEAKLY.match(found + behind) or _LIST_GOES_ON.search(behind) is not None


def _of_a_list(piece: str) -> bool:
    return _ASKED_TOO.search(piece) is not None or any(
        topic.words.search(piece) for topic in topics_in(piece)
    )
