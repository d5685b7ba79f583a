"""The part of ``candidacy conference`` that sets a meeting up: asking, order, meetings, members, recusal."""

from datetime import date
from typing import TYPE_CHECKING, Any

import click

from candidacy.commands.output import parse_day
from candidacy.commands.store_option import with_store

if TYPE_CHECKING:
    from candidacy.records.store import Store

_ITEM = click.argument("item", type=click.IntRange(1))
_MEETING = click.argument("meeting", type=click.IntRange(1))
_WHY = click.option("--why", default="", help="The reason, in your words.")


@click.command()
@click.argument("reference")
@click.argument("question")
@click.option("--presenter", default="", metavar="ID", help="Local id of who presents it.")
@_WHY
@with_store
def ask(store: "Store", reference: str, question: str, presenter: str, why: str) -> None:
    """Put QUESTION about a referral at the end of the queue."""
    from candidacy.conference.queue import ask_about

    click.echo(f"item {ask_about(store, reference, question, presenter=presenter, why=why).seq}")


@click.command()
@_ITEM
@click.argument("place", type=click.IntRange(1))
@with_store
def order(store: "Store", item: int, place: int) -> None:
    """Put ITEM at a PLACE, counted from 1, of its queue or meeting."""
    from candidacy.conference.queue import put_at

    put_at(store, item, place)
    click.echo(f"item {item}: place {place}")


@click.command()
@_ITEM
@click.option("--why", required=True, help="Why it is not talked about any more.")
@with_store
def withdraw(store: "Store", item: int, why: str) -> None:
    """Take ITEM out of the queue or meeting. What was entered of it stays in the trail."""
    from candidacy.conference.queue import withdraw as take_out

    take_out(store, item, why)
    click.echo(f"item {item}: withdrawn")


@click.command()
@with_store
def meetings(store: "Store") -> None:
    """List meetings with their members, the last first."""
    from candidacy.commands.output import emit
    from candidacy.conference.minutes_text import meetings_text

    emit(meetings_text(store.meetings()), None)


@click.command()
@click.option("--on", "held_on", required=True, metavar="DATE", callback=parse_day, help="Its day.")
@click.option("--title", required=True, help="What it is called.")
@click.option("--quorum", type=click.IntRange(0), required=True,
              help="Fewest members present and not recused; your own choice, since no number is published.")  # fmt: skip
@click.option("--scale", type=click.Choice(["appropriateness", "vote"]), default="appropriateness", show_default=True,
              help="1 to 9 of the RAND/UCLA method, or for, against, defer.")  # fmt: skip
@click.option(
    "--change",
    type=click.IntRange(1),
    default=None,
    metavar="MEETING",
    help="Change this one; every option is set anew.",
)
@click.option("--close/--open", "close", default=False, help="Whether it is over.")
@_WHY
@with_store
def meeting(
    store: "Store",
    held_on: date,
    title: str,
    quorum: int,
    scale: Any,
    change: int | None,
    close: bool,
    why: str,
) -> None:
    """Make a meeting, or change one."""
    found = store.set_meeting(held_on.isoformat(), title, quorum=quorum, scale=scale, state="closed" if close else "open",
                              meeting=change or 0, why=why)  # fmt: skip
    click.echo(f"meeting {found}")


@click.command()
@_MEETING
@click.argument("who", metavar="PERSON")
@click.argument("role")
@click.option(
    "--interest",
    default=None,
    help="Declared interest: kind, party, dates, relation to the cases; no names. It stays as it was where it is not given.",
)
@click.option(
    "--present/--absent", default=None, help="As it was where neither is given; a new member is present."
)
@_WHY
@with_store
def member(
    store: "Store", meeting: int, who: str, role: str, interest: str | None, present: bool | None, why: str
) -> None:
    """Add a member to MEETING by local id and role, or say something else of one."""
    found = store.set_member(meeting, who, role, interest=interest, present=present, why=why)
    said = f"declared interest: {found.interest or 'none declared'}"
    click.echo(f"meeting {meeting}: {who}, {'present' if found.present else 'absent'}; {said}")


@click.command()
@_ITEM
@_MEETING
@with_store
def take(store: "Store", item: int, meeting: int) -> None:
    """Take ITEM from the queue to MEETING, where it can be rated."""
    from candidacy.conference.queue import take_up

    click.echo(f"item {take_up(store, item, meeting).seq}: meeting {meeting}")


@click.command()
@_ITEM
@click.argument("who", metavar="PERSON")
@click.option("--why", required=True, help="Why the member takes no part in it.")
@with_store
def recuse(store: "Store", item: int, who: str, why: str) -> None:
    """Say that a member takes no part in ITEM, and why."""
    from candidacy.conference.deciding import recuse as leave_out

    leave_out(store, item, who, why)
    click.echo(f"item {item}: {who} takes no part")


COMMANDS = (ask, order, withdraw, meetings, meeting, member, take, recuse)
