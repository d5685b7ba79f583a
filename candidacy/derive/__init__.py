"""Elements worked out from others, one topic a module, each with its formula, units and source."""

from candidacy.derive import discs, person
from candidacy.derive.base import FORMULAS, Derived, Inputs, Underivable, derives, work_out

__all__ = ["FORMULAS", "Derived", "Inputs", "Underivable", "derives", "discs", "person", "work_out"]
