"""The declared letters and productions of the clause grammar, as the data file gives them."""

from functools import cache
from importlib.resources import files
from typing import Any

import yaml


@cache
def clause_data() -> dict[str, Any]:
    """Give the declared letters and productions, as they stand in the data file."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    text = (files("candidacy.reading") / "data" / "clauses.yaml").read_text("utf-8")
    data: dict[str, Any] = yaml.load(text, Loader=loader)
    return data
