"""What is tried only when asked for: more generated cases of a law, and pages at a second size, theme or rule set."""

import os

import pytest

DEEP = bool(os.environ.get("CANDIDACY_DEEP_TESTS"))
"""Whether ``CANDIDACY_DEEP_TESTS`` is set; the suite without it has to end within the time that its check allows."""

only_deep = pytest.mark.skipif(
    not DEEP, reason="a second size, theme or rule set; set CANDIDACY_DEEP_TESTS=1 to try it"
)
