"""Tables of tests and records for them as YAML, by the parser and writer in C where there is one: ten times as quick."""

from typing import Any

import yaml

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


def read_yaml(text: str) -> Any:
    """The content of one document."""
    return yaml.load(text, Loader=_LOADER)


def write_yaml(data: Any) -> str:
    """One document, keys in the given order."""
    return str(yaml.dump(data, Dumper=_DUMPER, sort_keys=False))
