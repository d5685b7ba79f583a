"""The screens: pages in a browser over the public functions of `candidacy`. Nothing clinical is computed here."""
