"""One way to turn content into a digest: SHA-256 over canonical JSON (sorted keys, no spaces)."""

import hashlib
import json
from pathlib import Path
from typing import Any


def canonical(content: Any) -> str:
    """Canonical JSON text of plain data; equal content gives equal text.

    Raises
    ------
    ValueError
        If the content holds NaN or an infinity.
    """
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def digest(content: Any) -> str:
    """Digest of plain data, as ``sha256:`` and 64 hexadecimal digits."""
    return "sha256:" + hashlib.sha256(canonical(content).encode()).hexdigest()


def file_digest(path: Path) -> str:
    """Digest of a file's bytes."""
    return "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest()


def short(digest: str) -> str:
    """The first twelve hexadecimal digits of a digest, with its kind: enough to tell two apart on paper."""
    return digest[: len("sha256:") + 12]
