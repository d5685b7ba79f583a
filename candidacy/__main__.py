"""``python -m candidacy``."""

from candidacy.cli import main

main()
