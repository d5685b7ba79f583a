"""No threshold, factor or limit of medicine stands in Python: it belongs to a rule set, a setting or a table.

The modules that decide clinical content may hold no number but -1, 0, 1 and 2 without a reason given here; all
others none that is compared with, given as a default or kept in a mapping. Units, dates, months, values and files are left
out: their numbers are definitions of units and of the calendar, and sizes of files.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.rows import each_row

ROOT = Path(__file__).resolve().parents[2]
LEFT_OUT = (
    "candidacy/foundation/units.py", "candidacy/foundation/dates.py", "candidacy/foundation/months.py", "candidacy/foundation/values.py", "candidacy/foundation/files.py",
)  # fmt: skip
DECIDES = ("candidacy/assessment/assess.py", "candidacy/rules/operators.py", "candidacy/assessment/evaluate.py", "candidacy/assessment/missing.py", "candidacy/assessment/results.py",
           "candidacy/foundation/truth.py", "candidacy/assessment/view.py", "candidacy/case/", "candidacy/derive/", "candidacy/engine/",
           "candidacy/rules/")  # fmt: skip
# Distances between words and lengths of text decide how a report is read, not what is right for a patient.
COUNTS_WORDS = "candidacy/reading/"
COMPARING = {"at_least", "at_most", "more_than", "less_than", "between", "equals", "min", "max"}
PLAIN = {-1, 0, 1, 2}

ALLOWED: dict[tuple[str, float], str] = {
    ("candidacy/assessment/assess.py", 64): "rule sets kept compiled",
    ("candidacy/rules/resolved.py", 6): "changes of an extended rule set that stand in an answer",
    ("candidacy/assessment/relate.py", 64): "rule sets of which it is kept whose age matters",
    ("candidacy/case/element.py", 4): "place in the list of level names",
    ("candidacy/case/free_text.py", 1024): "texts of which it is kept what they tell",
    ("candidacy/case/danger_topics.py", 4): "letters by which a text is sought first",
    ("candidacy/case/denied_danger.py", 4): "words of a bare part of a list",
    ("candidacy/foundation/literals.py", 16): "texts of which it is told apart which one is needed",
    ("candidacy/derive/medicine_names.py", 4096): "names that are kept",
    ("candidacy/case/free_text.py", 30): "letters before a person, in which a relative may be named",
    ("candidacy/case/free_text.py", 6): "letters of a medicine's name that its spellings share",
    ("candidacy/case/free_text.py", 5): "years by which a text may be older than its record (common practice)",
    ("candidacy/case/remarks.py", 5): "letters of a word that stand for its forms; an extension of a file name",
    ("candidacy/case/remarks.py", 4): "digits of a year; the place of lists behind patient and discs",
    ("candidacy/case/remarks.py", 3): "the place of discs behind the patient",
    ("candidacy/case/worded.py", 5): "letters of a word that stand for its forms; the fifth of the Roman numerals",
    ("candidacy/case/worded.py", 8): "words of a text that is about one thing",
    ("candidacy/case/worded.py", 3): "letters too few to tell a word, or enough for a month; a Roman numeral",
    ("candidacy/case/worded.py", 4): "a Roman numeral",
    ("candidacy/case/doubtful.py", 0.05): "part of a number that rounding and conversion explain (common practice)",
    ("candidacy/case/doubtful.py", 100): "percent of a whole",
    ("candidacy/case/load.py", 100): "width of a written YAML line",
    ("candidacy/case/typed_text.py", 3): "group of a pattern",
    ("candidacy/course/record.py", 5): "grade of death in the common terminology criteria",
    ("candidacy/ui/follow_up/fields.py", 11): "longest row of numbers that is offered as buttons",
    ("candidacy/ui/follow_up/opened.py", 4): "megabytes of a course record",
    ("candidacy/derive/anaesthetic.py", 10): "definition of percent strength: 1 % is 10 mg in 1 mL",
    ("candidacy/derive/arithmetic.py", 12): "significant digits kept, against binary noise",
    ("candidacy/derive/arithmetic.py", 100): "percent",
    ("candidacy/derive/discography_class.py", 4096): "answers that are kept",
    ("candidacy/derive/hold_times.py", 24): "hours of a day",
    ("candidacy/derive/likelihood.py", 100): "percent",
    ("candidacy/derive/person.py", 0.01): "centimetres in metres",
    ("candidacy/derive/questionnaires.py", 9): "items of the PHQ-9, by its definition",
    ("candidacy/derive/questionnaires.py", 10): "items of the ODI, by its definition",
    ("candidacy/derive/questionnaires.py", 100): "percent",
    ("candidacy/engine/choose.py", 64): "chainers kept",
    ("candidacy/engine/durable_chainer.py", 4096): "sets of outcomes of which it is kept what fired",
    ("candidacy/engine/durable_chainer.py", 3): "times a decision is tried",
    ("candidacy/engine/durable_chainer.py", 10): "priority of the first rule in the chaining library",
    ("candidacy/rules/operators.py", 7): "days of a week",
    ("candidacy/rules/operators.py", 1000): "whole numbers spelled out before a range counts as open",
    ("candidacy/assessment/missing.py", 3): "place of a force in the order of forces",
    ("candidacy/assessment/outlook.py", 6): "decimals of a day that are told apart",
    ("candidacy/assessment/outlook.py", 7): "days of a week",
    ("candidacy/assessment/outlook.py", 12): "months of a year",
    ("candidacy/assessment/outlook.py", 31): "days of the longest month",
    ("candidacy/rules/resolved.py", 64): "digests kept",
    ("candidacy/rules/resolved.py", 400): "length of an error message",
    ("candidacy/rules/starting_folder.py", 110): "width of a line of comment",
    ("candidacy/cohort/result.py", 200): "cases of a sample unless another number is asked for",
    ("candidacy/cohort/result.py", 0.05): "share of repeats from which a case counts as close to moving, unless another is asked for; shown beside the count",
    ("candidacy/day/filled_facts.py", 10): "letters of a written day",
    ("candidacy/day/sheet.py", 10): "open facts that are listed before the rest is counted",
    ("candidacy/day/sheet.py", 6): "dangers that are listed before the rest is counted",
    ("candidacy/day/sheet_pdf.py", 12): "height of a place for a label in millimetres",
    ("candidacy/day/sheet_text.py", 100): "width of a printed line",
    ("candidacy/explain/firm.py", 0.005): "share below which words say hardly ever",
    ("candidacy/explain/firm.py", 0.995): "share above which words say nearly always",
    ("candidacy/explain/firm.py", 0.55): "share above which words count in tens",
    ("candidacy/explain/firm.py", 0.95): "share above which words say more than 9 in 10",
    ("candidacy/explain/pdf_parts.py", 1.32): "distance of lines",
    ("candidacy/explain/pdf_parts.py", 7.5): "size of letters",
    ("candidacy/explain/settle.py", 12): "short endings that are listed before the rest is counted",
    ("candidacy/explain/would_change.py", 1e-6): "binary noise of a number that is written",
    ("candidacy/firm/firmness.py", 4096): "combinations that are worked out one by one",
    ("candidacy/firm/points.py", 1e-12): "keeps a point inside the open unit interval",
    ("candidacy/firm/readers.py", 300): "rounds of fitting a table to its margins",
    ("candidacy/firm/readers.py", 1e-4): "rest at which the fitting ends",
    ("candidacy/firm/repeat.py", 1e-9): "binary noise",
    ("candidacy/letters/draft.py", 200): "longest text in a blank",
    ("candidacy/letters/frame.py", 300): "longest text of a record that is quoted",
    ("candidacy/letters/pdf.py", 12.0): "size of letters",
    ("candidacy/letters/pdf.py", 9.5): "size of letters",
    ("candidacy/letters/pdf.py", 9.0): "size of letters",
    ("candidacy/letters/readability.py", 8): "highest school grade of a sheet for patients, a law of this program",
    ("candidacy/letters/readability.py", 10): "conditions of which all combinations are tried",
    ("candidacy/letters/readability.py", 3): "syllables of a word",
    ("candidacy/letters/readability.py", 4): "syllables of a word",
    ("candidacy/letters/text.py", 88): "width of a printed line",
    ("candidacy/letters/values.py", 12): "pieces of evidence that are listed before the rest is counted",
    ("candidacy/letters/values.py", 15): "questions that are listed before the rest is counted",
    ("candidacy/letters/values.py", 300): "longest text of a record that is quoted",
    ("candidacy/letters/values.py", 600): "longest list of reasons that is quoted",
    ("candidacy/letters/word_file.py", 13): "size of letters",
    ("candidacy/letters/word_file.py", 11): "size of letters",
    ("candidacy/letters/word_file.py", 10): "size of letters",
    ("candidacy/outcomes/change.py", 1e-9): "binary noise",
    ("candidacy/outcomes/change.py", 100): "percent",
    ("candidacy/outcomes/document.py", 0.05): "step to which shares are rounded where small counts are masked",
    ("candidacy/outcomes/figures.py", 7.5): "width of a picture in inches",
    ("candidacy/outcomes/figures.py", 0.5): "half of the patients: the median",
    ("candidacy/outcomes/figures.py", 28): "least distance of marks on an axis in days",
    ("candidacy/outcomes/intervals.py", 0.95): "level of an interval, which is told beside it",
    ("candidacy/outcomes/responding.py", 1e-9): "binary noise",
    ("candidacy/outcomes/responding.py", 100): "percent",
    ("candidacy/outcomes/running.py", 20_000): "simulated runs behind a limit",
    ("candidacy/outcomes/running.py", 20261128): "seed of the simulation, so that it gives the same again",
    ("candidacy/outcomes/survival.py", 0.5): "half of the patients: the median",
    ("candidacy/outcomes/survival.py", 1e-12): "binary noise",
    ("candidacy/prove/symbols.py", 15_000_000): "work of the solver for one question",
    ("candidacy/prove/symbols.py", 300_000): "milliseconds after which a question is given up in any case",
    ("candidacy/prove/symbols.py", 365): "days of a year",
    ("candidacy/rules/outcome_files.py", 5000): "most patients of a simulated run",
    ("candidacy/rules/criterion.py", 3660): "bound of what can be meant",
    ("candidacy/rules/fit.py", 366): "most days of a year",
    ("candidacy/rules/fit.py", 53): "most weeks of a year",
    ("candidacy/rules/fit.py", 12): "months of a year",
    ("candidacy/ui/cohort/firm.py", 200): "cases of a sample",
    ("candidacy/rules/outcome_files.py", 3660): "bound of what can be meant",
    ("candidacy/rules/outcome_files.py", 3): "least count below which may be masked",
    ("candidacy/rules/outcome_files.py", 1000): "greatest count below which may be masked",
    ("candidacy/rules/outcome_files.py", 5): "grades of the common terminology criteria",
    ("candidacy/settle/answers.py", 200): "whole numbers that are tried one by one",
    ("candidacy/settle/answers.py", 3): "codes that are tried together",
    ("candidacy/settle/answers.py", 12): "steps of a grid",
    ("candidacy/settle/answers.py", 1e-3): "how closely a turning point of a formula is found",
    ("candidacy/settle/answers.py", 1e9): "number beyond every range",
    ("candidacy/settle/boundary.py", 1e-6): "distance to a limit at which both sides are tried",
    ("candidacy/settle/boundary.py", 0.1): "step of a limit that is written",
    ("candidacy/settle/changing.py", 100_000): "steps in which an amount is searched",
    ("candidacy/settle/changing.py", 1e-6): "binary noise",
    ("candidacy/settle/changing.py", 0.1): "step in which a weight is written",
    ("candidacy/settle/endings.py", 10): "missing facts up to which every pair is tried",
    ("candidacy/settle/endings.py", 400): "combinations that are tried",
    ("candidacy/settle/guaranteed.py", 400): "combinations that are tried",
    ("candidacy/settle/guaranteed.py", 120): "missing facts above which sets are not searched, which is said",
    ("candidacy/settle/guaranteed.py", 40): "times that a search may turn back",
    ("candidacy/settle/guaranteed.py", 10): "times the usual number of combinations",
    ("candidacy/settle/steps.py", 5): "most questions of a tree",
    ("candidacy/settle/steps.py", 24): "facts from which the next question is chosen",
    ("candidacy/settle/steps.py", 20): "questions that are worked out for a tree",
    ("candidacy/settle/reads.py", 16): "rule sets kept ready",
    ("candidacy/ui/outcomes/page.py", 4): "megabytes of a file",
    ("candidacy/ui/plan/files.py", 14): "days ahead that the page proposes first",
    ("candidacy/prove/held.py", 1e-6): "decimals with which a number of a witness is written",
    ("candidacy/prove/plainly.py", 60): "written records tried for one worked out fact",
    ("candidacy/prove/symbols.py", 5): "years after the day of a proof in which dates may lie",
    ("candidacy/prove/symbols.py", 120): "years before the day of a proof in which dates may lie",
    ("candidacy/prove/tabulated.py", 1500): "combinations of inputs that are written out",
    ("candidacy/rules/cited.py", 1900): "earliest year of a publication",
    ("candidacy/rules/cited.py", 2100): "latest year of a publication",
    ("candidacy/rules/trial_file.py", 100): "width of a written YAML line",
    ("candidacy/assessment/view.py", 14): "answers kept, as a power of two",
    ("candidacy/cohort/inputs/header_rows.py", 50): "rows looked at for the names of the columns",
    ("candidacy/cohort/inputs/header_rows.py", 0.6): "share of a row that is filled, against titles above a table",
    ("candidacy/cohort/inputs/suggest.py", 4000): "values looked at for a proposal",
    ("candidacy/foundation/usual_forms.py", 12): "inches in a foot",
    ("candidacy/reading/letters/parts.py", 1000.0): "milligrams of a gram",
    ("candidacy/reading/letters/shapes.py", 0.01): "share that rounding may part two units of one measure",
    ("candidacy/reading/notes/quantities.py", 3): "value of a Roman numeral",
    ("candidacy/reading/notes/quantities.py", 4): "value of a Roman numeral",
    ("candidacy/reading/notes/quantities.py", 5): "value of a Roman numeral",
    ("candidacy/reading/notes/layout.py", 0.8): "share of lines that begin with the mark of a quotation",
    ("candidacy/plan/cost.py", 100): "percent",
    ("candidacy/plan/discography.py", 6): "decimals of a float that are told apart",
    ("candidacy/plan/discography.py", 10): "tenths",
    ("candidacy/plan/make.py", 30): "days tried in the search for the earliest",
    ("candidacy/plan/obstacles.py", 7): "days of a week",
    ("candidacy/plan/obstacles.py", 24): "hours of a day",
    ("candidacy/plan/obstacles.py", 28): "days of the shortest month",
    ("candidacy/plan/obstacles.py", 365): "days of a year",
    ("candidacy/plan/pdf.py", 14): "size of letters in the drawing, and room for a mark",
    ("candidacy/plan/text.py", 12): "lines shown",
    ("candidacy/plan/text.py", 100): "width of a line",
    ("candidacy/plan/working_days.py", 60): "days looked through for a working day",
    ("candidacy/records/entries.py", 500): "length of a line",
    ("candidacy/records/plan_work.py", 380): "length of an act",
    ("candidacy/ui/referral/missing.py", 12): "rows shown at once",
    ("candidacy/ui/report/desk.py", 6): "findings that the history names",
    # --- elsewhere: sizes of pages, files, tables and memory
    ("candidacy/check/elements.py", 9): "largest digit",
    ("candidacy/check/elements.py", 10): "base of a check digit",
    ("candidacy/check/elements.py", 90): "length of a phrase that stands in a list",
    ("candidacy/cli.py", 100): "width of the help",
    ("candidacy/foundation/cache_folder.py", 64): "libraries kept",
    ("candidacy/foundation/parsed.py", 64_000_000): "size of a file",
    ("candidacy/cohort/engines/distributed.py", 18): "version of a package",
    ("candidacy/cohort/engines/distributed.py", 8): "slices read at once",
    ("candidacy/cohort/engines/slices.py", 100_000): "rows of a batch",
    ("candidacy/cohort/inputs/cells.py", 1e15): "whole numbers a float still tells apart",
    ("candidacy/cohort/engines/batches.py", 20_000): "rows read at once",
    ("candidacy/cohort/inputs/case_folder.py", 100): "records read before progress is told",
    ("candidacy/cohort/inputs/csv_text.py", 131_072): "length of a cell",
    ("candidacy/cohort/inputs/databases.py", 8): "first bytes of a file",
    ("candidacy/cohort/inputs/databases.py", 12): "first bytes of a file",
    ("candidacy/cohort/inputs/databases.py", 16): "first bytes of a file",
    ("candidacy/cohort/inputs/databases.py", 100_000): "rows read at once",
    ("candidacy/cohort/inputs/entry_lists.py", 5000): "cases written at once",
    ("candidacy/cohort/inputs/entry_lists.py", 10_000): "sets of entries remembered",
    ("candidacy/cohort/inputs/from_cases.py", 2000): "cases held before they are written",
    ("candidacy/cohort/inputs/guessed_cells.py", 3): "digits between commas that part thousands",
    ("candidacy/cohort/inputs/guessed_cells.py", 8): "texts named",
    ("candidacy/cohort/inputs/guessed_columns.py", 0.5): "share of rows with a known reference",
    ("candidacy/cohort/inputs/guessed_columns.py", 0.9): "share of texts that are levels",
    ("candidacy/cohort/inputs/guessed_columns.py", 200): "texts looked at",
    ("candidacy/cohort/inputs/guessed_headers.py", 4): "likeness of column names, of 100",
    ("candidacy/cohort/inputs/guessed_headers.py", 78): "likeness of column names, of 100",
    ("candidacy/cohort/inputs/parquet_files.py", 100_000): "rows read at once",
    ("candidacy/cohort/inputs/proposal.py", 110): "width of a written YAML line",
    ("candidacy/cohort/screening.py", 1e3): "bytes of a kilobyte",
    ("candidacy/cohort/screening.py", 1e6): "bytes of a megabyte",
    ("candidacy/cohort/screening.py", 1e9): "bytes of a gigabyte",
    ("candidacy/cohort/screening.py", 1e12): "bytes of a terabyte",
    ("candidacy/cohort/screening.py", 2e8): "least memory of an engine, in bytes",
    ("candidacy/cohort/inputs/text_rows.py", 20_000): "rows written at once",
    ("candidacy/cohort/inputs/column_kinds.py", 15): "decimal digits that a double holds",
    ("candidacy/cohort/inputs/unreadable.py", 200): "rows told",
    ("candidacy/cohort/inputs/unreadable.py", 500): "rows written at once",
    ("candidacy/cohort/inputs/workbooks.py", 4): "first bytes of a file",
    ("candidacy/commands/screen_text.py", 10): "lines shown",
    ("candidacy/commands/screen_text.py", 30): "lines shown",
    ("candidacy/ui/cohort/desk_tables.py", 3): "removals that can be taken back",
    ("candidacy/ui/cohort/form.py", 1000): "size of an upload, MB",
    ("candidacy/ui/cohort/run.py", 5000): "rows shown",
    ("candidacy/ui/cohort/page.py", 0.3): "seconds between two looks at a screening",
    ("candidacy/cohort/columns/element_tests.py", 1e-9): "rounding of a float",
    ("candidacy/cohort/output/flow_diagram.py", 0.8): "width of a line",
    ("candidacy/cohort/output/flow_diagram.py", 0.9): "share of a box that a line may take",
    ("candidacy/cohort/output/flow_diagram.py", 24): "steps drawn",
    ("candidacy/cohort/output/flow_diagram.py", 100): "size of type that is measured",
    ("candidacy/cohort/output/figures.py", 5): "dashes of a line",
    ("candidacy/cohort/output/figures.py", 8): "panels drawn",
    ("candidacy/cohort/output/figures.py", 9): "size of type in points",
    ("candidacy/cohort/output/figures.py", 75): "characters beside each other",
    ("candidacy/cohort/answers/masking.py", 3): "least threshold that leaves two counts possible",
    ("candidacy/cohort/inputs/intake.py", 24): "cells translated by an expression",
    ("candidacy/cohort/columns/joined_answers.py", 16): "answers that stand in an expression",
    ("candidacy/cohort/columns/lookups.py", 200): "rows looked at before inputs are drawn again",
    ("candidacy/cohort/inputs/rows.py", 60): "length of a reference",
    ("candidacy/cohort/screening.py", 4): "steps of the work, shown while it runs",
    ("candidacy/cohort/engines/sqltext.py", 719163): "day number of 1970-01-01",
    ("candidacy/cohort/columns/standings.py", 3): "standings still open that are told",
    ("candidacy/cohort/answers/sweep.py", 500): "points of a sweep",
    ("candidacy/cohort/output/writing.py", 5): "steps of the work, shown while it runs",
    ("candidacy/commands/assess.py", 80): "signs in a line of a file or a pipe",
    ("candidacy/commands/console.py", 60): "width of a terminal",
    ("candidacy/commands/console.py", 140): "width of a terminal",
    ("candidacy/commands/elements.py", 12): "elements shown in full",
    ("candidacy/commands/elements.py", 150): "length of a line",
    ("candidacy/foundation/errors.py", 60): "length of a value in a message",
    ("candidacy/explain/pdf.py", 16): "width of a column in percent of the page",
    ("candidacy/explain/pdf.py", 17): "width of a column in percent of the page",
    ("candidacy/explain/pdf.py", 48): "width of a table in percent of the page",
    ("candidacy/explain/pdf.py", 64): "width of a table in percent of the page",
    ("candidacy/explain/pdf_parts.py", 1.5): "space before a paragraph in points",
    ("candidacy/explain/pdf_parts.py", 8.5): "size of type in points",
    ("candidacy/reading/measures.py", 10.0): "millimetres of a centimetre",
    ("candidacy/reading/study.py", 0.2): "field strengths that scanners have, in tesla",
    ("candidacy/explain/wording.py", 3): "names listed before the rest is counted",
    ("candidacy/ui/head_line.py", 4): "megabytes of a case file",
    ("candidacy/ui/referral/criteria.py", 12): "missing facts shown",
    ("candidacy/ui/desk.py", 3): "records kept as cases",
    ("candidacy/ui/kept_documents.py", 32): "documents kept",
    ("candidacy/ui/desk.py", 500): "steps that can be undone",
    ("candidacy/ui/referral/spread.py", 250): "width of a field",
    ("candidacy/ui/referral/spread.py", 800): "width of a row of codes",
    ("candidacy/ui/referral/spread.py", 12): "codes shown beside each other",
    ("candidacy/ui/referral/spread.py", 7): "pixels of a letter",
    ("candidacy/ui/referral/spread.py", 38): "pixels around a code",
    ("candidacy/ui/referral/spread.py", 160): "pixels of the rest of a field",
    ("candidacy/ui/referral/disc_grid.py", 5): "columns of a grid",
    ("candidacy/ui/referral/panel.py", 3): "cautions shown before the rest is folded",
    ("candidacy/ui/quiet.py", 0.5): "seconds between two looks at what is to be tidied",
    ("candidacy/ui/quiet.py", 5.0): "seconds between two times of tidying",
    ("candidacy/ui/quiet.py", 100.0): "seconds of work for a second of sweeping",
    ("candidacy/ui/quiet.py", 10.0): "seconds of work before a sweep",
    ("candidacy/ui/quiet.py", 4.0): "how long a sweep waits for a moment of rest",
    ("candidacy/ui/store.py", 64): "sessions kept",
    ("candidacy/ui/store.py", 30.0): "seconds that a page is gone before its desk is laid down",
    ("candidacy/ui/store.py", 60.0): "seconds without work before a desk is made small",
    ("candidacy/ui/store.py", 4): "desks made small in one go",
    ("candidacy/ui/report/page.py", 20): "megabytes of a report",
    ("candidacy/reading/language.py", 0.15): "share of words known as English",
    ("candidacy/reading/language.py", 0.25): "share of words in another language",
    ("candidacy/reading/page_layout.py", 0.6): "share of its column that running text fills",
    ("candidacy/reading/template.py", 0.5): "share of statements that nobody filled in",
    ("candidacy/ui/report/page.py", 300): "reports read at once",
    ("candidacy/ui/side_by_side.py", 500): "cases read at once",
    # --- how a search, a brief answer and a blank record are laid out
    ("candidacy/case/search.py", 80.0): "nearness of spellings, percent, from which a name is offered",
    ("candidacy/case/search.py", 8): "near names offered",
    ("candidacy/case/search.py", 100): "percent",
    ("candidacy/cohort/columns/query.py", 100_000): "rows up to which layers are held",
    ("candidacy/cohort/columns/query.py", 500): "columns from which they are left out of the join of each lookup",
    ("candidacy/cohort/engines/embedded.py", 2_000_000): "bytes of a file that is held in memory",
    ("candidacy/foundation/plain_json.py", 150): "letters of a key",
    ("candidacy/cohort/engines/embedded.py", 2_000): "cases of a table that is worked out row by row",
    ("candidacy/commands/console.py", 110): "widest line",
    ("candidacy/interface/answer.py", 110): "widest line",
    ("candidacy/explain/blank_record.py", 120): "widest line",
    ("candidacy/explain/blank_record.py", 5): "room for a comment sign",
    ("candidacy/explain/brief.py", 5): "facts asked for before the rest is counted",
    ("candidacy/explain/brief.py", 3): "rows shown before the rest is counted",
    ("candidacy/explain/brief.py", 6): "failing criteria shown before the rest is counted",
    ("candidacy/explain/build.py", 16): "rule sets whose words are kept",
    ("candidacy/cohort/inputs/draft.py", 110): "width of a written YAML line",
    ("candidacy/cohort/inputs/fractions.py", 100): "percent",
    ("candidacy/cohort/inputs/samples.py", 2000): "rows looked at for samples and counts",
    ("candidacy/cohort/inputs/samples.py", 5): "sample cells shown",
    ("candidacy/cohort/inputs/workbook_marks.py", 4): "bytes of a record's head",
    ("candidacy/cohort/inputs/workbooks.py", 20000): "rows read at a time",
    ("candidacy/explain/deciding.py", 4): "differences told in the first line",
    ("candidacy/explain/first_page.py", 96): "signs in a printed line",
    ("candidacy/explain/first_page.py", 47): "lines of a printed page",
    ("candidacy/explain/first_page.py", 3): "reasons on page one",
    ("candidacy/explain/first_page.py", 0.6): "smallest share of the size of type",
    ("candidacy/explain/first_page.py", 0.92): "share of a page that text may fill",
    ("candidacy/explain/first_page.py", 220): "longest title, in signs",
    ("candidacy/explain/pdf_first_page.py", 8): "size of type, in points",
    ("candidacy/explain/pdf_parts.py", 11): "size of a heading, in points",
    ("candidacy/explain/pdf_parts.py", 9): "space before a heading, in points",
    ("candidacy/explain/pdf_parts.py", 4): "space before a heading, in points",
    ("candidacy/explain/pdf_parts.py", 40): "millimetres that a table and its headings want of a page",
    ("candidacy/explain/pdf_parts.py", 8): "size of type, in points",
    ("candidacy/explain/trial.py", 80): "length of a part of a file's name",
    ("candidacy/ui/cohort/mapping/answers.py", 24): "codes offered in a row",
    ("candidacy/ui/cohort/mapping/row.py", 8): "texts named in a row",
    ("candidacy/ui/cohort/mapping/section.py", 20): "rows shown at once",
    ("candidacy/ui/cohort/mapping/state.py", 200): "problems kept",
    ("candidacy/ui/kept/desk_files.py", 200): "desks kept",
    ("candidacy/ui/kept/desk_files.py", 30): "days that a desk is kept",
    ("candidacy/ui/own_library.py", 20.0): "seconds waited for other sessions",
    ("candidacy/ui/report/adding.py", 20): "megabytes of a file of reports",
    ("candidacy/ui/report/adding.py", 300): "reports on a desk",
    ("candidacy/ui/report/finding_rows.py", 3): "places that a row quotes",
    ("candidacy/ui/report/put.py", 6): "findings that the history names",
    ("candidacy/ui/side_by_side.py", 8): "rule sets of which cells are kept",
    ("candidacy/commands/records_text.py", 28): "width of a printed column",
    ("candidacy/commands/records_text.py", 10): "width of a printed column",
    ("candidacy/records/backup.py", 500): "rows copied at a time",
    ("candidacy/records/canonical.py", 16): "bytes of a salt",
    ("candidacy/records/database.py", 1667329636): "mark of a file",
    ("candidacy/records/database.py", 60.0): "seconds that a writer waits",
    ("candidacy/records/database.py", 68): "place of the mark in a SQLite file",
    ("candidacy/records/database.py", 72): "end of the mark in a SQLite file",
    ("candidacy/records/demo.py", 6): "invented rating",
    ("candidacy/records/demo.py", 7): "invented rating",
    ("candidacy/records/demo.py", 8): "invented rating",
    ("candidacy/records/demo.py", 5): "invented rating",
    ("candidacy/records/demo.py", 3): "invented rating",
    ("candidacy/records/demo.py", 4): "invented rating",
    ("candidacy/records/demo.py", 15): "invented hour",
    ("candidacy/records/verify.py", 200): "findings told one by one",
    ("candidacy/records/verify.py", 1000): "entries between two words of progress",
    ("candidacy/records/work.py", 200): "rows of a list",
    ("candidacy/conference/appropriateness.py", 7): "ratings by which disagreement is told, cited beside it",
    ("candidacy/conference/appropriateness.py", 3): "a third of the 1 to 9 scale, and ratings by panel size, cited beside it",
    ("candidacy/conference/appropriateness.py", 4): "a third of the 1 to 9 scale, and ratings by panel size, cited beside it",
    ("candidacy/conference/appropriateness.py", 5): "ratings by panel size, cited beside it",
    ("candidacy/conference/appropriateness.py", 6): "a third of the 1 to 9 scale",
    ("candidacy/conference/appropriateness.py", 9): "end of the 1 to 9 scale",
    ("candidacy/conference/minutes_text.py", 100): "width of a printed line",
    ("candidacy/conference/minutes_text.py", 8): "indent of a printed line",
    ("candidacy/conference/queue.py", 200): "referrals shown at once",
    ("candidacy/ui/work_list.py", 10): "signs of a day",
}  # fmt: skip


def modules() -> list[str]:
    found = [*ROOT.glob("candidacy/**/*.py"), *ROOT.glob("ui/**/*.py")]
    names = sorted(file.relative_to(ROOT).as_posix() for file in found)
    return [name for name in names if name not in LEFT_OUT]


def numbers(node: ast.AST) -> Iterator[ast.Constant]:
    for part in ast.walk(node):
        if isinstance(part, ast.Constant) and type(part.value) in (int, float) and part.value not in PLAIN:
            yield part


def compared(tree: ast.AST) -> Iterator[ast.Constant]:
    """Numbers that could be a threshold: compared with, a named constant, a default, or a value of a mapping."""
    for node in ast.walk(tree):
        parts: list[ast.AST | None] = []
        if isinstance(node, ast.Compare):
            parts = [node.left, *node.comparators]
        elif isinstance(node, ast.Call) and _name(node.func) in COMPARING:
            parts = [*node.args]
        elif isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(
            node.value, ast.Constant | ast.UnaryOp
        ):
            parts = [node.value]
        elif isinstance(node, ast.arguments):
            parts = [*node.defaults, *node.kw_defaults]
        elif isinstance(node, ast.Dict):
            parts = [*node.values]
        for part in parts:
            if part is not None:
                yield from numbers(part)


def _name(function: ast.AST) -> str:
    return getattr(function, "attr", getattr(function, "id", ""))


def suspects(module: str) -> Iterator[tuple[int, float]]:
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    found = numbers(tree) if module.startswith(DECIDES) else compared(tree)
    for constant in found:
        assert isinstance(constant.value, int | float)
        if not (module.startswith(COUNTS_WORDS) and isinstance(constant.value, int)):
            yield constant.lineno, constant.value


@each_row("module", modules())
def test_a_number_that_could_be_clinical_has_a_reason_or_stands_in_the_rules(module: str) -> None:
    found = [
        f"{module}:{line}: {value}" for line, value in suspects(module) if (module, value) not in ALLOWED
    ]
    assert found == [], "move it to rulesets/ (parameter, setting or table), or give its reason in ALLOWED"


@each_row(("module", "value"), [key for key in ALLOWED if key[0].startswith(DECIDES)])
def test_no_reason_outlives_its_number(module: str, value: float) -> None:
    assert value in {found for _, found in suspects(module)}
    assert ALLOWED[module, value]


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("if age > 75: pass", [75]),
        ("fact.at_most(50)", [50]),
        ("LIMIT = 0.7", [0.7]),
        ("def f(cut=7): pass", [7]),
        ("BANDS = {'mild': 20}", [20]),
        ("x = low + 1", []),
    ],
)
def test_the_scan_sees_what_a_threshold_looks_like(code: str, expected: list[float]) -> None:
    assert [constant.value for constant in compared(ast.parse(code))] == expected
