"""The published figures of an element: the row in use, and the other rows that are shown as the spread."""

from collections.abc import Iterable, Sequence
from typing import Any, Literal, NamedTuple

from msgspec import Struct

from candidacy.firm.readers import exact_of, normal_shares
from candidacy.rules.cited import Citation, TableRow
from candidacy.rules.resolved import RuleSet

ERRORS, READERS = "measurement_error", "reader_agreement"
_HUMAN = "readers"


class Published(Struct, frozen=True):
    """One row: how far two measurements lie apart, or how often two readers agree.

    Attributes
    ----------
    kind
        ``error`` of a measurement, or ``readers``.
    size
        The standard error of measurement in the unit of the element; of readers, the share that disagree, 0 to 1.
    step
        Step between recordable values, where there is one.
    grades, shares
        Of readers: the grades in their order, and how often each is read.
    figure
        What was printed, in words ("kappa .69 to .81").
    borrowed
        Whether the figure is that of another measure.
    modelled
        Whether the table of grades against grades is a model (of readers, always).
    """

    key: str
    kind: Literal["error", "readers"]
    size: float
    figure: str
    sample: str
    cites: tuple[Citation, ...]
    note: str = ""
    step: float | None = None
    grades: tuple[Any, ...] = ()
    shares: tuple[float, ...] = ()
    borrowed: bool = False

    @property
    def modelled(self) -> bool:
        return self.kind == "readers"


class Figures(NamedTuple):
    """The figures of an element: the one in use, and the smallest and the largest that any study gives."""

    in_use: Published
    smallest: Published
    largest: Published

    @property
    def spread(self) -> bool:
        """Whether studies differ."""
        return self.smallest.size < self.largest.size


class Unusable(NamedTuple):
    """A row in use that says how readers agree, but not how common each grade is: nothing can be worked out from it.

    Two readers who use the grades equally often differ in at most 1 less kappa of the readings, whatever is common; of a
    weighted kappa or another coefficient not even that can be said.
    """

    row: Published
    differ_at_most: float | None


class Shelf:
    """The published figures under one rule set, read once."""

    def __init__(self, rule_set: RuleSet) -> None:
        self._settings = rule_set.setting_values()
        self._errors = _rows(rule_set, ERRORS)
        self._readers = _rows(rule_set, READERS)
        self._kept: dict[str, Figures | Unusable | None] = {}

    @property
    def elements(self) -> tuple[str, ...]:
        """Every element that a row of the tables is about."""
        rows = (*self._errors, *self._readers)
        return tuple(dict.fromkeys(str(name) for row in rows for name in _many(row.values["elements"])))

    def of(self, element: str) -> Figures | Unusable | None:
        """The figures of an element; nothing where no row in use is about it."""
        if element not in self._kept:
            self._kept[element] = self._error(element) or self._agreement(element)
        return self._kept[element]

    def _chosen(
        self, rows: Sequence[TableRow], name: str, element: str
    ) -> tuple[TableRow | None, list[TableRow]]:
        wanted = _many(self._settings.get(f"{name}_in_use"))
        about = [row for row in rows if element in _many(row.values["elements"])]
        return next((row for row in about if row.key in wanted), None), about

    def _error(self, element: str) -> Figures | None:
        chosen, about = self._chosen(self._errors, ERRORS, element)
        if chosen is None or chosen.values["sem"] is None:
            return None
        return _range(_error_row(chosen), [_error_row(row) for row in about if row.values["sem"] is not None])

    def _agreement(self, element: str) -> Figures | Unusable | None:
        chosen, about = self._chosen(self._readers, READERS, element)
        if chosen is None:
            return None
        if not chosen.values["shares"]:
            low = _number(chosen, "low") if chosen.values["value"] is None else _number(chosen, "value")
            at_most = 1 - low if low is not None and chosen.values["statistic"] == "kappa" else None
            return Unusable(_agreement_row(chosen, (), 1.0), at_most)
        shares = _shares(chosen)
        exact = _exact(chosen, shares)
        if exact is None:
            return None
        others = []
        for row in about:
            plain = row.values["between"] == _HUMAN and row.values["statistic"] == "kappa"
            for kappa in _ends(row) if plain and row.key != chosen.key else ():
                others.append(_agreement_row(row, shares, 1 - exact_of(kappa, shares), chosen))
        return _range(_agreement_row(chosen, shares, 1 - exact), others)


def _range(in_use: Published, others: Iterable[Published]) -> Figures:
    every = sorted([in_use, *others], key=lambda row: row.size)
    return Figures(in_use, every[0], every[-1])


def _error_row(row: TableRow) -> Published:
    unit = "" if row.values["unit"] == "1" else f" {row.values['unit']}"
    return Published(
        row.key, "error", float(str(row.values["sem"])), f"SEM {row.values['sem']:g}{unit}", str(row.values["sample"]),
        row.cites, row.note, _number(row, "step"), borrowed=bool(row.values["borrowed_from"]),
    )  # fmt: skip


def _agreement_row(
    row: TableRow, shares: tuple[float, ...], size: float, shares_of: TableRow | None = None
) -> Published:
    statistic, value = row.values["statistic"], _number(row, "value")
    ends = _ends(row)
    printed = f"{value:g}" if value is not None else " to ".join(f"{end:g}" for end in ends)
    exact = _number(row, "exact")
    figure = f"{statistic} {printed}".rstrip() + (f", {exact:g} % identical" if exact is not None else "")
    return Published(
        row.key, "readers", size, figure, str(row.values["sample"] or ""), row.cites, row.note,
        grades=_many((shares_of or row).values["grades"]), shares=shares,
    )  # fmt: skip


def _shares(row: TableRow) -> tuple[float, ...]:
    other = row.values["shares_other"]
    return tuple(normal_shares(_many(row.values["shares"]), _many(other) if other else None))


def _exact(row: TableRow, shares: tuple[float, ...]) -> float | None:
    """Share of identical readings as printed, else as the lowest printed kappa means."""
    printed = _number(row, "exact")
    if printed is not None:
        return printed / 100
    ends = _ends(row)
    return exact_of(min(ends), shares) if ends and row.values["statistic"] == "kappa" else None


def _ends(row: TableRow) -> tuple[float, ...]:
    found = [_number(row, name) for name in ("low", "high")]
    ends = tuple(end for end in found if end is not None)
    value = _number(row, "value")
    return ends or (() if value is None else (value,))


def _number(row: TableRow, column: str) -> float | None:
    value = row.values.get(column)
    return None if value is None else float(str(value))


def _many(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else () if value is None else (value,)


def _rows(rule_set: RuleSet, name: str) -> tuple[TableRow, ...]:
    """The rows of a table; none where the rule set stands in no library that has it."""
    return tuple(rule_set.tables.table(name).rows) if name in rule_set.tables.names else ()
