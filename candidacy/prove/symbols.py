"""Every record at once: for each fact a variable for whether it is known, and one for its value.

What is ranged over is what criteria see of a record (`candidacy.assessment.view.View.fact`), each fact exact or absent:

- a number within its possible range, in its unit; a code, a yes or no; a list of codes, whole; a date, as a day;
- the day from which a fact was true, known or not;
- the five usual lumbar discs, each named or not, further ones where `Bounds.discs` has them, and up to `Bounds.entries`
  entries a list, complete or not.

A fact that is worked out may have any value of its range, whatever the record says beside it: more than records can show. It
may be imprecise, as formulas with a missing input are: from one number to another, or one of some codes.
What holds of all of these holds of every record. What holds of some of these need not hold of a record: it is shown by a
record, which is run, or it is not told.
"""

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import Any, NamedTuple

import z3
from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.element import STANDARD_LEVELS, Element

# What one thread is done with may be let go in another.
z3.Z3_enable_concurrent_dec_ref(z3.main_ctx().ref())

# An expression of the solver.
Expr = Any
YES, NO = z3.BoolVal(True), z3.BoolVal(False)
# Days that dates may lie in: long enough before the day of the proof for any life, and a few years after it.
_YEARS_BEFORE, _YEARS_AFTER = 120, 5
# Work for one question, as the solver counts it: some seconds of a core, fifty times what the shipped rule sets take at most.
EFFORT = 15_000_000
# Milliseconds after which it is given up whatever it counts, far above what that work takes.
GUARD = 300_000


class Truths(NamedTuple):
    """A condition in strong Kleene logic: certainly met, certainly not met, and unknown where neither."""

    met: Expr
    unmet: Expr


class Bounds(Struct, frozen=True):
    """How many entries a list may have, and which discs there may be beside the five usual ones, which always are."""

    entries: int = 2
    discs: tuple[str, ...] = STANDARD_LEVELS


_USUAL = Bounds()


@dataclass
class Seen:
    """One fact: whether it has a value, the value, and from which day it holds.

    ``value`` is a number, the place of a code among its codes, a day, or a yes; ``members`` hold one variable for each code of a
    list. Of a fact that is worked out ``high`` is the upper end of a number, of which ``value`` is the lower, and ``may`` says of
    each code whether it may be the one.
    ``days`` are the days by the date element that dates the fact where it bears none itself.
    """

    element: Element
    subject: str
    known: Expr
    value: Expr = None
    high: Expr = None
    members: dict[str, Expr] = field(default_factory=dict)
    may: dict[Any, Expr] = field(default_factory=dict)
    days: dict[str, tuple[Expr, Expr]] = field(default_factory=dict)

    @property
    def place(self) -> tuple[str, str]:
        return self.element.name, self.subject


class Entries(Struct, frozen=True):
    """The entries a list may have: whether each is there, and whether the list is complete."""

    complete: Expr
    there: dict[str, Expr]


class World:
    """The variables of all records, made as they are asked for, with what limits them.

    Parameters
    ----------
    as_of
        The day of the proof.
    bounds
        How long lists may be.
    effort
        How much work the solver may put into one question, in its own units (`EFFORT`). Not time: the same question gets the
        same answer on a machine that is busy.
    """

    def __init__(self, as_of: date, bounds: Bounds = _USUAL, effort: int = EFFORT) -> None:
        self.as_of, self.today, self.bounds = as_of, as_of.toordinal(), bounds
        self.solver = z3.Solver()
        self.solver.set("rlimit", effort)
        self.solver.set("timeout", GUARD)
        self.facts: dict[tuple[str, str, int], Seen] = {}
        self.lists: dict[str, Entries] = {}
        self.free: set[str] = set()
        # what holds of a record that tells each fact plainly and once; asked only where a record is looked for
        self.plain = z3.Bool("plain")
        self.usual = z3.Bool("usual")
        # sources do not conflict, and no danger is left unread
        self.quiet = z3.Bool("quiet")
        self._shelf = catalogue()
        self._named = {level: z3.Bool(f"named {level}") for level in bounds.discs}

    def fact(self, name: str, subject: str, eyes: int = 0) -> Seen:
        """The fact of an element for a subject; a disc or an entry also sees the patient's.

        ``eyes`` tells apart rule sets that may see different values of one fact.
        """
        element = self._shelf[name]
        if element.scope == "patient":
            subject = "patient"
        found = self.facts.get((name, subject, eyes))
        if found is None:
            found = self.facts[name, subject, eyes] = self._made(element, subject, eyes)
        return found

    def _made(self, element: Element, subject: str, eyes: int) -> Seen:
        label = f"{subject}.{element.name}" + (f"#{eyes}" if eyes else "")
        seen = Seen(element, subject, z3.Bool(f"{label} known"))
        if element.derived:
            self._worked_out(seen, label)
        elif element.kind in ("number", "integer"):
            seen.value = (z3.Int if element.kind == "integer" else z3.Real)(label)
            self._within(seen.value, element.possible, self.solver.add)
            if element.likely is not None:
                usual = self.usual
                self._within(
                    seen.value, element.likely, lambda said: self.solver.add(z3.Implies(usual, said))
                )
        elif element.kind == "date":
            seen.value = z3.Int(label)
            self.solver.add(*self._day(seen.value))
            if element.past:
                self.solver.add(z3.Implies(self.quiet, seen.value <= self.today))
        elif element.kind == "boolean":
            seen.value = z3.Bool(label)
        elif element.kind == "choice":
            seen.value = z3.Int(label)
            self.solver.add(seen.value >= 0, seen.value < len(element.codes))
        elif element.kind == "members":
            codes = self.levels if element.levels else element.codes
            seen.members = {code: z3.Bool(f"{label} has {code}") for code in codes}
        self._there(seen)
        return seen

    def _worked_out(self, seen: Seen, label: str) -> None:
        element, solver = seen.element, self.solver
        if element.kind in ("number", "integer", "date"):
            seen.value, seen.high = z3.Real(label), z3.Real(f"{label} high")
            solver.add(seen.value <= seen.high)
            for end in (seen.value, seen.high):
                self._within(end, element.possible, solver.add)
        elif element.kind in ("boolean", "choice"):
            codes = (True, False) if element.kind == "boolean" else element.codes
            seen.may = {code: z3.Bool(f"{label} may be {code}") for code in codes}
            solver.add(z3.Or(list(seen.may.values())))
        if element.statable:
            solver.add(z3.Implies(self.plain, exact(seen)))

    def _there(self, seen: Seen) -> None:
        """Nothing is known of an entry that is not there, and what states a fact of a disc, or lists it, names it."""
        if "[" in seen.subject:
            self.solver.add(
                z3.Implies(seen.known, self.entries(seen.subject.partition("[")[0]).there[seen.subject])
            )
        elif seen.subject in self._named and not seen.element.derived:
            # without being named, a disc may still be known by what is told of the patient
            self.solver.add(z3.Implies(z3.And(self.plain, seen.known), self._named[seen.subject]))
        if seen.element.name in ("discs_under_consideration", "discography_levels"):
            for level, member in seen.members.items():
                self.solver.add(z3.Implies(z3.And(seen.known, member), self._named[level]))

    def _day(self, day: Expr) -> tuple[Expr, Expr]:
        return day >= self.today - 365 * _YEARS_BEFORE, day <= self.today + 365 * _YEARS_AFTER

    def _within(self, value: Expr, limits: Any, say: Any) -> None:
        if limits is not None and limits.low is not None:
            say(value >= number(limits.low))
        if limits is not None and limits.high is not None:
            say(value <= number(limits.high))

    def named(self, level: str) -> Expr:
        """Whether the record names a disc."""
        return self._named[level]

    @property
    def levels(self) -> tuple[str, ...]:
        """The discs that are ranged over."""
        return self.bounds.discs

    def counted(self, level: str) -> Expr:
        """Whether what is asked of every disc is asked of this one: the usual ones, and others that the record names."""
        return YES if level in STANDARD_LEVELS else self._named[level]

    def entries(self, name: str) -> Entries:
        """The entries of a list."""
        found = self.lists.get(name)
        if found is None:
            places = [f"{name}[{number}]" for number in range(1, self.bounds.entries + 1)]
            found = Entries(
                z3.Bool(f"{name} complete"), {place: z3.Bool(f"{place} there") for place in places}
            )
            self.lists[name] = found
            for one, next_one in pairwise(places):
                self.solver.add(z3.Implies(found.there[next_one], found.there[one]))
        return found

    def day_of(self, seen: Seen, dated_by: str | None, eyes: int = 0) -> tuple[Expr, Expr]:
        """Whether it is known from which day a fact holds, and the day.

        A fact that bears no date of its own takes that of ``dated_by``. Facts that are worked out, or told by others, may be of
        any day: what tells them decides.
        """
        key = dated_by or ""
        if key not in seen.days:
            name = f"{seen.subject}.{seen.element.name}#{eyes} day {key}"
            dated, day = z3.Bool(f"{name} known"), z3.Int(name)
            self.solver.add(*self._day(day))
            seen.days[key] = dated, day
            for other, (same, also) in seen.days.items():
                if other != key:  # one record, one date; but by which telling it is dated may differ
                    self.solver.add(z3.Implies(self.plain, z3.And(same == dated, also == day)))
        dated, day = seen.days[key]
        if dated_by is None:
            return dated, day
        by = self.fact(dated_by, "patient", eyes if not only_stated(dated_by) else 0)
        return z3.Or(dated, by.known), z3.If(dated, day, by.value)

    def check(self, *asked: Expr) -> str:
        """What the solver says: ``sat``, ``unsat`` or ``unknown``, where it would take more work than it may."""
        return str(self.solver.check(*asked))


def exact(seen: Seen) -> Expr:
    """A fact that is worked out is precise."""
    if seen.high is not None:
        return seen.value == seen.high
    return z3.PbEq([(said, 1) for said in seen.may.values()], 1) if seen.may else YES


def only_stated(name: str) -> bool:
    """Whether only a record can tell an element, so that every rule set sees the same of it."""
    return name in catalogue().only_stated


def number(value: float) -> Expr:
    """A number of a file as the solver reads it, exactly as it is printed."""
    return z3.Q(*Fraction(repr(float(value))).as_integer_ratio())
