"""``candidacy conference``: the queue, meetings, rating, decisions, minutes."""

import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from msgspec.structs import asdict

from candidacy.commands.conference_set import COMMANDS
from candidacy.commands.library_option import with_library
from candidacy.commands.output import check_out, emit, out_options, parse_day
from candidacy.commands.store_option import with_store
from candidacy.foundation.errors import Code, InputError, Problem, shorten

if TYPE_CHECKING:
    from candidacy.records.store import Store

_ITEM = click.argument("item", type=click.IntRange(1))
_DAY: dict[str, Any] = {"metavar": "DATE", "callback": parse_day}
_PAPER = click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="With PDF."
)


@click.group(
    epilog="""
\b
Examples, in the order of a meeting:
  candidacy conference queue
  candidacy conference ask case-17 "Treat in spite of the weight?"
  candidacy conference meeting --on 2026-12-08 --title "Disc conference" --quorum 3
  candidacy conference member 80 surgeon-1 "spine surgeon" --interest "none"
  candidacy conference take 78 80
  candidacy conference show 78
  candidacy conference rate 78 7 --person surgeon-1
  candidacy conference second-round 78
  candidacy conference decide 78 treat --disc L4-L5 --reason "..." --responsible physician-1 --version 2
  candidacy conference minutes 80 --format pdf --out minutes.pdf
  candidacy conference reply 78
"""
)
def conference() -> None:
    """Hold a case conference: queue, members, rating in two rounds, decisions with reasons, minutes.

    It records what people decided and never decides: of ratings it shows median, counts and disagreement by published
    rules, nothing more. Ratings stay hidden until all who take part have rated.
    """


@conference.command()
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@out_options
@with_library()
@with_store
def queue(store: "Store", form: str, out: Path | None, replace: bool) -> None:
    """List what waits: the question, what fails and by how much, what is missing; then decisions to be looked at again.

    Borderline referrals that nobody has asked about stand at the end. Each referral is entered as read.
    """
    from candidacy.conference.again import all_to_look_at
    from candidacy.conference.minutes_text import queue_text
    from candidacy.conference.queue import queue_of

    check_out(out, replace)
    waiting, again = queue_of(store), all_to_look_at(store)
    if form == "json":
        shown = {
            "waiting": [asdict(each) for each in waiting],
            "look_again": [{**asdict(decided), "reasons": why.reasons} for decided, why in again],
        }
        emit(json.dumps(shown, ensure_ascii=False, indent=2) + "\n", out, replace=replace)
        return
    emit(queue_text(waiting, again), out, replace=replace)


@conference.command()
@_ITEM
@click.option(
    "--others/--no-others",
    default=True,
    show_default=True,
    help="Ask the other rule sets of the library too.",
)
@out_options
@with_library()
@with_store
def show(store: "Store", item: int, others: bool, out: Path | None, replace: bool) -> None:
    """Show ITEM on one page: the question, relative criteria that fail with margin, sources and published spread.

    Also what other rule sets say, what would change it, words of reports, ratings as far as they may be seen, decisions.
    """
    from candidacy.conference.case_page import case_page
    from candidacy.conference.found import item_of
    from candidacy.conference.minutes_text import page_text

    check_out(out, replace)
    emit(page_text(case_page(store, item_of(store, item), others=others)), out, replace=replace)


@conference.command()
@_ITEM
@click.argument("value")
@with_store
def rate(store: "Store", item: int, value: str) -> None:
    """Rate ITEM as yourself: 1 to 9, or for, against, defer where the meeting votes.

    1 to 3 is inappropriate, 4 to 6 uncertain, 7 to 9 appropriate, cost left out. It may be changed until all have rated.
    """
    from candidacy.conference.deciding import rate as rate_item
    from candidacy.conference.minutes import round_lines

    found = rate_item(store, item, _value(value))
    click.echo(f"round {found.number}: you rated {', '.join(map(str, found.own.values()))}")
    for line in round_lines(found):
        click.echo(line)


def _value(text: str) -> Any:
    if text in ("for", "against", "defer"):
        return text
    if text.isascii() and text.isdigit() and len(text) == 1 and text != "0":
        return int(text)
    raise InputError([Problem(Code.BAD_CHOICE, "this is no rating", "VALUE", found=shorten(text),
                              expected="1 to 9, or for, against, defer")])  # fmt: skip


@conference.command("second-round")
@_ITEM
@with_store
def second_round(store: "Store", item: int) -> None:
    """Begin the second round of ITEM, after all have rated and talked about it."""
    from candidacy.conference.deciding import second_round as begin

    found = begin(store, item)
    click.echo(f"item {found.seq}: round {found.round}")


def _dissent(
    context: click.Context, parameter: click.Parameter, given: tuple[str, ...]
) -> tuple[tuple[str, str], ...]:
    found = tuple(each.partition(":") for each in given)
    for person, colon, reason in found:
        if not (person.strip() and colon and reason.strip()):
            raise InputError([Problem(Code.WRONG_TYPE, "this is no dissent", "--dissent", found=shorten(person),
                                      expected='PERSON: REASON, such as "radiologist-1: the disc looks too dry"')])  # fmt: skip
    return tuple((person.strip(), reason.strip()) for person, _, reason in found)


@conference.command()
@_ITEM
@click.argument("decision", type=click.Choice(["treat", "not", "not_yet", "more_tests"]))
@click.option("--reason", required=True, help="Why; always required.")
@click.option("--responsible", required=True, metavar="ID", help="Local id of who sees to it.")
@click.option(
    "--version",
    type=click.IntRange(1),
    required=True,
    help="The version of the record that was looked at; show names it.",
)
@click.option(
    "--answer",
    type=click.IntRange(1),
    default=None,
    metavar="ENTRY",
    help="The kept assessment that was looked at, as show names it: refused where another answer was kept since.",
)
@click.option(
    "--disc", "discs", multiple=True, metavar="LEVEL", help="With treat: which disc; may be repeated."
)
@click.option("--until", help="With not_yet: the day before which it is not yet time.", **_DAY)
@click.option("--after", default="", help="With not_yet: what has to happen first.")
@click.option("--test", "tests", multiple=True, help="With more_tests: which; may be repeated.")
@click.option("--condition", "conditions", multiple=True, help="May be repeated.")
@click.option(
    "--dissent",
    multiple=True,
    callback=_dissent,
    metavar="'ID: REASON'",
    help="Who would have decided otherwise, and why.",
)
@click.option("--review-on", help="The day on which it is looked at again.", **_DAY)
@click.option("--meaning", type=click.Choice(["review", "approval", "responsibility", "authorship"]), default="approval",
              show_default=True, help="What your signature means.")  # fmt: skip
@click.option(
    "--corrects",
    type=click.IntRange(1),
    default=None,
    help="The decision that this one corrects; both are kept.",
)
@with_library()
@with_store
def decide(store: "Store", item: int, decision: Any, reason: str, responsible: str, version: int, answer: int | None,
           discs: tuple[str, ...], until: date | None, after: str, tests: tuple[str, ...], conditions: tuple[str, ...],
           dissent: tuple[tuple[str, str], ...], review_on: date | None, meaning: Any, corrects: int | None) -> None:  # fmt: skip
    """Sign what people decided about ITEM. It binds to the record, its assessment and the rule set by digest.

    A later change of any of them marks it "look at it again".
    """
    from candidacy.conference.again import Again
    from candidacy.conference.deciding import Said
    from candidacy.conference.deciding import decide as sign
    from candidacy.conference.minutes import decision_lines

    said = Said(decision, reason, responsible, discs, until.isoformat() if until else "", after, tests, conditions, dissent,
                review_on.isoformat() if review_on else "")  # fmt: skip
    found = sign(store, item, said, version=version, answer=answer, meaning=meaning, corrects=corrects or 0)
    for name, text in decision_lines(found, Again(found.changed, "")):
        click.echo(f"{name}: {text}")


@conference.command()
@click.argument("meeting", type=click.IntRange(1))
@click.option("--format", "form", type=click.Choice(["text", "pdf"]), default="text", show_default=True)
@_PAPER
@out_options
@with_library()
@with_store
def minutes(store: "Store", meeting: int, form: str, paper: Any, out: Path | None, replace: bool) -> None:
    """Write the minutes of MEETING: a page for it and one for each case. Its referrals are entered as read."""
    from candidacy.conference.minutes import minutes_of
    from candidacy.conference.minutes_text import minutes_text

    _check(form, out, replace)
    found = minutes_of(store, meeting)
    if form == "pdf":
        from candidacy.conference.minutes_pdf import minutes_pdf

        emit(minutes_pdf(found, paper), out, replace=replace)
        return
    emit(minutes_text(found), out, replace=replace)


@conference.command()
@_ITEM
@click.option("--format", "form", type=click.Choice(["text", "pdf"]), default="text", show_default=True)
@_PAPER
@click.option("--keep", is_flag=True, help="Keep the draft, as text, with the referral.")
@out_options
@with_library()
@with_store
def reply(store: "Store", item: int, form: str, paper: Any, keep: bool, out: Path | None, replace: bool) -> None:  # fmt: skip
    """Draft the reply to the referrer about ITEM, the plan on top. It is marked as a draft; a person finishes it."""
    from candidacy.conference.letter import keep_reply, letter_of, letter_text

    _check(form, out, replace)
    found = letter_of(store, item)
    if keep:
        click.echo(keep_reply(store, found).words, err=True)
    if form == "pdf":
        from candidacy.conference.minutes_pdf import letter_pdf

        emit(letter_pdf(found, paper), out, replace=replace)
        return
    emit(letter_text(found), out, replace=replace)


def _check(form: str, out: Path | None, replace: bool) -> None:
    if form == "pdf" and out is None:
        raise click.UsageError("a PDF is no text for a terminal: add --out FILE.pdf")
    check_out(out, replace)


for _command in COMMANDS:
    conference.add_command(_command)
