"""The command line ``candidacy``: finds the command, loads only what it needs, and tells errors plainly.

Exit status: 0 done, 1 rule content found wrong, 2 bad input or usage, 3 a fault of the program. A reader that leaves
(``candidacy assess case.yaml | head -1``) changes neither the status nor what ``--out`` writes.
"""

import atexit
import gc
import importlib
import itertools
import os
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, NoReturn

import click

from candidacy import __version__

if TYPE_CHECKING:
    from candidacy.foundation.errors import Problem

# No plugin of another package may alter how records are checked; looking for some would also read every installed one.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

# name -> (module, attribute, one line of help); modules load only when their command is used.
COMMANDS = {
    "assess": ("candidacy.commands.assess", "assess", "Assess one case or many against rule sets."),
    "case": ("candidacy.commands.case", "case", "Write a blank case record for a rule set."),
    "conference": (
        "candidacy.commands.conference",
        "conference",
        "Hold a case conference on kept referrals.",
    ),
    "day": ("candidacy.commands.day", "day", "Checklist of the day of injection, and what was done."),
    "demo": ("candidacy.commands.demo", "demo", "Assess the shipped, invented cases into an overview."),
    "elements": ("candidacy.commands.elements", "elements", "Find the data elements of a case record."),
    "letter": ("candidacy.commands.letter", "letter", "Draft letters and patient sheets from an assessment."),
    "follow": (
        "candidacy.commands.follow",
        "follow",
        "Follow patients after an injection: visits, events, triage.",
    ),
    "outcomes": ("candidacy.commands.outcomes", "outcomes", "Count how treated patients did."),
    "plan": ("candidacy.commands.plan", "plan", "Lay out what must happen when around a proposed day."),
    "read": ("candidacy.commands.read", "read", "Read imaging reports into cited findings."),
    "records": (
        "candidacy.commands.records",
        "records",
        "Keep referrals, answers and decisions, with a trail.",
    ),
    "rules": ("candidacy.commands.rules", "rules", "List, show and check rule sets and criteria."),
    "schema": (
        "candidacy.commands.schema",
        "schema",
        "Print the JSON Schema of a kind of file, for editors.",
    ),
    "screen": ("candidacy.commands.screen", "screen", "Screen a table of cases against a rule set."),
    "ui": ("candidacy.commands.ui", "ui", "Open the screens in a browser on this machine."),
}


class _Lazy(click.Group):
    """A group whose commands are imported when used, so that a cold start stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        command = getattr(importlib.import_module(module), attribute)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name][2]) for name in sorted(COMMANDS)])


ERROR_FORMS = ("text", "json")

EXAMPLES = """
\b
Examples:
  candidacy demo
  candidacy case new --out case.yaml
  candidacy assess case.yaml
  candidacy assess case.yaml --full
  candidacy assess referrals/*.yaml --format csv --out referrals.csv
  candidacy assess case.yaml --rules practice_baseline --rules trial_style_strict
  candidacy assess case.yaml --format html --out case.html
  candidacy rules show practice_baseline
  candidacy elements height
  candidacy --errors json assess case.yaml
"""


@click.command(
    cls=_Lazy,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog=EXAMPLES,
)
@click.version_option(__version__, prog_name="candidacy")
@click.option("--errors", type=click.Choice(ERROR_FORMS), default="text", expose_value=False, show_default=True,
              help="How problems are told on standard error: as text, or for programs as one line of JSON. It may stand "
              "anywhere on the line.")  # fmt: skip
def group() -> None:
    """Explained decision support: should this patient, and which lumbar disc, be considered for an
    intradiscal injection of donated tissue or cells?

    It says of each criterion pass, fail or undetermined, with the rule, the value, its source and what is
    missing. It supports a decision by a licensed clinician; it never makes one.
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; input errors end with status 2 and no traceback."""
    from candidacy.commands.streams import patient_streams

    # Reading rules makes many objects that all stay; looking among them for waste again and again takes a tenth.
    gc.set_threshold(500_000)
    atexit.register(gc.freeze)  # and once more at the end, when the process gives all of it back anyway
    for stream in (sys.stdout, sys.stderr):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    with patient_streams():
        _run(arguments)


def _run(arguments: list[str] | None) -> None:
    from candidacy.foundation.errors import CandidacyError, Code, InputError, Problem

    given, as_json = _errors_form(sys.argv[1:] if arguments is None else arguments)

    def stop(status: int, problems: Iterable[Problem], text: str) -> NoReturn:
        click.echo(_problems_json(status, problems) if as_json else text, err=True)
        sys.exit(status)

    try:
        group.main(args=given, prog_name="candidacy", standalone_mode=False)
    except click.exceptions.Exit as end:
        sys.exit(end.exit_code)
    except click.Abort:
        click.echo("stopped", err=True)
        sys.exit(130)
    except click.ClickException as error:
        if not as_json:
            error.show()
            sys.exit(2)
        stop(2, [Problem(Code.USAGE, error.format_message(), "command line")], "")
    except InputError as error:
        count = len(error.problems)
        rest = "the others were answered" if error.others_answered else "nothing was written"
        told = f"{count} problem{'s' if count != 1 else ''} found; {rest}."
        stop(2, error.problems, f"{error}\n{told}")
    except CandidacyError as error:
        stop(3, [Problem(Code.INTERNAL, str(error), next_step=_OUR_FAULT)],
             f"{Code.INTERNAL.value} {error}\n{_OUR_FAULT}")  # fmt: skip
    except Exception as error:
        if os.environ.get("CANDIDACY_TRACEBACK"):
            raise
        kind, step = type(error).__name__, f"{_OUR_FAULT} Set CANDIDACY_TRACEBACK=1 to see where it happened."
        stop(3, [Problem(Code.INTERNAL, kind, next_step=step)], f"{Code.INTERNAL.value} {kind}\n{step}")


_OUR_FAULT = "This is a fault of the program, not of your input; no result was given."


def _errors_form(arguments: list[str]) -> tuple[list[str], bool]:
    """The arguments with ``--errors`` put first, where it is read, and whether it asks for JSON.

    It is looked for before anything is parsed, so that a wrong option is told in the form that was asked for.
    """
    end = arguments.index("--") if "--" in arguments else len(arguments)
    first: list[str] = []
    rest: list[str] = []
    words = iter(arguments[:end])
    for word in words:
        if word == "--errors":
            first = [word, *itertools.islice(words, 1)]
        elif word.startswith("--errors="):
            first = [word]
        else:
            rest.append(word)
    return [*first, *rest, *arguments[end:]], first in (["--errors", "json"], ["--errors=json"])


def _problems_json(status: int, problems: "Iterable[Problem]") -> str:
    """One line of JSON: ``exit_status``, and ``problems`` as `Problem.as_dict` gives them."""
    import json

    told = {"exit_status": status, "problems": [problem.as_dict() for problem in problems]}
    return json.dumps(told)


if __name__ == "__main__":
    main()
