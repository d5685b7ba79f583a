"""Everything that is counted of a practice, once: responses, changes, later interventions, groups, running checks."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date
from functools import cached_property

from msgspec import Struct

from candidacy.assessment.results import CriterionResult
from candidacy.course.content import Content, Measure, PlannedVisit, content
from candidacy.foundation.dates import MEAN_DAYS
from candidacy.foundation.errors import Code, Problem, RuleError, shorten
from candidacy.foundation.files import nearest
from candidacy.outcomes.assessed_again import AssessedAgain, assess_again
from candidacy.outcomes.change import Change, change_of
from candidacy.outcomes.checks import Watched, watch
from candidacy.outcomes.groups import Results, Split, outcome_split, standing_split, value_splits
from candidacy.outcomes.later import followed_up
from candidacy.outcomes.practice import Patient, Practice
from candidacy.outcomes.responding import FAILED, Answer, Response, answers_of, planned_of, response, whole
from candidacy.outcomes.survival import Curve, Ending, FollowedUp, cumulative_incidence, kaplan_meier
from candidacy.outcomes.visits import STATES, Seen, State, both_at, seen_at
from candidacy.rules.layout import CARE
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from candidacy.rules.outcome_files import (
    RegistryFile,
    RespondersFile,
    ResponseDefinition,
    RunningFile,
    outcome_file,
)
from candidacy.rules.resolved import RuleSet

# Measures whose change is shown where anybody has both values.
CHANGED = ("pain_average_week", "pain_average_week_vas", "oswestry_disability_index", "leg_pain_average_week",
           "promis_pain_interference", "promis_physical_function", "eq5d_index")  # fmt: skip

# What depends on neither the visit nor the declared definition.
_SHARED = ("seen", "later", "again", "_results", "standings", "outcomes", "values", "watched")


class Later(Struct, frozen=True):
    """Time to the first later intervention at a treated disc.

    Attributes
    ----------
    unclear
        Interventions without a known level or reason, counted as at a treated disc.
    by
        Cumulative incidence of each ending by the end of the planned visits.
    """

    people: tuple[FollowedUp, ...]
    curve: Curve
    unclear: int
    by: dict[Ending, float]
    until: int

    def count(self, ending: Ending) -> int:
        """Patients whose follow-up ended so."""
        return sum(1 for each in self.people if each.ending == ending)


class Outcomes:
    """What became of the patients of a practice, worked out when asked for.

    Parameters
    ----------
    library
        Where definitions, schedules, tables and rule sets are found.
    at
        Id of the planned visit that is looked at; without one, the usual one of the library.
    declared
        Id of the definition that was declared before anybody looked at results; empty where none was.
    under
        A rule set to use in place of those that were recorded.

    Raises
    ------
    RuleError
        E208 for a visit or a definition that there is none of, and with what is wrong with the library.
    """

    def __init__(
        self,
        practice: Practice,
        library: Library,
        *,
        at: str = "",
        declared: str = "",
        under: RuleSet | None = None,
    ) -> None:
        self.practice, self.library, self.declared = practice, library, declared
        self.content: Content = content(library)
        self.responders, self.running, self.registry = content_of(library)
        self.at = at or str(self.responders.usual_visit.value)
        self.visit = _visit(self.content, self.at)
        self.definitions = {each.id: each for each in self.responders.definitions}
        if declared and declared not in self.definitions:
            raise RuleError([_no_definition(declared, list(self.definitions))])
        self._under = under
        self._answers: dict[tuple[str, str], tuple[Answer, ...]] = {}

    def looked_at(self, *, at: str = "", declared: str = "") -> "Outcomes":
        """The same patients at another visit or under another declaration; nothing is read or assessed again.

        Raises
        ------
        RuleError
            E208 for a visit or a definition that there is none of.
        """
        other = Outcomes(self.practice, self.library, at=at, declared=declared, under=self._under)
        other._answers = self._answers
        other.__dict__.update({name: self.__dict__[name] for name in _SHARED if name in self.__dict__})
        return other

    @property
    def on(self) -> date:
        return self.practice.on

    @property
    def patients(self) -> tuple[Patient, ...]:
        """Patients with a session that can be counted, in the order of these."""
        return self.practice.treated

    def answers(self, definition: str, at: str = "") -> tuple[Answer, ...]:
        """The answer of each of `patients`.

        Raises
        ------
        RuleError
            E208 if the schedule has no visit that the definition needs.
        """
        key = (definition, at or self.at)
        if key not in self._answers:
            self._answers[key] = answers_of(
                self.patients, self.definitions[definition], key[1], self.content.visits, self.on
            )
        return self._answers[key]

    def countable(self, definition: str) -> str:
        """Why a definition cannot be counted under the schedule; empty where it can."""
        try:
            planned_of(self.definitions[definition], self.at, self.content.visits)
        except RuleError as error:
            return f"the schedule has no visit {error.problems[0].found}"
        for test in self.definitions[definition].tests:
            if test.measures and not any(
                both_at(patient, seen.visit, test.measures)
                for patient, seen in zip(self.patients, self.seen[self.at], strict=True)
            ):
                return f"nobody has {' or '.join(test.measures)} both before and at the visit"
        return ""

    def one_sided(self, definition: str) -> int:
        """Answers that are settled though a part of the definition is not known: they can only lie on one side."""
        asked = self.definitions[definition]
        return sum(
            answer in ("responded", "not_responded")
            and not whole(patient, asked, self.at, self.content.visits, self.on)
            for patient, answer in zip(self.patients, self.answers(definition), strict=True)
        )

    def response(self, definition: str, at: str = "", among: frozenset[str] | None = None) -> Response:
        """The counts of a definition, of all or of the patients with some references."""
        answers = self.answers(definition, at)
        return response(
            answer
            for patient, answer in zip(self.patients, answers, strict=True)
            if among is None or patient.reference in among
        )

    def lasting(self, definition: str) -> tuple[str | None, tuple[int, int, int, int]]:
        """Response at the planned visit before and at this one, of patients whose answer is known at both.

        Returns
        -------
        tuple
            The id of the visit before, or None where this is the first or the definition names its own visits; and how
            many responded at both, only before, only now, and at neither.
        """
        names = [visit.id for visit in self.content.visits.visits]
        place = names.index(self.at)
        if not place or self.definitions[definition].at:
            return None, (0, 0, 0, 0)
        known: tuple[Answer, ...] = ("responded", *FAILED)
        pairs = Counter(
            (before == "responded", now == "responded")
            for before, now in zip(
                self.answers(definition, names[place - 1]), self.answers(definition), strict=True
            )
            if before in known and now in known
        )
        return names[place - 1], (
            pairs[True, True],
            pairs[True, False],
            pairs[False, True],
            pairs[False, False],
        )

    def grouped(self, split: Split, definition: str) -> list[tuple[str, Response]]:
        """The counts of a definition in each group of a division that holds anybody."""
        found = []
        for name in split.order:
            among = frozenset(reference for reference, group in split.members.items() if group == name)
            if among:
                found.append((name, self.response(definition, among=among)))
        return found

    @property
    def ordered(self) -> list[ResponseDefinition]:
        """The definitions as the library has them; the declared one first, where there is one."""
        return sorted(self.responders.definitions, key=lambda each: each.id != self.declared)

    # --- visits

    @cached_property
    def seen(self) -> dict[str, tuple[Seen, ...]]:
        """What is known of each planned visit of each patient, by the id of the visit."""
        return {
            planned.id: tuple(seen_at(patient, planned, self.on) for patient in self.patients)
            for planned in self.content.visits.visits
        }

    def states(self, visit: str) -> dict[State, int]:
        """How many patients stand where with a planned visit."""
        counted = Counter(seen.state for seen in self.seen[visit])
        return {state: counted[state] for state in STATES}

    @property
    def told(self) -> Iterator[tuple[str, str]]:
        """Everything that is said of single patients, with their reference."""
        for patient in self.practice.patients:
            for words in patient.notices:
                yield patient.reference, words
        for seen in self.seen.values():
            for patient, each in zip(self.patients, seen, strict=True):
                for words in each.told:
                    yield patient.reference, f"{words[:1].upper()}{words[1:]}."

    # --- change, later interventions

    @cached_property
    def changes(self) -> tuple[Change, ...]:
        """Change of every measure from baseline to the visit, where anybody has both values."""
        measures: list[Measure] = [
            self.content.measures[name] for name in CHANGED if name in self.content.measures
        ]
        found = (change_of(self.patients, measure, self.visit, self.on, self.library) for measure in measures)
        return tuple(change for change in found if change.pairs)

    @cached_property
    def later(self) -> Later:
        """Time to the first later intervention at a treated disc."""
        found = [followed_up(patient) for patient in self.patients]
        people = tuple(each for each, _ in found)
        until = max((planned_days(visit) for visit in self.content.visits.visits), default=0)
        curve = kaplan_meier([each.days for each in people], [each.ending == "event" for each in people])
        return Later(
            people, curve, sum(unclear for _, unclear in found), cumulative_incidence(people, until), until
        )

    # --- by criterion

    @cached_property
    def again(self) -> AssessedAgain:
        """The assessments that the injections rested on, made again."""
        return assess_again(self.practice, self.library, self._under)

    @cached_property
    def _results(self) -> dict[str, Results]:
        """Results of each patient by their criterion."""
        found: dict[str, Results] = {}
        for reference, assessment in self.again.found.items():
            of: defaultdict[str, list[CriterionResult]] = defaultdict(list)
            for result in assessment.results:
                of[result.id].append(result)
            found[reference] = of
        return found

    @cached_property
    def standings(self) -> Split:
        """The treated by the standing that was recorded."""
        return standing_split(self.patients)

    @cached_property
    def outcomes(self) -> tuple[Split, ...]:
        """The treated by the outcome of each criterion that did not pass for everybody."""
        found = []
        for rule_set in self.again.rule_sets.values():
            patients, again = self._under_rules(rule_set)
            for item in rule_set.criteria:
                split = outcome_split(item, patients, again)
                if len(set(split.members.values())) > 1:
                    found.append(split)
        return tuple(found)

    @cached_property
    def values(self) -> tuple[Split, ...]:
        """The treated by their value below and above each limit, of the rule set in use and of other sources."""
        return tuple(split for name in self.again.rule_sets for split in self.values_under(name))

    def values_under(self, identifier: str) -> tuple[Split, ...]:
        """The same under one rule set; nothing where no injection rested on it."""
        rule_set = self.again.rule_sets.get(identifier)
        return tuple(value_splits(rule_set, *self._under_rules(rule_set))) if rule_set is not None else ()

    def _under_rules(self, rule_set: RuleSet) -> tuple[tuple[Patient, ...], dict[str, Results]]:
        again = {
            name: self._results[name]
            for name, found in self.again.found.items()
            if found.rule_set.id == rule_set.id
        }
        return tuple(patient for patient in self.patients if patient.reference in again), again

    # --- running checks

    @cached_property
    def watched(self) -> tuple[Watched, ...]:
        """The running checks whose visits the schedule has."""
        found = []
        for check in self.running.checks:
            if check.visit is None or self.content.visits.get(check.visit) is not None:
                found.append(
                    watch(check, self.running, self.definitions, self.patients, self.content.visits, self.on)
                )
        return tuple(found)

    @property
    def of_ones_own(self) -> tuple[str, ...]:
        """Files of the library that stand in the place of shipped ones and bear on what is counted."""
        ours = shipped()
        return tuple(
            f"{kind}/{name}.yaml"
            for kind in CARE
            if kind in ("course", "outcomes")
            for name, path in self.library.care_files(kind).items()
            if ours.care_files(kind).get(name) != path
        )


def planned_days(visit: PlannedVisit) -> int:
    """Days from the injection to a planned visit, of months on average."""
    return round(visit.after.amount * MEAN_DAYS[visit.after.unit])


def content_of(library: Library) -> tuple[RespondersFile, RunningFile, RegistryFile]:
    """The three files of a library that outcomes are counted by.

    Raises
    ------
    RuleError
        With what is wrong with one of them.
    """
    found = tuple(outcome_file(library, name) for name in ("responders", "running_checks", "registry"))
    assert isinstance(found[0], RespondersFile)
    assert isinstance(found[1], RunningFile)
    assert isinstance(found[2], RegistryFile)
    return found[0], found[1], found[2]


def _visit(known: Content, name: str) -> PlannedVisit:
    found = known.visits.get(name)
    if found is None:
        names = [visit.id for visit in known.visits.visits]
        close = nearest(name, names)
        raise RuleError([Problem(
            Code.BAD_CHOICE, "no such planned visit", "--at", found=shorten(name),
            expected=", ".join(names) + (f" (closest is {close})" if close else ""),
        )])  # fmt: skip
    return found


def _no_definition(name: str, names: list[str]) -> Problem:
    close = nearest(name, names)
    return Problem(
        Code.BAD_CHOICE, "no such definition of response", "--definition", found=shorten(name),
        expected=", ".join(names) + (f" (closest is {close})" if close else ""),
        next_step="name the one that was declared before results were looked at, or leave it out",
    )  # fmt: skip
