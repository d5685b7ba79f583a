"""Disc height: loss against a stated reference, and the height index. Heights of different methods never meet."""

from candidacy.derive.arithmetic import corners, percent_fall, plus, tidy, times
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.values import Span, Why


@derives("disc_height_loss")
def disc_height_loss(inputs: Inputs) -> Span | None:
    """Height loss in percent against the reference that the record names; negative when taller.

    * adjacent disc, own baseline, norm given in the record: 100 x (1 - height / reference)
    * adjacent disc, corrected for the level: 100 x (1 - height / (alpha x reference)), where alpha is the normal
      ratio of this disc to the one above (table ``adjacent_disc_ratios``, middle heights only)
    * norm for the level: from the table ``disc_height_norms`` if the setting ``disc_height_norms`` names
      a data set, else the reference height in the record

    Height in mm by the method that the record names. No value without reference, method and heights;
    not applicable where the data set has no such norm.

    Source: conventions of the trade; alpha and norms from the tables' sources. One reading errs by about
    10 to 24 % of a disc's height (Tunset 2013), so a value near a limit settles little.
    """
    reference, method = inputs.code("disc_height_reference"), inputs.code("disc_height_method")
    if reference is None or method is None:
        return None
    height = _height(inputs, method)
    if height is None:
        return None
    if reference == "level_norm" and inputs.setting("disc_height_norms") != "stated_in_record":
        return percent_fall(_norm(inputs, method), height)
    base = inputs.span("disc_height_reference_value")
    if base is None or reference == "not_stated":
        return None
    if reference == "adjacent_disc_level_corrected":
        base = times(base, _alpha(inputs, method))
    return percent_fall(base, height)


@derives("disc_height_index")
def disc_height_index(inputs: Inputs) -> Span | None:
    """(anterior + posterior height) / disc depth, all in mm; no unit.

    Source: Farfan index; same form as the first index of Chen 2022 (``chen_2022``). The formula is recalled.
    """
    front, back = inputs.span("disc_height_anterior"), inputs.span("disc_height_posterior")
    depth = inputs.span("disc_depth")
    if front is None or back is None or depth is None:
        return None
    return corners(lambda a, p, whole: (a + p) / whole, front, back, depth)


def _height(inputs: Inputs, method: str) -> Span | None:
    parts = {
        "middle": ("disc_height_middle",),
        "two_point": ("disc_height_anterior", "disc_height_posterior"),
        "three_point": ("disc_height_anterior", "disc_height_middle", "disc_height_posterior"),
    }.get(method)
    if parts is None:
        return None
    heights = [inputs.span(part) for part in parts]
    known = [height for height in heights if height is not None]
    if len(known) < len(parts):
        return None
    total = known[0]
    for height in known[1:]:
        total = plus(total, height)
    return Span(tidy(total.low / len(parts)), tidy(total.high / len(parts)), total.low_open, total.high_open)


def _alpha(inputs: Inputs, method: str) -> float:
    row = inputs.table("adjacent_disc_ratios").get(inputs.subject)
    if row is None or method != row["method"]:
        raise Underivable(Why.DOES_NOT_APPLY, "no published ratio for this level and method")
    return float(row["ratio"])


def _norm(inputs: Inputs, method: str) -> Span:
    name = f"{inputs.setting('disc_height_norms')}_{method}"
    row = inputs.table("disc_height_norms").get(name)
    value = None if row is None else row.get(inputs.subject)
    if value is None:
        raise Underivable(Why.DOES_NOT_APPLY, "the data set has no norm for this level and method")
    return Span(value, value)
