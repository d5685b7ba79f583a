"""Letters that the store keeps with the open referral: read when asked for, shown as plain text, taken away or printed."""

from functools import partial

import streamlit as st

from candidacy.foundation.visible import clean
from candidacy.records.letters import KeptLetter
from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.exports import Export, downloads
from candidacy.ui.read_when_asked import read_when_asked
from candidacy.ui.session import desk


def kept_letters() -> None:
    """Draw the section; nothing where the store keeps no referral of this reference."""
    found: tuple[KeptLetter, ...] | None = read_when_asked(
        "kept-letters", "Read the kept letters", "Letters and replies", Store.kept_letters
    )
    if found is None:
        return
    if not found:
        show.note("No letter is kept with this referral.")
        return
    by = {letter.seq: letter for letter in reversed(found)}
    chosen: int = st.selectbox("Kept letter, newest first", list(by), key="kept-letter",
                               format_func=lambda seq: _title(by[seq]))  # fmt: skip
    letter = by[chosen]
    same = letter.said.record_digest == desk().case().digest
    show.put("kept_letter.html", title=_title(letter), foot=_foot(letter), text=_text(letter), same=same)
    name = f"{letter.reference}-{letter.said.kind}-{letter.seq}"
    downloads(
        [
            Export("Kept letter (text)", f"{name}.txt", "text/plain", partial(str, letter.said.text)),
            Export("Kept letter to print (HTML)", f"{name}.html", "text/html", partial(_print, letter)),
        ],
        "content",
    )


def _title(letter: KeptLetter) -> str:
    return f"{letter.said.kind} of {letter.at[:10]}, version {letter.said.version} (entry {letter.seq})"


def _foot(letter: KeptLetter) -> str:
    at = letter.at[:16].replace("T", " ")
    return (
        f"As drafted and {letter.words} by {letter.person} at {at} UTC; record sha256:{letter.said.record_digest[:12]}. "
        "What was written on it by hand afterwards is not in it."
    )


def _text(letter: KeptLetter) -> str:
    return "\n".join(clean(line) for line in letter.said.text.split("\n"))


def _print(letter: KeptLetter) -> str:
    return show.fill("kept_letter_print.html", title=f"{letter.reference}: {_title(letter)}", foot=_foot(letter),
                     text=_text(letter))  # fmt: skip
