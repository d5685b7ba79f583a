"""Check the templates of letters: names, sources, words of promise or order, words of another standing, reading grade."""

from candidacy.foundation.errors import InputError, Problem
from candidacy.letters.load import KIND, read
from candidacy.rules.library import Library


def check_letters(library: Library) -> list[Problem]:
    """Everything that is wrong with the templates of this folder."""
    problems: list[Problem] = []
    for kind in library.layout.care[KIND]:
        try:
            problems += read(library, kind)[1].problems
        except InputError as error:
            problems += error.problems
    return problems
