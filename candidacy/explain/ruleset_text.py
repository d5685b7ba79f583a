"""A rule set or a criterion as text for the terminal."""

from rich.console import Console
from rich.text import Text

from candidacy.explain.cited import cites_words
from candidacy.explain.cited_document import ParameterInfo
from candidacy.explain.indented import Indented
from candidacy.explain.labels import force_words, standing_words, status_words
from candidacy.explain.printable import printable
from candidacy.explain.ruleset import CriterionEntry, RuleSetDocument
from candidacy.rules.vocabulary import GROUPS


def print_rule_set(console: Console, document: RuleSetDocument) -> None:
    """Print a rule set as a reader's document."""
    document = printable(document)
    console.print(
        Text(f"{document.title} ({document.id} {document.version}, {document.status})", style="bold")
    )
    console.print(Text(document.digest, style="dim"))
    for label, text in (
        ("Scope", document.scope),
        ("Users", document.intended_users),
        ("Population", document.population),
        ("Out of scope", "; ".join(document.out_of_scope)),
        ("Basis", document.authoring_basis),
        ("Known limits", "; ".join(document.known_limits)),
        ("Not tested on", document.not_tested_on),
        ("Review by", document.review_by),
    ):
        console.print(Text(f"{label}: {text}"))
    if document.extends:
        console.print(Text(f"Extends {document.extends}: {document.reason}"))
    for words in document.replaced:
        console.print(Text(f"! {words}", style="yellow"))
    for group, title in GROUPS.items():
        rows = [c for c in document.criteria if c.group == group]
        if rows:
            console.print(Text(f"\n{title}", style="bold underline"))
            for row in rows:
                print_criterion(console, row)
    console.print(Text("\nFrom outcomes to a standing, first rule that fires", style="bold underline"))
    for number, rule in enumerate(document.decisions, 1):
        console.print(
            Text(
                f"{number}. {rule.when}: {standing_words(rule.standing, rule.standing_name)}. {rule.next_step}"
            )
        )
        for step in rule.next_step_other_disc:
            console.print(Indented(Text(step), 3))
    if document.settings:
        console.print(Text("\nSettings for values that are worked out", style="bold underline"))
        for setting in document.settings:
            console.print(_parameter(setting))
    for title, lines in (
        ("Companion rule sets", document.companions),
        ("Cautions", document.cautions),
        ("Changes", document.changes),
    ):
        if lines:
            console.print(Text(f"\n{title}", style="bold underline"))
            for line in lines:
                console.print(Text(f"- {line}"))
    console.print(Text("\nSources", style="bold underline"))
    for source in document.sources:
        console.print(
            Text(f"- {source.key}: {source.text}" + (f" ({source.limits})" if source.limits else ""))
        )


def print_criterion(console: Console, row: CriterionEntry) -> None:
    """Print one criterion with its rule, reason, numbers and sources."""
    row = printable(row)
    console.print(Text(f"\n{row.title}  ", style="bold"), end="")
    console.print(
        Text(f"[{row.id} {row.version}, {row.kind}, {row.subject}, {status_words(row.status)}]", style="dim")
    )
    lines = [row.rule, f"Force: {force_words(row.force)}. {row.force_reason}".strip(), f"Why: {row.why}"]
    if row.act:
        lines.append(f"If it fails: {row.act}")
    for line in lines:
        console.print(Indented(Text(line), 2))
    for parameter in row.parameters:
        console.print(Indented(_parameter(parameter), 2))
    if row.spread:
        console.print(Indented(Text(f"Spread between sources: {row.spread}"), 2))
    console.print(Indented(Text(f"If unknown: {row.if_unknown} ({row.ask_for})"), 2))
    console.print(Indented(Text(f"Use: {cites_words(row.cites)}", style="dim"), 2))
    for caution in row.cautions:
        console.print(Indented(Text(f"Caution: {caution}", style="yellow"), 2))


def _parameter(parameter: ParameterInfo) -> Text:
    text = f"{parameter.name} = {parameter.value}: {parameter.meaning} ({cites_words(parameter.cites)})"
    if parameter.replaces is not None:
        text += f"; replaces {parameter.replaces}: {parameter.reason}"
    for alternative in parameter.alternatives:
        text += f"\n  elsewhere {alternative}"
    return Text(text)
