"""What can be taken away from a page: made when asked for, never before."""

from collections.abc import Callable
from typing import Literal

import streamlit as st
from msgspec import Struct

from candidacy.case.load import case_to_yaml
from candidacy.explain.page import page
from candidacy.explain.trial import trial_file_part
from candidacy.ui import show
from candidacy.ui.session import desk, menu_moved


class Export(Struct, frozen=True):
    """One file: the words on the button, its name and type, and the function that makes it."""

    label: str
    name: str
    mime: str
    make: Callable[[], str | bytes]


def case_exports() -> list[Export]:
    """The open referral and its assessment under the chosen rule set.

    A file is made in a request of its own, where no desk is open: what it is made from is taken here.
    """
    mine = desk()
    record, document, whole = mine.record, mine.document(), mine.whole_later()
    name = f"{record.id}-{document.rule_set.id}{trial_file_part(document.rule_set.tried)}"

    def pdf(paper: Literal["A4", "Letter"]) -> Callable[[], bytes]:
        def make() -> bytes:
            from candidacy.explain.pdf import assessment_pdf

            return assessment_pdf(whole(), paper=paper)

        return make

    return [
        Export("Case file (YAML)", f"{record.id}.yaml", "application/yaml", lambda: case_to_yaml(record)),
        Export("Assessment (JSON)", f"{name}.json", "application/json", lambda: whole().to_json()),
        Export("Assessment to print (HTML)", f"{name}.html", "text/html", lambda: page(whole())),
        Export("Assessment (PDF, A4)", f"{name}.pdf", "application/pdf", pdf("A4")),
        Export("Assessment (PDF, Letter)", f"{name}-letter.pdf", "application/pdf", pdf("Letter")),
    ]


def export_menu(exports: list[Export], left_out: list[str]) -> None:
    """A menu of downloads. It asks first where the files would leave out what is named in ``left_out``."""
    with st.popover("Export", width="content", key="export-menu", on_change=menu_moved) as menu:
        if not menu.open:
            return
        if left_out and desk().kept.get("exports-agreed") != left_out:
            show.put("left_out.html", lines=left_out)
            st.button("Make the files without them", key="export-agree", on_click=_agree, args=(left_out,))
            return
        downloads(exports)


def _agree(left_out: list[str]) -> None:
    desk().kept["exports-agreed"] = left_out


def downloads(exports: list[Export], width: Literal["content", "stretch"] = "stretch") -> None:
    """A button for each file; the file is made when the button is pressed."""
    for export in exports:
        st.download_button(export.label, export.make, file_name=export.name, mime=export.mime, on_click="ignore",
                           key=f"export-{export.name}", width=width)  # fmt: skip
