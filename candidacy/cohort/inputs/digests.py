"""What a run was made of, so that it can be repeated: digests of its inputs, worked out when asked for."""

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from msgspec import Struct

from candidacy.cohort.inputs.headers import refusal
from candidacy.cohort.inputs.mapping import Mapping
from candidacy.foundation.errors import Code, TableError

_PIECE = 1 << 20
Listing = Callable[[Path], list[Path]]


def only_this(path: Path) -> list[Path]:
    """The files of an input that is one file."""
    return [path]


class Input(Struct, frozen=True):
    """One file or folder that was screened.

    Attributes
    ----------
    listing
        Gives the files of the input in the order of their names.
    state
        Names, sizes and times of change of those files when the screening began, as a digest.
    """

    path: Path
    listing: Listing
    state: str

    @classmethod
    def of(cls, path: Path, listing: Listing = only_this) -> "Input":
        """Note the state of an input."""
        return cls(path, listing, _state(path, listing))

    def check(self) -> None:
        """Refuse an input that is no longer what it was.

        Raises
        ------
        TableError
            E101 if a file changed, came or went since the screening began.
        """
        if _state(self.path, self.listing) != self.state:
            raise refusal(
                str(self.path), "changed since the screening began", Code.UNREADABLE,
                expected="the same files with the same size and time of change",
                next_step="screen it again; copy a table first that others are writing",
            )  # fmt: skip


@dataclass
class Inputs:
    """All inputs of a screening by what they are for: ``patients``, ``discs``, the name of a list.

    Attributes
    ----------
    frames
        DataFrames, as the Parquet files that they were staged to.
    """

    tables: dict[str, Input] = field(default_factory=dict)
    frames: dict[str, Path] = field(default_factory=dict)
    mapping: Mapping | None = None

    def check(self) -> None:
        """Refuse inputs that are no longer what they were; see `Input.check`."""
        for each in self.tables.values():
            each.check()


def input_digests(inputs: Inputs) -> dict[str, str]:
    """SHA-256 of every input as ``sha256:…``, by what it is for; ``mapping`` too where there is one.

    Of a file it is that of its bytes; of a folder, that of its file names and their digests in the order of names;
    of a mapping, that of its content as JSON with sorted keys; of a DataFrame, that of the Parquet staged from it.

    Raises
    ------
    TableError
        E101 if an input changed since the screening began, or cannot be read any more.
    """
    inputs.check()
    try:
        found = {role: _digest(each) for role, each in inputs.tables.items()}
        found |= {role: _of_file(path) for role, path in inputs.frames.items()}
    except OSError as error:
        raise _gone(error) from error
    inputs.check()
    if inputs.mapping is not None:
        text = json.dumps(inputs.mapping.model_dump(mode="json"), sort_keys=True, separators=(",", ":"))
        found["mapping"] = hashlib.sha256(text.encode()).hexdigest()
    return {role: f"sha256:{found[role]}" for role in sorted(found)}


def _digest(each: Input) -> str:
    if each.path.is_dir():
        return _joined(f"{file.name}\0{_of_file(file)}" for file in each.listing(each.path))
    return _of_file(each.path)


def _of_file(path: Path) -> str:
    made = hashlib.sha256()
    with path.open("rb") as stream:
        while piece := stream.read(_PIECE):
            made.update(piece)
    return made.hexdigest()


def _state(path: Path, listing: Listing) -> str:
    try:
        stats = ((file.name, file.stat()) for file in listing(path))
        return _joined(f"{name}\0{stat.st_size}\0{stat.st_mtime_ns}" for name, stat in stats)
    except OSError as error:
        raise _gone(error) from error


def _joined(lines: Iterable[str]) -> str:
    made = hashlib.sha256()
    for line in lines:
        made.update(line.encode("utf-8", "surrogateescape") + b"\n")
    return made.hexdigest()


def _gone(error: OSError) -> TableError:
    return refusal(
        str(error.filename or "input"), "cannot be read any more", Code.UNREADABLE, found=error.strerror or "",
        expected="the file as it was when the screening began", next_step="put it back, or screen again",
    )  # fmt: skip
