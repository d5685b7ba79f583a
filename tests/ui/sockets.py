"""The served screens and people without a browser: each speaks the toolkit's protocol over a socket of its own."""

import os
import secrets
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect

from candidacy.case.record import CaseRecord
from candidacy.ui.desk import Desk
from candidacy.ui.kept.desk_files import DeskFile

ROOT = Path(__file__).resolve().parents[2]
WEIGHT = "form-patient-body_weight"
_RUNS_AGAIN = 2  # ForwardMsg.script_finished: cut short, another run follows


class Server:
    """``candidacy ui`` as a process of its own."""

    def __init__(self, place: Path, *options: str) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.folder = place / "desks"
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "HOME": str(place)}
        command = [sys.executable, "-m", "candidacy", "ui", "--no-browser", "--port", str(self.port)]
        kept = () if "--no-keep" in options else ("--keep-in", str(self.folder))
        self._log = (place / "log.txt").open("wb")
        self.process = subprocess.Popen(
            [*command, *kept, *options], cwd=place, env=environment, stdout=self._log, stderr=self._log
        )
        for _ in range(300):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/_stcore/health", timeout=1)
                break
            except OSError:
                time.sleep(0.1)

    def used(self) -> float:
        """Seconds of processor time of the process so far, all its threads, also those that ended."""
        return time.clock_gettime(~self.process.pid << 3 | 2)  # Linux: the clock of another process

    def memory(self) -> float:
        """Resident memory now, in MB."""
        status = Path(f"/proc/{self.process.pid}/status").read_text("utf-8")
        line = next(line for line in status.splitlines() if line.startswith("VmRSS"))
        return int(line.split()[1]) / 1024

    def rest(self, patience: float = 20.0) -> None:
        """Wait until it does nothing any more."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            before = self.used()
            time.sleep(0.15)
            if self.used() - before < 0.004:
                return

    def end(self) -> None:
        self.process.terminate()
        self.process.wait(60)
        self._log.close()


@contextmanager
def served(*options: str) -> Iterator[Server]:
    with tempfile.TemporaryDirectory() as place:
        server = Server(Path(place), *options)
        try:
            yield server
        finally:
            server.end()


class Person:
    """One session: a socket, what the page last showed, and a desk that was kept for it."""

    def __init__(self, server: Server, record: CaseRecord) -> None:
        self.browser, self.token = secrets.token_urlsafe(24), secrets.token_urlsafe(24)
        desk = Desk()
        desk.open(record, "opened")
        DeskFile(server.folder, self.token, self.browser, desk.work).save(desk.to_keep())
        self._server = server
        self._query = f"s={self.token}"
        self.widgets: dict[str, str] = {}
        self.heard: list[bytes] = []
        self.open()

    def open(self) -> None:
        """Connect and draw the page, as a new tab or a reload does."""
        address = f"127.0.0.1:{self._server.port}"
        self._left = ExitStack()
        joined = connect(
            f"ws://{address}/_stcore/stream",
            subprotocols=["streamlit"],  # type: ignore[list-item]
            origin=f"http://{address}",  # type: ignore[arg-type]
            additional_headers={"Cookie": f"candidacy_browser={self.browser}"},
            max_size=None,
            compression=None,
            ping_interval=None,  # who waits long on a busy machine is not thrown out
        )
        self._socket = self._left.enter_context(joined)
        self.run()

    def run(self, **typed: str) -> None:
        """Have the page run with what was typed by key, and hear the answer to its end."""
        message = BackMsg()
        message.rerun_script.query_string = self._query
        message.rerun_script.widget_states.SetInParent()
        for key, text in typed.items():
            state = message.rerun_script.widget_states.widgets.add()
            state.id, state.string_value = self.widgets[key], text
        self._socket.send(message.SerializeToString())
        self.heard = []
        while True:
            raw = self._socket.recv(timeout=120)
            assert isinstance(raw, bytes)
            self.heard.append(raw)
            answer = ForwardMsg.FromString(raw)
            kind = answer.WhichOneof("type")
            if kind == "page_info_changed":
                self._query = answer.page_info_changed.query_string
            elif kind == "delta" and answer.delta.new_element.WhichOneof("type") == "text_input":
                name = answer.delta.new_element.text_input.id
                self.widgets[name.split("-", 2)[2]] = name
            elif kind == "script_finished" and answer.script_finished != _RUNS_AGAIN:
                return

    def edit(self, number: int) -> None:
        self.run(**{WEIGHT: str(60 + number % 60)})

    def close(self) -> None:
        self._left.close()
