"""Templates of a library by their kind, and what is wrong with one, said with file, line and what is allowed."""

from pathlib import Path

from msgspec import Struct

from candidacy.foundation.digest import file_digest
from candidacy.foundation.errors import Code, InputError, Problem, RuleError, shorten
from candidacy.foundation.files import nearest
from candidacy.foundation.shape import validate
from candidacy.letters.frame import frame
from candidacy.letters.names import BY_HAND, blanks
from candidacy.letters.template import LetterTemplate, names_in
from candidacy.letters.wrong import paragraphs, template_faults
from candidacy.rules.findings import Findings
from candidacy.rules.history import check_history
from candidacy.rules.library import Library
from candidacy.rules.replacing import Replacement, replacement

KIND = "letters"
ADDENDUM = "addendum"
"""A kind without a template: the request for an addendum, which `candidacy.reading.ask` words."""


class Loaded(Struct, frozen=True):
    """A template with the digest of its file, and what of one's own it replaces."""

    template: LetterTemplate
    digest: str
    own: bool
    replaced: Replacement | None


def kinds(library: Library) -> dict[str, Path]:
    """Files of the templates of a library by their kind."""
    return library.care_files(KIND)


def about(library: Library) -> dict[str, str]:
    """Every kind of letter with one line on what it is for, the request for an addendum last."""
    found = {}
    for kind in kinds(library):
        loaded = load(library, kind)
        found[kind] = loaded.template.about + (f" ({frame()['own_template']})" if loaded.own else "")
    return {**found, ADDENDUM: frame()[ADDENDUM]["about"]}


def blanks_of(template: LetterTemplate) -> list[str]:
    """Blanks of a template that a practice may fill in, each once and in order."""
    texts = [text for _, paragraph, _ in paragraphs(template) for text in paragraph.texts]
    named = dict.fromkeys(name for text in texts for name in names_in(text))
    return [name for name in named if name in blanks() and name not in BY_HAND]


def load(library: Library, kind: str) -> Loaded:
    """Load the template of a kind.

    Raises
    ------
    RuleError
        E601 if there is none of that kind; otherwise everything that is wrong with its file.
    """
    files = kinds(library)
    if kind not in files:
        close = nearest(kind, list(files))
        raise RuleError([Problem(
            Code.USAGE, "no such kind of letter", "KIND", found=shorten(kind),
            expected=", ".join((*files, ADDENDUM)) + (f" (closest is {close})" if close else ""),
            next_step="candidacy letter lists them",
        )])  # fmt: skip
    loaded, findings = read(library, kind)
    findings.stop()
    return loaded


def read(library: Library, kind: str) -> tuple[Loaded, Findings]:
    """Read the template of a kind, with what is wrong with what it says.

    Raises
    ------
    RuleError
        With what is wrong with its shape.
    """
    path = kinds(library)[kind]
    template = _template(library, path)
    findings = Findings(path, library.tree(path))
    if template.id != path.stem:
        findings.add(
            ("id",), Code.BAD_RULE, "the id differs from the file name", found=template.id, expected=path.stem
        )
    check_history(template.changes, template.version, findings)
    own = library.base is not None and kind in library.layout.care[KIND]
    declared = None
    if own and library.base is not None:
        shipped = kinds(library.base).get(kind)
        former = _template(library.base, shipped).version if shipped is not None else None
        declared = replacement("letter", kind, template.replaces, (template.version, former), findings)
    template_faults(template, library.sources(), findings)
    return Loaded(template, file_digest(path), own, declared), findings


def _template(library: Library, path: Path) -> LetterTemplate:
    try:
        return validate(LetterTemplate, library.tree(path), str(path))
    except InputError as error:
        raise RuleError(error.problems) from None
