"""``candidacy elements``."""

import json

import click

from candidacy.commands.library_option import with_library

# How many are shown with all that is known of them.
_FEW = 12


@click.command(
    epilog="""
\b
Examples:
  candidacy elements
  candidacy elements height
  candidacy elements disc_height_loss
  candidacy elements anticoagulant
  candidacy elements extrusion
  candidacy elements pfirman
  candidacy elements --library my_rules
"""
)
@click.argument("words", metavar="[FILTER]...", nargs=-1)
@click.option("--scope", help="Only of this subject: patient, disc, medicine, treatment, injection, surgery, "
              "intradiscal_procedure.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@with_library()
def elements(words: tuple[str, ...], scope: str | None, form: str) -> None:
    """Find data elements of a case record: FILTER are words of a name, a synonym, a meaning, a code or a group.

    Shown are name, subject, unit or codes; of few, also what they mean, how they are obtained and which rule sets read
    them. Where nothing fits, what comes near is shown.
    """
    from candidacy.case.catalogue import catalogue
    from candidacy.case.search import find_elements

    shelf = catalogue()
    found, near = find_elements(shelf, " ".join(words))
    found = [element for element in found if scope in (None, element.scope)]
    few = len(found) <= _FEW
    if form == "json":
        readers = _readers() if few else {}
        rows = [
            e.model_dump(mode="json", exclude_defaults=True)
            | {"group": shelf.group_of(e.name)}
            | ({"read_by": readers.get(e.name, [])} if few else {})
            for e in found
        ]
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    if not found:
        raise click.UsageError(
            f"no element matches “{' '.join(words)}”, and none comes near; candidacy elements lists all"
        )
    if near:
        click.echo(f"Nothing is called “{' '.join(words)}”. What comes near:", err=True)
    readers = _readers() if few else {}
    group = ""
    for element in sorted(found, key=lambda e: 0 if few else shelf.place(e.name)):
        if shelf.group_of(element.name) != group:
            group = shelf.group_of(element.name)
            click.echo(f"\n{shelf.groups[group]}")
        click.echo(_line(element))
        if few:
            click.echo(_detail(element))
            click.echo(f"      read by: {', '.join(readers.get(element.name, [])) or 'no rule set'}")


def _readers() -> dict[str, list[str]]:
    """Which rule sets look at an element, itself or for something that is worked out from it."""
    from candidacy.assessment.record_grounds import read_elements
    from candidacy.rules.libraries import library_in_use

    found: dict[str, list[str]] = {}
    library = library_in_use()
    for identifier in library.rule_set_names():
        rule_set = library.rule_set(identifier)
        for name in read_elements(rule_set.criteria, rule_set):
            found.setdefault(name, []).append(identifier)
    return found


def _line(element: object) -> str:
    from candidacy.case.element import Element

    assert isinstance(element, Element)
    kind = element.unit or ("one of: " + ", ".join(element.codes) if element.codes else element.kind)
    marks = "" if element.statable else "  (worked out only)"
    text = f"  {element.name:<42} {element.scope:<9} {kind}"
    return (text if len(text) <= 150 else text[:147] + "...") + marks


def _detail(element: object) -> str:
    from candidacy.case.element import Element

    assert isinstance(element, Element)
    rows = [element.meaning]
    if element.possible is not None:
        rows.append(f"possible {element.possible.low} to {element.possible.high}")
    if element.accepted_units:
        rows.append("units accepted: " + ", ".join(element.accepted_units))
    if element.choices:
        rows += [f"{code}: {meaning}" for code, meaning in element.choices.items()]
    rows.append(
        f"found in: {element.found_in}; supplied by {element.supplied_by}; to obtain: {element.burden}"
    )
    if element.code is not None:
        rows.append(f"{element.code.system} {element.code.code} ({element.code.name}) [{element.code.tag}]")
    if element.precision is not None:
        rows.append(
            f"reliability: {element.precision.text} ({element.precision.source}) [{element.precision.tag}]"
        )
    return "\n".join(f"      {row}" for row in rows)
