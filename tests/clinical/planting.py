"""Plants one dangerous fact or one contradiction into a case record, from the catalogue and the relations alone.

Nothing here knows an element by name: what is planted is read off the declared dangers and implications.
"""

import pickle
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, STANDARD_LEVELS, Danger, Element
from candidacy.case.load import Case, case_from_record
from candidacy.case.record import CaseRecord
from candidacy.rules.conditions import Condition, CountDiscs, CountEntries, ParameterRef
from candidacy.rules.relations import Implication, Relation
from tests.views import written_for_disc

Record = dict[str, Any]
LIST_OF = {scope: name for name, scope in LISTS.items()}
_WIDE = 10  # a range in which two whole numbers lie far apart
_DAYS = {"day": 1, "week": 7, "month": 31, "year": 366}
_OPPOSITE = {
    "at_least": "less_than",
    "less_than": "at_least",
    "at_most": "more_than",
    "more_than": "at_most",
    "is": "is_not",
    "is_not": "is",
    "one_of": "none_of",
    "none_of": "one_of",
    "empty": "not_empty",
    "contains": "lacks",
    "contains_any": "lacks",
}


# A written name of each class that names tell.
NAMES = {
    "direct_oral_anticoagulant": "apixaban", "vitamin_k_antagonist": "warfarin", "heparin": "heparin",
    "injectable_factor_xa_inhibitor": "fondaparinux", "low_molecular_weight_heparin": "tinzaparin",
    "thrombolytic": "alteplase", "glycoprotein_inhibitor": "tirofiban", "antiplatelet": "clopidogrel",
    "jak_inhibitor": "baricitinib", "biologic": "adalimumab", "lasting_antibody": "rituximab", "lasting_immunosuppressant": "leflunomide", "other_immunosuppressant": "capecitabine",
    "conventional_dmard": "sulfasalazine", "systemic_steroid": "dexamethasone", "antibiotic": "co-amoxiclav",
    "opioid": "oxycodone", "ssri_or_snri": "sertraline", "nsaid": "ibuprofen", "insulin": "insulin glargine", "herbal_that_thins": "ginkgo", "nsaid_on_a_surface": "diclofenac gel",
    "bone_medicine": "denosumab", "cancer_hormone": "letrozole", "no_weight": "amlodipine",
    "no_weight_counted_apart": "mirtazapine",
    "antibody_counted_apart": "evolocumab",
}  # fmt: skip


class CannotPlantError(Exception):
    """A condition that this generator cannot make true, and why."""


@dataclass(frozen=True, slots=True)
class Planting:
    """A record with one thing planted, and what it is."""

    what: str
    element: str
    subject: str
    record: Record

    def case(self) -> Case:
        """The planted record as a case.

        Raises
        ------
        CaseError
            Where the record is refused.
        """
        return case_from_record(CaseRecord.model_validate(self.record), "planted")


def _copied(record: Record) -> Record:
    """A copy of a whole record, in a fifth of the time that `copy.deepcopy` takes."""
    copy: Record = pickle.loads(pickle.dumps(record))
    return copy


# --- dangerous facts


def dangers() -> Iterator[tuple[Element, Danger]]:
    """Every declared danger of an element that a record may state."""
    for element in catalogue().all:
        if element.statable:
            for danger in element.danger:
                yield element, danger


def plant_danger(record: Record, element: Element, danger: Danger, discs: tuple[str, ...]) -> list[Planting]:
    """The dangerous values, each at every place of the record where it can stand: a record each."""
    found = []
    for value in _dangerous(element, danger):
        for place in _places(element, discs):
            bed = _Bed(_copied(record), {})
            where = bed.enter(place)
            bed.put(where, element.name, value, "planted_detail")
            found.append(Planting(f"{element.name} {danger.op} {value!r}", element.name, place, bed.record))
    return found


def plant_doubts(record: Record, element: Element, discs: tuple[str, ...], **more: str) -> list[Planting]:
    """Values outside what is usual of an element, dates that cannot be, and numbers whose words are others, at every place;
    ``more`` is recorded with the value."""
    return [
        _alone(record, element, value, place, more | told)
        for value, told in _doubtful(element, date.fromisoformat(record["as_of"]))
        for place in _places(element, discs)
    ]


def _doubtful(element: Element, as_of: date) -> Iterator[tuple[Any, dict[str, str]]]:
    if element.kind == "date":
        yield "1900-01-31", {}
        if element.past:
            yield (as_of + timedelta(days=40)).isoformat(), {}
    elif element.possible is not None and element.likely is not None:
        low, high = element.likely.low, element.likely.high
        if low is not None and low != element.possible.low:
            yield _beyond(element, low, False), {}
        if high is not None and high != element.possible.high:
            yield _beyond(element, high, True), {}
        if low is not None and high is not None and high - low > _WIDE:
            yield int((low + high) / 2), {"words": f"noted: {int(high - 1)}"}


def _alone(record: Record, element: Element, value: Any, place: str, more: dict[str, str]) -> Planting:
    bed = _Bed(_copied(record), {})
    where = bed.enter(place)
    bed.put(where, element.name, value, "planted_detail")
    where[element.name].update(more)
    return Planting(f"{element.name} {value}", element.name, place, bed.record)


def _places(element: Element, discs: tuple[str, ...]) -> tuple[str, ...]:
    if element.scope == "patient":
        return ("patient",)
    return discs if element.scope == "disc" else (LIST_OF[element.scope],)


def _dangerous(element: Element, danger: Danger) -> list[Any]:
    """For a number the limit and clearly beyond it; for codes each of them."""
    if element.kind == "members":
        return [[each] for each in danger.limits]
    if element.kind not in ("number", "integer"):
        return list(danger.limits)
    limit = danger.limits[0]
    assert isinstance(limit, int | float)
    upward = danger.op in ("at_least", "more_than")
    at = [limit] if danger.op in ("at_least", "at_most", "is", "one_of") else []
    if danger.op in ("is", "one_of"):
        return list(danger.limits)
    assert element.possible is not None
    end = element.possible.high if upward else element.possible.low
    return at if limit == end else [*at, _beyond(element, limit, upward)]


def _beyond(element: Element, limit: float, upward: bool) -> float:
    """A value clearly beyond a limit, inside what is possible."""
    assert element.possible is not None
    step = max(abs(limit) * 0.1, 1 if element.kind == "integer" or abs(limit) >= 5 else 0.1)
    value = limit + step if upward else limit - step
    low, high = element.possible.low, element.possible.high
    if high is not None and value > high:
        value = high if high > limit else _fail(f"{element.name} cannot lie above {limit}")
    if low is not None and value < low:
        value = (low + limit) / 2 if low < limit else _fail(f"{element.name} cannot lie below {limit}")
    return (int(value + 0.5) if upward else int(value)) if element.kind == "integer" else round(value, 3)


# --- contradictions


def plant_contradiction(
    record: Record, relation: Relation, implication: Implication, discs: tuple[str, ...]
) -> Planting:
    """A summary stated at a value that an implication excludes, beside details that meet its condition.

    Raises
    ------
    CannotPlantError
        Where the condition cannot be made true by stating facts, or no value of the summary is excluded.
    """
    element = catalogue()[relation.element]
    if not element.statable:
        raise CannotPlantError("the summary is only worked out, never stated")
    level = discs[0]
    bed = _Bed(_copied(record), {name: p.value for name, p in relation.parameters.items()})
    place = {"patient": "patient", "disc": level}.get(element.scope) or LIST_OF[element.scope]
    where = bed.enter(place)
    bed.disc, bed.here = level, where
    bed.make(written_for_disc(implication.when, level), True)
    bed.put(where, element.name, _excluded(element, implication), "planted_summary")
    if element.name in bed.made:
        raise CannotPlantError("the condition reads the summary itself")
    return Planting(f"{element.name}: {implication.says}", element.name, place, bed.record)


def _excluded(element: Element, implication: Implication) -> Any:
    """A value of the summary that an implication does not allow."""
    if implication.limits is not None:
        limits, possible = implication.limits, element.possible
        assert possible is not None
        if element.kind == "date":
            raise CannotPlantError("a date has no limits")
        if limits.low is not None and (possible.low is None or limits.low > possible.low):
            return _beyond(element, limits.low, upward=False)
        if limits.high is not None:
            return _beyond(element, limits.high, upward=True)
    elif element.kind == "boolean":
        if len(implication.codes) == 1:
            return not next(iter(implication.codes))
    elif element.kind in ("choice", "members"):
        left = [code for code in element.codes if code not in implication.codes]
        if left:
            return left[0] if element.kind == "choice" else [left[0]]
    elif element.kind in ("integer", "number"):
        top = max(implication.codes)
        return _beyond(element, top, upward=True)
    raise CannotPlantError("the implication excludes no value")


@dataclass(slots=True)
class _Bed:
    """A record under change, and where in it a condition is being made true."""

    record: Record
    parameters: dict[str, Any]
    disc: str = ""
    here: dict[str, Any] = field(default_factory=dict)
    made: set[str] = field(default_factory=set)
    day: date = field(init=False)

    def __post_init__(self) -> None:
        self.day = date.fromisoformat(self.record["as_of"])
        documents = self.record.setdefault("documents", {})
        for key in ("planted_detail", "planted_summary"):
            documents[key] = {"kind": "clinic_note", "date": self.record["as_of"], "author": "physician"}

    def enter(self, place: str) -> dict[str, Any]:
        """The facts of the patient, of a disc, or of a new entry of a list."""
        if place == "patient":
            return self.record.setdefault("patient", {})
        if place in LISTS:
            entry: dict[str, Any] = {}
            self.record.setdefault(place, {"complete": True}).setdefault("entries", []).append(entry)
            return entry
        return self.record.setdefault("discs", {}).setdefault(place, {})

    def put(self, where: dict[str, Any], name: str, value: Any, source: str) -> None:
        """State a fact; what would say the same twice is taken away."""
        element = catalogue()[name]
        fact = {"value": value, "source": source}
        if element.unit is not None:
            fact["unit"] = element.unit
        for other in element.excludes:
            where.pop(other, None)
        for other in catalogue().all:
            if name in other.excludes or (other.name in where and any(name in i for i in other.inputs)):
                where.pop(other.name, None)
        for inputs in element.inputs:
            if all(each in where for each in inputs):
                where.pop(inputs[-1])
        where[name] = fact

    # --- making a condition true

    def make(self, condition: Condition, true: bool) -> None:
        head = condition.head
        match head:
            case "element":
                self._test(condition, true)
            case "all" | "none" | "any":
                parts = getattr(condition, head)
                assert parts is not None
                each = true if head != "none" else not true
                if (head in ("all", "none")) == true:
                    for part in parts:
                        self.make(part, each)
                else:
                    self._first(parts, each)
            case "not_":
                assert condition.not_ is not None
                self.make(condition.not_, not true)
            case "at_least_of":
                assert condition.at_least_of is not None
                if not true:
                    raise CannotPlantError("fewer than some of several")
                for part in condition.at_least_of.conditions[: self._value(condition.at_least_of.count)]:
                    self.make(part, True)
            case "any_entry" | "every_entry":
                over = condition.any_entry or condition.every_entry
                assert over is not None
                if (head == "any_entry") == true:
                    self._in_entry(over.of, over.that, true)
                else:
                    self.record[over.of] = {"complete": True, "entries": []}
            case "count_entries" | "count_discs":
                self._count(condition.count_entries or condition.count_discs, true)
            case "complete_list":
                assert condition.complete_list is not None
                self.record.setdefault(condition.complete_list, {"entries": []})["complete"] = true
            case "any_disc" | "every_disc":
                over_discs = condition.any_disc or condition.every_disc
                assert over_discs is not None
                every = dict.fromkeys((*self.record["discs"], *STANDARD_LEVELS))
                levels = [self.disc] if (head == "any_disc") == true else list(every)
                for level in levels:
                    self._on_disc(level, over_discs.where, over_discs.that, true)
            case "elapsed":
                self._elapsed(condition, true)
            case _:
                raise CannotPlantError(f"no way to make {head} true")

    def _first(self, parts: Any, true: bool) -> None:
        """The first part that can be made so."""
        why: list[str] = []
        for part in parts:
            before = _copied(self.record)
            try:
                self.make(part, true)
            except CannotPlantError as error:
                why.append(str(error))
                if self.record != before:
                    raise
            else:
                return
        raise CannotPlantError("; ".join(why))

    def _in_entry(self, name: str, that: Condition, true: bool) -> None:
        outer = self.here
        self.here = self.enter(name)
        self.make(that, true)
        self.here = outer

    def _on_disc(self, level: str, where: Condition | None, that: Condition, true: bool) -> None:
        outer_disc, outer = self.disc, self.here
        self.disc, self.here = level, self.enter(level)
        if where is not None:
            self.make(where, True)
        self.make(that, true)
        self.disc, self.here = outer_disc, outer

    def _count(self, count: CountEntries | CountDiscs | None, true: bool) -> None:
        if not isinstance(count, CountEntries) or not true or count.op not in ("at_least", "more_than", "is"):
            raise CannotPlantError("a count of this kind")
        for _ in range(self._value(count.value) + (count.op == "more_than")):
            self._in_entry(count.of, count.that, True)

    def _elapsed(self, condition: Condition, true: bool) -> None:
        elapsed = condition.elapsed
        assert elapsed is not None
        op = elapsed.op if true else _OPPOSITE.get(elapsed.op, "")
        if op in ("at_most", "less_than"):
            days = min(0, (self._value(elapsed.value) - (op == "less_than")) * _DAYS[elapsed.unit])
        elif op in ("at_least", "more_than"):
            days = (self._value(elapsed.value) + 1) * _DAYS[elapsed.unit]
        elif op == "between":
            days = (self._value(elapsed.low) + self._value(elapsed.high)) // 2 * _DAYS[elapsed.unit]
        else:
            raise CannotPlantError("a distance of time of this kind")
        end = self.day
        if elapsed.until != "as_of":
            self._state(elapsed.until, end.isoformat())
        self._state(elapsed.since, (end - timedelta(days=days)).isoformat())

    def _state(self, name: str, value: Any) -> None:
        if name == "medicine_named_class":
            name, value = "medicine_name", NAMES[value]
        if name == "pain_began":
            name = "pain_onset_date"
            self.record["patient"].pop("pain_duration", None)  # which would have to fit
        element = catalogue()[name]
        if not element.statable:
            raise CannotPlantError(f"{name} is only worked out, never stated")
        self.made.add(name)
        self.put(self._where(element), name, value, "planted_detail")

    def _where(self, element: Element) -> dict[str, Any]:
        if element.scope == "patient":
            return self.enter("patient")
        if element.scope == "disc":
            return self.enter(self.disc)
        return self.here

    def _value(self, operand: Any) -> Any:
        return self.parameters[operand.parameter] if isinstance(operand, ParameterRef) else operand

    def _test(self, condition: Condition, true: bool) -> None:
        assert condition.element is not None
        element, op = catalogue()[condition.element], condition.op or ""
        if op == "known":
            self._known(element, true)
            return
        if not true:
            op = _OPPOSITE.get(op) or _fail(f"{op} made false")
        self._state(element.name, self._meeting(element, op, condition))

    def _known(self, element: Element, true: bool) -> None:
        if not true:
            self._where(element).pop(element.name, None)
        elif element.name not in self._where(element):
            self._state(element.name, self._some(element))

    def _some(self, element: Element) -> Any:
        """Any value of an element."""
        match element.kind:
            case "boolean":
                return True
            case "choice":
                return element.codes[-1]
            case "members":
                return [element.codes[0]]
            case "date":
                return self.day.isoformat()
            case "number" | "integer":
                likely = element.likely or element.possible
                assert likely is not None
                return likely.high if likely.high is not None else (likely.low or 0)
            case _:
                return "planted"

    def _meeting(self, element: Element, op: str, condition: Condition) -> Any:
        """A value that meets a test."""
        value = self._value(condition.value)
        several = list(value) if isinstance(value, tuple | list) else [value]
        match op:
            case "is" | "at_least" | "at_most":
                return value
            case "one_of":
                return several[0]
            case "is_not" | "none_of":
                if element.kind == "boolean":
                    return not several[0]
                left = [code for code in element.codes if code not in several]
                return left[0] if left else _fail("no code is left")
            case "more_than":
                return _beyond(element, value, upward=True)
            case "less_than":
                return _beyond(element, value, upward=False)
            case "between":
                return (self._value(condition.low) + self._value(condition.high)) / 2
            case "contains" | "contains_any":
                return [several[0]]
            case "empty":
                return []
            case "not_empty":
                return [element.codes[0]]
            case "lacks":
                return [next(code for code in element.codes if code not in several)]
        raise CannotPlantError(f"no value meets {op}")


def _fail(why: str) -> Any:
    raise CannotPlantError(why)
