"""What only the loader of a record can tell of its free text."""

from candidacy.derive.base import Inputs, derives


@derives("danger_in_text")
def danger_in_text(inputs: Inputs) -> None:
    """Nothing beyond what `candidacy.case.free_text` found: a table of cases holds no free text. Source: none."""
