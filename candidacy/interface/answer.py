"""Answers that show themselves: one assessment, or several rule sets side by side."""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

from candidacy.assessment.assess import Assessment
from candidacy.case.load import Case
from candidacy.explain.build import build_document
from candidacy.explain.compare import Comparison, compare
from candidacy.explain.document import AssessmentDocument, CriterionInfo, DiscInfo
from candidacy.explain.firm_document import FirmInfo
from candidacy.explain.missing_document import MissingInfo
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.files import nearest
from candidacy.interface.frames import Part, document_frame, text_frame
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import Standing

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console

    from candidacy.explain.settle_document import ChangeInfo, SettleInfo

_WIDTH = 110


@dataclass(frozen=True, repr=False)
class Answer:
    """One case under one rule set as of one day, with everything that is said about it.

    ``Answer(assessment)`` makes one of any assessment, such as that of a row of a table.

    Attributes
    ----------
    assessment
        The evaluation: outcomes, grounds, facts.
    document
        The same in words and citations, in the published JSON shape.
    """

    assessment: Assessment

    def __post_init__(self) -> None:
        # at once, because the words of a library of one's own are there only while that library is open
        _ = self.document

    @cached_property
    def document(self) -> AssessmentDocument:
        return build_document(self.assessment)

    @property
    def case(self) -> Case:
        return self.assessment.case

    @property
    def rule_set(self) -> RuleSet:
        return self.assessment.rule_set

    @property
    def as_of(self) -> date:
        return self.assessment.as_of

    @property
    def standing(self) -> Standing:
        """A status under this rule set, never an instruction; `stops`, `reason` and `cautions` belong beside it."""
        return self.assessment.standing

    @property
    def standing_name(self) -> str:
        """What the rule set calls the standing."""
        return self.document.standing_name

    @property
    def stops(self) -> tuple[str, ...]:
        """A sentence for each companion rule set that says stop, whatever the standing."""
        return tuple(self.document.stops)

    @property
    def reason(self) -> tuple[str, ...]:
        """Why it stands so, in sentences."""
        return tuple(self.document.reason)

    @property
    def criteria(self) -> tuple[CriterionInfo, ...]:
        """Every criterion for each subject, in reading order."""
        return tuple(self.document.criteria)

    @property
    def discs(self) -> tuple[DiscInfo, ...]:
        """The standing of each disc of the record."""
        return tuple(self.document.discs)

    @property
    def missing(self) -> tuple[MissingInfo, ...]:
        """Missing facts, those that could decide first."""
        return tuple(self.document.missing)

    @cached_property
    def firm(self) -> FirmInfo:
        """How firm it is: what would become of outcomes and standings if what was measured were measured once more.

        Worked out when first asked for. ``firm.case``, ``firm.discs`` and ``firm.criteria`` hold ``stands``, the
        probability (0 to 1) that a repeat leaves it as it is, with its standard ``error`` (0 where exact), ``least`` and
        ``most`` by the other published errors, and ``words``. No score of the patient; nothing is worked out for safety
        criteria and history, and ``not_told`` names what has no published error.
        """
        from candidacy.explain.firm import firm_info

        return firm_info(self.assessment)

    @cached_property
    def _whole(self) -> AssessmentDocument:
        """The document, with how firm it is."""
        return self.document.model_copy(update={"firm": self.firm})

    @cached_property
    def settle(self) -> "SettleInfo":
        """Which missing facts would settle the standing, and what to ask first; worked out when first asked for."""
        from candidacy.explain.settle import settle_info
        from candidacy.settle.settling import settle

        return settle_info(settle(self.assessment), self.rule_set)

    @cached_property
    def change(self) -> "ChangeInfo":
        """What would change the standing, and which single limits decide; worked out when first asked for."""
        from candidacy.explain.would_change import change_info
        from candidacy.settle.changing import change

        return change_info(change(self.assessment), self.rule_set)

    def criterion(self, identifier: str, subject: str = "patient") -> CriterionInfo:
        """One criterion for the patient or for a disc ("L4-L5").

        Raises
        ------
        InputError
            E303 if the rule set does not use it there.
        """
        for criterion in self.document.criteria:
            if (criterion.id, criterion.subject) == (identifier, subject):
                return criterion
        of = sorted({c.subject for c in self.document.criteria if c.id == identifier})
        close = nearest(identifier, list(dict.fromkeys(c.id for c in self.document.criteria)))
        expected = f"of {', '.join(of)}" if of else f"closest is {close}" if close else ""
        raise InputError([Problem(Code.UNKNOWN_CRITERION, "no such criterion in this answer", field=shorten(subject),
                                  found=shorten(identifier), expected=expected)])  # fmt: skip

    def to_json(self) -> str:
        """The document as JSON text, with how firm it is; equal records, rule sets and days give equal bytes."""
        return self._whole.to_json()

    def to_text(self, *, full: bool = False) -> str:
        """The document as plain text, on one screen, or ``full`` with every criterion, value, source and caution."""
        from candidacy.explain.brief import print_brief
        from candidacy.explain.text import print_document

        console, buffer = _paper()
        if full:
            print_document(console, self._whole)
        else:
            print_brief(console, self.document)
        return buffer.getvalue()

    def to_html(self) -> str:
        """The document as one self-contained page that prints; without script."""
        from candidacy.explain.page import page

        return page(self._whole)

    def to_frame(self, part: Part = "criteria") -> "pd.DataFrame":
        """The criteria, the ``missing`` facts, the ``discs`` or the ``facts`` that were read, as a DataFrame.

        Raises
        ------
        InputError
            E208 for a part that there is not, E601 without pandas.
        """
        return document_frame(self.document, part)

    def __repr__(self) -> str:
        stops = "; STOP" if self.document.stops else ""
        return f"Answer({self.assessment.summary}{stops})"

    def _repr_html_(self) -> str:
        from candidacy.explain.page import fragment

        return fragment(self.document)


@dataclass(frozen=True, repr=False)
class SideBySide:
    """One case under several rule sets as of one day, in the order asked for."""

    answers: tuple[Answer, ...]

    @cached_property
    def comparison(self) -> Comparison:
        """Where they agree, where they differ and because of what, in the published JSON shape."""
        return compare([answer.document for answer in self.answers])

    def __iter__(self) -> Iterator[Answer]:
        return iter(self.answers)

    def __len__(self) -> int:
        return len(self.answers)

    def to_json(self) -> str:
        """The comparison as JSON text."""
        return self.comparison.to_json()

    def to_text(self) -> str:
        """The comparison as plain text."""
        from candidacy.explain.compare_text import print_comparison

        console, buffer = _paper()
        print_comparison(console, self.comparison)
        return buffer.getvalue()

    def to_html(self) -> str:
        """The comparison as one self-contained page; without script."""
        from candidacy.explain.page import comparison_page

        return comparison_page(self.comparison)

    def to_frame(self) -> "pd.DataFrame":
        """A row for each criterion and subject, a column for each rule set, and by what they differ.

        Raises
        ------
        InputError
            E601 without pandas.
        """
        names = [answer.rule_set.id for answer in self.answers]
        rows = [(r.id, r.subject, *r.outcomes, "; ".join(r.differs_by)) for r in self.comparison.rows]
        return text_frame(rows, ("criterion", "subject", *names, "differs_by"))

    def __repr__(self) -> str:
        told = ", ".join(f"{answer.rule_set.id}: {answer.standing}" for answer in self.answers)
        return f"SideBySide({told})"

    def _repr_html_(self) -> str:
        return "".join(answer._repr_html_() for answer in self.answers)


def _paper() -> "tuple[Console, io.StringIO]":
    """A console that writes plain text of a fixed width, the same on every machine."""
    from rich.console import Console

    buffer = io.StringIO()
    return Console(
        file=buffer, width=_WIDTH, no_color=True, highlight=False, markup=False, emoji=False
    ), buffer
