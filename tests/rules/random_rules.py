"""Random criteria over elements of one's own and shipped ones: every operator and every form that the rule language has.

They mean nothing. They nest joins, quantifiers and counts, put limits on, below and above round numbers, and age facts, so that
what evaluates conditions can be held against what else does.
"""

from collections.abc import Sequence
from random import Random
from typing import Any

from candidacy.case.element import LISTS, Element
from candidacy.rules.criterion import Criterion
from candidacy.rules.fit import misfits
from candidacy.rules.operators import OPERATORS, possible_operators
from candidacy.rules.relation_fit import relation_misfits
from candidacy.rules.relations import Relation
from candidacy.rules.resolved import ResolvedCriterion, as_declared

CITE = {"source": "test_rules", "supports": "value", "tag": "local"}
_SCOPES = dict(LISTS)
_COUNTING = ("at_least", "at_most", "more_than", "less_than", "between", "is")

# One element of each kind for the patient, a disc and an entry of a list; their units have others that are turned into them.
_KINDS: tuple[dict[str, Any], ...] = (
    {"name": "length", "kind": "number", "unit": "mm", "possible": {"low": 0, "high": 500}, "likely": {"low": 1, "high": 60}},
    {"name": "ratio", "kind": "number", "possible": {"low": -20, "high": 20}, "likely": {"low": -5, "high": 5}},
    {"name": "weight", "kind": "number", "unit": "kg", "possible": {"low": 0, "high": 400}, "likely": {"low": 20, "high": 200}},
    {"name": "time", "kind": "number", "unit": "month", "possible": {"low": 0, "high": 600}, "likely": {"low": 0, "high": 60}},
    {"name": "hours", "kind": "number", "unit": "hour", "possible": {"low": 0, "high": 2000}},
    {"name": "score", "kind": "integer", "possible": {"low": 0, "high": 24}},
    {"name": "sign", "kind": "boolean"},
    {"name": "sort", "kind": "choice", "choices": {"red": "Red", "green": "Green", "blue": "Blue"}},
    {"name": "grade", "kind": "choice", "ordered": True,
     "choices": {"none": "None", "mild": "Mild", "moderate": "Moderate", "severe": "Severe"}},
    {"name": "set", "kind": "members", "choices": {"one": "One", "two": "Two", "three": "Three", "four": "Four"}},
    {"name": "day", "kind": "date"},
    {"name": "other_day", "kind": "date", "past": True},
    {"name": "limp", "kind": "boolean"},
    {"name": "numb", "kind": "boolean"},
    {"name": "part", "kind": "integer", "possible": {"low": 0, "high": 12}},
    {"name": "other_part", "kind": "integer", "possible": {"low": 0, "high": 12}},
)  # fmt: skip
# What a danger is, and what cannot stand beside what.
_SAID: dict[str, dict[str, Any]] = {
    "length": {"danger": [("more_than", 50)]},
    "sign": {"danger": [("is", True)], "covers": ["limp", "numb"]},
    "limp": {"danger": [("is", True)]},
    "numb": {"danger": [("is", True)]},
    "sort": {"danger": [("one_of", ["red"])]},
    "grade": {"danger": [("at_least", "severe")]},
    "set": {"danger": [("contains_any", ["four"])]},
    "score": {"parts": {"of": ["part", "other_part"]}},
    "ratio": {
        "unlike": [{"values": {"low": 4, "high": 20}, "element": "score", "other": {"low": 0, "high": 3}}]
    },
    "day": {"not_below": [{"element": "other_day"}]},
    "other_day": {"near": {"before": 3650, "ahead": 30}},
}


def own_elements() -> dict[str, Any]:
    """A file of elements, one of each kind for each subject."""
    found = []
    for scope in ("patient", "disc", "medicine", "injection"):
        for kind in _KINDS:
            found.append({**kind, "name": f"{scope}_{kind['name']}", "scope": scope, "meaning": "Invented for a test.",
                          "found_in": "test", "ask": "Whether it was invented", **_said(scope, kind["name"])})  # fmt: skip
    return {"group": "invented", "title": "Invented", "elements": found}


def _said(scope: str, name: str) -> dict[str, Any]:
    """What an element of a scope says beside its kind, with the names of others of its scope."""
    said = {**_SAID.get(name, {})}
    if "danger" in said:
        said["danger"] = [{"op": op, "value": value, "why": "Invented.", "source": "test_rules", "tag": "local"}
                          for op, value in said["danger"]]  # fmt: skip
    else:
        said["no_danger"] = "Invented."
    if "covers" in said:
        said["covers"] = [f"{scope}_{each}" for each in said["covers"]]
    if "parts" in said:
        said["parts"] = {"of": [f"{scope}_{each}" for each in said["parts"]["of"]]}
    for key in ("unlike", "not_below"):
        if key in said:
            said[key] = [{**each, "element": f"{scope}_{each['element']}"} for each in said[key]]
    return said


class RuleMaker:
    """Makes criteria that the loader takes, of elements that may be read."""

    def __init__(self, rng: Random, elements: Sequence[Element]) -> None:
        self.rng = rng
        self._of: dict[str, list[Element]] = {}
        for element in elements:
            self._of.setdefault(element.scope, []).append(element)
        self._parameters: dict[str, dict[str, Any]] = {}

    def criterion(self, identifier: str) -> ResolvedCriterion:
        """A criterion that fits the catalogue."""
        while True:
            found = self._try(identifier)
            if found is not None and not misfits(found):
                return found

    def _try(self, identifier: str) -> ResolvedCriterion | None:
        rng, self._parameters = self.rng, {}
        subject = rng.choice(("patient", "patient", "disc"))
        data: dict[str, Any] = {
            "id": identifier, "kind": rng.choice(("inclusion", "exclusion")), "title": "Invented", "subject": subject,
            "group": "documentation", "status": "draft", "version": "0.1.0", "checked_on": "2026-11-25", "why": "Invented.",
            "force": rng.choice(("stop", "absolute", "absolute", "relative", "relative", "advisory")), "act": "Nothing.",
            "when": self.condition(subject, rng.randint(0, 3)), "if_unknown": "ask", "ask_for": "Nothing",
            "cites": [{**CITE, "supports": "use"}],
            "changes": [{"version": "0.1.0", "date": "2026-11-25", "change": "First."}],
        }  # fmt: skip
        if rng.random() < 0.3:
            data["applies_when"] = self.condition(subject, rng.randint(0, 1))
        if rng.random() < 0.4:
            names = sorted(_elements_in(data["when"]) | _elements_in(data.get("applies_when", {})))
            if names:
                unit, amount = rng.choice((("day", 90), ("week", 12), ("month", 6), ("year", 1)))
                self._parameters["max_age"] = self._declared(amount, unit)
                data["recency"] = {
                    "max_age": {"parameter": "max_age"}, "elements": rng.sample(names, rng.randint(1, len(names))),
                }  # fmt: skip
                if rng.random() < 0.5:
                    data["recency"]["dated_by"] = rng.choice(self._dates("patient"))
        data["parameters"] = self._parameters
        return as_declared(Criterion.model_validate(data))

    def relation(self, element: Element, depth: int) -> Relation | None:
        """A relation of an element that fits the catalogue; nothing where none was found."""
        for _ in range(20):
            found = self._relation(element, depth)
            if found is not None and not relation_misfits(found):
                return found
        return None

    def _relation(self, element: Element, depth: int) -> Relation | None:
        rng, self._parameters = self.rng, {}
        implied = []
        for _ in range(rng.randint(1, 2)):
            each: dict[str, Any] = {
                "says": "invented", "when": self.condition(element.scope, rng.randint(0, depth)), "infer": rng.random() < 0.6,
                "perhaps": rng.random() < 0.3,
            }  # fmt: skip
            if element.kind in ("number", "integer"):
                low, high = sorted((self._value(element), self._value(element)))
                each |= {
                    "limits": rng.choice(({"low": low}, {"high": high}, {"low": low, "high": high})),
                    "infer": False,
                }
            elif element.kind == "boolean":
                each["value"] = rng.random() < 0.6
            elif element.codes:
                each["value"] = sorted({self._value(element) for _ in range(2)})
                each["infer"] = each["infer"] and element.kind == "choice"
            else:
                return None
            if rng.random() < 0.3:
                self._parameters["present"] = self._declared(rng.choice((30, 365)), "day")
                each["present_for"] = {"parameter": "present"}
            implied.append(each)
        acts = (
            element.kind == "boolean"
            and all(each["value"] is True for each in implied)
            and rng.random() < 0.4
        )
        return Relation.model_validate({
            "element": element.name, "because": "Invented.", "acts": acts, "implied": implied, "parameters": self._parameters,
        })  # fmt: skip

    # --- conditions

    def condition(self, scope: str, depth: int) -> dict[str, Any]:
        """One condition read for a subject of a scope."""
        rng = self.rng
        if depth == 0:
            return self._leaf(scope)
        head = rng.choice(
            ("all", "any", "none", "not", "at_least_of", "any_disc", "every_disc", "count_discs", "any_entry", "every_entry",
             "count_entries", "leaf")
        )  # fmt: skip
        if head == "leaf":
            return self._leaf(scope)
        if head in ("all", "any", "none"):
            return {
                head: [self.condition(scope, rng.randint(0, depth - 1)) for _ in range(rng.randint(1, 3))]
            }
        if head == "not":
            return {"not": self.condition(scope, depth - 1)}
        if head == "at_least_of":
            some = [self.condition(scope, rng.randint(0, depth - 1)) for _ in range(rng.randint(1, 4))]
            return {head: {"count": self._number(rng.randint(1, len(some)), None), "conditions": some}}
        if head.endswith(("disc", "discs")):
            inner: dict[str, Any] = {"that": self.condition("disc", depth - 1)}
            if head == "count_discs":
                inner |= self._counting(5)
            elif rng.random() < 0.5:
                inner["where"] = self.condition("disc", rng.randint(0, depth - 1))
            return {head: inner}
        name = rng.choice(tuple(_SCOPES))
        inner = {"of": name, "that": self.condition(_SCOPES[name], depth - 1)}
        return {head: inner | (self._counting(3) if head == "count_entries" else {})}

    def _counting(self, most: int) -> dict[str, Any]:
        op = self.rng.choice(_COUNTING)
        if op == "between":
            low, high = sorted((self.rng.randint(0, most), self.rng.randint(0, most)))
            return {"op": op, "low": self._number(low, None), "high": self._number(high, None)}
        return {"op": op, "value": self._number(self.rng.randint(0, most), None)}

    def _leaf(self, scope: str) -> dict[str, Any]:
        rng = self.rng
        kind = rng.random()
        if kind < 0.06:
            return {"complete_list": rng.choice(tuple(_SCOPES))}
        if kind < 0.25:
            return self._elapsed(scope)
        pool = [*self._of.get("patient", ()), *(self._of.get(scope, ()) if scope != "patient" else ())]
        own = self._of.get(scope) or pool
        return self._test(rng.choice(own if rng.random() < 0.7 else pool))

    def _test(self, element: Element) -> dict[str, Any]:
        rng, op = self.rng, self.rng.choice(sorted(possible_operators(element)))
        test: dict[str, Any] = {"element": element.name, "op": op}
        match OPERATORS[op].takes:
            case "none":
                return test
            case "ends":
                ends = sorted((self._value(element), self._value(element)), key=self._place(element))
                return {**test, "low": self._given(ends[0], element), "high": self._given(ends[1], element)}
            case "several":
                return {
                    **test,
                    "value": self._given([self._value(element) for _ in range(rng.randint(1, 3))], element),
                }
            case _:
                return {**test, "value": self._given(self._value(element), element)}

    def _place(self, element: Element) -> Any:
        return element.codes.index if element.codes else float

    def _value(self, element: Element) -> Any:
        rng = self.rng
        if element.kind == "boolean":
            return rng.random() < 0.5
        if element.codes:
            return rng.choice(element.codes)
        low, high = limits_of(element)
        if element.kind == "integer":
            return rng.randint(int(low), int(high))
        return rng.choice(
            (round(low + rng.random() * (high - low)), round(low + rng.random() * (high - low), 1))
        )

    def _given(self, value: Any, element: Element) -> Any:
        return self._number(value, element.unit)

    def _number(self, value: Any, unit: str | None) -> Any:
        """An operand: as it is, or as a parameter."""
        if self.rng.random() < 0.5:
            return value
        name = f"limit_{len(self._parameters)}"
        self._parameters[name] = self._declared(value, unit)
        return {"parameter": name}

    def _declared(self, value: Any, unit: str | None) -> dict[str, Any]:
        return {"value": value, "meaning": "Invented", "cites": [CITE]} | ({"unit": unit} if unit else {})

    def _dates(self, scope: str) -> list[str]:
        return [e.name for e in self._of.get(scope, ()) if e.kind == "date"]

    def _elapsed(self, scope: str) -> dict[str, Any]:
        rng = self.rng
        dates = [*self._dates("patient"), *(self._dates(scope) * 2 if scope != "patient" else ())]
        unit = rng.choice(("day", "week", "month", "year"))
        op = rng.choice(
            ("at_least", "less_than") if unit in ("month", "year") else ("at_least", "at_most", "more_than", "less_than", "between")
        )  # fmt: skip
        inner: dict[str, Any] = {"since": rng.choice(dates), "unit": unit, "op": op}
        if rng.random() < 0.4:
            inner["until"] = rng.choice(dates)
        amounts = {"day": (-30, 0, 7, 13, 14, 30, 90, 365), "week": (-4, 0, 1, 2, 4, 12, 1.5), "month": (-3, 0, 1, 3, 6, 12),
                   "year": (-1, 0, 1, 2)}[unit]  # fmt: skip
        if op == "between":
            low, high = sorted((rng.choice(amounts), rng.choice(amounts)))
            return {"elapsed": {**inner, "low": self._number(low, unit), "high": self._number(high, unit)}}
        return {"elapsed": {**inner, "value": self._number(rng.choice(amounts), unit)}}


def limits_of(element: Element) -> tuple[float, float]:
    """A range of a number in which limits are laid."""
    span = element.likely or element.possible
    low = span.low if span is not None and span.low is not None else 0
    high = span.high if span is not None and span.high is not None else low + 100
    return low, high


def _elements_in(condition: Any) -> set[str]:
    found = set()
    if isinstance(condition, dict):
        if "element" in condition:
            found.add(condition["element"])
        for part in condition.values():
            found |= _elements_in(part)
    elif isinstance(condition, list):
        for part in condition:
            found |= _elements_in(part)
    return found
