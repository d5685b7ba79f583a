"""How the store of kept referrals is named to the screens when they are started."""

import os

STORE_VARIABLE = "CANDIDACY_STORE"
"""The store: a file or a URL."""
PERSON_VARIABLE = "CANDIDACY_PERSON"
"""The local id of who works, unless another is given on the page."""
HEADER_VARIABLE = "CANDIDACY_PERSON_HEADER"
"""The request header in which a reverse proxy that has checked who asks names that person; without it none is believed."""
HOSTS_VARIABLE = "CANDIDACY_HOSTS"
"""Names under which such a proxy is asked, with commas between; without it only this machine's own names are answered."""


def store_named() -> str:
    """The store as it was named; empty where the screens work without one."""
    return os.environ.get(STORE_VARIABLE, "").strip()
