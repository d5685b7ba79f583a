"""What was counted, as text for a terminal."""

from collections.abc import Iterator
from typing import Any

from candidacy.explain.wording import listed
from candidacy.outcomes.responding import ANSWERS
from candidacy.outcomes.visits import STATES


def text_of(told: dict[str, Any]) -> str:
    """The document as text, one section after the other."""
    return "\n".join(_lines(told)) + "\n"


def _some(count: int | str) -> bool:
    return str(count) != "0"


def at_least(count: int | str) -> str:
    """A count in a sentence: a masked one that was rounded down says so."""
    return f"{count} or more" if isinstance(count, str) and count.isdigit() and count != "0" else str(count)


def percent(share: dict[str, float] | None) -> str:
    """A share with its interval; one of nobody, or that would tell of a small count, is not shown."""
    if share is None:
        return "not shown"
    return f"{share['share']:.0%} ({share['low']:.0%} to {share['high']:.0%})"


def _lines(told: dict[str, Any]) -> Iterator[str]:
    people = told["patients"]
    name = f" in {told['name']}" if told["name"] else ""
    yield f"How patients did{name}, as of {told['on']}, at {told['visit']['title'].lower()}"
    yield told["mask_words"]
    yield f"{at_least(people['treated'])} patients with a session that is counted" + (
        f", {people['first']} to {people['last']}" if people["first"] else ""
    )
    if _some(people["kept_out"]):
        yield f"{people['kept_out']} kept out until what does not fit in their records is resolved"
    if _some(people["without_injection"]):
        yield f"{people['without_injection']} records without an injection"
    if people["files_set_aside"]:
        yield f"{people['files_set_aside']} files set aside; the others are counted"
    for each in told["set_aside"]:
        yield f"  {each['file']}: {each['words']}"
    yield from told["not_counted"]
    if told["of_ones_own"]:
        yield f"Of one's own, in the place of shipped content: {', '.join(told['of_ones_own'])}"
    yield ""
    yield "Response, definition by definition"
    yield told["declared_words"]
    yield "Known answers with a Wilson interval; worst and best count every missing answer as no response and as a response."
    for each in told["definitions"]:
        yield from _definition(each)
    yield "No number needed to treat is given: there is no comparison group."
    yield "Beside it, what controlled trials found:"
    for each in told["published"]:
        worked = f"; {each['difference']}" if each["difference"] else ""
        yield f"  {each['words']}{worked} ({each['note']}; {each['cites']})"
    yield ""
    yield "Visits"
    for visit in told["visits"]:
        states = [f"{count} {STATES[state]}" for state, count in visit["states"].items() if _some(count)]
        yield f"  {visit['title']}: {', '.join(states)}"
    yield from _changes(told["changes"])
    yield from _later(told["later"])
    yield from _groups(told)
    yield from _checks(told["checks"])
    if told["told"]:
        yield ""
        yield "What does not fit in the records"
        for each in told["told"]:
            yield f"  {each['reference']}: {each['words']}"
    yield ""
    yield from told["cautions"]


def _definition(each: dict[str, Any]) -> Iterator[str]:
    mark = " [declared]" if each["declared"] else ""
    yield f"- {each['title']} [{each['id']}]{mark}"
    counts = each["counts"]
    if counts is None:
        yield f"    not counted: {each['not_counted']}"
        return
    yield (
        f"    {counts['responded']} of {counts['known']} known: {percent(counts['complete'])}; "
        f"worst {percent(counts['worst'])}, best {percent(counts['best'])}"
    )
    rest = [f"{count} {ANSWERS[name]}" for name, count in counts["parts"].items() if _some(count)]
    if _some(counts["of_whom_died"]):
        rest.insert(0, f"{counts['of_whom_died']} died before the visit, counted as no response")
    if rest:
        yield f"    {'; '.join(rest)}"
    if _some(each["one_sided"]):
        yield f"    {each['one_sided']} settled though a part is not known: such answers lie on one side only"
    if each["lasting"]:
        yield f"    {lasting_words(each['lasting'])}"
    if each["note"]:
        yield f"    {each['note']}"
    yield f"    {each['cites']}"


def lasting_words(lasting: dict[str, Any]) -> str:
    """How response at the visit before compares with this one, in the same patients."""
    return (
        f"of those known at {lasting['visit'].replace('_', ' ')} too: {lasting['both']} responded at both, {lasting['only_earlier']} "
        f"only then, {lasting['only_now']} only now, {lasting['neither']} at neither; then less now {lasting['difference']:+.0%} "
        f"({lasting['low']:+.0%} to {lasting['high']:+.0%}, Newcombe for pairs)"
    )


def _changes(changes: list[dict[str, Any]]) -> Iterator[str]:
    for change in changes:
        yield ""
        unit = f" {change['unit']}" if change["unit"] else ""
        yield f"Change: {change['ask']}; {change['pairs']} with both values"
        if change["mean"] is not None:
            spread = f", SD {change['spread']:.1f}" if change["spread"] is not None else ""
            yield f"  mean improvement {change['mean']:.1f}{unit}{spread}"
        for bar in change["bars"]:
            mark = " [in use]" if bar["in_use"] else ""
            yield f"  {bar['words']}: {bar['reached']}, {percent(bar['share'])}{mark} ({bar['cites']})"
        if change["important_within_error"] is not None:
            yield f"  called important and yet within error, by the rows in use: {change['important_within_error']}"


def _later(later: dict[str, Any]) -> Iterator[str]:
    yield ""
    yield "Later intervention at a treated disc"
    endings = later["endings"]
    yield (
        f"  {endings['event']} had one; before that {endings['death']} died and {endings['elsewhere']} had surgery of another level; "
        f"{endings['seen_until']} were followed without one"
    )
    if later["masked"]:
        yield "  The curve is not shown: it would give small counts away."
        return
    for each in later["times"]:
        interval = f" ({each['low']:.0%} to {each['high']:.0%})" if each["low"] is not None else ""
        if each["free"] is None:
            yield f"  {each['title']}: not known, nobody has been followed so long"
            continue
        yield f"  {each['title']}: {each['free']:.1%}{interval} without, {each['at_risk']} at risk"
    by = later["cumulative"]
    yield (
        f"  By day {later['until_days']}, where endings compete: intervention {by['event']:.1%}, death {by['death']:.1%}, "
        f"surgery elsewhere {by['elsewhere']:.1%}"
    )
    if _some(later["unclear"]):
        yield f"  {later['unclear']} interventions bear neither level nor reason and are counted as at a treated disc"


def _groups(told: dict[str, Any]) -> Iterator[str]:
    yield ""
    yield "Response by criterion"
    if not told["declared"]:
        yield "  Shown where one definition was declared beforehand (--definition); all are in the JSON and in the tables of --out."
        return
    yield f"  Assessments made again under {listed(told['rule_sets'], 'and') or 'no rule set'}, as of the recorded days."
    for words in told["assessed_again"]:
        yield f"  {words}"
    for each in told["groups"]:
        title = each["title"] + (
            f", {each['parameter'].replace('_', ' ')} {each['in_use']:g}" if each["parameter"] else ""
        )
        groups = each["by_definition"][0]["groups"] if each["by_definition"] else []
        yield f"  {title}"
        for group in groups:
            yield f"    {group['group']}: {group_words(group)}"


def group_words(group: dict[str, Any]) -> str:
    """One group in words."""
    rest = f"; {group['without_answer']} without an answer" if _some(group["without_answer"]) else ""
    return f"{group['responded']} of {group['known']} known, {percent(group['complete'])}{rest}"


def _checks(checks: list[dict[str, Any]]) -> Iterator[str]:
    yield ""
    yield "Running checks"
    for check in checks:
        yield f"- {check['title']}: {check['count']} of {check['of']}; expected {check['expected']:.1%} ({check['expected_cites']})"
        ratio = check["observed_over_expected"]
        if ratio:
            yield f"    observed over expected {ratio['ratio']:.1f} ({ratio['low']:.2f} to {ratio['high']:.2f})"
        if check["line"]:
            yield f"    CUSUM stands at {check['line'][-1]:.2f}; a look is asked for at {check['limit']:.2f}"
        if check["signals_at"]:
            yield f"    reached at patient {listed([str(n) for n in check['signals_at']], 'and')} of the order of injections"
        if check["quarters_outside"]:
            yield f"    outside the funnel: {listed(check['quarters_outside'], 'and')}"
        yield f"    {check['words']}"
        if check["not_counted"]:
            left = [f"{count} {why}" for why, count in check["not_counted"].items()]
            yield f"    not counted: {'; '.join(left)}"
        if check["note"]:
            yield f"    {check['note']}"
