"""From the text of a referral letter to a reading of the kind that notes have; no inference beyond the words."""

import re
from typing import Any

from candidacy.foundation.errors import Code, Problem, ReportError
from candidacy.reading.dangers import MATTERS, named
from candidacy.reading.gates import problem_of
from candidacy.reading.language import foreign
from candidacy.reading.letters.aggravators import read_aggravators
from candidacy.reading.letters.care import is_past_care
from candidacy.reading.letters.corrected import corrected, not_taken
from candidacy.reading.letters.dangers import OF_OTHERS, with_danger
from candidacy.reading.letters.doubts import SentenceRead, gainsaid, mentioned_elsewhere
from candidacy.reading.letters.entries import subjects
from candidacy.reading.letters.findings import denials, read_findings
from candidacy.reading.letters.layout import answered, measured_on, sentences
from candidacy.reading.letters.meant import is_of_back
from candidacy.reading.letters.parts import Part, parts_of
from candidacy.reading.letters.persons import (
    begins_with_another,
    first_named,
    is_calling,
    is_of_patient,
    is_unknown,
    known_by_name,
    names_of_patient,
    sex_of_others,
    sex_of_patient,
    sex_of_subject,
    told_by_another,
)
from candidacy.reading.letters.segments import (
    CARE,
    STATUS,
    Segment,
    is_light,
    is_person,
    segments,
    separators,
)
from candidacy.reading.letters.shapes import is_former_smoker, opens_with_onset, quit_smoking, shaped
from candidacy.reading.letters.tails import split
from candidacy.reading.letters.taken_back import WEIGH, Beside, left_of
from candidacy.reading.letters.told import Told, Where
from candidacy.reading.letters.words import alternatives, greets, words
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import KNOWN, PARTLY, UNREAD, USED, Account, Span
from candidacy.reading.notes.days import days, order_open
from candidacy.reading.notes.elements import possible
from candidacy.reading.notes.kinds import settled
from candidacy.reading.notes.layout import unquoted
from candidacy.reading.notes.merged import questions, together
from candidacy.reading.notes.model import PATIENT, NoteFact, NoteReading, Question, Said
from candidacy.reading.standing import standing_marks

_CELLS = re.compile(r"\t+|(?<=\S) {3,}(?=\S)|\|")
_AS_A = ("as a", "as an")
_QUOTES = ('"', "“", "”")
_EITHER = "either day first or month first, which is not told"
_SAID_BY_ANOTHER = "said by somebody who is not known to be the patient"
_TOLD_BY_ANOTHER = "told by another person"
_FIRST = 4
"""The letter's day may stand without a label in so many of its first sentences."""


def read_letter(text: str, name: str = "letter", day: str = "", asked: str = "letter") -> NoteReading:
    """Read one referral letter given as text.

    Parameters
    ----------
    day
        Day of the letter (``YYYY-MM-DD``) as someone gives it; without one that of the text is taken.
    asked
        The kind that was asked for; empty to have it told from the text.

    Raises
    ------
    ReportError
        E401 for a text that is no letter; for one that is taken back, or in another language, as for an imaging report.

    Examples
    --------
    >>> letter = read_letter("She denies fever or chills. Her mother had cancer.")
    >>> [(f.element, f.form) for f in letter.facts], [a.why for a in letter.unread]
    ([('fever', {'value': False}), ('chills_or_rigors', {'value': False})], ['of another person'])
    """
    guess = settled(text, asked, name)
    if guess.kind != "letter":
        raise ReportError(
            [Problem(Code.BAD_REPORT, "this is no letter", name, found=f"{guess.kind}: {guess.why}", expected="letter")]
        )  # fmt: skip
    plain = answered(unquoted(text))
    marks = (*standing_marks(plain), *(m for m in foreign(plain, lexicon()).marks if m.span is not None))
    refused = [problem_of(m, plain, name) for m in marks if m.refuses]
    if refused:
        raise ReportError(refused)
    rows = [SentenceRead(s, parts_of(plain, *s.span)) for s in sentences(plain)]
    letter_day, dated, several = _day(rows, day)
    named = names_of_patient(plain, [_behind_another(plain, row) for row in rows])
    for row in rows:
        row.parts = quit_smoking(known_by_name(row.parts, named))
    _sentences(plain, rows, letter_day)
    corrected(plain, rows)
    not_taken(plain, rows)
    said, entries = _said(rows)
    facts = tuple(f if possible(f) else _impossible(f) for f in together(said))
    facts = tuple(gainsaid(plain, f, rows) for f in facts)
    asking = [Question(m.about, "", "", ()) for m in marks]
    asking += [Question(t.ask, "", "", (span,)) for r in rows for span, t in r.told if t.ask]
    asking += [Question("the letter bears several dates", "", "", ())] if several else []
    asking += mentioned_elsewhere(entries, rows, facts)
    if order_open(plain):
        dates = [d for r in rows if r.told for d in days(plain, *r.sentence.span) if d.note]
        asking += [
            Question(
                f"{plain[d.span.start : d.span.end]} is {d.note if d.day else _EITHER}", "", "", (d.span,)
            )
            for d in dates
        ]
    ledger = tuple(
        with_danger(
            plain,
            _account(plain, n, r, facts, n in dated),
            r.sentence.section,
            [span for span, why in r.missed if why in denials()],
        )
        for n, r in enumerate(rows)
    )
    return NoteReading(text, "letter", guess.why, facts, ledger, (*asking, *questions(facts, "")))


def _behind_another(text: str, row: SentenceRead) -> str:
    """Give what stands in a sentence behind the word for another person: ``Mrs Green`` of ``his wife Mrs Green``."""
    ends = [p.end for p in row.parts if (r := p.role("stops")) and str(r.value) == OF_OTHERS[0]]
    return text[ends[0] : row.sentence.span.end] if ends else ""


def day_of_letter(text: str) -> str:
    """Give the day that the letter bears (``YYYY-MM-DD``), or nothing where it bears none or several."""
    plain = unquoted(text)
    return _day([SentenceRead(s, parts_of(plain, *s.span)) for s in sentences(plain)], "")[0]


def _day(rows: list[SentenceRead], given: str) -> tuple[str, set[int], bool]:
    """Give the letter's day, the sentences that are no more than it, and whether it bears several."""
    found: dict[str, int] = {}
    stated: set[int] = set()
    for n, row in enumerate(rows):
        dates = [p for p in row.parts if p.kind == "day" and len(p.day) == 10]
        if len(dates) != 1:
            continue
        lead = [p for p in row.parts if p.start < dates[0].start and not is_light(p) and p.text != ","]
        behind = [p for p in row.parts if p.start > dates[0].start and not is_light(p)]
        labelled = bool(lead) and lead[-1].role("date_labels") is not None and (len(lead) == 1 or n == 0)
        if (labelled and not behind) or (not lead and (n == 0 or (n < _FIRST and not behind))):
            found.setdefault(dates[0].day, n)
            if not behind:
                stated.add(n)
    if given:
        return given, stated, len(found) > 1
    return (next(iter(found)) if len(found) == 1 else ""), stated, len(found) > 1


def _sentences(text: str, rows: list[SentenceRead], day: str) -> None:
    of_another = listed = insurer = False
    sex = sex_of_patient([row.parts for row in rows])
    first_person = first_named(text)
    others = ""  # the sex of those named last, where they are of one
    taken_back = ""  # why nothing listed under "Medications: discontinued" is read
    for row in rows:
        listed = _medicine_head(text, row) or (listed and "|" in _words_of(text, row))
        if row.sentence.skip == "heading":
            of_another, insurer, taken_back = False, False, ""
            continue
        weighs = _weighs(row.parts)
        if not weighs and _is_greeting(text, row.sentence.span):
            continue
        if not row.sentence.skip:
            _without_bracket(row)
        why = row.sentence.skip or _stop(row.parts)
        if why == OF_OTHERS[0] and told_by_another(text, row.parts):
            why = _TOLD_BY_ANOTHER
        span = row.sentence.span
        measured = ""
        if not why and listed and _names_a_medicine(row):
            row.parts = [p for p in row.parts if p.text != "|"]
            row.sentence = row.sentence._replace(section="medicines")
        elif not why and len(_CELLS.findall(text, span.start, span.end)) > 1:
            why = "a row of a table"
        elif not why:
            measured = _without_label(text, row)
        first = next((p.text.lower() for p in row.parts), "")
        patient = any(p.text.lower() in words().data["patient"] for p in row.parts)
        if not why and begins_with_another(_words_of(text, row), first_person):
            why = "perhaps of another person"
        another = of_another and sex_of_subject(row.parts) in ("", others) if others else of_another
        if not why and another and not patient and first in words().data["pronouns"]:
            why = "perhaps of the person named before"
        own = patient or first in words().data["subjects"] or not row.parts
        if not why and insurer and not own and any(p.role("findings") for p in row.parts):
            why = f"perhaps {_SAID_BY_ANOTHER}"
        insurer = not own and (insurer or (_said_by_another(row.parts) and _names_insurer(row.parts)))
        if row.sentence.skip != "heading":
            of_another = why.startswith((OF_OTHERS[0], "perhaps of", _TOLD_BY_ANOTHER))
            others = (sex_of_others(row.parts) or others) if of_another else ""
        if not why and sex and sex_of_subject(row.parts) not in ("", sex):
            why = f"{OF_OTHERS[0]}, by the pronoun"
        label = _unknown_label(row.parts)
        why = why or (f"the label is not known: {label}" if label else "")
        if not why and taken_back and row.sentence.section == "medicines":
            why = taken_back
        if why:
            row.missed.append((row.sentence.span, why))
            if _stop(row.parts) and not weighs and row.sentence.section == "medicines":
                taken_back = why
            continue
        _segments(text, row, Where(row.sentence.section, day, measured=measured))
        if not weighs and not any(t.said or t.entry or t.ask for _, t in row.told):
            row.missed = [(row.sentence.span, "nothing recognised")]


def _words_of(text: str, row: SentenceRead) -> str:
    return text[row.sentence.span.start : row.sentence.span.end]


def _medicine_head(text: str, row: SentenceRead) -> bool:
    """Say whether a line is the head of a table of medicines, and note that it is one."""
    cells = [c.strip().lower() for c in _words_of(text, row).strip(" |").split("|")]
    if len(cells) < 2 or not all(c in alternatives("medicine_columns") for c in cells):
        return False
    row.sentence = row.sentence._replace(skip="heading")
    return True


def _names_a_medicine(row: SentenceRead) -> bool:
    first = next((p for p in row.parts if p.text != "|"), None)
    drugs = [p for p in row.parts if p.role("medicines")]
    return len(drugs) == 1 and drugs[0] is first


def _without_label(text: str, row: SentenceRead) -> str:
    """Take a label with its day from the front of a sentence, and give the day: ``Labs 04/12/2026: INR 1.1``."""
    at = next((i for i, p in enumerate(row.parts) if p.text == ":"), 0)
    day = measured_on(text, row.parts[0].start, row.parts[at].start) if at else ""
    if day:
        row.parts = row.parts[at + 1 :]
    return day


def _weighs(parts: list[Part]) -> bool:
    return any(p.kind != "phrase" or any(p.role(n) for n in WEIGH) for p in parts)


def _stop(parts: list[Part]) -> str:
    if sum(p.role("stops") is not None for p in parts) == 1 and any(map(_dated_by_its_age, segments(parts))):
        return ""
    past = _only_of_care(parts)
    parts = [
        p
        for n, p in enumerate(parts)
        if not (
            p.text.lower() in _AS_A
            and ([q.kind for q in parts[n + 1 : n + 2]] == ["score"] or _is_at_work(parts, n))
        )
    ]
    return next(
        (str(r.value) for p in parts if (r := p.role("stops")) and not (past and is_past_care(p))), ""
    )


def _is_at_work(parts: list[Part], n: int) -> bool:
    """Say whether ``as a`` at ``n`` tells a calling: ``works for the council as a driver``."""
    behind = next((p for p in parts[n + 1 : n + 2]), None)
    told = (
        behind is not None
        and is_unknown(behind)
        and not behind.text.lower().startswith(("teen", "you", "kid"))
    )
    return told and any(p.text.lower() in words().data["at_work"] for p in parts[:n])


def _only_of_care(parts: list[Part]) -> bool:
    """Say whether a sentence tells of nothing but what was done for the pain: that it was earlier takes nothing back."""
    other = [n for n in WEIGH if n not in (*CARE, "back_pain")]
    dosed = any(p.unit in ("mg", "mcg") or p.role("frequency") or p.role("taking") for p in parts)
    return (
        any(p.role(n) for p in parts for n in CARE)
        and not dosed
        and not any(p.role(n) for p in parts for n in other)
    )


def _without_bracket(row: SentenceRead) -> None:
    """Take out one item of a list that a bracket behind it takes back: ``physiotherapy, naproxen (stopped in May), and CBT``.

    Only where nothing of its kind stands before it, which the bracket may mean as well.
    """
    ends = [n for n, p in enumerate(row.parts) if p.text == ")"]
    for end in ends:
        begin = next((n for n in range(end, -1, -1) if row.parts[n].text == "("), -1)
        inside = row.parts[begin : end + 1]
        reasons = [str(r.value) for p in inside if (r := p.role("stops"))]
        if begin < 0 or not reasons or any(r != "of an earlier time" for r in reasons):
            continue
        signs = [n for n in range(begin) if row.parts[n].text.lower() in separators()]
        first = signs[-1] + 1 if signs else 0
        kinds = {n for p in row.parts[first:begin] for n in CARE if p.role(n)}
        if not signs or not kinds or any(p.role(n) for p in row.parts[:first] for n in kinds):
            continue
        taken = row.parts[first : end + 1]
        row.missed.append((Span(taken[0].start, taken[-1].end), reasons[0]))
        row.parts = row.parts[:first] + row.parts[end + 1 :]
        return


def _dated_by_its_age(row: Segment) -> bool:
    """Say whether a statement tells how long ago the back pain began, or smoking was given up."""
    stopped = any(p.kind == "ago" for p in row.parts) and any(map(is_former_smoker, row.parts))
    return stopped or _dates_the_pain(row)


def _dates_the_pain(row: Segment) -> bool:
    meant = opens_with_onset(row) or any(
        p.role("labels") and p.text.lower() in words().data["pain"] for p in row.parts
    )
    return any(p.kind == "ago" for p in row.parts) and row.has("onset") and (row.has("back_pain") or meant)


def _unknown_label(parts: list[Part]) -> str:
    """Give the words before a colon where they are not known to say whose, when and what.

    What stands before a comma is no label: ``Weight: 94 kg, height: 181 cm``. What was done may bear its date: ``ESI 2024: no relief``.
    """
    for at, p in enumerate(parts):
        if p.text == ":":
            begin = _label_begins(parts, at)
            lead = parts[begin:at]
            if any(q.role(n) for q in lead for n in CARE):
                continue
            bad = [
                q.text
                for q in lead
                if q.kind == "day" or (is_unknown(q) and q.text.lower() not in separators())
            ]
            if bad:
                return " ".join(bad)
    return ""


def _label_begins(parts: list[Part], at: int) -> int:
    """Give where the label before a colon begins: behind the comma or open bracket before it; a closed bracket is part of it."""
    depth = 0
    for i in range(at - 1, -1, -1):
        depth += (parts[i].text == ")") - (parts[i].text == "(")
        if depth < 0 or (not depth and parts[i].text in (",", ";")):
            return i + 1
    return 0


def _segments(text: str, row: SentenceRead, where: Where) -> None:
    if any(p.role("examined") for p in row.parts[:3]):
        where = where._replace(section="examination")
    pieces = [split(s, where.section) for s in segments(row.parts)]
    cut = [s for s, _ in pieces]
    row.missed += [(Span(a[0].start, a[-1].end), "not kept") for _, a in pieces if a]
    unknown = [[p.text for p in s.parts if is_unknown(p)] for s in cut]
    known = [not u for u in unknown]
    for n in range(1, len(cut)):
        opens = cut[n].by == "with" or (
            cut[n].by == "" and (cut[n].has(*STATUS, "taking") or cut[n].parts[0].text.lower() == "who")
        )
        sure = cut[n].has("deny", "deny_all") and is_of_patient(row.parts, cut[n])
        if not known[n - 1] and opens and not sure and not is_calling(cut, n - 1):
            known[n], unknown[n] = False, [*unknown[n - 1], *unknown[n]]
        for m in range(n - _taken_back(cut, n), n) if not known[n] else ():
            known[m], unknown[m] = False, [*unknown[m], *unknown[n]]
    for n in range(1, len(cut)):
        for m in range(n - _with_it(cut, n), n):
            known[m], unknown[m] = False, [*unknown[m], "for"]
    why = _hangs(row.parts, cut, known)
    if why:
        row.missed.append((row.sentence.span, why))
        return
    began = any(map(_dates_the_pain, cut))
    earlier = next((str(r.value) for p in row.parts if began and (r := p.role("stops"))), "")
    found = read_aggravators(text, cut, known) | read_findings(cut, where, known)
    carried = place = ""
    for n, segment in enumerate(cut):
        span = Span(segment.start, segment.end)
        pain = "back_pain" if is_of_back(text, segment.end, row.sentence.span.end) else ""
        where = where._replace(
            place=place if segment.by in (",", "and", ";") else "", pain=pain, in_back=_lies_in_back(segment)
        )
        place = _place_of(segment, where.place)
        if unknown[n]:
            carried = (
                "taking"
                if _is_item(segment, carried)
                else "allergic"
                if _is_allergy(segment, carried)
                else ""
            )
            row.missed.append((span, f"words not known: {' '.join(unknown[n][:4])}"))
            continue
        verb = "taking" if segment.by == "with" else carried if segment.by in (",", "and") else ""
        if verb == "allergic" and segment.parts[0].text.lower() == "on":
            verb = "taking"  # "allergic to latex, on penicillin"
        told = found[n] if n in found else shaped(segment, where, verb)
        taken = told.entry is not None and told.entry[0] == "medicines"
        today = taken or is_person(list(segment.parts)) or _dates_the_pain(segment)
        if earlier and not today:
            told = Told(why=earlier)  # "back pain began 2 years ago with fever"
        told = left_of(told, cut, n, row, Beside(_words_of(text, row), where, n in found))
        kept = "taking" if told.why and _is_item(segment, carried) else ""
        carried = _verb(segment, told, carried) or kept
        begin = told.begin if told.begin >= 0 and told.said else segment.start
        row.told.append((Span(begin, segment.end), told))
        if told.missed:
            row.missed += [(Span(p.start, p.end), told.why or "not kept") for p in told.missed]
        elif told.why:
            row.missed.append((span, told.why))


def _is_item(segment: Segment, carried: str) -> bool:
    """Say whether a segment that is not understood is one more medicine of a list that is taken: ``Endep 10 mg nocte``."""
    dosed = any(p.unit in ("mg", "mcg") for p in segment.parts) or segment.has("frequency", "as_needed")
    return dosed and (carried == "taking" or segment.has("taking")) and not segment.has("deny", "deny_all")


def _is_allergy(segment: Segment, carried: str) -> bool:
    """Say whether a segment that is not understood names one more thing of an allergy: ``allergic to plasters and penicillin``."""
    named = segment.has("allergic") or carried == "allergic"
    return named and not segment.has("deny", "deny_all", "state", "taking", "done")


def _taken_back(cut: list[Segment], n: int) -> int:
    """Say how many segments before one that is not understood it may take back.

    ``on warfarin, but ran out``, ``penicillin (not confirmed)``; behind a parenthesis of two: ``diabetes (HbA1c 48) excluded``.
    """
    bracket = cut[n - 1].parts[-1].text == "(" or any(p.text == "(" for p in cut[n].parts)
    if bracket and any(p.text.lower() in words().data["of_all"] for p in cut[n].parts):
        return n  # "physiotherapy and CBT (both cancelled)"
    if cut[n].by == ")":
        return min(n, 2)
    but = cut[n].by == "but" and not cut[n - 1].has("deny", "deny_all")
    return int(but or cut[n - 1].parts[-1].text == "(")


def _with_it(cut: list[Segment], n: int) -> int:
    """Say how many segments before one are listed with it and for the same: ``physiotherapy and acupuncture for her neck``."""
    if not _is_for_what(cut[n]):
        return 0
    m = n
    while m and cut[m].by in ("and", "or", ",") and cut[m - 1].has(*CARE) and not _is_told_apart(cut[m - 1]):
        m -= 1
    return n - m


def _is_told_apart(segment: Segment) -> bool:
    return segment.has("results", "frequency", "taking") or any(
        p.unit in ("mg", "mcg") for p in segment.parts
    )


def _is_for_what(segment: Segment) -> bool:
    """Say whether care is for something that is not known: ``acupuncture for her neck``."""
    parts = segment.parts
    opens = next((i for i, p in enumerate(parts) if p.text.lower() == "for"), len(parts))
    return any(p.role(n) for p in parts[:opens] for n in CARE) and any(
        is_unknown(p) or p.role("findings") for p in parts[opens:]
    )


def _lies_in_back(segment: Segment) -> bool:
    back = words().data["back"]
    return any(w in back for p in segment.parts if is_light(p) for w in p.text.lower().split())


def _place_of(segment: Segment, before: str) -> str:
    """Say which pain a score is of, as its own words or those before it tell, for the score that follows it."""
    if not any(p.kind == "score" for p in segment.parts):
        return ""
    named = [n for n in ("back_pain", "leg_pain") if segment.has(n)]
    return named[0] if len(named) == 1 else "" if named else before


def _hangs(parts: list[Part], cut: list[Segment], known: list[bool]) -> str:
    """Say why a whole sentence hangs on a part of it that is not understood: a date alone, or an opening that is not."""
    if len(cut) < 2:
        return ""
    alone = [all(is_light(p) or p.kind == "day" for p in s.parts) for s in cut]
    if any(alone):
        return "a date whose part is open"
    if not known[0] and _said_by_an_opening(list(cut[0].parts)):
        return "hangs on an opening that is not understood"
    if _said_by_another(parts):
        return _SAID_BY_ANOTHER
    if not known[0] and any(p.text in _QUOTES for p in parts):
        return "quoted by words that are not understood"
    opens = bool(parts) and parts[0].text.lower() in words().data["openers"]
    return "hangs on an opening that is not understood" if opens and not known[0] else ""


def _said_by_another(parts: list[Part]) -> bool:
    """``The insurer says``, ``the adjuster denies``: who says all of the sentence is a word that is not understood."""
    data = words().data
    saying = tuple(f"{word} " for word in data["saying"])
    at = next((n for n, p in enumerate(parts) if f"{p.text.lower()} ".startswith(saying)), 0)
    lead = parts[:at]
    patient = (*data["subjects"], *data["patient"], *separators(), ":")
    cared = [p for p in lead if p.role("PT") or p.role("treatments")]  # "the physio reports"
    weighs = any(p.kind != "phrase" or any(p.role(n) for n in WEIGH) for p in lead if p not in cared)
    if any(p.text.lower() in patient for p in lead):
        return False
    return _names_insurer(lead) or ((bool(cared) or any(map(is_unknown, lead))) and not weighs)


def _names_insurer(parts: list[Part]) -> bool:
    return any(w in words().data["insurers"] for p in parts for w in p.text.lower().split())


def _said_by_an_opening(parts: list[Part]) -> bool:
    """``It is unlikely that``, ``her doctor wrote that``: what follows is said by words that are not understood."""
    at = next((n for n, p in enumerate(parts) if p.text.lower() == "that"), 0)
    lead = parts[:at]
    return any(is_unknown(p) or p.role("deny") for p in lead) and not any(
        p.kind != "phrase" or any(p.role(n) for n in WEIGH) for p in lead
    )


def _verb(segment: Segment, told: Told, carried: str) -> str:
    """Give the verb that goes on to the next of a list: "takes A and B", "failed A and B", "allergic to A and B"."""
    heavy = [p for p in segment.parts if not is_light(p)]
    if told.entry is None and segment.has("other_care"):
        return "done" if any(p.role("done") for p in heavy) else carried
    if told.entry is None:
        named = heavy[0].role("allergic") or heavy[0].text.lower().startswith("allergic")
        return (
            "allergic" if told.said and (named or carried == "allergic") and not segment.has("deny") else ""
        )
    name = told.entry[0]
    if name == "medicines":
        return "taking" if heavy[0].role("taking") or carried == "taking" else ""
    if name in ("treatments", "surgeries") and (heavy[0].role("done") or heavy[0].role("results") or carried):
        return "failed" if heavy[0].role("results") or carried == "failed" else "done"
    return ""


def _said(rows: list[SentenceRead]) -> tuple[list[tuple[Said, int]], dict[str, str]]:
    out: list[tuple[Said, int]] = []
    entries: list[tuple[str, dict[str, Any], Span, int]] = []
    for n, row in enumerate(rows):
        for span, told in row.told:
            out += [(Said(PATIENT, e, form, span, note), n) for _, e, form, note in told.said]
            if told.entry is not None:
                entries.append((*told.entry, span, n))
    named = subjects([(name, forms) for name, forms, _, _ in entries])
    for (_, forms, span, n), subject in zip(entries, named, strict=True):
        out += [(Said(subject, e, form, span), n) for e, form in forms.items()]
    return out, {
        f["medicine_name"]["value"].lower(): s
        for (k, f, _, _), s in zip(entries, named, strict=True)
        if k == "medicines"
    }


def _impossible(fact: NoteFact) -> NoteFact:
    return fact._replace(form={"unknown": "not_readable"}, note="outside what is possible")


def _account(text: str, n: int, row: SentenceRead, facts: tuple[NoteFact, ...], dated: bool) -> Account:
    span = row.sentence.span
    if row.sentence.skip == "heading" or dated:
        return Account(span, KNOWN, n, rule="heading" if not dated else "the letter's day")
    resting = tuple(i for i, f in enumerate(facts) if n in f.clauses)
    missed = tuple(s for s, _ in row.missed)
    why = "; ".join(dict.fromkeys(w for _, w in row.missed))
    if resting:
        return Account(span, PARTLY if missed else USED, n, resting, why=why, missed=missed)
    if not row.told and not row.missed:
        return Account(span, KNOWN, n, rule="a greeting")
    return Account(span, UNREAD, n, why=why or "nothing recognised", missed=missed or (span,))


def _is_greeting(text: str, span: Span) -> bool:
    said = text[span.start : span.end].lower()
    return len(said.split()) <= 6 and greets(said) and not named(said, MATTERS)
