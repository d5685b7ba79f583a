"""``candidacy rules new``: a commented starting folder, written whole or not at all."""

import os
import re
import shutil
import tempfile
from datetime import date
from pathlib import Path

import click

from candidacy.commands.output import usual_mode


@click.command(
    "new",
    epilog="\b\nExamples:\n  candidacy rules new our_rules\n  candidacy rules new our_rules --extends wide_screen --id our_screen",
)
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--extends", metavar="ID", default="practice_baseline", show_default=True,
              help="The shipped rule set to start from.")  # fmt: skip
@click.option("--id", "identifier", metavar="ID", help="Id of the new rule set; without it the name of DIR.")
def new(folder: Path, extends: str, identifier: str | None) -> None:
    """Write a commented starting folder for rules of your own, which extend a shipped rule set.

    It holds a source, a data element, a criterion with its cases, and a rule set with a change of one threshold to take
    into force; and schemas by which an editor completes and explains every file. An existing folder must be empty.
    """
    from candidacy.rules.libraries import shipped
    from candidacy.rules.starting_folder import starting_files

    name = identifier or re.sub(r"[^a-z0-9]+", "_", folder.absolute().name.lower()).strip("_")
    files = starting_files(shipped(), extends, name, date.today())
    _write(folder, files)
    place = str(folder)
    click.echo(f"written: {place}, with the rule set {name}, which extends {extends}")
    for path in files:
        click.echo(f"  {path}")
    click.echo(
        f"""
Next:
  1. Open {place} in an editor that reads YAML schemas: it completes keys and names and explains them.
  2. Say in sets/{name}/ruleset.yaml why your practice departs, and take the change of a threshold into force.
  3. candidacy rules check {place}
  4. candidacy rules diff {extends} {name} --library {place}
  5. candidacy assess CASE.yaml --rules {name} --library {place}
After a new element, source or criterion: candidacy schema all --library {place} --out {place}/.schemas --replace"""
    )


def _write(folder: Path, files: dict[str, str]) -> None:
    from candidacy.commands.schema import write_schemas
    from candidacy.foundation.errors import Code, InputError, Problem
    from candidacy.rules.in_use import using
    from candidacy.rules.libraries import open_folder

    folder = folder.absolute()
    made: Path | None = None
    try:
        if os.path.lexists(folder) and not (folder.is_dir() and not any(folder.iterdir())):
            raise InputError([
                Problem(Code.USAGE, "there is something already", str(folder),
                        expected="a new folder or an empty one", next_step="choose another DIR")
            ])  # fmt: skip
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name}-unfinished-", dir=folder.parent))
        for path, text in files.items():
            target = made / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8", newline="\n")
        with using(open_folder(made)):
            write_schemas(made / ".schemas")
        os.chmod(made, usual_mode(0o777))
        # takes the place of an empty folder, and fails where something has appeared in it meanwhile
        os.replace(made, folder)
        made = None
    except OSError as error:
        raise InputError(
            [Problem(Code.UNREADABLE, "cannot be written", str(folder), found=error.strerror or "",
                     next_step="choose another DIR; nothing was left half-written")]
        ) from error  # fmt: skip
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)
