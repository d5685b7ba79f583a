"""Findings that are denied or stated: which word that says whether reaches which of them."""

from functools import cache

from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.segments import CARE, Segment, is_light
from candidacy.reading.letters.told import Said, Told, Where, row_says
from candidacy.reading.letters.words import words

DENIED, STATED = "denied", "stated"
_OPEN = "whether it is present or denied is not stated"
_BREAK = "which of them is denied is open"
_DEALT = "what is done about it, not the thing itself"
_ITSELF = "whether it is itself what is denied is open"
_SORT = "only one sort or degree of it is denied"
_NOT_WHOLLY = "not wholly understood"
_OF_ALL = (_SORT, _ITSELF, _DEALT)
"""Why the first of a list is not denied, and so no other of it is."""
_COVER = "whether it is cover that was denied is open"
NO_PLACE = "no element of the record holds its denial"
_EXAMINED = "found on examination, not what the patient reports"


def read_findings(rows: list[Segment], where: Where, known: list[bool]) -> dict[int, Told]:
    """Say for each segment that holds findings what it comes to; ``known`` tells which segments hold known words only."""
    if where.section == "examination" and any(
        p.role("deny_all") and p.text.lower().startswith("den") for r in rows for p in r.parts
    ):
        where = where._replace(section="text")  # what the patient denies is history wherever it stands
    if where.section == "allergies":  # what is known in a list of complaints tells there how an allergy shows
        known = [k and not row.has("allergens") for k, row in zip(known, rows, strict=True)]
    known = [
        k and not (row.has("allergens") and row.has("allergic")) for k, row in zip(known, rows, strict=True)
    ]
    if _of_cover(rows):
        return {n: Told(why=_COVER) for n, row in enumerate(rows) if row.has("findings")}
    own = [_own(row) if known[n] else "" for n, row in enumerate(rows)]
    if own and own[0] == "open" and _begins_negative(rows):
        own[0] = "deny"
    for n, row in enumerate(rows[1:], 1):
        if (
            own[n] == "deny"
            and row.by == ""
            and row.parts[0].text.lower() == "not"
            and _is_label(rows[n - 1])
        ):
            own[n] = "open"  # "the main problem is not osteoporosis"
        again = row.parts[0].role("together") or row.parts[0].text.lower().startswith("without")
        if row.by == "" and again and (_denies(rows[n - 1]) or own[n - 1] == "deny"):
            own[n - 1] = own[n] = "open"  # what is denied is the one with the other
        if row.by == "or" and row.parts[0].text.lower().startswith("without"):
            own[n] = "open"  # "with or without chills"
        if row.by == "or" and own[n - 1] in ("behind", STATED) and _answers_alone(row):
            own[n - 1] = "open"  # "fever pos/neg" is to be filled in
    for n, sign in enumerate(own if where.section != "problems" else ()):  # there a bare item states
        if _answers(rows[n]):
            _reach_label(rows, own, n)
        elif sign == "behind":
            _reach_back(rows, own, n)
    bare = [known[n] and row.has("findings") and own[n] == "bare" for n, row in enumerate(rows)]
    out: dict[int, Told] = {}
    n = 0
    while n < len(rows):
        if not (known[n] and rows[n].has("findings")):
            sign = _denied_within(rows[n], known[n])
            m = n + 1
            while sign and m < len(rows) and bare[m] and rows[m].by not in (".", "but", ";", ""):
                m += 1
            reach = _reach(sign, [r.by for r in rows[n + 1 : m]], False) if sign and m > n + 1 else ""
            for i in range(n + 1, m) if reach else ():
                out[i] = _told(rows[i], DENIED, where, False, _BREAK)._replace(begin=rows[n].start)
            n = m if reach else n + 1
            continue
        if bare[n]:
            treated = (
                n + 1 < len(rows) and rows[n + 1].by == "with"
            )  # "type 2 diabetes treated with metformin"
            listed = where.section == "problems" or treated
            out[n] = _listed(rows, known, n, STATED if listed else "", where)
            history = rows[n].has("history") and not out[n].why
            n += 1
            while (
                history
                and n < len(rows)
                and bare[n]
                and rows[n].by in (",", "and")
                and not rows[n].has("history")
            ):
                out[n] = _listed(rows, known, n, STATED, where)._replace(begin=rows[n - 1].start)
                n += 1
            continue
        stop = n + 1
        while stop < len(rows) and bare[stop] and rows[stop].by not in (".", "but", ";", ""):
            stop += 1
        mixed = any(o in (STATED, "bare") and rows[i].has("findings") for i, o in enumerate(own[:n]))
        reach = _reach(own[n], [r.by for r in rows[n + 1 : stop]], mixed)
        if (
            where.section == "problems"
            and own[n] == "deny"
            and "or" not in [r.by for r in rows[n + 1 : stop]]
        ):
            reach = "" if stop > n + 1 else reach  # "PMH: no diabetes, osteoporosis" may list two
        if stop < len(rows) and not known[stop] and rows[stop].by == "or" and own[n] == STATED:
            reach = ""
        listed = own[n - 1 : n + 1] == ["behind", "behind"] and out[n - 1].why in (*_OF_ALL, _NOT_WHOLLY)
        status = {"deny_all": DENIED, "deny": DENIED, "behind": DENIED}.get(own[n], own[n])
        if own[n] == STATED and reach == "":
            out[n] = Told(why=_OPEN)
        elif listed:  # "current fever and chills are denied"
            out[n] = Told(why=out[n - 1].why)
        else:
            out[n] = _told(rows[n], status, where, False)
        for i in range(n + 1, stop):
            if status == DENIED and out[n].why in _OF_ALL:
                out[i] = Told(why=out[n].why)  # of all that is listed on from there
                continue
            why = _BREAK if status == DENIED else _OPEN
            out[i] = _told(rows[i], status if reach else "", where, False, why)._replace(begin=rows[n].start)
        n = stop
    return out


def _of_cover(rows: list[Segment]) -> bool:
    """``Injections and fever were denied``: care and no subject, so that it may be the insurer who denied, or what was asked for."""
    data = words().data
    parts = [p for row in rows for p in row.parts]
    said = {w for p in parts for w in p.text.lower().split()}
    denied = any(p.text.lower().split()[-1] == "denied" and (p.role("denied_behind") or n == 0)
                 for n, p in enumerate(parts))  # fmt: skip
    if not denied or not said.isdisjoint((*data["subjects"], *data["covered_not"])):
        return False
    return any(row.has(*CARE, "other_care") for row in rows) or not said.isdisjoint(data["covered"])


@cache
def denials() -> frozenset[str]:
    """Reasons for which a part that certainly is denied is not used, or not wholly."""
    rows = words().data["findings"]
    return frozenset(
        (NO_PLACE, *(row[name] for row in rows for name in ("ask_denied", "rest_denied") if name in row))
    )


def _reach_back(rows: list[Segment], own: list[str], n: int) -> None:
    """Carry a denial behind a list to all of it where it is of more than one: ``fever, chills and weight loss are denied``.

    Behind a list that is stated it is open how far it reaches: ``reports fever, chills and weight loss denied``.
    """
    begin = n
    while begin and rows[begin].by in (",", "and", "or") and own[begin - 1] == "bare":
        begin -= 1
    before = rows[begin - 1] if begin and rows[begin].by in (",", "and", "or", "") else None
    together = any(p.text.lower() in words().data["denied_together"] for p in rows[n].parts)
    joined = together or begin < n or rows[begin].by in ("and", "or")
    if before is not None and before.has("findings") and not own[begin - 1] and joined:
        own[begin : n + 1] = ["open"] * (n + 1 - begin)  # "recurrent fever and chills are denied"
        return
    joined = before is not None and before.has("state")
    if begin < n and (joined or together):
        listed = "or" not in [r.by for r in rows[begin + 1 : n + 1]]
        for m in range(begin, n):  # "osteoporosis, fever and chills are denied" may list a disease
            own[m] = "open" if joined or (listed and _is_standing(rows[m])) else "behind"
        own[n] = "open" if joined else own[n]


def _is_standing(row: Segment) -> bool:
    """Say whether a segment holds a disease that a list of what there is may name."""
    return any(r.value.get("standing") for p in row.parts if (r := p.role("findings")))


def _answers_alone(row: Segment) -> bool:
    """Say whether a segment is no more than an answer: ``absent``."""
    return all(is_light(p) or p.role("denied_behind") or p.role("stated_behind") for p in row.parts)


def _answers(row: Segment) -> bool:
    """Say whether a segment ends with the answer to its label: ``chills: no``."""
    signs = [n for n, p in enumerate(row.parts) if p.role("denied_behind") or p.role("stated_behind")]
    return bool(signs) and row.parts[signs[-1] - 1].text == ":" and row.has("findings")


def _reach_label(rows: list[Segment], own: list[str], n: int) -> None:
    """Carry the answer to a label to all that stands in it: ``Fever, chills or weight loss: no``; which of several a yes is of is open."""
    joins = [r.by for r in rows[1 : n + 1]]
    standing = any(map(_is_standing, rows[:n]))
    if (
        own[:n] != ["bare"] * n
        or not {",", "and", "or"}.issuperset(joins)
        or (standing and "or" not in joins)
    ):
        return  # "osteoporosis, fever: no" may list a disease
    if own[n] == STATED and set(joins) != {"and"} and joins:
        own[: n + 1] = ["open"] * (n + 1)
    own[:n] = [own[n]] * n


def _denied_within(row: Segment, known: bool) -> str:
    """How a segment denies whose denial stands within a phrase (``denies leg pain``), or beside one word that is not known."""
    heavy = [p for p in row.parts if not is_light(p)]
    if known:
        told = [p for p in heavy if (r := p.role("values")) and "leg_pain_below_knee" in r.value["says"]]
        lead = tuple(words().data["denying"])
        if len(heavy) != 1 or len(told) != 1 or not told[0].text.lower().startswith(lead):
            return ""
        return "deny_all" if told[0].text.lower().startswith("den") else "deny"
    strange = [p for p in heavy[1:] if not p.roles]
    rest = [p for p in heavy[1:] if p.roles and not p.role("findings")]
    return "deny_all" if heavy[0].role("deny_all") and len(strange) == 1 and not rest else ""


def _is_label(row: Segment) -> bool:
    return all(is_light(p) or p.role("labels") for p in row.parts) and row.parts[-1].text != ":"


def _denies(row: Segment) -> bool:
    """Say whether a segment denies, by a word of its own or within a phrase: ``no leg pain``."""
    lead = tuple(words().data["denying"])
    return row.has("deny", "deny_all") or any(
        p.role("values") and p.text.lower().startswith(lead) for p in row.parts
    )


def _listed(rows: list[Segment], known: list[bool], n: int, status: str, where: Where) -> Told:
    """What one of a list says, if what stands directly behind it takes nothing back: ``osteoporosis not confirmed``."""
    behind = rows[n + 1] if n + 1 < len(rows) and rows[n + 1].by == "" else None
    if behind is not None and (not known[n + 1] or behind.has("deny", "deny_all", "denied_behind")):
        return Told(why=_OPEN)
    return _told(rows[n], status, where, True)


def _own(row: Segment) -> str:
    """The status a segment has of itself: ``deny_all``, ``deny``, ``behind``, ``stated``, ``bare``, or ``open``."""
    heavy = _heavy(row)
    signs = [
        p
        for p in heavy
        if not p.role("findings")
        and any(p.role(n) for n in ("deny_all", "deny", "state", "denied_behind", "stated_behind"))
    ]
    found = [i for i, p in enumerate(heavy) if p.role("findings")]
    if not found:
        return ""
    if not signs:
        return "bare"
    if len(signs) == 2 and signs[0].role("state") and (signs[1].role("deny") or signs[1].role("deny_all")):
        signs = signs[1:]  # "presents with no fever"
    if len(signs) > 1:
        return "open"
    at = heavy.index(signs[0])
    sign = signs[0]
    if at < found[0]:
        if sign.role("deny_all"):
            return "deny_all"
        if len(found) > 1:
            return "open"
        if sign.role("deny"):
            return "deny"
        return STATED if sign.role("state") else "open"
    if len(found) == 1 and at > found[0] and at == len(heavy) - 1:
        if sign.role("denied_behind") or (sign.role("deny_all") and sign.text.lower() == "denied"):
            return "behind"
        if sign.role("stated_behind"):
            return STATED
    return "open"


def _begins_negative(rows: list[Segment]) -> bool:
    """Say whether a sentence begins with "negative" before a finding, and answers nothing else: "neg fever/chills"."""
    answers = [p for row in rows for p in row.parts if p.role("denied_behind") or p.role("stated_behind")]
    heavy = _heavy(rows[0])
    return (
        len(answers) == 1
        and len(heavy) == 2
        and heavy[0] is answers[0]
        and heavy[0].text.lower() in words().data["negative"]
        and heavy[1].role("findings") is not None
    )


def _heavy(row: Segment) -> list[Part]:
    """Give the parts that weigh; a word that only fills does where it says behind a finding that it is there: ``chills present``."""
    last = len(row.parts) - 1
    return [
        p
        for n, p in enumerate(row.parts)
        if not is_light(p) or p.role("findings") or (p.role("stated_behind") and n == last and n > 0)
    ]


def _reach(own: str, signs: list[str], mixed: bool) -> str:
    """Say whether a status goes on to the bare findings behind it, joined by ``signs``."""
    if not signs:
        return "yes"
    if own == "behind":
        return ""
    if own == STATED:
        return "" if "or" in signs else "yes"
    if own == "deny_all" and all(s in ("and", "or") for s in signs):
        return "yes"
    if mixed and signs[-1] != "or" and not (own == "deny_all" and signs[-1] == "and"):
        return ""  # "reports fever, no chills, weight loss"; a list that "denies" opens ends with its "and"
    if own == "deny_all":
        return "yes"
    rest = [s for s in signs if s != "or"]
    if any(s != "," for s in rest):
        return ""
    last = max((i for i, s in enumerate(signs) if s == "or"), default=len(signs))
    return "" if any(s == "," for s in signs[last + 1 :]) else "yes"


def _told(row: Segment, status: str, where: Where, alone: bool, why: str = _OPEN) -> Told:
    heavy = _heavy(row)
    found = [p for p in heavy if p.role("findings")]
    rest = [p for p in heavy if not p.role("findings") and not _is_sign(p)]
    if where.section == "problems":  # the day of a diagnosis
        rest = [p for p in rest if p.kind != "day" or not found[0].role("findings").value.get("standing")]  # type: ignore[union-attr]
    if any(p.role("history") for p in rest) and found[0].role("findings").value.get("standing"):  # type: ignore[union-attr]
        rest = [
            p for p in rest if p.kind != "day" and not p.role("onset")
        ]  # "history of diabetes since 2018"
    history = [p for p in rest if p.role("history")]
    rest = [p for p in rest if not p.role("history") and not p.role("labels")]
    if rest:
        return Told(why=_NOT_WHOLLY)
    if where.section == "examination":
        return Told(why=_EXAMINED)
    if is_dealt_with(row.parts, "findings"):
        return Told(why=_DEALT)
    if status == DENIED and not _is_denied_itself(row):
        return Told(why=_ITSELF)
    if status == DENIED and row.has("qualifying"):
        return Told(why=_SORT)  # "no disabling night pain"
    said: tuple[Said, ...] = ()
    ask = ""
    for p in found:
        data = p.role("findings").value  # type: ignore[union-attr]
        its = status
        if not its and _is_allergic(p) and not any(q.text == ":" for q in row.parts):
            its = STATED
        elif data.get("said_whole") and not its and where.section != "problems":
            return Told(why=why)
        if alone and not data.get("standing") and not data.get("said_whole"):
            its = ""
        if history and its == "" and data.get("standing"):
            its = STATED
        if its in ("", "open"):
            return Told(why=why)
        if its == STATED and any(p.role("before") for p in history) and not data.get("past"):
            return Told(why="of an earlier time")
        if its == STATED and history and not data.get("standing"):
            return Told(why="of an earlier time")
        if its == STATED and data.get("stated") is None:
            return (
                Told(why=f"said to be present: {p.text}", ask=_asked(p, data))
                if "ask" in data
                else Told(why="no element of the record holds it")
            )
        if its == DENIED and data.get("denied") is None:
            return Told(why=data.get("ask_denied", NO_PLACE))
        said += row_says(data[its])
        ask = _asked(p, data) if its == STATED and "ask" in data else ask
        if its == DENIED and "rest_denied" in data:
            return Told(said, why=data["rest_denied"], missed=(p,))
    return Told(said, ask=ask)


def _is_allergic(part: Part) -> bool:
    """Say whether a phrase says of itself that there is an allergy: ``allergic to latex``, not its name alone."""
    return part.text.lower().startswith("allergic")


def is_dealt_with(parts: tuple[Part, ...], *names: str) -> bool:
    """Say whether behind one of what ``names`` tell stands what is done about it: ``osteoporosis assessment``."""
    row = [p for p in parts if not p.role("history") or any(p.role(name) for name in names)]
    return any(p.role("dealings") and any(row[n].role(name) for name in names) for n, p in enumerate(row[1:]))


def _is_denied_itself(row: Segment) -> bool:
    """Say whether nothing stands before a finding, behind the word that denies it if there is one, that may be what is denied."""
    data = words().data
    at = next(n for n, p in enumerate(row.parts) if p.role("findings"))
    begin = max(
        (n + 1 for n, p in enumerate(row.parts[:at]) if p.role("deny") or p.role("deny_all")), default=0
    )
    standing = any(p.role("findings").value.get("standing") for p in row.parts if p.role("findings"))  # type: ignore[union-attr]
    fine = set(data["within_denial"]) | (set() if standing else set(data["within_denial_of_complaints"]))
    between = [
        p
        for p in row.parts[begin:at]
        if begin and (is_light(p) or p.role("labels")) and not p.role("history")
    ]
    return all(p.text.lower() in fine or not any(map(str.isalnum, p.text)) for p in between)


def _is_sign(part: Part) -> bool:
    return any(part.role(n) for n in ("deny_all", "deny", "state", "denied_behind", "stated_behind"))


def _asked(part: Part, data: dict[str, str]) -> str:
    return f"{' '.join(part.text.split())} is stated; not said is {data['ask']}"
