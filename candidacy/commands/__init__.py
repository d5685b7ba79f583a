"""Commands of the command line, one module each; they print and never compute."""
