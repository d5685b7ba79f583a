"""A reply to the referrer, drafted from a decision: plan and actions on top, as short as it can be. A person finishes it."""

from msgspec import Struct

from candidacy.conference.case_page import CasePage, case_page
from candidacy.conference.found import item_of
from candidacy.conference.minutes import decision_words, failing_lines, took_part
from candidacy.explain.cautions import GENERAL, INVENTED
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.foundation.visible import clean
from candidacy.records.letters import KeptLetter
from candidacy.records.store import Store

DRAFT = "DRAFT, not sent: to be read, completed and signed by a person"
FILL = "[to be filled in]"
REPLY = "reply"
_MOST_MISSING, _MOST_VALUES = 8, 8


class Letter(Struct, frozen=True):
    """A draft: what warns before it is sent, then its parts with headings, the plan first."""

    reference: str
    warnings: tuple[str, ...]
    parts: tuple[tuple[str, tuple[str, ...]], ...]
    record_digest: str
    """Digest of the record that the decision was made on."""


def letter_of(store: Store, item: int) -> Letter:
    """Draft the reply about an item that was decided. What is read for it is entered as read.

    Raises
    ------
    StoreError
        E704 for an item that there is not, E202 where nothing is decided yet.
    """
    page = case_page(store, item_of(store, item), others=False, as_decided=True)
    if page.decision is None:
        raise StoreError([Problem(Code.MISSING_KEY, "nothing is decided about this item", "item", found=str(item),
                                  next_step="record the decision first: candidacy conference decide")])  # fmt: skip
    said = page.decision[0].said
    document = store.kept_answer(said.assessment).document if said.assessment else None
    warnings = [f"Do not send before it was looked at again: {reason}" for reason in page.decision[1].reasons]
    warnings += [INVENTED] if document is not None and document.case.invented else []
    parts = {
        "To": [f"The referrer of {page.item.reference}: {FILL}"],
        "Plan": _plan(page),
        "Your question": [page.item.question],
        "Where the case stands": _stands(page),
        "Which criteria fail, and on what": _decided(page, document),
        "What is still missing": _missing(document),
        "Safety": _safety(page, document),
        "Medicines before a procedure": _medicines(document),
        "Told to the patient": [
            f"{FILL}: what the patient was told, by whom, and that opinions differed where they did"
        ],
        "Who took part": _took_part(page),
        "Signed": [f"{FILL}: name, role, day; copies to: {FILL}", GENERAL[0]],
    }
    return Letter(
        page.item.reference,
        tuple(warnings),
        tuple((name, tuple(lines)) for name, lines in parts.items() if lines),
        said.record_digest,
    )


def letter_text(letter: Letter) -> str:
    """The draft as text; first and last line say that it is one."""
    lines = [DRAFT, *letter.warnings]
    for heading, part in letter.parts:
        lines += ["", f"{heading}:", *(f"- {line}" for line in part)]
    return "".join(f"{clean(line)}\n" for line in [*lines, "", DRAFT])


def keep_reply(store: Store, letter: Letter) -> KeptLetter:
    """Keep the draft with its referral, as other letters are kept.

    Raises
    ------
    StoreError
        E702 where the record changed since the decision was made.
    """
    return store.keep_letter(letter.reference, REPLY, letter_text(letter), record_digest=letter.record_digest)


def _plan(page: CasePage) -> list[str]:
    assert page.decision is not None
    decision = page.decision[0]
    said = decision.said
    lines = [f"The conference decided: {decision_words(decision)}.", f"Reason: {said.reason}"]
    lines += [f"Condition: {each}" for each in said.conditions]
    roles = {m.person: m.role for m in page.meeting.members} if page.meeting else {}
    who = f"{roles[said.responsible]} ({said.responsible})" if said.responsible in roles else said.responsible
    lines.append(f"Responsible: {who}; by when: {FILL}")
    return lines + ([f"To be looked at again on {said.review_on}."] if said.review_on else [])


def _stands(page: CasePage) -> list[str]:
    if page.standing is None:
        return ["No assessment is kept."]
    s = page.standing
    return [f"{s.words} under {s.rules} as of {s.as_of}; a standing is a status under that rule set, not an instruction.",
            *([f"Discs: {'; '.join(s.discs)}"] if s.discs else [])]  # fmt: skip


def _decided(page: CasePage, document: AssessmentDocument | None) -> list[str]:
    lines = failing_lines(page) + list(page.graver)
    facts = [fact for each in page.failing for fact in each.facts]
    values = [f"Value: {fact}" for fact in dict.fromkeys(facts)] if document is not None else []
    return lines + _first(values, _MOST_VALUES)


def _missing(document: AssessmentDocument | None) -> list[str]:
    if document is None:
        return []
    found = [each for each in document.missing if each.weight != "no"]
    lines = [
        ("" if each.subject == "patient" else f"{each.subject}: ") + f"{each.ask} ({each.why})"
        for each in found
    ]
    return _first(lines, _MOST_MISSING)


def _first(lines: list[str], most: int) -> list[str]:
    more = len(lines) - most
    return lines[:most] + ([f"and {more} more, listed in the assessment"] if more > 0 else [])


def _safety(page: CasePage, document: AssessmentDocument | None) -> list[str]:
    if document is None:
        return []
    return [warning for warning in page.warnings if warning not in (*document.notices, INVENTED)]


def _medicines(document: AssessmentDocument | None) -> list[str]:
    if document is None or document.holds is None:
        return []
    planned = document.holds.planned
    return [
        f"{hold_title(each)}. " + "; ".join(f"{label}: {text}" for label, text in hold_lines(each, planned))
        for each in document.holds.medicines
    ]


def _took_part(page: CasePage) -> list[str]:
    if page.meeting is None:
        return []
    part, _ = took_part(page, page.meeting)
    roles = [m.role for m in page.meeting.members if m.person in part]
    dissent = page.decision[0].said.dissent if page.decision else []
    by = {m.person: m.role for m in page.meeting.members}
    return [
        ", ".join(roles),
        *(f"Opinions differed: {by.get(each.person, each.person)}: {each.reason}" for each in dissent),
    ]
