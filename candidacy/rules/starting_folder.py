"""A commented starting folder for rules of one's own: what ``candidacy rules new`` writes."""

from datetime import date
from importlib import resources
from textwrap import fill

from candidacy.foundation.errors import Code, Problem, RuleError, shorten
from candidacy.rules.library import Library
from candidacy.rules.resolved import ResolvedParameter, RuleSet
from candidacy.rules.vocabulary import is_identifier

# File of the folder -> the shipped text it is made of.
_FILES = {
    "sources.yaml": "sources.yaml",
    "elements/our_practice.yaml": "element.yaml",
    "criteria/documentation/report_confirmed_in_house.yaml": "criterion.yaml",
    "criteria/documentation/report_confirmed_in_house.cases.yaml": "criterion.cases.yaml",
    "relations/our_practice.yaml": "relation.yaml",
    "sets/<<id>>/ruleset.yaml": "ruleset.yaml",
    "sets/<<id>>/CHANGELOG.md": "CHANGELOG.md",
}
# The threshold shown as an example of a change, where the extended rule set has it.
_EXAMPLE = ("body_mass_index_limit", "bmi_upper_limit")


def starting_files(library: Library, extends: str, identifier: str, today: date) -> dict[str, str]:
    """The files of a starting folder, by their path in it.

    Parameters
    ----------
    library
        The library that the folder will extend.
    extends
        Id of the rule set that the new one starts from.
    identifier
        Id of the new rule set.
    today
        Day written into its history.

    Raises
    ------
    RuleError
        E302 if there is no rule set to extend; E203 for an id of the wrong form, E105 for one that is taken.
    """
    parent = library.rule_set(extends)
    _check_free(library, identifier)
    words = {
        "id": identifier,
        "title": identifier.replace("_", " ").capitalize(),
        "parent": parent.id,
        "parent_version": parent.file.version,
        "today": today.isoformat(),
        "threshold": _threshold(parent),
    }
    folder = resources.files("candidacy.rules") / "starting"
    return {
        _filled(path, words): _filled((folder / name).read_text(encoding="utf-8"), words)
        for path, name in _FILES.items()
    }


def _check_free(library: Library, identifier: str) -> None:
    if not is_identifier(identifier):
        raise RuleError([
            Problem(Code.WRONG_TYPE, "not an id of a rule set", field="--id", found=shorten(identifier),
                    expected="3 to 80 small letters, digits and _, a letter first",
                    next_step="name it with --id")
        ])  # fmt: skip
    if identifier in library.rule_set_names():
        raise RuleError([
            Problem(Code.DUPLICATE_KEY, "there is a shipped rule set of this id", field="--id", found=identifier,
                    expected="an id of its own", next_step="name it with --id")
        ])  # fmt: skip


def _filled(text: str, words: dict[str, str]) -> str:
    for name, word in words.items():
        text = text.replace(f"<<{name}>>", word)
    return text


def _threshold(rule_set: RuleSet) -> str:
    """A change of one threshold as comments: with the signs in front taken away it is in force."""
    found = _example(rule_set)
    if found is None:
        return ""
    criterion, parameter = found
    unit = f" {parameter.unit}" if parameter.unit else ""
    bounds = parameter.declared.allowed
    allowed = f"; allowed: {bounds.low} to {bounds.high}{unit}" if bounds else ""
    said = fill(
        f"A change of one threshold: take away the # of the lines below and write your own value, reason and source. "
        f"{parameter.name} of {criterion}: {parameter.declared.meaning}; {parameter.value}{unit} in "
        f"{rule_set.id}{allowed}. See also: candidacy rules show {criterion}",
        110, initial_indent="  # ", subsequent_indent="  # ",
    )  # fmt: skip
    lines = [
        f"  - id: {criterion}",
        "    parameters:",
        f"      {parameter.name}:",
        f"        value: {parameter.value}",
        *([f'        unit: "{parameter.unit}"'] if parameter.unit else []),
        "        reason: Write here why.",
        "        cites: [{source: our_decision, supports: value, tag: local}]",
    ]
    return "\n".join([said, *("# " + line for line in lines)]) + "\n"


def _example(rule_set: RuleSet) -> tuple[str, ResolvedParameter] | None:
    numbers = [
        (item.id, parameter)
        for item in rule_set.criteria
        for parameter in item.parameters.values()
        if isinstance(parameter.value, int | float) and not isinstance(parameter.value, bool)
        and parameter.declared.allowed is not None
    ]  # fmt: skip
    usual = [each for each in numbers if (each[0], each[1].name) == _EXAMPLE]
    return next(iter([*usual, *numbers]), None)
