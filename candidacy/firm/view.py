"""A case as it would look with some values measured again."""

from collections.abc import Collection, Mapping

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Options, Value

Key = tuple[str, str]


class RepeatedView(View):
    """Everything as in another view but for repeated values, and what is worked out from them.

    Relations between facts are not asked again: that a repeat differs from what was recorded, or is unusual, is nothing
    to be settled in the record. Facts keep their dates.
    """

    def __init__(
        self,
        base: View,
        values: Mapping[Key, Value],
        follows: Collection[Key] = (),
        standings: Mapping[str, Options] | None = None,
    ) -> None:
        vars(self).update(vars(base))
        self.known = {}  # what the base knows may be repeated here
        self._base, self._values, self._follows = base, values, follows
        self._again: dict[Key, Fact] = {}
        if standings is not None:
            self._standings = dict(standings)

    def fact(self, element: str, subject: str) -> Fact:
        known = catalogue().get(element)
        key = (element, "patient" if known is not None and known.scope == "patient" else subject)
        if key in self._values:
            if key not in self._again:
                self._again[key] = replace(self._base.fact(*key), value=self._values[key])
            return self._again[key]
        if key in self._follows:
            if key not in self._again:
                self._again[key] = self._worked_out(element, key[1])
            return self._again[key]
        return self._standing(subject) if element == "disc_standing" else self._base.fact(element, subject)
