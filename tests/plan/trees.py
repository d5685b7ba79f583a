"""Files in memory."""

from collections.abc import Mapping

from candidacy.foundation.files import Placed
from candidacy.foundation.plain_data import tree_of


def tree(content: Mapping[str, object]) -> Placed:
    return tree_of(content, "entries.yaml")
