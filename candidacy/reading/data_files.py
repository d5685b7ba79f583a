"""The reader's data files, as they are written."""

from importlib.resources import files
from typing import Any

import yaml


def rows_of(name: str) -> Any:
    """Give the content of a data file of the reader by its name without the ending."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return yaml.load((files("candidacy.reading") / "data" / f"{name}.yaml").read_text("utf-8"), Loader=loader)
