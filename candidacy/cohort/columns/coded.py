"""A coded fact beside what details allow of it: as the bits of its codes, or as one truth where it is a plain yes or no.

Everything here is two-valued SQL, but for the value itself. Bits serve every coded fact; a truth takes a fraction of the time.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from candidacy.case.element import Element
from candidacy.cohort.columns.fact_columns import Cells, Code, FactColumn, Flag, Mask, mask_of
from candidacy.cohort.columns.tellings import FALSE_MASK, TRUE_MASK, Told, codes_of
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.errors import EngineError

if TYPE_CHECKING:
    from candidacy.cohort.columns.element_columns import ElementColumns


def with_details(
    shelf: "ElementColumns", element: Element, columns: Sequence[FactColumn], told: Sequence[Told]
) -> "Bits | Truths":
    """Columns of a fact beside its tellings, in the quicker of the two ways that serves."""
    # two codes of a choice are no yes and no, though their bits are the same
    plain = element.kind == "boolean" and all(_is_plain(column.cells) for column in columns)
    if plain and {each.codes for each in told} <= {TRUE_MASK, FALSE_MASK}:
        return Truths(shelf, columns, told)
    return Bits(shelf, element, columns, told)


class Bits:
    """The codes that a fact may have as bits.

    Attributes
    ----------
    stands
        It was stated, or worked out.
    against
        Details rule out all that it may then be.
    impossible
        Details rule out every code.
    says_yes
        Details leave nothing but a yes, or nothing at all.
    """

    def __init__(
        self, shelf: "ElementColumns", element: Element, columns: Sequence[FactColumn], told: Sequence[Told]
    ) -> None:
        self._shelf = shelf
        every = mask_of(codes_of(element), codes_of(element))
        base = sql.chosen([(column.known, _mask(column.cells, element)) for column in columns])
        allowed = " & ".join(sql.chosen([(each.met, str(each.codes))], str(every)) for each in told)
        allowed = shelf.define(f"({allowed})")
        self.stands, self._base, self._left = sql.FALSE, "NULL", "0"
        if base != "NULL":
            self._base = shelf.define(base)
            self.stands, self._left = f"({self._base} IS NOT NULL)", f"({self._base} & {allowed})"
        self.against = sql.all_of((self.stands, f"({self._left} = 0)"))
        self.impossible, self.says_yes = f"({allowed} = 0)", f"({allowed} IN (0, {TRUE_MASK}))"
        self._allowed = allowed

    def value(self, unknowable: str, conflict: str, inferred: str, acts: bool) -> tuple[Mask, str]:
        """What stands, or what follows where nothing does, and that it is what was stated.

        A sign that acts is met where the two conflict.
        """
        arms = [
            (unknowable, "NULL"),
            (conflict, str(TRUE_MASK) if acts else "NULL"),
            (self.stands, self._left),
            (inferred, self._allowed),
        ]
        value = self._shelf.define(sql.chosen(arms))
        return Mask(value), sql.all_of((self.stands, sql.is_met(f"({value} = {self._base})")))

    def stated_as(self, codes: int) -> str:
        """It was stated as these codes."""
        return sql.all_of((self.stands, sql.is_met(f"({self._base} = {codes})")))


class Truths:
    """The same of a yes or no that is known wherever it is recorded."""

    def __init__(self, shelf: "ElementColumns", columns: Sequence[FactColumn], told: Sequence[Told]) -> None:
        self._shelf = shelf
        known = [column.cells.truth for column in columns if isinstance(column.cells, Flag)]
        several = f"COALESCE({', '.join(known)})" if len(known) > 1 else ""
        self._base = shelf.define(several or (known[0] if known else sql.UNKNOWN))
        self.says_yes = shelf.define(sql.any_of(each.met for each in told if each.codes == TRUE_MASK))
        self._says_no = shelf.define(sql.any_of(each.met for each in told if each.codes == FALSE_MASK))
        self.stands = sql.is_known(self._base)
        self.against = sql.any_of(
            (
                sql.all_of((sql.is_met(self._base), self._says_no)),
                sql.all_of((sql.is_not_met(self._base), self.says_yes)),
            )
        )
        self.impossible = sql.all_of((self.says_yes, self._says_no))

    def value(self, unknowable: str, conflict: str, inferred: str, acts: bool) -> tuple[Flag, str]:
        """What stands, or what follows where nothing does, and that it is what was stated; see `Bits.value`."""
        if inferred == sql.any_of((self.says_yes, self._says_no)):
            # all that was said follows, and where it stands beside what was stated both are the same
            follows = sql.all_of((sql.any_of((self._base, self.says_yes)), sql.negate(self._says_no)))
        else:
            follows = sql.chosen([(self.stands, self._base), (inferred, self.says_yes)], sql.UNKNOWN)
        arms = [(unknowable, sql.UNKNOWN), (conflict, sql.TRUE if acts else sql.UNKNOWN)]
        truth = self._shelf.define(sql.chosen(arms, follows))
        other = sql.all_of((conflict, sql.negate(self.stated_as(TRUE_MASK)) if acts else sql.TRUE))
        return Flag(truth, sql.is_known(truth)), sql.all_of((self.stands, sql.negate(other)))

    def stated_as(self, codes: int) -> str:
        """It was stated as these codes."""
        return sql.is_met(self._base) if codes == TRUE_MASK else sql.is_not_met(self._base)


def _is_plain(cells: Cells) -> bool:
    return isinstance(cells, Flag) and cells.known == sql.is_known(cells.truth)


def _mask(cells: Cells, element: Element) -> str:
    """The codes that a coded column may have, as bits."""
    if isinstance(cells, Mask):
        return cells.mask
    if isinstance(cells, Flag):
        return sql.chosen(
            [
                (sql.is_met(cells.truth), str(TRUE_MASK)),
                (sql.is_not_met(cells.truth), str(FALSE_MASK)),
                (cells.known, str(TRUE_MASK + FALSE_MASK)),
            ]
        )
    if isinstance(cells, Code):
        return f"(CAST(1 AS BIGINT) << ({sql.place_among(element.codes, cells.code)} - 1))"
    raise EngineError(f"{element.name} is not coded in columns")
