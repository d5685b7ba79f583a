"""The class of one disc under a published definition of a positive discography.

A definition is a row of the table ``discography_definitions``. Everything still unknown is tried both
ways, and the result holds each class that remains possible, so a missing manometer, control or leak
field never reads as negative.
"""

from collections.abc import Mapping
from itertools import product
from typing import Any, NamedTuple

from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.derive.discography import (
    FINDINGS,
    concordant_pain,
    left_the_disc,
    painless_disc,
    peak_above_opening,
    too_deeply_sedated,
)
from candidacy.truth import Truth, all_of, any_of, negate
from candidacy.values import FALSE, Members, Options, Why

_PRESSURES = (
    "discography_opening_pressure",
    "discography_pain_pressure",
    "discography_peak_pressure",
    "discography_pressure_above_opening",
)
_CLASSES = ("positive", "negative", "indeterminate", "not_valid")


class _Findings(NamedTuple):
    """What a definition asks of one disc, each settled or unknown."""

    sedated: Truth
    leak: Truth
    painless: Truth
    pressed_far_enough: Truth
    concordant: Truth
    intense: Truth
    within_pressure: Truth
    within_volume: Truth
    control: Truth


@derives("discography_class")
def discography_class(inputs: Inputs) -> Options | None:
    """Positive, negative, indeterminate or not valid; all that remain possible where facts are missing.

    * not valid: sedation too deep for an answer; or all marks of a positive disc without a control disc
    * indeterminate: contrast left the disc; no pain, but never pressed as far as the definition asks; concordant and
      intense pain, but beyond the limits of pressure or volume or without a manometer
    * negative: no pain although pressed far enough; pain that is not the usual one; usual pain, but below
      the intensity
    * positive: usual pain of the intensity, within the limits, with a control disc

    Not applicable to a disc that was not injected. The setting ``discography_definition`` names the
    definition, ``discography_intensity_cut`` may replace its intensity.

    Source: the chosen row of ``discography_definitions``; precedence of the classes is ours.
    """
    tested = _tested(inputs)
    if tested is Truth.NOT_MET:
        raise Underivable(Why.DOES_NOT_APPLY, "this disc was not injected at discography")
    if tested is Truth.UNKNOWN:
        return None
    findings = _findings(inputs)
    found: dict[str | bool, list[str]] = {}
    for world in product(*(_both_ways(truth) for truth in findings)):
        code, reason = _class(_Settled(*world))
        if reason not in found.setdefault(code, []):
            found[code].append(reason)
    if len(found) == len(_CLASSES):
        return None
    if len(found) == 1:
        for reason in next(iter(found.values())):
            inputs.say(reason)
    return Options(frozenset(found))


class _Settled(NamedTuple):
    sedated: bool
    leak: bool
    painless: bool
    pressed_far_enough: bool
    concordant: bool
    intense: bool
    within_pressure: bool
    within_volume: bool
    control: bool


def _both_ways(truth: Truth) -> tuple[bool, ...]:
    return (True, False) if truth is Truth.UNKNOWN else (truth is Truth.MET,)


def _class(disc: _Settled) -> tuple[str, str]:
    if disc.sedated:
        return "not_valid", "sedation was too deep for an answer about pain"
    if disc.leak:
        return "indeterminate", "contrast left the disc, so pressure and pain cannot be interpreted"
    if disc.painless:
        if disc.pressed_far_enough:
            return "negative", "no pain"
        return "indeterminate", "no pain, but not pressed as far as the definition asks"
    if not disc.concordant:
        return "negative", "the pain was not concordant"
    if not disc.intense:
        return "negative", "the pain did not reach the intensity of the definition"
    if not disc.within_pressure:
        return "indeterminate", "concordant pain, but not within the pressure limit of the definition"
    if not disc.within_volume:
        return "indeterminate", "concordant pain, but not within the volume limit of the definition"
    if not disc.control:
        return "not_valid", "no negative control disc"
    return "positive", "concordant and intense pain within the limits, with a negative control"


def _findings(inputs: Inputs) -> _Findings:
    definition = inputs.table("discography_definitions")[inputs.setting("discography_definition")]
    pain, cut = inputs.span("discography_pain_nrs"), inputs.setting("discography_intensity_cut")
    intensity = definition["intensity_at_least"] if cut == "as_defined" else float(cut)
    painless = painless_disc(inputs)
    volume, most = inputs.span("discography_volume"), definition["volume_at_most"]
    within_volume = Truth.MET if most is None else Truth.UNKNOWN if volume is None else volume.at_most(most)
    return _Findings(
        sedated=too_deeply_sedated(inputs),
        leak=left_the_disc(inputs),
        painless=painless,
        pressed_far_enough=_pressed(inputs, definition["painless_pressed_to"], painless),
        concordant=concordant_pain(inputs),
        intense=Truth.UNKNOWN if pain is None else pain.at_least(intensity),
        within_pressure=Truth.MET if painless is Truth.MET else _within_pressure(inputs, definition),
        within_volume=within_volume,
        control=_control(inputs, definition),
    )


def _pressed(inputs: Inputs, wanted: float | None, painless: Truth) -> Truth:
    if wanted is None or painless is Truth.NOT_MET:
        return Truth.MET
    peak = peak_above_opening(inputs)
    return Truth.UNKNOWN if peak is None else peak.at_least(wanted)


def _within_pressure(inputs: Inputs, definition: Mapping[str, Any]) -> Truth:
    """Below the absolute limit, or below the limit above opening, whichever the definition states."""
    absolute, above = definition["absolute_limit"], definition["above_opening_limit"]
    if absolute is None and above is None:
        return Truth.MET
    if inputs.options("discography_manometry") == FALSE:
        aside = inputs.apart(inputs.subject)
        if any(aside.value(name) is not None for name in _PRESSURES):
            note = f"a pressure of {inputs.subject} is recorded, yet no manometer is said to have been used"
            raise Underivable(Why.CONFLICTING, note)
        return Truth.NOT_MET
    answers = []
    for limit, element in (
        (absolute, "discography_pain_pressure"),
        (above, "discography_pressure_above_opening"),
    ):
        if limit is not None:
            pressure = inputs.span(element)
            included = definition["limit_included"]
            answers.append(
                Truth.UNKNOWN
                if pressure is None
                else pressure.at_most(limit)
                if included
                else pressure.less_than(limit)
            )
    return any_of(answers)


def _control(inputs: Inputs, definition: Mapping[str, Any]) -> Truth:
    """Whether another disc that counts as control was injected and answered as a control must."""
    if not definition["control_needed"]:
        return Truth.MET
    answers = []
    for disc in inputs.discs():
        level = disc.subject
        if level == inputs.subject or (
            definition["control_adjacent"] and not _adjacent(level, inputs.subject)
        ):
            continue
        other = inputs.apart(level)
        tested = _tested(other)
        if tested is Truth.NOT_MET:
            continue
        answer = _answers_as_control(other, definition)
        if tested is Truth.MET:
            inputs.read += other.read
        answers.append(all_of((tested, answer)))
    return any_of(answers)


def _answers_as_control(disc: Inputs, definition: Mapping[str, Any]) -> Truth:
    """No pain; or, where the definition allows it, pain that is not concordant and only at high pressure."""
    painless = painless_disc(disc)
    floor = definition["control_discordant_above"]
    if painless is Truth.MET or floor is None:
        return painless
    above = disc.span("discography_pressure_above_opening")
    high = Truth.UNKNOWN if above is None else above.more_than(floor)
    return any_of((painless, all_of((negate(concordant_pain(disc)), high))))


def _tested(inputs: Inputs) -> Truth:
    """Whether this disc was injected, by the list of levels or by facts that only an injection gives.

    Raises
    ------
    Underivable
        If the list leaves the disc out and such facts are recorded all the same.
    """
    levels = inputs.value("discography_levels")
    listed = levels.contains(inputs.subject) if isinstance(levels, Members) else Truth.UNKNOWN
    aside = inputs.apart(inputs.subject)
    traces = any(aside.value(name) is not None for name in FINDINGS)
    if traces and listed is Truth.NOT_MET:
        note = f"{inputs.subject} is not among the levels of the discography, yet has findings of it"
        raise Underivable(Why.CONFLICTING, note)
    return Truth.MET if traces else listed


def _adjacent(one: str, other: str) -> bool:
    """Discs that share a vertebra."""
    return one.split("-")[1] == other.split("-")[0] or other.split("-")[1] == one.split("-")[0]
