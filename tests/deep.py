"""What is tried only when asked for: more generated cases of a law, pages at a second size or theme, longer journeys."""

import os

import pytest

DEEP = bool(os.environ.get("CANDIDACY_DEEP_TESTS"))
"""Whether ``CANDIDACY_DEEP_TESTS`` is set; the suite without it has to end within the time that its check allows."""

only_deep = pytest.mark.skipif(not DEEP, reason="tried in deep runs only: set CANDIDACY_DEEP_TESTS=1")
