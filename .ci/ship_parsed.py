"""Build step of the wheel: ships parsed rule files, data elements and the shapes of models, so that even a first start is quick."""

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class ShipParsed(BuildHookInterface):  # type: ignore[type-arg]
    """Reads every file as the installed program would; a file that cannot be read fails the build."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":  # files that are being edited are kept in the cache of their user
            return
        os.environ["CANDIDACY_CACHE"] = "off"
        sys.path.insert(0, self.root)
        sys.dont_write_bytecode = True
        import candidacy.case.record
        import candidacy.explain.document  # noqa: F401  (their shapes are kept)
        from candidacy.case.catalogue import ELEMENTS, catalogue
        from candidacy.foundation.kept_shapes import HERE, keep_all
        from candidacy.foundation.parsed import SHIPPED_NAME, keep_of
        from candidacy.foundation.shipped import rulesets_folder
        from candidacy.rules.library import Library

        catalogue()
        folder = rulesets_folder()
        for path in sorted(folder.rglob("*.yaml")):
            if not path.name.endswith(".cases.yaml"):
                keep_of(folder).read(path)
        library = Library(folder)
        for name in library.rule_set_names():
            library.rule_set(name)
        keep_all()
        self._made = tempfile.TemporaryDirectory()
        targets = {
            folder: "candidacy/_shipped/rulesets",
            ELEMENTS: "candidacy/case/elements",
            HERE: "candidacy/foundation",
        }
        for number, (place, target) in enumerate(targets.items()):
            made = Path(self._made.name, str(number))
            made.write_bytes(keep_of(place).content())
            build_data["force_include"][str(made)] = f"{target}/{SHIPPED_NAME}"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        if version != "editable":
            self._made.cleanup()
