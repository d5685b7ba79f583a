"""What ``candidacy ui`` starts: the server of the screens, which a person ends with Ctrl+C and which then ends in silence."""

import sys

from click import Abort
from streamlit.web.cli import main

if __name__ == "__main__":
    try:
        main(sys.argv[1:], "streamlit", standalone_mode=False)
    except Abort:
        sys.exit(0)
