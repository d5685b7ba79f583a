"""Where the open data of the checks lies: beside the project, never inside it."""

from pathlib import Path

import pytest

SHARED = Path(__file__).resolve().parents[2].parent / "shared" / "data"


def open_data(*parts: str) -> Path:
    """Give the path of an open data file, or skip the test with the reason."""
    path = SHARED.joinpath(*parts)
    if not path.exists():
        pytest.skip(f"open data not present: {'/'.join(parts)}")
    return path
