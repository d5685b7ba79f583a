"""The shape of a template as written in YAML: parts of paragraphs with conditions, placeholders and sources. No logic."""

import re
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.foundation.json_shape import filled, one_of
from candidacy.rules.cited import Change, Citation
from candidacy.rules.vocabulary import Identifier, Version

Reader = Literal["clinician", "payer", "patient"]
Says = Literal["frame", "record", "fact"]
Shape = Literal["paragraph", "item", "box"]
PLACEHOLDER = re.compile(r"\{([a-z_]+)\}")
NOT = "not "


class Column(Strict):
    """One column of a table."""

    head: Annotated[str, Field(min_length=1)]
    """Head of the column."""
    text: Annotated[str, Field(min_length=1)]
    """What its cells hold, with placeholders."""


class Paragraph(Strict):
    """Text that stands where its conditions hold; exactly one of text and columns."""

    model_config = ConfigDict(json_schema_extra=one_of(filled("text"), filled("columns")))

    text: str = ""
    """The words, with placeholders such as {day}; every placeholder is one of a closed list."""
    columns: Rows[Column] = ()
    """Instead of text, the columns of a table with a row for each entry of the list."""
    says: Says
    """frame: courtesy, a question or a heading; record: what the record tells, through a placeholder or a condition;
    fact: anything else that is stated, which must be cited."""
    when: Rows[str] = ()
    """Conditions that all must hold; "not NAME" turns one round."""
    each: str = ""
    """A list; the paragraph stands once for each of its entries, and not at all where there is none."""
    shape: Shape = "paragraph"
    """paragraph, item of a list, or box to be ticked by hand."""
    cites: Rows[Citation] = ()
    """Where a fact comes from; shown at the end of the letter with its tag."""

    @model_validator(mode="after")
    def _one_form(self) -> "Paragraph":
        if bool(self.text) is bool(self.columns):
            raise ValueError("a paragraph has either text or columns")
        return self

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text of it."""
        return (
            (self.text,)
            if self.text
            else tuple(t for column in self.columns for t in (column.head, column.text))
        )


class Part(Strict):
    """A heading with its paragraphs; it stands where its conditions hold and any of its paragraphs does."""

    heading: Text
    """The heading, without placeholders."""
    when: Rows[str] = ()
    """Conditions that all must hold."""
    alarm: bool = False
    """Whether it is set in a frame: what must be acted on first."""
    paragraphs: Annotated[Rows[Paragraph], Field(min_length=1)]
    """What stands under the heading."""


class FirstAndAdded(Strict):
    """The code of the first disc, and the code of each further one."""

    first: Text
    """Code of the first disc."""
    added: Text
    """Code of each further disc, beside the first."""


class Codes(Strict):
    """Procedure codes per disc, a setting of the practice that is verified in the claim year."""

    guidance: Text
    """The guidance in use, a key of by_guidance."""
    by_guidance: dict[str, FirstAndAdded]
    """For each guidance, the code of the first disc and that of each further one."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the codes come from; at least one."""


class LetterTemplate(Strict):
    """A kind of letter."""

    id: Identifier
    """Id of the kind: the name of its file without ``.yaml``."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    title: Text
    """Title of the letter."""
    about: Text
    """One line on what it is for, as the list of kinds shows it."""
    reader: Reader
    """clinician, payer or patient; what a patient reads is held to a school grade."""
    for_each: Literal["", "antithrombotic"] = ""
    """Empty for one letter about the case; antithrombotic for one about each."""
    codes: Codes | None = None
    """Codes per disc, for the list ``codes``."""
    notes: Rows[Paragraph] = ()
    """What the practice must see before the letter leaves; not part of the letter."""
    parts: Annotated[Rows[Part], Field(min_length=1)]
    """The letter."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """History, the latest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a template of one's own that bears a shipped id."""


def names_in(text: str) -> list[str]:
    """The placeholders of a text in order."""
    return PLACEHOLDER.findall(text)
