"""How the store of kept referrals is named to the screens when they are started."""

STORE_VARIABLE = "CANDIDACY_STORE"
"""The store: a file or a URL."""
PERSON_VARIABLE = "CANDIDACY_PERSON"
"""The local id of who works, unless another is given on the page."""
