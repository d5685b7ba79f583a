"""What one person has on the desk: the open referral with its history, the rule set, what was typed.

It holds and hands out; checking, assessing and explaining are done by the functions of `candidacy`.
"""

import re
import secrets
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any, NamedTuple

from msgspec import Struct

from candidacy.assessment.assess import assess
from candidacy.case.catalogue import catalogue
from candidacy.case.edit import empty_record, facts_of, with_fact
from candidacy.case.element import LISTS
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.explain.build import build_document
from candidacy.explain.change import Change, changes
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.firm import with_firm
from candidacy.explain.said import recorded_words
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError, InputError, Problem
from candidacy.rules.libraries import library_in_use, load_rule_set
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet
from candidacy.ui.kept_documents import Documents, Key

DEFAULT_RULES = "practice_baseline"
KEPT_STEPS = 500
KEPT_CASES = 3
Place = tuple[str, str]  # subject, element
ASKED_TODAY = "=today"
"""Instead of a document: the facts entered now were asked for today."""
ASKED_DIRECTLY = "asked directly"
REPORT_DRAFT = re.compile(r"report (\d+) (.+)")
"""The subject of a refused correction of a report: the number of the report, and whom or which disc it is of."""
DOCUMENT_TYPED = "document-typed"
"""What stands in the fields of a document that is not added or corrected yet, by field."""
STORE_BASE = "store-base"
"""Kept under this: reference and version of the store that the work on the open referral stands on."""
# Of what a desk keeps, this belongs to one referral and is parked with it.
OF_A_REFERRAL = ("reports", "report", "report-text", "report-day", "report-kind", "unsettled", "study-days", "source", "dated", "more-levels",
                 "missing-rows", "missing-unlocked", "exports-agreed", "intake-page", "intake-rows", "intake-at", "intake-sources",
                 "intake-listing", "intake-new-document", "letter-day", "letter-medicine", "letter-blanks", "day",
                 "plan-day", "plan-before", "plan-entries", DOCUMENT_TYPED, STORE_BASE)  # fmt: skip

# Rows that a page made of elements that the rules read.
_ROWS_ON_A_PAGE = ("missing-rows", "missing-unlocked", "intake-rows", "intake-listing")

OF_THE_SERVER = (
    "cohort-run", "cohort-job", "cohort-tables", "cohort-former", "cohort-samples", "cohort-parts", "outcomes-files",
    "outcomes-found", "outcomes-name",
)  # fmt: skip
"""Of what a desk keeps, this is gone when the server stops."""


class State(NamedTuple):
    """What is kept of a desk on the disk: its steps, and the rest by name."""

    steps: list["Step"]
    rest: dict[str, Any]


class Step(Struct, frozen=True):
    """One state of the referral and the words for the edit that led to it."""

    record: CaseRecord
    label: str
    opened: bool = False
    referral: int = 0
    """Which referral it is a state of; a number of this desk alone."""


class Draft(Struct, frozen=True):
    """What was typed into a field and could not be taken over, and why; the record is as before."""

    text: Any
    problems: tuple[Problem, ...]
    reading: FactEntry | None = None
    """What a usual form was read as, for a person to take."""
    shown: str = ""
    """That reading in words."""


class Parked(Struct, frozen=True):
    """What belongs to a referral that is not open: its local trials, refused texts, reports and choices."""

    trials: dict[str, dict[tuple[str, str], Any]]
    drafts: dict[Place, Draft]
    kept: dict[str, Any]


def default_rules() -> str:
    """The rule set on a fresh desk; where a library with rule sets of one's own is in use, the first of them that extends it,
    or else the first."""
    library = library_in_use()
    own = list(library.rule_set_files()) if library.base is not None else []
    extending = (name for name in own if library.rule_set(name).file.extends == DEFAULT_RULES)
    return next(extending, next(iter(own), DEFAULT_RULES))


@lru_cache(maxsize=64)
def _rule_set(identifier: str, trial: tuple[tuple[tuple[str, str], Any], ...], library: Library) -> RuleSet:
    found = load_rule_set(identifier)
    return found.with_trial(dict(trial)) if trial else found


@dataclass
class Desk:
    """The state behind the pages of one browser session."""

    steps: list[Step] = field(default_factory=lambda: [Step(empty_record(), "empty referral")])
    at: int = 0
    rules: str = field(default_factory=default_rules)
    trials: dict[str, dict[tuple[str, str], Any]] = field(default_factory=dict)
    drafts: dict[Place, Draft] = field(default_factory=dict)
    kept: dict[str, Any] = field(default_factory=dict)
    today: Callable[[], date] = date.today
    work: str = field(default_factory=lambda: secrets.token_urlsafe(12))
    """Names this desk and its copies, so that all of them can be forgotten together."""
    parked: dict[int, Parked] = field(default_factory=dict)
    _referrals: int = 0
    _documents: Documents = field(default_factory=Documents)
    _settled: tuple[AssessmentDocument, AssessmentDocument] | None = None
    _cases: "OrderedDict[int, tuple[CaseRecord, Case]]" = field(default_factory=OrderedDict)
    _worked_out: tuple[AssessmentDocument, dict[Place, str]] | None = None
    _whole: tuple[AssessmentDocument, AssessmentDocument] | None = None

    def copy(self) -> "Desk":
        """An independent desk with the same content; records are never changed, so they are shared."""
        return replace(
            self,
            steps=list(self.steps),
            trials={k: dict(v) for k, v in self.trials.items()},
            drafts=dict(self.drafts),
            parked=dict(self.parked),
            kept={k: v.copy() if hasattr(v, "copy") else v for k, v in self.kept.items()},
            _documents=self._documents.copy(),
            _cases=OrderedDict(self._cases),
        )

    def settle(self) -> None:
        """Note that the page is drawn: what it did not ask for is kept small."""
        self._documents.settle()
        if self._worked_out is not None and not self._documents.holds(self._worked_out[0]):
            self._worked_out = None
        if self._whole is not None and not self._documents.holds(self._whole[0]):
            self._whole = None
        if self._settled is not None and not self._documents.holds(self._settled[0]):
            self._settled = None

    def doze(self) -> None:
        """Keep all that was worked out as small as it goes, while nobody works at an open page."""
        self.settle()
        self._documents.settle()  # nothing was asked for since: the page that stands has its words already
        self._cases.clear()
        self._worked_out = self._whole = self._settled = None

    def lay_down(self) -> None:
        """Let go of everything that can be worked out again, when the page is gone; what was entered stays."""
        self._documents.clear()
        self._cases.clear()
        self._worked_out = self._whole = self._settled = None

    @property
    def only_here(self) -> bool:
        """Whether something on it cannot outlive the server; see `OF_THE_SERVER`."""
        return any(name in self.kept for name in OF_THE_SERVER)

    def to_keep(self) -> State:
        """All of it that can outlive the server; a running screening and its tables cannot."""
        kept = {name: held for name, held in self.kept.items() if name not in OF_THE_SERVER}
        rest = {"at": self.at, "rules": self.rules, "trials": self.trials, "drafts": self.drafts, "kept": kept,
                "parked": self.parked, "work": self.work, "referrals": self._referrals}  # fmt: skip
        return State(self.steps, rest)

    @classmethod
    def from_kept(cls, state: State) -> "Desk":
        """The desk of which `to_keep` gave the content."""
        rest = dict(state.rest)
        return cls(steps=list(state.steps), _referrals=rest.pop("referrals"), **rest)

    # --- the referral and its history

    @property
    def record(self) -> CaseRecord:
        return self.steps[self.at].record

    @property
    def referral(self) -> int:
        """Which referral is open; a number of this desk alone."""
        return self.steps[self.at].referral

    @property
    def untouched(self) -> bool:
        """Whether nothing has been entered or opened."""
        return self.at == 0 and not self.drafts

    @property
    def just_opened(self) -> bool:
        """Whether the present state is a referral as it was opened."""
        return self.steps[self.at].opened

    def take(self, record: CaseRecord, label: str, *, opened: bool = False) -> None:
        """Make a checked record the present state; what had been undone is dropped."""
        if record == self.record:
            return
        self.case(record)
        self._add(Step(record, label, opened, self.steps[self.at].referral))

    def open(self, record: CaseRecord, label: str) -> None:
        """Put another referral on the desk; undo brings the former one back, with all that was parked with it."""
        self.case(record)
        told = self._belongings()
        if record == self.record and not told:
            return
        former = self.steps[self.at].referral
        self._referrals += 1
        more = f"; parked with the former referral until it is open again: {', '.join(told)}" if told else ""
        self._add(Step(record, label + more, True, self._referrals))
        self._change_over(former)

    def _add(self, step: Step) -> None:
        self.steps[self.at + 1 :] = [step]
        if len(self.steps) > KEPT_STEPS:
            del self.steps[0]
        self.at = len(self.steps) - 1
        left = {s.referral for s in self.steps}
        self.parked = {number: parked for number, parked in self.parked.items() if number in left}

    def undo(self) -> None:
        """Drop the text that was refused last; where there is none, go back to the state before."""
        if self.drafts:
            self.drafts.popitem()
            return
        self._go(max(0, self.at - 1))

    def redo(self) -> None:
        self._go(min(len(self.steps) - 1, self.at + 1))

    def _go(self, at: int) -> None:
        former, self.at = self.steps[self.at].referral, at
        if self.steps[at].referral != former:
            self._change_over(former)

    def _change_over(self, former: int) -> None:
        """Park what belongs to the referral that was open, and bring out what belongs to the one that is."""
        kept = {name: self.kept.pop(name) for name in OF_A_REFERRAL if name in self.kept}
        self.parked[former] = Parked(self.trials, self.drafts, kept)
        found = self.parked.pop(self.steps[self.at].referral, None) or Parked({}, {}, {})
        self.trials, self.drafts = dict(found.trials), dict(found.drafts)
        self.kept.update(found.kept)

    def _belongings(self) -> list[str]:
        """What is parked when another referral is opened, counted, in words."""
        reports = len(self.kept.get("reports", ()))
        counted = (
            (reports, "report", "reports"),
            (bool(str(self.kept.get("report-text", "")).strip()), "an unread pasted text", ""),
            (sum(bool(t) for t in self.trials.values()), "local trial", "local trials"),
            (len(self.drafts), "refused text", "refused texts"),
            (any("/" in name for name in self.kept.get("day", ())), "an open checklist of the day", ""),
        )
        return [
            one if one.startswith("an ") else f"{n} {many if n > 1 else one}" for n, one, many in counted if n
        ]

    # --- facts

    def entry(self, subject: str, element: str) -> FactEntry | None:
        return facts_of(self.record, subject).get(element)

    def write(self, subject: str, element: str, read: Callable[[], FactEntry | None], typed: Any) -> None:
        """Write what a field holds. What cannot be taken over stays in the field with the reason."""
        place = (subject, element)
        try:
            entry = read()
            old = self.entry(subject, element)
            if old is not None and entry is not None and _same_statement(old, entry):
                self.drafts.pop(place, None)
                return
            if entry is not None:
                entry = entry.model_copy(update=self.provenance)
            self.take(
                with_fact(self.record, subject, element, entry),
                recorded_words(subject, catalogue()[element], old, entry),
            )
        except CaseError as error:
            self.hold(place, typed, error.problems)
        else:
            self.drafts.pop(place, None)

    def hold(self, place: Place, typed: Any, problems: tuple[Problem, ...]) -> None:
        """Keep what was typed and could not be taken over."""
        self.drafts.pop(place, None)  # the last refused is the first that undo drops
        self.drafts[place] = Draft(typed, problems)

    @property
    def provenance(self) -> dict[str, str]:
        """Where facts entered now come from, as chosen by the person entering them."""
        source, role, dated = (str(self.kept.get(key) or "").strip() for key in ("source", "role", "dated"))
        if source == ASKED_TODAY:
            return {"date": self.today().isoformat(), "by": role or ASKED_DIRECTLY}
        found = {"source": source} if source in self.record.documents else {}
        found |= {"date": dated} if dated else {}
        return found | ({"by": role} if role else {})

    def asked_today(self, subject: str, element: str) -> None:
        """Record that a person was asked for a fact today and that it is as written."""
        old = self.entry(subject, element)
        if old is None:
            return
        role = str(self.kept.get("role") or "").strip()
        about = {
            "source": None,
            "words": None,
            "date": self.today().isoformat(),
            "by": role or ASKED_DIRECTLY,
        }
        new = old.model_copy(update=about)
        label = recorded_words(subject, catalogue()[element], old, new)
        self.take(with_fact(self.record, subject, element, new), label)

    # --- assessing

    def case(self, record: CaseRecord | None = None) -> Case:
        """The open referral, or another record, as a case; read once while it is among the last used.

        Raises
        ------
        CaseError
            With everything that is wrong with the record.
        """
        wanted = record or self.record
        key = id(wanted)  # records are never changed, and one that is kept here keeps its identity
        if key not in self._cases:
            self._cases[key] = wanted, case_from_record(wanted)
            if len(self._cases) > KEPT_CASES:
                self._cases.popitem(last=False)
        self._cases.move_to_end(key)
        return self._cases[key][1]

    def rule_set(self, identifier: str | None = None, *, trial: bool = True) -> RuleSet:
        """A rule set with this desk's local trial, or as shipped."""
        name = identifier or self.rules
        changes = tuple(sorted(self.trials.get(name, {}).items())) if trial else ()
        return _rule_set(name, changes, library_in_use())

    def rules_changed(self, *, rows_too: bool = True) -> str:
        """Let go of what was worked out under other rules; give in words what of this desk's choices went with them.

        With ``rows_too`` the rows that a page keeps in place are made anew.
        """
        self.lay_down()
        told = []
        if self.rules not in library_in_use().rule_set_names():
            told.append(f"It has no rule set {self.rules}; another one is chosen.")
            self.rules = default_rules()
        gone = [place for place in self.drafts if place[1] not in catalogue() and place[1] not in LISTS]
        if gone:
            told.append(
                f"Text that was not taken over is dropped with its fields: {', '.join(e for _, e in gone)}."
            )
        for place in gone:
            del self.drafts[place]
        for name in _ROWS_ON_A_PAGE if rows_too or gone else ():
            self.kept.pop(name, None)
        for name in list(self.trials):
            try:
                self.rule_set(name)
            except InputError:
                told.append(f"The local trial of {name} does not fit it and was dropped.")
                del self.trials[name]
        return " ".join(told)

    def as_of(self, record: CaseRecord | None = None) -> date:
        written = (record or self.record).as_of
        return day(written) if written else self.today()

    def document(
        self, record: CaseRecord | None = None, rules: str | None = None, *, trial: bool = True
    ) -> AssessmentDocument:
        """The explained assessment of the open referral, or of another record, kept while it is unchanged."""
        case, rule_set, as_of = self.case(record), self.rule_set(rules, trial=trial), self.as_of(record)
        key = Key(case.digest, rule_set.digest, as_of.isoformat())
        return self._documents.get(key, lambda: build_document(assess(case, rule_set, as_of)))

    def whole_document(self) -> AssessmentDocument:
        """The explained assessment of the open referral, with how firm it is, which is worked out when first asked for."""
        return self.whole_later()()

    def whole_later(self) -> Callable[[], AssessmentDocument]:
        """The same of the referral as it is now, for whoever asks later."""
        document, case, rule_set, as_of = self.document(), self.case(), self.rule_set(), self.as_of()

        def whole() -> AssessmentDocument:
            kept = self._whole
            if kept is None or kept[0] is not document:
                self._whole = kept = document, with_firm(document, assess(case, rule_set, as_of))
            return kept[1]

        return whole

    def settled(self) -> AssessmentDocument:
        """The document of the open referral with what would settle and what would change its standing, kept while it is
        unchanged; worked out only when asked for."""
        from candidacy.explain.settled import with_settle

        plain = self.document()
        if self._settled is None or self._settled[0] is not plain:
            found = assess(self.case(), self.rule_set(), self.as_of())
            self._settled = plain, with_settle(plain, found)
        return self._settled[1]

    def worked_out(self, subject: str, element: str) -> str:
        """The value the program worked out for a fact that is not stated, in words; empty where there is none."""
        document = self.document()
        if self._worked_out is None or self._worked_out[0] is not document:
            known = {(f.subject, f.element): f.value for f in document.facts if f.known and f.worked_out_from}
            self._worked_out = (document, known)
        return self._worked_out[1].get((subject, element), "")

    def last_changes(self) -> tuple[str, list[Change]]:
        """The label of the last edit and what it changed under the present rule set; nothing for a case just opened."""
        if self.at == 0:
            return "", []
        if self.just_opened:
            return self.steps[self.at].label, []
        before = self.document(self.steps[self.at - 1].record)
        return self.steps[self.at].label, changes(before, self.document())


def _same_statement(old: FactEntry, new: FactEntry) -> bool:
    """Whether only provenance could differ; then the old provenance is kept."""
    about = {"source", "date", "words", "by", "note"}
    return old.model_dump(exclude=about) == new.model_dump(exclude=about)
