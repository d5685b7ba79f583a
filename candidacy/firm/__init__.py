"""How firm an outcome and a standing are: what would become of them if what was measured were measured once more.

The question asked is always the same: *the same unchanged patient is measured again, once, by the same means, or the same
images are read by another reader; does the outcome still stand?* Both the recorded and the repeated value bear the error of
one measurement, so they differ by the error of a difference, the square root of two times the standard error of measurement
(SEM). Nothing draws the repeat towards a mean, because it is not known from which population the patient comes. Where a
value can only be recorded in steps the repeat is rounded to them, and beyond the ends of the scale it is the end itself.

What it is not: a score of the patient, a chance of benefit, or an error of the criterion. Of safety criteria nothing is
worked out, so that no measurement error can excuse them; nor of facts of history, which no measurement repeats. Of an
element without a published figure nothing is told, and it is listed.
"""
