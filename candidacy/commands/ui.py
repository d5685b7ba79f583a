"""``candidacy ui``."""

import contextlib
import importlib.util
import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import click

from candidacy.foundation.errors import Code, InputError, Problem
from candidacy.foundation.shipped import LIBRARY_VARIABLE
from candidacy.ui.kept import OTHERS_VARIABLE, VARIABLE
from candidacy.ui.named_store import HEADER_VARIABLE, HOSTS_VARIABLE, PERSON_VARIABLE, STORE_VARIABLE

# Given on the command line so that no settings file of the machine or user can weaken them.
SAFE = {
    "server.address": "127.0.0.1",
    "server.enableCORS": "true",
    "server.enableXsrfProtection": "true",
    "server.enableStaticServing": "false",
    "server.enableAgentApi": "false",
    "server.showEmailPrompt": "false",
    "server.fileWatcherType": "none",
    "browser.gatherUsageStats": "false",
    "client.toolbarMode": "viewer",
    "client.showErrorDetails": "none",
    "logger.level": "warning",
    "logger.hideWelcomeMessage": "true",
}


def entry_page() -> Path:
    """The file that serves the pages, in a source tree or an installed wheel.

    Raises
    ------
    InputError
        E101 if the pages or what draws them are not installed.
    """
    place = Path(__file__).resolve().parents[1] / "ui" / "server.py"
    if not place.is_file():
        raise InputError([Problem(Code.UNREADABLE, "the screens are missing", str(place))])
    if importlib.util.find_spec("streamlit") is None:
        step = "pip install 'candidacy[ui]'"
        raise InputError([Problem(Code.UNREADABLE, "the screens need an extra", "streamlit", next_step=step)])
    return place


def desks_folder(asked: Path | None) -> Path:
    """The private folder that work is saved to, made if it is missing.

    Raises
    ------
    InputError
        E101 if it cannot be made or others may write it.
    """
    import platformdirs

    from candidacy.foundation.private_files import refuse_open

    folder = asked.absolute() if asked is not None else platformdirs.user_data_path("candidacy") / "desks"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        refuse_open(folder)
        if not os.access(folder, os.W_OK | os.X_OK):
            raise PermissionError("not writable")
    except OSError as error:
        step = "choose another folder with --keep-in, or start with --no-keep"
        why = f"work cannot be saved here: {error.strerror or error}"
        raise InputError([Problem(Code.UNREADABLE, why, str(folder), next_step=step)]) from None
    return folder


def checked_store(store: str, person: str | None) -> str:
    """A store that can be opened, by its whole path or its URL.

    Raises
    ------
    InputError
        E701 for what is no store, E601 where the extra is not installed or the person is none.
    """
    from candidacy.commands.store_option import needs_extra, place

    with needs_extra():
        from candidacy.records.store import open_store

        where = place(store)
        if isinstance(where, Path):
            where = where.expanduser().absolute()
        open_store(where, person, create=False).close()
    return str(where)


def _header_name(_: click.Context, __: click.Parameter, value: str | None) -> str | None:
    if value and not re.fullmatch(r"[A-Za-z0-9-]{1,64}", value):
        raise click.BadParameter("a header is named by letters, digits and hyphens")
    return value


def check_free(port: int) -> None:
    """Refuse a port of this machine that another program listens on, before anything is said to be served there.

    Raises
    ------
    InputError
        E601 with the way out.
    """
    with socket.socket() as probe:
        if os.name == "posix":  # a port that was just left may be taken at once, as the server does
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((SAFE["server.address"], port))
        except OSError as error:
            raise InputError([Problem(Code.USAGE, f"this port cannot be used: {error.strerror}", "--port", found=str(port),
                                      next_step="choose another, such as --port 8700, or stop what uses it; perhaps the "
                                      f"screens are open already, at http://127.0.0.1:{port}")]) from None  # fmt: skip


def command_line(port: int, browser: bool) -> list[str]:
    """The command that serves the pages, with the settings that keep it safe."""
    settings = {**SAFE, "server.port": str(port), "server.headless": "false" if browser else "true"}
    options = [f"--{name}={value}" for name, value in settings.items()]
    return [sys.executable, "-m", "candidacy.ui.run", "run", str(entry_page()), *options]


@click.command(
    epilog="\b\nExamples:\n  candidacy ui\n  candidacy ui --library my_rules\n  candidacy ui --port 8700 --no-browser\n  candidacy ui --no-keep\n  candidacy ui --store clinic.sqlite --person physician-1"
)
@click.option(
    "--port", type=click.IntRange(1024, 65535), default=8501, show_default=True, help="Port on this machine."
)
@click.option("--browser/--no-browser", default=True, show_default=True, help="Open a browser window.")
@click.option("--library", "libraries", type=click.Path(path_type=Path), envvar=LIBRARY_VARIABLE, metavar="DIR",
              show_envvar=True, multiple=True,
              help="Folder with rules of one's own, which extend the shipped ones; the first is in use at the start, further "
                   "ones are listed on the page of rule sets.")  # fmt: skip
@click.option("--keep/--no-keep", default=True, show_default=True,
              help="Save the work of each browser to a private folder, so that a restart loses nothing.")  # fmt: skip
@click.option("--keep-in", type=click.Path(path_type=Path, file_okay=False), envvar=VARIABLE, metavar="DIR",
              show_envvar=True, help="The folder to save it to; without it, one in your user's data folder.")  # fmt: skip
@click.option("--store", envvar=STORE_VARIABLE, show_envvar=True, metavar="FILE_OR_URL",
              help="The store of kept referrals for the pages Work list and Conference; candidacy records open makes one.")  # fmt: skip
@click.option("--person", envvar=PERSON_VARIABLE, show_envvar=True, metavar="ID",
              help="Your local id in the store; it can be changed on the page, and the store says what each may do.")  # fmt: skip
@click.option("--person-header", envvar=HEADER_VARIABLE, show_envvar=True, metavar="NAME", callback=_header_name,
              help="Behind a reverse proxy on this machine that checks who asks and always sets this header: believe it, and show "
                   "no page without it. Nobody but the proxy may reach the port then.")  # fmt: skip
@click.option("--host-name", "hosts", multiple=True, metavar="NAME",
              help="With --person-header: a name under which the proxy is asked.")  # fmt: skip
def ui(port: int, browser: bool, libraries: tuple[Path, ...], keep: bool, keep_in: Path | None, store: str | None,
       person: str | None, person_header: str | None, hosts: tuple[str, ...]) -> None:  # fmt: skip
    """Open the screens in a browser on this machine.

    The pages are served to this machine only. What is entered is saved to a private folder of yours, found again by
    the same browser at the same address for 30 days, and deleted by "Close and forget"; it is not encrypted there, so
    the disk should be. Save the case file to file it. No usage data is sent anywhere.
    """
    if hosts and not person_header:
        raise click.UsageError(
            "--host-name needs --person-header: without a proxy only this machine is answered."
        )
    if person and person_header:
        raise click.UsageError("--person and --person-header exclude each other: the proxy says who works.")
    if person_header:
        from candidacy.commands.store_option import needs_extra

        with needs_extra():
            import candidacy.records.session  # noqa: F401  (ids of persons are checked there)
    if libraries:
        from candidacy.rules.libraries import open_folder

        for library in libraries:
            open_folder(library)
    check_free(port)
    command = command_line(port, browser)
    click.echo(f"Screens: http://127.0.0.1:{port}   (stop with Ctrl+C)", err=True)
    root = str(Path(__file__).resolve().parents[2])
    paths = [root, *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    if libraries:
        environment[LIBRARY_VARIABLE] = str(libraries[0].absolute())
        environment[OTHERS_VARIABLE] = os.pathsep.join(str(folder.absolute()) for folder in libraries)
    if store:
        environment[STORE_VARIABLE] = checked_store(store, person)
    if person:
        environment[PERSON_VARIABLE] = person
    environment[HEADER_VARIABLE], environment[HOSTS_VARIABLE] = person_header or "", ",".join(hosts)
    folder = str(desks_folder(keep_in)) if keep else ""
    environment[VARIABLE] = folder
    click.echo(f"Work is saved in: {folder}" if folder else "Work is kept in memory only.", err=True)
    if os.name == "posix":  # the server takes this process over, so that stopping it leaves nothing behind
        os.execve(command[0], command, environment)
    with contextlib.suppress(KeyboardInterrupt):
        sys.exit(subprocess.run(command, env=environment, check=False).returncode)
