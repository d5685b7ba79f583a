"""Comparisons of coded values: the quick form says what the plain one says."""

from itertools import combinations

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.foundation.truth import negate
from candidacy.foundation.values import Options
from candidacy.rules.operators import codes_meant, comparison


@pytest.mark.parametrize("op", ["is", "is_not", "one_of", "none_of", "at_least", "less_than"])
def test_a_coded_value_compares_as_its_codes_do(op: str) -> None:
    element = catalogue()["pfirrmann_grade"]
    limits = element.codes[1:3] if op in ("one_of", "none_of") else element.codes[2:3]
    allowed, denied = codes_meant(element, op, limits)
    compare, seen = comparison(element, op, limits), set()
    for size in range(1, len(element.codes) + 1):
        for codes in combinations(element.codes, size):
            value = Options(frozenset(codes))
            plain = value.one_of(allowed)
            assert compare(value) is (negate(plain) if denied else plain)
            seen.add(plain)
    assert len(seen) == 3
