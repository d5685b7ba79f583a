"""From report text to a reading. One pass over the sentences; no image, no inference beyond the words."""

from bisect import bisect_left

from candidacy.reading import addendum, checks
from candidacy.reading.checklist import form_of, signs_of_form
from candidacy.reading.corrected import corrected, doubted
from candidacy.reading.dangers import gainsaid, with_danger
from candidacy.reading.document import sentences
from candidacy.reading.exam_date import exam_date
from candidacy.reading.gates import gate
from candidacy.reading.gathered import Gathered, not_of_all
from candidacy.reading.ledger import ledger, of_title
from candidacy.reading.levels import KEYS
from candidacy.reading.lexer import tokenise
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import ABSENT, NOT_READ, Reading
from candidacy.reading.other_scans import of_other_scans
from candidacy.reading.others import spelled_out
from candidacy.reading.place import Context
from candidacy.reading.questions import questions
from candidacy.reading.renamed import renamed
from candidacy.reading.spoken_marks import with_marks, with_whole_marks
from candidacy.reading.statement import read_form, read_statement
from candidacy.reading.strokes import with_bars
from candidacy.reading.study import study_facts
from candidacy.reading.unsaid import beside_unsaid


def read_text(text: str) -> Reading:
    """Read one imaging report given as text.

    The reading holds every finding with the span of its words and of each modifier that shaped it. It is the
    same for the same text, on any machine; any text is accepted, and text without findings gives none. What
    stands in the way of reading it is told in ``marks``; a report that is refused (`Reading.refusal`) has no findings.

    Examples
    --------
    >>> reading = read_text("L4-5: mild disc bulge without canal stenosis.")
    >>> [(f.disc, f.kind, f.value, f.status) for f in reading.findings]
    [('L4-L5', 'displacement', 'bulge', 'present'), ('L4-L5', 'canal_stenosis', 'present', 'absent')]
    """
    lex, given = lexicon(), text
    text = with_marks(with_bars(given))
    ctx = Context()
    out = Gathered()
    passed = gate(text, sentences(text, lex), lex)
    rows, forms = of_other_scans(text, passed.rows), signs_of_form(text)
    for number, sentence in enumerate(rows):
        if sentence.region not in NOT_READ:
            form = None
            if bisect_left(forms, sentence.start - 1) < bisect_left(forms, sentence.end):
                form = form_of(text, sentence.start, sentence.end, lex)
            if form is None:
                tokens = tokenise(text, sentence.start, sentence.end, lex)
                read_statement(text, number, sentence, tokens, ctx, lex, out)
                continue
            read_form(text, number, sentence, form, ctx, lex, out)
    if out.study:
        of_study = study_facts(text, out.study, lex)
        out.findings += of_study
        spans = {f.evidence for f in of_study}
        out.left_over = [u for u in out.left_over if u.span not in spans]
    settled = addendum.settle(
        text, rows, spelled_out(not_of_all(out), text, out.described, out.astray), passed.addenda
    )
    findings = tuple(settled.findings)
    named = out.named | {f.disc for f in findings}
    said = (*findings, *settled.replaced)
    day, asked = exam_date(text, rows)
    seen = with_danger([o for o in out.seen if o.status != ABSENT], findings)
    accounts = of_title(text, ledger(text, rows, out.heard, said, out.left_over, checks.dangers()), day)
    disagreeing = (
        *checks.contradictions(findings),
        *settled.contradictions,
        *beside_unsaid(findings, out.unsaid),
        *checks.beside_unread(findings, out.withdrawn),
        *addendum.unread(text, accounts, passed.addenda, findings),
        *renamed(text, accounts, passed.addenda, findings),
        *corrected(text, accounts, passed.addenda, findings),
        *doubted(text, accounts, findings),
        *gainsaid(text, accounts, rows, findings, seen, checks.dangers()),
    )
    told = addendum.told(accounts, len(findings)) if settled.replaced else accounts
    if text != given:
        rows, told = with_whole_marks(given, text, rows, told)
    return Reading(
        given,
        tuple(rows),
        findings,
        checks.red_flags((*findings, *out.withdrawn)),
        disagreeing,
        tuple(out.left_over),
        tuple(d for d in KEYS if d in named),
        tuple(dict.fromkeys(s.section for s in rows)),
        told,
        seen,
        (*asked, *questions(findings, disagreeing)),
        marks=(*passed.marks, *settled.marks),
        replaced=settled.replaced,
        addenda=passed.addenda,
        exam_date=day,
    )
