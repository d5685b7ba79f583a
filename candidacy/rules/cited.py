"""What is cited and what must cite: sources, citations, parameters, settings and tables as written in YAML."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from candidacy.case.element import Replaces, Rows, Strict, Tag, Text
from candidacy.rules.conditions import Scalar
from candidacy.rules.vocabulary import Day, Identifier, Version


class Source(Strict):
    """A published document, standard or convention, written once and cited by its key."""

    title: Text
    """Title as published, or in plain words what the convention is."""
    authors: str = ""
    """Authors as a bibliography names them; empty where a body speaks."""
    body: str = ""
    """Society, agency or practice that speaks, where no authors are named."""
    journal: str = ""
    """Journal, series or place of publication."""
    year: Annotated[int, Field(ge=1900, le=2100)] | None = None
    """Year of publication, 1900 to 2100."""
    identifier: str = ""
    """DOI, registry number, standard number or the like, by which it is found."""
    seen_as: str = ""
    """In which form it was read: full text, abstract, registry record, or not at all."""
    limits: str = ""
    """What it does not support: the population, the date, the strength of its evidence."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a source of one's own that bears a shipped key."""


class Citation(Strict):
    """Use of a source: where in it, what it supports, and how far that was verified."""

    source: str
    """Key of the source in ``sources.yaml``."""
    at: str = ""
    """Place in the source: section, table or page."""
    supports: Literal["value", "direction", "use"]
    """``value``: this very number; ``direction``: that more or less of it matters; ``use``: its use as a criterion."""
    tag: Tag
    """How far it was verified: ``seen`` in the source, ``weak`` on a secondary page, ``memory`` recalled,
    ``common practice`` convention without a source, ``local`` decided by the practice, ``derived`` by arithmetic
    on a tagged number. ``memory, low`` may only stand at an alternative."""
    note: str = ""
    """What a reader should know about this use."""


class Alternative(Strict):
    """Another published value of the same parameter, shown beside the one in use."""

    value: Scalar | Rows[Scalar]
    """The other value, in the unit of the parameter."""
    note: Text
    """Who uses it, or where it would hold."""
    cites: Rows[Citation] = ()
    """Where it stands."""


class Bounds(Strict):
    """Values a parameter or setting may take when it is changed; both ends belong to it."""

    low: int | float | None = None
    """Smallest value, in the unit of the parameter; without it there is no lower bound."""
    high: int | float | None = None
    """Largest value, in the unit of the parameter; without it there is no upper bound."""


class Parameter(Strict):
    """A number, code or list that a criterion compares with."""

    value: Scalar | Rows[Scalar]
    """The default, in the unit below; a rule set may change it with a reason."""
    meaning: Text
    """What the value stands for, in words."""
    unit: str | None = None
    """Unit of the value: that of the element it is compared with, or day, week, month or year for a length of time."""
    allowed: Bounds | None = None
    """The range within which a rule set may change it."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the value comes from; at least one."""
    alternatives: Rows[Alternative] = ()
    """Other published values, shown beside it."""


class Setting(Strict):
    """A choice that derivations use, such as a factor edition; a rule set may set it."""

    value: Scalar | Rows[Scalar]
    """The default, in the unit below."""
    meaning: Text
    """What the choice decides, in words."""
    choices: dict[str, str] | None = None
    """Allowed codes, each with what it means."""
    unit: str | None = None
    """Unit of the value."""
    allowed: Bounds | None = None
    """The range within which a rule set may change it."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the default comes from; at least one."""
    alternatives: Rows[Alternative] = ()
    """Other published values, shown beside it."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a setting of one's own that bears a shipped name."""


class Change(Strict):
    """One line of history, for readers of rules."""

    version: Version
    """Version that brought the change, as three numbers ("1.2.0")."""
    date: Day
    """Day of the change, YYYY-MM-DD."""
    change: Text
    """What changed and why, in a sentence."""


class TableRow(Strict):
    """One row of a table of published values; every row cites."""

    key: Text
    """By what the row is looked up."""
    values: dict[str, Scalar | Rows[Scalar] | None]
    """Column to value, in the unit that the column says; null where the source gives none."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the row comes from; at least one."""
    note: str = ""
    """What a reader should know about this row."""


class Table(Strict):
    """Published values that derivations look up, such as conversion factors."""

    id: Identifier
    """Id of the table: the name of its file without ``.yaml``."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    title: Text
    """Name of the table."""
    meaning: Text
    """What the values are for, and what they are not."""
    columns: dict[str, str]
    """Column to its meaning and unit; every row has exactly these."""
    rows: Annotated[Rows[TableRow], Field(min_length=1)]
    """The rows; at least one."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """History, the latest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a table of one's own that bears a shipped id."""

    @model_validator(mode="after")
    def _columns_known(self) -> "Table":
        for row in self.rows:
            if set(row.values) != set(self.columns):
                raise ValueError(f"row {row.key} must have exactly the columns {', '.join(self.columns)}")
        return self


class SourcesFile(Strict):
    """``sources.yaml``: the bibliography of a library, each source once."""

    sources: dict[str, Source]
    """Key to source; criteria and rule sets cite the key."""


class SettingsFile(Strict):
    """``settings.yaml``: choices that values worked out from others depend on."""

    settings: dict[str, Setting] = Field(default_factory=dict)
    """Name to setting."""
