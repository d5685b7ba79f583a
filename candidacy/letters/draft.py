"""A case that was answered, and a kind, give a drafted letter, or one for each antithrombotic."""

from collections.abc import Iterable, Mapping
from datetime import date
from functools import partial

from msgspec import Struct

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.hold_plan import HoldPlan, hold_plan
from candidacy.assessment.relate import view_of
from candidacy.case.edit import with_fact
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import FactEntry
from candidacy.explain.build import build_document
from candidacy.explain.cautions import EMERGENCY, INVENTED
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.hold_plan import hold_title, holds_info
from candidacy.explain.holds_document import HoldsInfo
from candidacy.explain.wording import remarks_first
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.letters.compose import compose
from candidacy.letters.frame import frame, shown, words_of
from candidacy.letters.letter import Letter
from candidacy.letters.load import Loaded, load
from candidacy.letters.medicine import ANTITHROMBOTIC, antithrombotics, medicine_values, same_agent
from candidacy.letters.names import BY_HAND, blanks
from candidacy.letters.template import PLACEHOLDER, LetterTemplate
from candidacy.letters.values import Values, values_of
from candidacy.letters.wrong import paragraphs
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import STANDINGS

LONGEST_BLANK = 200
"""Signs that a practice may fill into one blank."""


class Answered(Struct, frozen=True):
    """A case as it was answered, from which any kind of letter is drafted.

    ``case`` is the record as it was handed over, ``asked`` the same with the proposed day, if one was given.
    """

    case: Case
    asked: Case
    rule_set: RuleSet
    as_of: date
    planned: date | None
    assessment: Assessment
    document: AssessmentDocument
    plan: HoldPlan
    holds: HoldsInfo
    values: Values


def answered(
    case: Case,
    rule_set: RuleSet,
    as_of: date,
    planned: date | None = None,
    engine: str = "durable-rules",
) -> Answered:
    """Answer a case for letters.

    Parameters
    ----------
    planned
        A proposed day of the procedure, in place of that of the record.

    Raises
    ------
    InputError
        For a proposed day before the day of the answer, and where the record does not fit together with it.
    """
    if planned is not None and planned < as_of:
        raise InputError([Problem(Code.BAD_DATE, "the proposed day lies before the day of the answer", "--on",
                                  found=planned.isoformat(), expected=f"{as_of.isoformat()} or later")])  # fmt: skip
    asked = _with_day(case, planned)
    assessment = assess(asked, rule_set, as_of, engine)
    document = build_document(assessment)
    plan = hold_plan(asked, rule_set, as_of, planned)
    holds = holds_info(plan, rule_set)
    values = values_of(assessment, document, holds, planned.isoformat() if planned else "")
    return Answered(case, asked, rule_set, as_of, planned, assessment, document, plan, holds, values)


def drafts(
    kind: str,
    answer: Answered,
    library: Library,
    filled: Mapping[str, str] | None = None,
    medicine: str = "",
) -> list[Letter]:
    """Draft a kind of letter: one, or one for each antithrombotic.

    Parameters
    ----------
    filled
        Blanks that the practice fills in, by name.
    medicine
        Of a kind with one letter for each antithrombotic: the one it is wanted for, such as ``medicines[2]``.

    Raises
    ------
    InputError
        For a kind or blank that there is not, for what may not be filled in, for a rule set that answers another question
        than whether the patient is a candidate, and where the record tells of nothing that
        a letter of this kind could be about.
    """
    loaded = load(library, kind)
    _is_about_the_patient(answer.rule_set)
    blanks_filled = checked(filled or {})
    _said_together(loaded.template, blanks_filled)
    made = partial(
        compose,
        loaded.template,
        filled=blanks_filled,
        sources=library.sources(),
        foot=foot_of(loaded, answer),
        discs=tuple(disc.level for disc in answer.document.discs if disc.considered == "met"),
    )
    warnings = warnings_of(answer.document)
    if loaded.template.for_each != "antithrombotic":
        return [made(values=answer.values, warnings=warnings)]
    chosen = _chosen(answer, medicine)
    told = without_letter(answer, chosen)
    view = view_of(answer.asked.facts, answer.as_of, answer.rule_set)
    return [
        made(
            values=medicine_values(
                answer.values, answer.assessment, answer.plan, answer.holds, subject, view
            ),
            warnings=(*warnings, *told),
            about=title,
        )
        for subject, title in chosen.items()
    ]


def antithrombotics_of(answer: Answered) -> dict[str, str]:
    """The medicines that a prescriber can be asked about, each with its name."""
    titles = {m.subject: shown(hold_title(m)) for m in answer.holds.medicines}
    return {subject: titles[subject] for subject in antithrombotics(answer.plan)}


def _chosen(answer: Answered, medicine: str) -> dict[str, str]:
    found = antithrombotics_of(answer)
    if not found:
        raise InputError([_nothing_to_ask(answer)])
    if medicine and medicine not in found:
        raise InputError([Problem(Code.USAGE, "no antithrombotic of this name in the record", "--medicine",
                                  found=shorten(medicine), expected=", ".join(found))])  # fmt: skip
    return {medicine: found[medicine]} if medicine else found


def checked(filled: Mapping[str, str]) -> dict[str, str]:
    """What a practice fills in, or everything that is wrong with it.

    Raises
    ------
    InputError
        E601 for a blank that there is not, one that is filled by hand only, text that is too long, or a word of promise
        or order.
    """
    wrong: list[Problem] = []
    can = [name for name in blanks() if name not in BY_HAND]
    for name, text in filled.items():
        where = f"--fill {name}" if name in blanks() else "--fill"
        if name not in blanks():
            wrong.append(
                Problem(Code.USAGE, "no such blank", where, found=shorten(name), expected=", ".join(can))
            )
        elif name in BY_HAND:
            wrong.append(Problem(Code.USAGE, "this blank is filled by hand: the program holds no name of a person", where,
                                 expected=", ".join(can)))  # fmt: skip
        elif len(text) > LONGEST_BLANK:
            wrong.append(Problem(Code.USAGE, "too long for a blank", where, found=f"{len(text)} signs",
                                 expected=f"at most {LONGEST_BLANK}"))  # fmt: skip
        elif words_of("forbidden", text):
            wrong.append(Problem(Code.USAGE, "a word of promise or order, which no letter says", where,
                                 found=words_of("forbidden", text)[0]))  # fmt: skip
    if wrong:
        raise InputError(wrong)
    return {name: text for name, text in filled.items() if text.strip()}


def _said_together(template: LetterTemplate, filled: Mapping[str, str]) -> None:
    """Refuse what a template and a blank promise or order only together."""
    for _, paragraph, _ in paragraphs(template):
        for text in paragraph.texts:
            said = words_of("forbidden", PLACEHOLDER.sub(lambda found: filled.get(found[1], found[0]), text))
            if said:
                raise InputError([Problem(Code.USAGE, "a word of promise or order, which no letter says", "--fill", found=said[0],
                                          expected=f"no such words together with the template: {shorten(text)}")])  # fmt: skip


def foot_of(loaded: Loaded | None, answer: Answered) -> str:
    """What a letter was made of: day, rule set, program, template and digests, and what of one's own it rests on."""
    d, case, planned = answer.document, answer.case, answer.planned
    pieces = [frame()["draft"], f"as of {d.as_of}", d.program, f"rule set {d.rule_set.id} {d.rule_set.version} {d.rule_set.digest}",
              f"case {case.record.id} {case.digest}"]  # fmt: skip
    if planned is not None:
        pieces.append(f"proposed day {planned.isoformat()}, in place of the day in the record")
    if loaded is not None:
        own = f" ({frame()['own_template']})" if loaded.own else ""
        pieces.append(f"template {loaded.template.id} {loaded.template.version} {loaded.digest}{own}")
        pieces += [loaded.replaced.words] if loaded.replaced else []
    pieces += [f"{r.kind} {r.id} of one's own in place of the shipped one" for r in d.rule_set.replaced]
    return shown("; ".join(pieces), 3000)


def warnings_of(document: AssessmentDocument) -> tuple[str, ...]:
    """What the practice must see before any letter leaves."""
    found = [EMERGENCY] if EMERGENCY in document.cautions else []
    found += [INVENTED] if document.case.invented else []
    found += [remarks_first(len(document.remarks))] if document.remarks else []
    return (*found, *map(shown, document.notices), frame()["names_by_hand"], frame()["language"])


def _is_about_the_patient(rule_set: RuleSet) -> None:
    """A letter accepts or refuses by the standing, so the standing must be one of a patient and not, say, of a report."""
    name = rule_set.decisions.name_of("candidate")
    if name != STANDINGS["candidate"]:
        raise InputError([Problem(
            Code.USAGE, "this rule set answers another question than whether the patient is a candidate", "--rules",
            found=f"{rule_set.id}, which says “{name}”", expected=f"one whose decision rules say “{STANDINGS['candidate']}”",
            next_step="such as practice_baseline; an order of decision rules of your own names it under names",
        )])  # fmt: skip


def _with_day(case: Case, planned: date | None) -> Case:
    if planned is None:
        return case
    entry = FactEntry(value=planned.isoformat())
    return case_from_record(
        with_fact(case.record, "patient", "planned_procedure_date", entry), case.record.id
    )


def without_letter(answer: Answered, chosen: Iterable[str]) -> list[str]:
    """What the practice must know of the list beside its letters: each medicine without one, with why, and what is twice."""
    words, written = frame()["without_letter"], set(chosen)
    told = []
    for medicine, info in zip(answer.plan.medicines, answer.holds.medicines, strict=True):
        if medicine.subject in written:
            continue
        why = "not_chosen" if medicine.group == ANTITHROMBOTIC else "other" if medicine.group else "unknown"
        told.append(f"{medicine.subject}, {shown(hold_title(info))}: {words[why]}")
    for agent, places in same_agent(answer.plan).items():
        told.append(f"{', '.join(places)}: {words['twice'].format(shown(agent))}")
    return told if answer.holds.list_complete else [*told, frame()["list_open"]]


def _nothing_to_ask(answer: Answered) -> Problem:
    known = all(medicine.group for medicine in answer.plan.medicines)
    words = "no antithrombotic" if known else "no medicine that is known as an antithrombotic"
    told = without_letter(answer, ())
    return Problem(Code.USAGE, f"no letter to a prescriber: the record names {words}", "KIND",
                   found="; ".join(told) or "no medicine, on a list that is stated to be complete",
                   next_step="ask what the patient takes, and enter it under medicines with its class")  # fmt: skip
