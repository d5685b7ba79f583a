"""The screens from a source tree: ``streamlit run ui/app.py``. They live in `candidacy.ui`; ``candidacy ui`` starts them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from candidacy.ui.app import main

main()
