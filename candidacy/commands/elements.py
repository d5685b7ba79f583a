"""``candidacy elements``."""

import json

import click

from candidacy.commands.library_option import with_library


@click.command(
    epilog="""
\b
Examples:
  candidacy elements
  candidacy elements height
  candidacy elements disc_height_loss
  candidacy elements --library my_rules
"""
)
@click.argument("filter_text", metavar="[FILTER]", default="")
@click.option("--scope", help="Only of this subject: patient, disc, medicine, treatment, injection, surgery, "
              "intradiscal_procedure.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@with_library()
def elements(filter_text: str, scope: str | None, form: str) -> None:
    """List the data elements of a case record; FILTER is part of a name, a synonym or a group."""
    from candidacy.case.catalogue import Element, catalogue

    shelf = catalogue()
    word = filter_text.lower().replace(" ", "_")

    def fits(element: Element) -> bool:
        names = (element.name, shelf.group_of(element.name), *element.synonyms)
        return any(word in name.lower() for name in names) and scope in (None, element.scope)

    found = [element for element in shelf.all if fits(element)]
    if form == "json":
        rows = [
            e.model_dump(mode="json", exclude_defaults=True) | {"group": shelf.group_of(e.name)}
            for e in found
        ]
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    if not found:
        close = shelf.nearest(filter_text)
        raise click.UsageError(
            f"no element matches “{filter_text}”" + (f"; closest is {close}" if close else "")
        )
    group = ""
    for element in found:
        if shelf.group_of(element.name) != group:
            group = shelf.group_of(element.name)
            click.echo(f"\n{shelf.groups[group]}")
        click.echo(_line(element))
        if len(found) <= 12:
            click.echo(_detail(element))


def _line(element: object) -> str:
    from candidacy.case.catalogue import Element

    assert isinstance(element, Element)
    kind = element.unit or ("one of: " + ", ".join(element.codes) if element.codes else element.kind)
    marks = "" if element.statable else "  (worked out only)"
    text = f"  {element.name:<42} {element.scope:<9} {kind}"
    return (text if len(text) <= 150 else text[:147] + "...") + marks


def _detail(element: object) -> str:
    from candidacy.case.catalogue import Element

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
