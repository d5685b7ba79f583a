"""A private PostgreSQL for tests: the one that ``CANDIDACY_TEST_POSTGRES`` names, else a cluster of this machine's own."""

import contextlib
import glob
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest

VARIABLE = "CANDIDACY_TEST_POSTGRES"


def _program(name: str) -> str:
    found = shutil.which(name) or next(iter(sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{name}"))), "")
    if not found:
        pytest.skip(f"{VARIABLE} names no server, and {name} is not installed here")
    return os.path.realpath(found)


@contextlib.contextmanager
def server() -> Iterator[str]:
    """The URL of a server of which databases may be made and dropped."""
    named = os.environ.get(VARIABLE)
    if named:
        yield named
        return
    pytest.importorskip("psycopg", reason="PostgreSQL is an optional part")
    initdb, control = _program("initdb"), _program("pg_ctl")
    user = None
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # PostgreSQL refuses to run as the superuser
        import pwd

        names = {each.pw_name for each in pwd.getpwall()}
        user = next((name for name in ("postgres", "nobody") if name in names), None)
        if user is None:
            pytest.skip("PostgreSQL cannot run as the superuser, and there is no other user")
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))
    try:
        if user is not None:
            shutil.chown(folder, user)

        def run(*command: str) -> None:
            done = subprocess.run(command, capture_output=True, text=True, check=False, user=user, cwd=folder, env={
                "PATH": os.environ["PATH"], "LC_ALL": "C", "HOME": str(folder)})  # fmt: skip
            assert done.returncode == 0, done.stdout + done.stderr

        data = str(folder / "data")
        run(initdb, "-D", data, "-U", "tests", "-A", "trust", "-E", "UTF8", "--no-sync", "--locale=C")
        options = (
            f"-c listen_addresses= -c unix_socket_directories={folder} -c fsync=off -c max_connections=60"
        )
        run(control, "-D", data, "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql://tests@/postgres?host={quote(str(folder), safe='')}"
        finally:
            run(control, "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
