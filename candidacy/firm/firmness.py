"""How firm the outcomes and standings of one assessment are; `candidacy.firm` says which question is asked.

An outcome is worked out exactly: the values a repeat may show fall into few cells that no test tells apart, repeats of
different values err independently, and the criterion is read once for each combination of cells. A standing follows from
the outcomes that can change by the same decision rules. Where there are too many combinations, or something is worked out
from a value without steps, points that fill the space evenly are read instead, and the figure has a standard error.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from itertools import product
from math import prod

from msgspec import Struct

from candidacy.assessment.assess import Assessment
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.assessment.record_grounds import RecordGrounds, ground_name
from candidacy.assessment.results import CriterionResult
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.engine.decision import Decision, Ground, PossibleStandings, Standings
from candidacy.firm.guarded import of_safety
from candidacy.firm.points import POINTS, SHIFTS, Estimate, estimate
from candidacy.firm.published import Figures, Shelf, Unusable
from candidacy.firm.sources import compare_nodes, follows_from, measured, source_of
from candidacy.firm.told import Firm, Firmness, Why
from candidacy.firm.view import Key, RepeatedView
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, Value
from candidacy.rules.tree import DISCS, AllOf, AnyOf, Compare, CountOf, Each, elements_of, walk
from candidacy.rules.vocabulary import Outcome, Standing

MOST = 4096
SEED = 1
# Words of where a value is found that make it a measurement or a reading.
_MEASURED = ("imaging", "mri", "radiograph", "laboratory", "questionnaire", "examination", "measurement", "densitometry",
             "discography report", "pain history")  # fmt: skip

# Repeated values by the place of their source: which of its cells, and the value.
_Cells = Mapping[int, tuple[int, Value]]
_End = Callable[[_Cells], str]
_Groups = list[tuple[int, ...]]


def firmness(assessment: Assessment, *, seed: int = SEED, most: int = MOST) -> Firmness:
    """Work out how firm the outcomes and standings of an assessment are.

    Parameters
    ----------
    seed
        Seed of the random shifts, where points are read; equal seeds give equal figures.
    most
        Most combinations that are read one by one; 0 reads points wherever anything can change.
    """
    return _Work(assessment, seed, most).told()


class _Table(Struct, frozen=True):
    """One result that can be read again: its sources by place, and its outcomes by the cells of those sources."""

    result: CriterionResult
    places: tuple[int, ...]
    of_discs: bool


class _Work:
    def __init__(self, assessment: Assessment, seed: int, most: int) -> None:
        self.assessment, self.seed, self.most = assessment, seed, most
        self.view, self.shelf = assessment.view, Shelf(assessment.rule_set)
        self.levels = [disc.level for disc in assessment.discs]
        self._reads = {id(r): self._keys(r) for r in assessment.results}
        self._part()
        self._find_sources()
        self.tables = [self._table(r) for r in self.asked]
        self._compiled: dict[str, CompiledCriterion] = {}
        self._read: dict[tuple[object, ...], Outcome] = {}
        order = assessment.rule_set.decisions
        self.decides, self.possible = Standings(order), PossibleStandings(order)
        self._varying: dict[str, list[_Table]] = {}
        self.record = RecordGrounds(assessment.conflicts, assessment.unread)

    # --- what would be repeated

    def _part(self) -> None:
        """Part the results that guard safety from those that may be asked, and values that show danger from the others."""
        every = measured(self.view, self.shelf, self.levels)
        self.guarded = {key for key in every if catalogue()[key[0]].danger}
        self.recorded = {key: found for key, found in every.items() if key not in self.guarded}
        self.safety = {
            (r.id, r.subject)
            for r in self.assessment.results
            if of_safety(r, self.view)
            or any(self._rests_on_guarded(self.view.fact(*key)) for key in self._reads[id(r)])
        }
        self.asked = [r for r in self.assessment.results if (r.id, r.subject) not in self.safety]

    def _rests_on_guarded(self, fact: Fact) -> bool:
        return (fact.element, fact.subject) in self.guarded or any(
            map(self._rests_on_guarded, fact.derived_from)
        )

    def _keys(self, result: CriterionResult) -> list[Key]:
        """Facts that a criterion may read, on whichever subjects."""
        found: list[Key] = []
        for name in elements_of(*result.resolved.conditions):
            element = catalogue().get(name)
            if element is None or name == "disc_standing":
                continue
            if element.scope == "patient":
                found.append((name, "patient"))
            elif element.scope == "disc":
                subjects = [result.subject] if result.subject != "patient" else self.levels
                every = self.levels if _ranges_over_discs(result) else subjects
                found += [(name, subject) for subject in every]
        return found

    def _find_sources(self) -> None:
        recorded = self.recorded
        read = {key for result in self.asked for key in self._reads[id(result)]}
        self.follows = follows_from(self.view, recorded, read)
        feeding = frozenset().union(*self.follows.values()) if self.follows else frozenset()
        tests: dict[str, list[Compare]] = defaultdict(list)
        for result in self.asked:
            for root in result.resolved.conditions:
                for node in compare_nodes(walk(root)):
                    tests[node.element].append(node)
        self.sources = [
            source_of(fact, figures, tests[key[0]], key in feeding)
            for key, (fact, figures) in sorted(recorded.items())
            if key in read or key in feeding
        ]
        self.sources = [s for s in self.sources if s.drawn or len(s.values) > 1]
        self.place = {source.key: number for number, source in enumerate(self.sources)}

    def _table(self, result: CriterionResult) -> _Table:
        keys = self._reads[id(result)]
        under = {key for key in keys if key in self.place}
        under |= {part for key in keys for part in self.follows.get(key, ()) if part in self.place}
        of_discs = "disc_standing" in elements_of(*result.resolved.conditions)
        return _Table(result, tuple(sorted(self.place[key] for key in under)), of_discs)

    # --- reading again

    def outcome(
        self, table: _Table, cells: _Cells, standings: Mapping[str, Options] | None = None
    ) -> Outcome:
        """The outcome of a criterion with some values repeated."""
        drawn = any(cells[p][0] < 0 for p in table.places)
        of_discs = table.of_discs and standings is not None
        key = (table.result.id, table.result.subject, tuple(cells[p] if drawn else cells[p][0] for p in table.places),
               tuple(sorted((k, v.codes) for k, v in standings.items())) if of_discs and standings else ())  # fmt: skip
        if not drawn and key in self._read:
            return self._read[key]
        values = {self.sources[p].key: cells[p][1] for p in table.places}
        view = RepeatedView(self.view, values, self.follows, standings)
        found = self._criterion(table.result).read(view, table.result.subject).outcome
        if not drawn:
            self._read[key] = found
        return found

    def _criterion(self, result: CriterionResult) -> CompiledCriterion:
        if result.id not in self._compiled:
            self._compiled[result.id] = CompiledCriterion(result.resolved)
        return self._compiled[result.id]

    # --- probabilities

    def chances(
        self,
        places: tuple[int, ...],
        end: _End,
        now: str,
        pick: int,
        merged: Mapping[int, _Groups] | None = None,
    ) -> tuple[dict[str, float], Estimate]:
        """The probability of each end over repeats of some sources, and that of the present one with its error.

        ``merged`` names, by place, the cells that have the same effect, group by group.
        """
        sources = [self.sources[p] for p in places]
        cells = [self._weighed(p, pick, merged) for p in places]
        found: dict[str, float] = defaultdict(float)
        if all(cells) and prod(map(len, cells)) <= self.most:
            for chosen in product(*cells):
                weight = prod(share for _, _, share in chosen)
                if weight:
                    found[end({p: (c, value) for p, (c, value, _) in zip(places, chosen, strict=True)})] += (
                        weight
                    )
            return dict(found), Estimate(min(1.0, found[now]))

        def holds(point: tuple[float, ...]) -> float:
            ended = end({p: s.at(u, pick) for p, s, u in zip(places, sources, point, strict=True)})
            found[ended] += 1 / (POINTS * SHIFTS)
            return 1.0 if ended == now else 0.0

        stands = estimate(len(places), holds, self.seed)
        return dict(found), stands

    def _weighed(
        self, place: int, pick: int, merged: Mapping[int, _Groups] | None
    ) -> list[tuple[int, Value, float]]:
        """The cells of a source with their probability; none of one that is drawn."""
        source = self.sources[place]
        weights = source.weights[pick] if source.weights else ()
        groups = (merged or {}).get(place) or [(c,) for c in range(len(source.values))]
        return [(g[0], source.values[g[0]], sum(weights[c] for c in g)) for g in groups]

    def _merged(self, tables: list[_Table]) -> dict[int, _Groups]:
        """Cells of each source that make no difference to any of some criteria, together."""
        apart = {
            p for t in tables if t.of_discs or any(self.sources[q].drawn for q in t.places) for p in t.places
        }
        signs: dict[int, dict[int, list[Outcome]]] = defaultdict(lambda: defaultdict(list))
        for table in tables:
            if not apart.isdisjoint(table.places):
                apart |= set(table.places)
                continue
            for chosen in product(*(range(len(self.sources[p].values)) for p in table.places)):
                cells = {p: (c, self.sources[p].values[c]) for p, c in zip(table.places, chosen, strict=True)}
                for place, (cell, _) in cells.items():
                    signs[place][cell].append(self.outcome(table, cells))
        found: dict[int, _Groups] = {}
        for place in signs.keys() - apart:
            groups: dict[tuple[Outcome, ...], list[int]] = defaultdict(list)
            for cell, sign in signs[place].items():
                groups[tuple(sign)].append(cell)
            found[place] = [tuple(group) for group in groups.values()]
        return found

    def firm(
        self, subject: str, criterion: str, now: str, places: tuple[int, ...], end: _End,
        merged: Mapping[int, _Groups] | None = None,
    ) -> Firm:  # fmt: skip
        """What is told of one outcome or standing that rests on these sources."""
        found, stands = self.chances(places, end, now, 0, merged)
        sources = tuple(self.sources[p] for p in places)
        others = [self.chances(places, end, now, pick, merged)[1] for pick in (1, 2)] if any(
            s.figures.spread for s in sources) else []  # fmt: skip
        ends = sorted([stands, *others], key=lambda each: each.value)
        becomes = {name: share for name, share in sorted(found.items()) if name != now and share > 0}
        return Firm(subject, criterion, now, stands, ends[0], ends[-1], becomes, sources)

    # --- standings

    def _of_level(self, level: str, cells: _Cells) -> tuple[Standing, Options]:
        """The standing of a disc with some values repeated, and what it may still come to."""
        grounds = self._grounds(level, cells, None) + self.record.of_disc(level)
        key = level, tuple(grounds)
        if key not in self._of_disc:
            pairs = {(g.force, g.outcome) for g in grounds}
            self._of_disc[key] = self.decides.of(pairs), Options(self.possible.of(grounds))
        return self._of_disc[key]

    def _grounds(self, subject: str, cells: _Cells, options: Mapping[str, Options] | None) -> list[Ground]:
        found = list(self._fixed[subject])
        for table in self._varying[subject]:
            item = table.result.resolved
            found.append(Ground(item.id, item.force, self.outcome(table, cells, options)))
        return found

    def disc(self, level: str, cells: _Cells) -> str:
        """The standing of a disc with some values repeated."""
        return self._of_level(level, cells)[0]

    def case(self, cells: _Cells) -> str:
        """The standing of the case with some values repeated."""
        discs = {level: self._of_level(level, cells) for level in self.levels}
        standings = {level: standing for level, (standing, _) in discs.items()}
        options = {level: possible for level, (_, possible) in discs.items()}
        aside = {disc.level for disc in self.assessment.discs if disc.considered is Truth.NOT_MET}
        grounds = self._grounds("patient", cells, options) + self.record.of_case(aside)
        return self.decides.of({(g.force, g.outcome) for g in grounds}, set(standings.values()))

    def _sort(self, firms: Iterable[Firm]) -> None:
        """Part the results by what a repeat may change."""
        moves = {(f.criterion, f.subject) for f in firms if f.becomes}
        self._varying = {subject: [] for subject in ("patient", *self.levels)}
        self._fixed: dict[str, list[Ground]] = {subject: [] for subject in ("patient", *self.levels)}
        self._of_disc: dict[tuple[str, tuple[Ground, ...]], tuple[Standing, Options]] = {}
        tables = {(t.result.id, t.result.subject): t for t in self.tables}
        for result in self.assessment.results:
            table = tables.get((result.id, result.subject))
            if table is not None and (table.of_discs or (result.id, result.subject) in moves):
                self._varying[result.subject].append(table)
            else:
                self._fixed[result.subject].append(Ground(result.id, result.resolved.force, result.outcome))

    def standing(self, subject: str, decision: Decision) -> Firm:
        """How firm the standing of the case or of a disc is."""
        why = self._why_not(subject, decision)
        if why is None and not self.sources:
            why = "no_figure"
        if why is not None:
            return Firm(subject, "", decision.standing, None, why=why)
        end = self.case if subject == "patient" else partial(self.disc, subject)
        subjects = ("patient", *self.levels) if subject == "patient" else (subject,)
        tables = [table for each in subjects for table in self._varying[each]]
        places = tuple(sorted({p for table in tables for p in table.places}))
        return self.firm(subject, "", decision.standing, places, end, self._merged(tables))

    def _why_not(self, subject: str, decision: Decision) -> Why | None:
        because = {name for f in decision.fired if f.rule == decision.rule for name in f.because}
        subjects = {subject} | (because & set(self.levels) if subject == "patient" else set())
        decided = set(because)
        for disc in self.assessment.discs:
            if disc.level in subjects and disc.level != subject:
                decided |= {n for f in disc.decision.fired if f.rule == disc.decision.rule for n in f.because}
        if decision.standing == "urgent" or any(
            r.id in decided
            and r.subject in subjects
            and r.outcome != "pass"
            and (r.id, r.subject) in self.safety
            for r in self.assessment.results
        ):
            return "safety"
        unread = {ground_name(u.fact) for u in self.assessment.unread if u.dangers}
        if decided & (unread | {ground_name(fact) for fact in self.assessment.conflicts}):
            return "record"
        return "facts" if decision.standing == "incomplete" else None

    # --- all together

    def told(self) -> Firmness:
        """How firm everything is."""
        firms: dict[tuple[str, str], Firm] = {}
        for table in self.tables:
            result = table.result
            if table.places and not table.of_discs:
                found = self.firm(
                    result.subject, result.id, result.outcome, table.places, partial(self.outcome, table)
                )
                if found.becomes:
                    firms[result.id, result.subject] = found
        self._sort(firms.values())
        for result in self.assessment.results:
            repeated = any(key in self.recorded or key in self.guarded for key in self._reads[id(result)])
            if repeated and (result.id, result.subject) in self.safety:
                firms[result.id, result.subject] = Firm(
                    result.subject, result.id, result.outcome, None, why="safety"
                )
        order = [(r.id, r.subject) for r in self.assessment.results]
        read = {key for result in self.asked for key in self._reads[id(result)]}
        known = [fact for key in sorted(read) if (fact := self.view.fact(*key)).value is not None]
        without = [fact for fact in known if (fact.element, fact.subject) not in self.recorded]
        figures = {fact.element: self.shelf.of(fact.element) for fact in without}
        return Firmness(
            case=self.standing("patient", self.assessment.decision),
            discs=tuple(self.standing(disc.level, disc.decision) for disc in self.assessment.discs),
            criteria=tuple(firms[key] for key in order if key in firms),
            unpublished=tuple(f for f in without if figures[f.element] is None and self._is_measured(f)),
            unusable=tuple((f, row) for f in without if isinstance(row := figures[f.element], Unusable)),
            imprecise=tuple(f for f in without if isinstance(figures[f.element], Figures)),
        )

    def _is_measured(self, fact: Fact) -> bool:
        """Whether a value is one that is measured or read, and does not follow from repeated ones."""
        element = catalogue()[fact.element]
        found_in = element.found_in.lower()
        return (
            element.kind in ("number", "integer", "choice", "boolean")
            and any(word in found_in for word in _MEASURED)
            and (fact.element, fact.subject) not in self.follows
        )


def _ranges_over_discs(result: CriterionResult) -> bool:
    """Whether a criterion reads facts of discs other than its own."""
    return any(
        isinstance(node, AllOf | AnyOf | CountOf) and isinstance(node.of, Each) and node.of.over == DISCS
        for root in result.resolved.conditions
        for node in walk(root)
    )
