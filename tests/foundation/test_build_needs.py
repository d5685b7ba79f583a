"""What building the wheel reads is there while it is built."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# what `.ci/ship_parsed.py` does before it asks for files
READ = """
import sys
before = set(sys.modules)
import candidacy.case.record, candidacy.explain.document
from candidacy.case.catalogue import catalogue
from candidacy.foundation.kept_shapes import keep_all
from candidacy.rules.library import Library
from candidacy.foundation.shipped import rulesets_folder
catalogue()
library = Library(rulesets_folder())
for name in library.rule_set_names():
    library.rule_set(name)
print(*{name.partition(".")[0] for name in set(sys.modules) - before})
"""


def test_the_wheel_is_built_with_every_package_that_its_build_step_loads() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text())
    # a dependency may bring others along; those that the program names itself have to be named for its build too
    named = {re.match(r"[\w-]+", each)[0].lower() for each in told["project"]["dependencies"]}  # type: ignore[index]
    asked = {re.match(r"[\w-]+", each)[0].lower() for each in told["build-system"]["requires"]}  # type: ignore[index]
    ran = subprocess.run([sys.executable, "-c", READ], capture_output=True, text=True, check=True, cwd=ROOT)
    loaded = {{"yaml": "pyyaml"}.get(name, name) for name in ran.stdout.split()}
    assert {"pyyaml", "pydantic", "msgspec"} <= loaded
    assert loaded & named <= asked
