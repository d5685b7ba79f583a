"""The page of a rule set that a committee reads: complete, in plain sentences, self-contained, and it prints.

Source attributes: 45 CFR 170.315(b)(11)(iv)(A), evidence-based decision support, as listed in the sheet on standards.
"""

import html
import re
import shutil
import subprocess
import unicodedata
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from candidacy.explain.page import rule_set_page
from candidacy.explain.ruleset import RuleSetDocument, describe_rule_set
from candidacy.rules.libraries import shipped
from candidacy.rules.rule_set_file import SourceAttributes
from candidacy.rules.vocabulary import GROUPS

# The 13 attributes of evidence-based decision support, release and revision date apart [seen: sheet on standards, 1].
ATTRIBUTES = (
    "bibliographic_citation", "developer", "funding_source", "release_date", "revision_date", "use_of_race",
    "use_of_ethnicity", "use_of_language", "use_of_sexual_orientation", "use_of_gender_identity", "use_of_sex",
    "use_of_date_of_birth", "use_of_social_determinants", "use_of_health_status_assessments",
)  # fmt: skip
SETS = list(shipped().rule_set_files())
each = pytest.mark.parametrize("name", SETS)


@cache
def document(name: str) -> RuleSetDocument:
    return describe_rule_set(shipped().rule_set(name))


@cache
def source(name: str) -> str:
    return rule_set_page(document(name))


@cache
def text(name: str) -> str:
    """The page as read: without markup, entities resolved, spaces joined."""
    body = re.sub(r"<style>.*?</style>", "", source(name), flags=re.DOTALL)
    return joined(html.unescape(re.sub(r"<[^>]+>", "", body)))


def joined(words: str) -> str:
    return " ".join(words.split())


@each
def test_scope_users_limits_and_review_date_stand_first(name: str) -> None:
    r, page = document(name), text(name)
    for words in [r.title, r.version, r.status, r.digest, r.scope, r.intended_users, r.population,
                  *r.out_of_scope, r.authoring_basis, *r.known_limits, r.not_tested_on, r.review_by]:  # fmt: skip
        assert joined(words) in page
    assert page.index("Scope") < page.index(GROUPS[r.criteria[0].group])
    assert "Not approved for use by a local committee" in page


@each
def test_every_criterion_stands_with_rule_reason_force_and_what_to_do_if_unknown(name: str) -> None:
    page = text(name)
    for c in document(name).criteria:
        for words in [c.title, c.id, c.rule, c.why, c.force_reason, c.ask_for, c.spread, c.act, *c.cautions]:
            assert joined(words) in page, (c.id, words)
        assert c.cites


@each
def test_every_parameter_stands_with_value_tag_alternatives_and_what_it_replaces(name: str) -> None:
    page = text(name)
    for p in [p for c in document(name).criteria for p in c.parameters] + document(name).settings:
        assert f"{joined(p.meaning)}: {joined(p.value)}" in page
        for cite in p.cites:
            place = f", {joined(cite.at)}" if cite.at else ""
            assert f"{cite.source}{place}: {cite.supports}, {cite.tag}" in page
        for alternative in p.alternatives:
            assert f"Elsewhere: {joined(alternative)}" in page
        if p.replaces is not None:
            assert f"eplaces {joined(p.replaces)}: {joined(p.reason)}" in page


def test_alternatives_name_their_source_and_tag() -> None:
    alternatives = [
        a for n in SETS for c in document(n).criteria for p in c.parameters for a in p.alternatives
    ]
    assert len(alternatives) > 50
    assert all(
        re.search(r"\[(seen|weak|memory|memory, low|common practice|local|derived)\]\)$", a)
        for a in alternatives
    )


def test_spreads_and_alternatives_are_there_to_be_shown() -> None:
    criteria = document("practice_baseline").criteria
    assert sum(bool(c.spread) for c in criteria) > 10
    assert sum(bool(p.alternatives) for c in criteria for p in c.parameters) > 10


@each
def test_every_source_cited_is_listed_with_what_was_seen_of_it(name: str) -> None:
    r, page = document(name), text(name)
    listed = {s.key for s in r.sources}
    cited = {c.source for item in r.criteria for c in item.cites}
    cited |= {c.source for item in r.criteria for p in item.parameters for c in p.cites}
    cited |= {c.source for s in r.settings for c in s.cites}
    assert cited <= listed
    for s in r.sources:
        assert f"{s.key}: {joined(s.text)}" in page
        assert not s.seen_as or f"Seen: {joined(s.seen_as)}." in page


@each
def test_source_attributes_for_decision_support_are_all_there(name: str) -> None:
    page = text(name)
    assert "45 CFR 170.315(b)(11)(iv)(A)" in page
    for field, value in document(name).source_attributes:
        assert value.strip()
        assert f"{field.replace('_', ' ')}{joined(value)}" in page
    assert tuple(SourceAttributes.model_fields) == ATTRIBUTES


@each
def test_decision_rules_changes_and_sign_off_close_it(name: str) -> None:
    r, page = document(name), text(name)
    for rule in r.decisions:
        assert joined(rule.when) in page
        assert rule.standing_name in page
        assert joined(rule.next_step) in page
    for change in r.changes:
        assert joined(change) in page
    sign_off = page[page.index("Sign-off") :]
    for words in ("Role", "Approved, refused or changed", "Signature", "Date", "Responsible physician"):
        assert words in sign_off


class _Outside(HTMLParser):
    """Collects what a page would fetch or run."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "link", "img", "iframe", "object", "embed", "form", "base"):
            self.found.append(tag)
        self.found += [
            f"{key}={value}" for key, value in attrs if key in ("src", "href") or key.startswith("on")
        ]


@each
def test_it_is_self_contained(name: str) -> None:
    outside = _Outside()
    outside.feed(source(name))
    assert outside.found == []
    assert "@import" not in source(name)
    assert "url(" not in source(name)


def test_it_has_a_style_for_print() -> None:
    style = source("practice_baseline").split("<style>")[1].split("</style>")[0]
    assert "@media print" in style
    assert "@page" in style


def test_it_prints(tmp_path: Path) -> None:
    chromium = shutil.which("chromium-headless-shell") or shutil.which("chromium")
    if chromium is None:
        pytest.skip("Chromium is not installed")
    pypdf = pytest.importorskip("pypdf")
    page, paper = tmp_path / "rules.html", tmp_path / "rules.pdf"
    page.write_text(source("report_completeness"), encoding="utf-8")
    flags = """--headless --no-sandbox --disable-gpu --disable-background-networking --disable-component-update
        --disable-sync --no-first-run"""
    command = [chromium, *flags.split(), f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={paper}"]
    subprocess.run([*command, page.as_uri()], check=True, capture_output=True, timeout=120)
    printed = joined(" ".join(sheet.extract_text() for sheet in pypdf.PdfReader(paper).pages))
    printed = unicodedata.normalize("NFKC", printed)  # ligatures
    assert "Sign-off" in printed
    for criterion in document("report_completeness").criteria[:5]:
        assert criterion.id in printed.replace(" ", "") or criterion.id in printed
