"""Letters in their three forms; what a form needs is loaded when it is asked for."""

import importlib.util
from collections.abc import Sequence
from typing import Literal

from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.letters.letter import Letter
from candidacy.letters.text import letters_text

FORMS = ("text", "pdf", "docx")


def rendered(letters: Sequence[Letter], form: str, paper: Literal["A4", "Letter"] = "A4") -> str | bytes:
    """Letters as ``text``, ``pdf`` or ``docx``.

    Raises
    ------
    InputError
        E601 where a package for the form is not installed.
    """
    if form == "text":
        return letters_text(letters)
    _needs("reportlab", form)  # its colours are those of both files
    if form == "pdf":
        from candidacy.letters.pdf import letters_pdf

        return letters_pdf(letters, paper)
    _needs("docx", form)
    from candidacy.letters.word_file import letters_docx

    return letters_docx(letters)


def _needs(package: str, form: str) -> None:
    if importlib.util.find_spec(package) is None:
        raise InputError([Problem(Code.USAGE, "this form needs an extra", "--format", found=form,
                                  next_step="pip install 'candidacy[letters]', or use text")])  # fmt: skip
