"""The standing on the screens: considered discs first and alone ticked, one strip of companions, no green in an emergency."""

import re

from tests.ui.conftest import demo


def panel(page):
    """The part of the page that holds the standing."""
    return next(body for body in page.bodies if "c-standing" in body)


def test_considered_discs_come_first_and_alone_bear_a_tick(screen):
    shown = panel(screen("referral.page.referral", demo("one-disc-candidate")))
    discs = re.findall(r"<li class=\"(\w+)\"><b>(\S+)</b>(.*?)</li>", shown)
    considered = [">considered<" in rest for _, _, rest in discs]
    assert len(discs) > 1
    assert considered == sorted(considered, reverse=True)
    for (tone, level, rest), own in zip(discs, considered, strict=True):
        assert ("✓" in rest) is own, level
        assert (tone in ("candidate", "pass")) is own, level


def test_an_emergency_hides_every_tick_and_all_green(screen):
    page = screen("referral.page.referral", demo("cauda-equina-signs"))
    shown = panel(page)
    assert "‼ Urgent" in shown
    assert "✓" not in shown
    assert not re.findall(r'class="[^"]*\b(?:pass|candidate)\b[^"]*"', shown)


def test_not_yet_bears_its_day_and_companions_stand_in_one_strip(screen):
    shown = panel(screen("referral.page.referral", demo("discography-nine-days-ago")))
    assert "<h2>○ Not yet, earliest 2026-12-15</h2>" in shown
    assert shown.count("c-strip") == 1
    strip = shown.split("c-strip")[1].split("</section>")[0]
    for title in ("Is the disc the source of the pain", "Procedural safety", "Report completeness"):
        assert title in strip
