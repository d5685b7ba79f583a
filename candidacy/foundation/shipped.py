"""Where the shipped rule sets and demonstration cases are, in a source tree or an installed wheel."""

from pathlib import Path

from candidacy.foundation.errors import Code, InputError, Problem

# Names the folder of the library of one's own that the commands and the screens work with.
LIBRARY_VARIABLE = "CANDIDACY_LIBRARY"


def _folder(name: str) -> Path:
    package = Path(__file__).resolve().parent.parent
    for place in (package / "_shipped" / name, package.parent / name):
        if place.is_dir():
            return place
    raise InputError([Problem(Code.UNREADABLE, f"the shipped folder {name} is missing", str(package))])


def rulesets_folder() -> Path:
    """Folder with sources, criteria, decision rules, settings and rule sets."""
    return _folder("rulesets")


def demo_cases_folder() -> Path:
    """Folder with the invented demonstration cases."""
    return _folder("demo_cases")
