"""What an assessment tells a letter: values, lists and conditions of the closed list of names, all as visible text."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from msgspec import Struct

from candidacy.assessment.assess import Assessment
from candidacy.case.catalogue import catalogue
from candidacy.explain.asked import asked_first
from candidacy.explain.document import AssessmentDocument, CriterionInfo, FactInfo, TestInfo
from candidacy.explain.headline import earliest_words, remarks_words
from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.explain.holds_document import HoldsInfo
from candidacy.explain.missing_document import Asked, asked_together
from candidacy.explain.record import (
    conflict_lines,
    conflict_title,
    danger_lines,
    disputed_lines,
    fact_from,
    fact_words,
)
from candidacy.explain.wording import listed, subject_words
from candidacy.letters.frame import frame, shown
from candidacy.letters.names import CONDITIONS, LISTS, STATES
from candidacy.rules.vocabulary import REPORT_RED_FLAGS

Entry = Mapping[str, str]
_ANSWERS = {
    "pass": "met the rule",
    "fail": "did not meet the rule",
    "undetermined": "not settled by what the record says",
}
_EVIDENCE = 12
_ASKED = 15
"""Missing facts that a letter asks for; how many more there are is said."""


class Values(Struct, frozen=True):
    """Names with what they stand for; ``holding`` are the conditions that hold."""

    texts: Mapping[str, str]
    lists: Mapping[str, tuple[Entry, ...]]
    holding: frozenset[str]

    def of(self, texts: Mapping[str, str], holding: Iterable[str]) -> "Values":
        """The same with further values and conditions, as for one medicine."""
        return Values({**self.texts, **texts}, self.lists, self.holding | frozenset(holding))


def state_of(document: AssessmentDocument) -> str:
    """Which of `STATES` an answer is in; an emergency under a companion comes before the standing itself."""
    if document.standing == "urgent" or any(c.standing == "urgent" for c in document.companions):
        return "urgent"
    if document.shown == "candidate" and document.stops:
        return "held"
    return document.shown


def values_of(
    assessment: Assessment, document: AssessmentDocument, holds: HoldsInfo, planned: str = ""
) -> Values:
    """What a letter about the case may say.

    Parameters
    ----------
    assessment, document
        The answer, and its document.
    holds
        The medicines of the case for the planned day, if there is one.
    planned
        The proposed day; without it that of the record.
    """
    made = _Made(assessment, document, holds, planned)
    lists = {name: tuple(getattr(made, name)()) for name in LISTS}
    holding = {state_of(document)} | {f"any_{name}" for name, entries in lists.items() if entries}
    considered = made.considered
    holding |= {
        name
        for name, holds_true in (
            ("day_planned", bool(made.planned)),
            ("one_disc", len(considered) == 1),
            ("more_discs", len(considered) > 1),
            ("disc_known", bool(considered)),
            ("more_missing", made.missing_more > 0),
            ("medicines_complete", holds.list_complete),
            ("stopped_unagreed", any(medicine.alarm for medicine in holds.medicines)),
        )
        if holds_true
    }
    assert holding <= set(CONDITIONS)
    assert len(holding & set(STATES)) == 1
    return Values(made.texts(), lists, frozenset(holding))


@dataclass
class _Made:
    """One value or list each; nothing is worked out that the document does not say."""

    assessment: Assessment
    document: AssessmentDocument
    holds: HoldsInfo
    given_day: str
    considered: list[str] = field(init=False)
    planned: str = field(init=False)
    _facts: dict[tuple[str, str], FactInfo] = field(init=False)
    _counted: set[str] = field(init=False)
    _asked: list[Asked] = field(init=False)

    def __post_init__(self) -> None:
        d = self.document
        self.considered = [disc.level for disc in d.discs if disc.considered == "met"]
        aside = {disc.level for disc in d.discs if disc.considered == "not_met"}
        self._counted = {c.subject for c in d.criteria} - aside
        self.planned = self.given_day or self.holds.planned
        self._facts = {(f.element, f.subject): f for f in d.facts}
        self._asked = asked_together(asked_first(d))

    # --- values

    def texts(self) -> dict[str, str]:
        d, unknown = self.document, frame()["unknown"]
        found = {
            "reference": d.case.id,
            "day": d.as_of,
            "rule_set": d.rule_set.title,
            "standing": self._standing(),
            "discs": listed(self.considered) or unknown["discs"],
            "planned_day": self.planned or unknown["date"],
            "earliest_day": (d.not_yet.earliest if d.not_yet else None) or unknown["earliest"],
            "next_step": d.next_step,
            "criteria_passed": str(sum(c.shown == "pass" for c in self._deciding())),
            "criteria_failed": str(sum(c.outcome == "fail" for c in self._deciding())),
            "criteria_open": str(sum(c.outcome == "undetermined" for c in self._deciding())),
            "missing_more": str(self.missing_more),
            "not_applying": str(sum(c.shown == "does_not_apply" for c in self._deciding())),
        }
        return {name: shown(text) for name, text in found.items()}

    def _standing(self) -> str:
        """The standing, and what stands against it: a companion, or remarks that no rule read. A letter names none as if it stood alone."""
        d = self.document
        name = f"{d.standing_name}{earliest_words(d.not_yet)}{remarks_words(d)}"
        return frame()["held_standing"].format(name) if d.shown == "candidate" and d.stops else name

    # --- lists

    def urgent_acts(self) -> list[Entry]:
        acts = [c.act for c in self.document.criteria if c.outcome == "fail" and c.force == "stop"]
        return _entries("act", dict.fromkeys(acts))

    def stops(self) -> list[Entry]:
        return _entries("sentence", self.document.stops, 2)

    def failing(self) -> list[Entry]:
        return [
            {
                "finding": shown(_of(c.subject) + c.found),
                "because": shown("; ".join(c.because) or frame()["unknown"]["value"], 600),
                "evidence": self._documents_of(c),
            }
            for c in self._failed()
        ]

    def grounds(self) -> list[Entry]:
        return _entries("ground", self.document.grounds, 2)

    def waiting(self) -> list[Entry]:
        after = self.document.not_yet.after if self.document.not_yet else []
        return _entries("what", dict.fromkeys(_of(m.subject) + m.words for m in after))

    def mending(self) -> list[Entry]:
        return [
            {"finding": shown(_of(c.subject) + c.found), "change": shown(c.mendable.words)}
            for c in self._failed()
            if c.mendable is not None
        ]

    def missing(self) -> list[Entry]:
        return [
            {
                "ask": shown(asked.row.ask + ("" if asked.of == "patient" else f" ({asked.whose})")),
                "why": shown(asked.row.why),
            }
            for asked in self._asked[:_ASKED]
        ]

    @property
    def missing_more(self) -> int:
        """Facts that could decide and are not in `missing`."""
        return sum(asked.facts for asked in self._asked[_ASKED:])

    def disc_standings(self) -> list[Entry]:
        return [
            {"disc": shown(disc.level), "disc_standing": shown(disc.standing_name)}
            for disc in self.document.discs
            if disc.considered == "met"
        ]

    def incidental(self) -> list[Entry]:
        """Signs on images that a report puts on top, and recorded signs of danger that no criterion weighs."""
        flags = self.assessment.rule_set.tables(REPORT_RED_FLAGS)
        unread = {(u.fact.element, u.fact.subject): u.fact for u in self.document.unread}
        found: list[Entry] = [
            {"finding": shown(fact_words(fact)), "why": shown(str(flags[element]["says"]))}
            for (element, _), fact in sorted((self._facts | unread).items())
            if element in flags and fact.known and _present(fact)
        ]
        named = {each["finding"] for each in found}
        for line in [*danger_lines(self.document, cited=False), *disputed_lines(self.document)]:
            finding, _, why = line.partition(". Why it matters: ")
            if shown(finding) not in named:
                found.append({"finding": shown(finding), "why": shown(why or frame()["look_first"])})
        return found

    def conflicts(self) -> list[Entry]:
        return [
            {"conflict": shown(f"{conflict_title(c)}: {'; '.join(conflict_lines(c))}", 600)}
            for c in self.document.conflicts
        ]

    def remarks(self) -> list[Entry]:
        return [
            {"place": shown(each.where[:1].upper() + each.where[1:]), "remark": shown(each.text, 600)}
            for each in self.document.remarks
        ]

    def medicines(self) -> list[Entry]:
        kept = ("Today", "Now", "By the table", "Who must agree")
        return [
            {
                "medicine": shown(hold_title(m)),
                "says": shown(
                    "; ".join(t for label, t in hold_lines(m, self.holds.planned) if label in kept), 600
                ),
            }
            for m in self.holds.medicines
        ]

    def agreed_holds(self) -> list[Entry]:
        unknown = frame()["unknown"]
        return [
            {
                "medicine": shown(m.name or m.agent or subject_words(m.subject)),
                "proposed_last_dose": shown(m.last_dose_by or unknown["dose_day"]),
                "restart": shown(m.restart or unknown["value"]),
            }
            for m in self.holds.medicines
            if _agreed(m)
        ]

    def evidence(self) -> list[Entry]:
        return [
            {
                "finding": shown(_of(c.subject) + c.found),
                "answer": shown(_ANSWERS[c.outcome]),
                "evidence": self._values_of(c),
            }
            for c in self._deciding()
            if c.shown != "does_not_apply"
        ]

    def documents(self) -> list[Entry]:
        unknown = frame()["unknown"]["value"]
        return [
            {
                "document": shown(f"{each.kind.replace('_', ' ')} ({key})"),
                "date": shown(str(each.date) if each.date else unknown),
            }
            for key, each in self.assessment.case.record.documents.items()
        ]

    def missing_pages(self) -> list[Entry]:
        """Documents without a day, values without a document or day, and facts that could decide and are missing."""
        words = frame()["pages"]
        documents = self.assessment.case.record.documents
        pages = [f"{key}: {words['undated']}" for key, each in documents.items() if not each.date]
        loose = [f for f in self._facts.values() if f.known and not f.worked_out_from]
        pages += [f"{_label(f)}: {words['no_document']}" for f in loose if not f.document]
        pages += [f"{_label(f)}: {words['no_day']}" for f in loose if f.document and not f.date]
        if not documents:
            pages.insert(0, words["none"])
        pages += [
            ("" if asked.of == "patient" else f"{asked.whose}: ") + f"{asked.row.ask}: {asked.row.why}"
            for asked in self._asked
        ]
        return _entries("page", dict.fromkeys(page[:1].upper() + page[1:] for page in pages))

    def codes(self) -> list[Entry]:
        return []  # of the template; see compose

    # --- parts of these

    def _deciding(self) -> list[CriterionInfo]:
        return [c for c in self.document.criteria if c.force != "advisory" and c.subject in self._counted]

    def _failed(self) -> list[CriterionInfo]:
        """Deciding criteria that fail; one that only counts discs is left out where a disc says itself what fails."""
        failed = [c for c in self._deciding() if c.outcome == "fail"]
        told_by_disc = any(c.subject != "patient" for c in failed)
        return [c for c in failed if not (told_by_disc and _counts_discs(c.tests))]

    def _read_by(self, criterion: CriterionInfo) -> list[FactInfo]:
        found: dict[tuple[str, str], FactInfo] = {}

        def visit(test: TestInfo) -> None:
            fact = self._facts.get((test.element, test.subject))
            if fact is not None:
                found[test.element, test.subject] = fact
            for part in test.parts:
                visit(part)

        visit(criterion.tests)
        return list(found.values())

    def _values_of(self, criterion: CriterionInfo) -> str:
        facts = [fact_words(f) for f in self._read_by(criterion)]
        more = len(facts) - _EVIDENCE
        text = "; ".join(shown(fact) for fact in facts[:_EVIDENCE])
        text += f"; and {more} more" if more > 0 else ""
        return shown(text or "; ".join(criterion.because), 2000) or frame()["unknown"]["value"]

    def _documents_of(self, criterion: CriterionInfo) -> str:
        places = dict.fromkeys(shown(fact_from(f)) for f in self._read_by(criterion) if f.known)
        return shown("; ".join(p for p in places if p), 600) or frame()["unknown"]["value"]


def _agreed(medicine: Any) -> bool:
    return medicine.agreement == "given" and bool(medicine.intervals)


def _present(fact: FactInfo) -> bool:
    """Whether a sign of a report is there; a yes-or-no fact that says no, or a denial, is none."""
    return fact.value not in ("no", "none", "absent") and catalogue()[fact.element].kind == "boolean"


def _counts_discs(test: TestInfo) -> bool:
    return test.element == "disc_standing" or any(map(_counts_discs, test.parts))


def _label(fact: FactInfo) -> str:
    return _of(fact.subject) + fact.label


def _of(subject: str) -> str:
    return "" if subject == "patient" else f"{subject_words(subject)}: "


def _entries(name: str, texts: Iterable[str], times: int = 1) -> list[Entry]:
    return [{name: shown(text, 300 * times)} for text in texts if text]
