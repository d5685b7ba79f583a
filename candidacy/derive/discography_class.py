"""The class of one disc under a published definition of a positive discography.

A definition is a row of the table ``discography_definitions``. Everything still unknown is tried both
ways, and the result holds each class that remains possible, so a missing manometer, control or leak
field never reads as negative.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import product
from typing import Any, NamedTuple

from candidacy.derive.base import Inputs, Underivable, derives, once_a_case
from candidacy.derive.discography import (
    FINDINGS,
    concordant_pain,
    left_the_disc,
    painless_disc,
    peak_above_opening,
    too_deeply_sedated,
)
from candidacy.foundation.truth import Truth, all_of, any_of, negate
from candidacy.foundation.values import FALSE, Members, Options, Why, from_truth

_PRESSURES = (
    "discography_opening_pressure",
    "discography_pain_pressure",
    "discography_peak_pressure",
    "discography_pressure_above_opening",
)
_CLASSES = ("positive", "negative", "indeterminate", "not_valid")
_NOT_INJECTED = "this disc was not injected at discography"
_SEDATED = "sedation was too deep for an answer about pain"
_NOT_PRESSED = "no pain, but not pressed as far as the definition asks"
_NO_CONTROL = "no control disc that is valid and negative by the same definition"


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

    * not valid: sedation too deep for an answer; or all marks of a positive disc without a control disc that counts
      (``discography_counts_as_control``)
    * indeterminate: contrast left the disc; no pain, but never pressed as far as the definition asks; concordant and
      intense pain, but beyond the limits of pressure or volume or without a manometer
    * negative: no pain although pressed far enough; pain that is not the usual one; usual pain, but below
      the intensity
    * positive: usual pain of the intensity, within the limits, with a control disc that counts

    Not applicable to a disc that was not injected. The setting ``discography_definition`` names the
    definition, ``discography_intensity_cut`` may replace its intensity.

    Source: the chosen row of ``discography_definitions``; precedence of the classes is ours.
    """
    tested = _tested(inputs)
    if tested is Truth.NOT_MET:
        raise Underivable(Why.DOES_NOT_APPLY, _NOT_INJECTED)
    if tested is Truth.UNKNOWN:
        return None
    definition = _definition(inputs)
    control = _control(inputs, definition)
    findings = _findings(inputs, definition, control.truth)
    found = _classes(findings)
    if len(found) > 1 and control.conflict is not None:
        raise control.conflict
    if len(found) == len(_CLASSES):
        return None
    if len(found) == 1:
        for reason in next(iter(found.values())):
            inputs.say(reason)
            if reason == _NO_CONTROL:
                for remark in control.remarks:
                    inputs.say(remark)
    return Options(frozenset(found))


@lru_cache(maxsize=4096)  # hundreds of worlds where much is unknown, and the same few patterns in every case
def _classes(findings: _Findings) -> Mapping[str | bool, Sequence[str]]:
    """Each class that remains possible, with every reason for it."""
    found: dict[str | bool, list[str]] = {}
    for world in product(*(_both_ways(truth) for truth in findings)):
        code, reason = _class(_Settled(*world))
        if reason not in found.setdefault(code, []):
            found[code].append(reason)
    return found


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
        return "not_valid", _SEDATED
    if disc.leak:
        return "indeterminate", "contrast left the disc, so pressure and pain cannot be interpreted"
    if disc.painless:
        if disc.pressed_far_enough:
            return "negative", "no pain"
        return "indeterminate", _NOT_PRESSED
    if not disc.concordant:
        return "negative", "the pain was not concordant"
    if not disc.intense:
        return "negative", "the pain did not reach the intensity of the definition"
    if not disc.within_pressure:
        return "indeterminate", "concordant pain, but not within the pressure limit of the definition"
    if not disc.within_volume:
        return "indeterminate", "concordant pain, but not within the volume limit of the definition"
    if not disc.control:
        return "not_valid", _NO_CONTROL
    return "positive", "concordant and intense pain within the limits, with a negative control"


def _definition(inputs: Inputs) -> Mapping[str, Any]:
    return inputs.table("discography_definitions")[inputs.setting("discography_definition")]


def _findings(inputs: Inputs, definition: Mapping[str, Any], control: Truth) -> _Findings:
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
        control=control,
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


class _Control(NamedTuple):
    """Whether a disc has its control; what is said of the discs that are none; the first conflict among them."""

    truth: Truth
    remarks: tuple[str, ...] = ()
    conflict: Underivable | None = None


@derives("discography_counts_as_control")
def discography_counts_as_control(inputs: Inputs) -> Options | None:
    """Whether this disc counts as a control: by the same definition a valid and negative disc, and painless.

    It does not after a leak, under sedation too deep for an answer, or without pain but not pressed as far as the
    definition asks. Where the definition allows it, pain that is not concordant counts too, if it came only above
    a pressure. Whether the disc has a control of its own is not asked. Not applicable to a disc that was not injected.

    Source: the chosen row of ``discography_definitions``; that the control meets the same definition is common practice.
    """
    tested = _tested(inputs)
    if tested is Truth.NOT_MET:
        raise Underivable(Why.DOES_NOT_APPLY, _NOT_INJECTED)
    if tested is Truth.UNKNOWN:
        return None
    truth, remark = _answers_as_control(inputs)
    if remark:
        inputs.say(remark)
    return None if truth is Truth.UNKNOWN else from_truth(truth)


def _control(inputs: Inputs, definition: Mapping[str, Any]) -> _Control:
    """Whether another disc that counts as control was injected and answered as a control must.

    A conflict in what is recorded of one control leaves it open, so that another one may still serve.
    """
    if not definition["control_needed"]:
        return _Control(Truth.MET)
    answers: list[Truth] = []
    remarks: list[str] = []
    conflict: Underivable | None = None
    for disc in inputs.discs():
        level = disc.subject
        if level == inputs.subject or (
            definition["control_adjacent"] and not _adjacent(level, inputs.subject)
        ):
            continue
        other = inputs.apart(level)
        try:
            answer = _tested(other)
            if answer is Truth.NOT_MET:
                continue
            if answer is Truth.UNKNOWN:  # such a disc may be a control; nothing is asked of it
                answers.append(answer)
                continue
            answer, remark = _answers_as_control(other)
            if remark:
                remarks.append(f"{level}: {remark}")
        except Underivable as reason:
            conflict, answer = conflict or reason, Truth.UNKNOWN
        inputs.read += other.read
        answers.append(answer)
    return _Control(any_of(answers), tuple(remarks), conflict)


@once_a_case  # asked beside every other disc
def _answers_as_control(disc: Inputs) -> tuple[Truth, str]:
    """Whether an injected disc counts as control, and why not where that is certain."""
    definition = _definition(disc)
    sedated, leak, painless = too_deeply_sedated(disc), left_the_disc(disc), painless_disc(disc)
    pressed = _pressed(disc, definition["painless_pressed_to"], painless)
    floor = definition["control_discordant_above"]
    ways = [all_of((painless, pressed))]
    if floor is not None and painless is not Truth.MET:
        above = disc.span("discography_pressure_above_opening")
        high = Truth.UNKNOWN if above is None else above.more_than(floor)
        ways.append(all_of((negate(painless), negate(concordant_pain(disc)), high)))
    truth = all_of((negate(sedated), negate(leak), any_of(ways)))
    if truth is not Truth.NOT_MET:
        return truth, ""
    if sedated is Truth.MET:
        return truth, _SEDATED
    if leak is Truth.MET:
        return truth, "contrast left the disc"
    return truth, _NOT_PRESSED if painless is Truth.MET else "its injection was painful"


@once_a_case
def _tested(inputs: Inputs) -> Truth:
    """Whether this disc was injected, by the list of levels or by facts that only an injection gives.

    Raises
    ------
    Underivable
        If the list leaves the disc out, or no discography is said to have been done, and such facts are recorded.
    """
    levels = inputs.value("discography_levels")
    listed = levels.contains(inputs.subject) if isinstance(levels, Members) else Truth.UNKNOWN
    if listed is Truth.UNKNOWN and inputs.value("discography_done") == FALSE:
        listed = Truth.NOT_MET
    aside = inputs.apart(inputs.subject)
    traces = any(aside.value(name) is not None for name in FINDINGS)
    if traces and listed is Truth.NOT_MET:
        note = f"{inputs.subject} is not among the levels of the discography, yet has findings of it"
        raise Underivable(Why.CONFLICTING, note)
    return Truth.MET if traces else listed


def _adjacent(one: str, other: str) -> bool:
    """Discs that share a vertebra."""
    return one.split("-")[1] == other.split("-")[0] or other.split("-")[1] == one.split("-")[0]
