"""Explained decision support for lumbar intradiscal tissue and cell injection.

It evaluates a case record against declared rule sets and says of each criterion pass, fail or
undetermined, with the rule, the value, its source and what is missing. It supports a decision by a
licensed clinician and never makes one.
"""

__version__ = "0.1.0"
