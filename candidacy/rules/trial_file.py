"""A local trial written out as a rule set of its own, which extends the one it was tried on."""

import re
from typing import Any

import yaml

from candidacy.foundation.errors import Code, Problem, RuleError, shorten
from candidacy.rules.conditions import Scalar
from candidacy.rules.resolved import ResolvedParameter, RuleSet

_FIGURE = re.compile(r"[-+]?[0-9]+(\.[0-9]+)?")
_TRUTHS = {"yes": True, "true": True, "no": False, "false": False}


def trial_file(rule_set: RuleSet, identifier: str, day: str) -> str:
    """A rule set file (YAML) with the changed parameters, to be reviewed and then loaded by its path.

    Everything else is taken from the extended rule set, so only the departures stand in the file, each with
    the reason "local trial" and the tag ``local``: a committee replaces both before use.

    Parameters
    ----------
    rule_set
        A rule set with a local trial; see `RuleSet.with_trial`.
    identifier
        Id of the new rule set.
    day
        Day of the change, YYYY-MM-DD.

    Raises
    ------
    RuleError
        E305 if nothing was changed, E301 if the id is that of the extended rule set.
    """
    base = rule_set.file
    if not rule_set.trial:
        raise RuleError([Problem(Code.UNUSED_PARAMETER, "no parameter was changed", base.id)])
    if identifier == base.id:
        raise RuleError(
            [Problem(Code.BAD_RULE, "the changed set needs an id of its own", base.id, found=identifier)]
        )
    criteria: list[dict[str, Any]] = []
    for item in rule_set.criteria:
        changed = {
            name: parameter.change.model_dump(mode="json", exclude_defaults=True)
            for name, parameter in item.parameters.items()
            if parameter.change is not None and parameter.change.cites[0].source == "local_trial"
        }
        if changed:
            criteria.append({"id": item.id, "parameters": changed})
    written = base.model_dump(mode="json", exclude_defaults=True)
    for key in ("leaves_out", "settings", "criteria", "changes", "extends", "reason", "replaces"):
        written.pop(key, None)
    written |= {
        "id": identifier,
        "version": "0.1.0",
        "title": f"{base.title}, changed locally",
        "status": "draft",
        "extends": base.id,
        "reason": f"Local trial: {'; '.join(rule_set.trial)}.",
        "authoring_basis": f"Local change of {base.id} {base.version}. {base.authoring_basis}",
        "criteria": criteria,
        "changes": [
            {"version": "0.1.0", "date": day, "change": f"Local trial: {'; '.join(rule_set.trial)}."}
        ],
    }
    head = (
        f"# Local change of {base.id} {base.version}; give each departure a reason and a source before use.\n"
    )
    return head + yaml.safe_dump(written, sort_keys=False, allow_unicode=True, width=100)


def value_from_text(parameter: ResolvedParameter, text: str) -> Scalar | tuple[Scalar, ...]:
    """Read a new value of a parameter as typed: of the kind of the value in use, codes with commas between.

    Whether it lies within the bounds of the parameter is checked by `RuleSet.with_trial`.

    Raises
    ------
    RuleError
        E203 if the text is not of that kind.
    """
    old = parameter.value
    parts = [part.strip() for part in text.split(",")] if isinstance(old, tuple) else [text.strip()]
    samples = old if isinstance(old, tuple) else (old,)
    try:
        values = tuple(_like(samples[0] if samples else "", part) for part in parts if part)
        if not values:
            raise ValueError(text)
    except ValueError:
        problem = Problem(Code.WRONG_TYPE, "not the kind of value this parameter has", field=parameter.name,
                          found=shorten(text), expected=f"like {', '.join(str(s) for s in samples)}")  # fmt: skip
        raise RuleError([problem]) from None
    return values if isinstance(old, tuple) else values[0]


def _like(sample: Scalar, text: str) -> Scalar:
    if isinstance(sample, bool):
        if text.lower() not in _TRUTHS:
            raise ValueError(text)
        return _TRUTHS[text.lower()]
    if isinstance(sample, int | float):
        if not _FIGURE.fullmatch(text):
            raise ValueError(text)
        return float(text) if "." in text else int(text)
    return text
