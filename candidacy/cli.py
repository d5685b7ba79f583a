"""The command line ``candidacy``: finds the command, loads only what it needs, and tells errors plainly.

Exit status: 0 done, 1 rule content found wrong, 2 bad input or usage, 3 a fault of the program.
"""

import atexit
import gc
import importlib
import os
import sys
from typing import Any

import click

from candidacy import __version__

# No plugin of another package may alter how records are checked; looking for some would also read every installed one.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

# name -> (module, attribute, one line of help); modules load only when their command is used.
COMMANDS = {
    "assess": ("candidacy.commands.assess", "assess", "Assess a case against one or more rule sets."),
    "demo": ("candidacy.commands.demo", "demo", "Assess the shipped, invented cases into an overview."),
    "elements": ("candidacy.commands.elements", "elements", "List the data elements of a case record."),
    "read": ("candidacy.commands.read", "read", "Read imaging reports into cited findings."),
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


EXAMPLES = """
\b
Examples:
  candidacy demo
  candidacy assess case.yaml
  candidacy assess case.yaml --rules practice_baseline --rules trial_style_strict
  candidacy assess case.yaml --format html --out case.html
  candidacy rules show practice_baseline
  candidacy elements height
"""


@click.command(
    cls=_Lazy,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog=EXAMPLES,
)
@click.version_option(__version__, prog_name="candidacy")
def group() -> None:
    """Explained decision support: should this patient, and which lumbar disc, be considered for an
    intradiscal injection of donated tissue or cells?

    It says of each criterion pass, fail or undetermined, with the rule, the value, its source and what is
    missing. It supports a decision by a licensed clinician; it never makes one.
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line; input errors end with status 2 and no traceback."""
    from candidacy.foundation.errors import CandidacyError, Code, InputError

    # Reading rules makes many objects that all stay; looking among them for waste again and again takes a tenth.
    gc.set_threshold(500_000)
    atexit.register(gc.freeze)  # and once more at the end, when the process gives all of it back anyway
    for stream in (sys.stdout, sys.stderr):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
    try:
        group.main(args=arguments, prog_name="candidacy", standalone_mode=False)
    except click.exceptions.Exit as stop:
        sys.exit(stop.exit_code)
    except click.Abort:
        click.echo("stopped", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except InputError as error:
        click.echo(str(error), err=True)
        count = len(error.problems)
        click.echo(f"{count} problem{'s' if count != 1 else ''} found; nothing was written.", err=True)
        sys.exit(2)
    except CandidacyError as error:
        click.echo(
            f"{Code.INTERNAL.value} {error}\nThis is a fault of the program, not of your input; no result was given.",
            err=True,
        )
        sys.exit(3)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:
        if os.environ.get("CANDIDACY_TRACEBACK"):
            raise
        click.echo(
            f"{Code.INTERNAL.value} {type(error).__name__}\nThis is a fault of the program, not of your input; no result was given. "
            "Set CANDIDACY_TRACEBACK=1 to see where it happened.",
            err=True,
        )
        sys.exit(3)


if __name__ == "__main__":
    main()
