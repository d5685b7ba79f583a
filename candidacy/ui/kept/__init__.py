"""The work of a session, kept in a private folder of this machine so that a restart loses nothing."""

VARIABLE = "CANDIDACY_DESKS"
"""Names the folder; set by ``candidacy ui``. Where it is empty nothing is written to disk."""
OTHERS_VARIABLE = "CANDIDACY_LIBRARIES"
"""Folders of rules that the screens list, with the path separator between; set by ``candidacy ui``."""
