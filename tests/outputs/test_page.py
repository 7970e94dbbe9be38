"""The report page: complete, self-contained, and deaf to whatever a document tries to say to a browser."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import re
from html.parser import HTMLParser
from importlib import resources
from typing import Any

import pytest

from audit import Axis, Figure, Mark
from audit.habit import HABITS
from audit.model import Report, Rule
from plugins.outputs import drawing, glossary, page, page_cards, text

HOSTILE = (
    "</style></title><script>alert(1)</script><img src=x onerror='a'>\" onclick=\"b {{ 7*7 }} javascript:c "
    "http://x.example/ \u202e\x00\x1b"
)


class Parsed(HTMLParser):
    """The tags with their attributes, and the text outside the style sheet."""

    def __init__(self, data: bytes):
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(data.decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.lasttag not in ("style", "script"):
            self.text += data

    @property
    def words(self) -> str:
        return " ".join(self.text.split())

    @property
    def ids(self) -> list[str]:
        return [attributes["id"] or "" for _, attributes in self.tags if "id" in attributes]

    @property
    def structure(self) -> list[tuple[str, tuple[str, ...]]]:
        # words on a figure stand on as many lines as they need
        return [(tag, tuple(attributes)) for tag, attributes in self.tags if tag != "text"]


def parsed(report: Report) -> Parsed:
    return Parsed(page.write(report))


def filled_with(report: Report, words: str) -> Report:
    """Return the report with `words` in place of every text, except where a closed list of ours gives it."""
    closed = ("verdict", "side", "reasons", "tier", "relation", "role", "origin", "about")

    def fill(value: Any, key: str = "") -> Any:
        if key in closed or value == "":
            return value
        if isinstance(value, str):
            return words
        if isinstance(value, dict):
            return {each: fill(inner, each) for each, inner in value.items()}
        if isinstance(value, Figure | Mark | Axis):
            named = ("title", "alternative", "product", "unit", "labels")
            inner = {name: fill(getattr(value, name)) for name in named if hasattr(value, name)}
            inner |= {"marks": fill(list(value.marks))} if isinstance(value, Figure) else {}
            return dataclasses.replace(value, **inner)
        return [fill(each) for each in value] if isinstance(value, list | tuple) else value

    names = [field.name for field in dataclasses.fields(report) if field.name != "rule"]
    return dataclasses.replace(report, **{name: fill(getattr(report, name)) for name in names})


@pytest.fixture
def whole(decided, seconded):
    """A report in which every part of the page occurs."""
    return dataclasses.replace(
        decided, missing=["a waveform"], readings=seconded.readings, second_opinion=seconded.second_opinion
    )


def test_everything_a_reader_needs_is_said(report):
    words = parsed(report).words
    assert "Claims against evidence gallery Of 5 claims" in words
    assert "Decision rule: guarded, one-sided confidence 95 % (JCGM 106:2012, 8.3)." in words
    for finding in report.findings:
        for part in (
            finding["claim"],
            finding["message"],
            finding["ask"],
            finding["method"],
            *finding["reasons"],
        ):
            assert part in words
        for each in finding["evidence"]:
            assert f"{each['document']}, {each['place']}" in words
            assert each["raw"] in words
            assert each["role"] in words
    for observation in report.observations:
        assert observation["message"] in words
        assert observation["subject"] in words
        assert observation["ask"] in words
    for each in report.inputs:
        assert each["path"] in words
        assert each["sha256"] in words
        assert text.report_words(each) in words
    for sentence in (*report.methods, *glossary.VERDICTS.values(), *glossary.REASONS.values()):
        assert sentence in words
    for heading, sentence in glossary.CAUTIONS:
        assert heading in words
        assert sentence in words


def test_figures_stand_with_uncertainty_unit_limit_and_margin(report):
    words = parsed(report).words
    for figures in (
        "Contradicted misses as measured Value −0.00471 ± 0.00060 unit 3, 100 % level, 4000 K setting "
        "Limit −0.003 to 0.003 Margin −0.00122 to inconclusive, −4.1 u Chance of meeting below 0.1 %",
        "Value 1248 ± 37 lm 3000 K setting, 25 °C ambient Limit at least 1200 lm Margin none Chance of meeting none",
    ):
        assert figures in words


def test_conclusion_counts_what_fails_first(report, make_report, make_finding):
    assert page.conclusion(report) == [
        "Of 5 claims, 1 is contradicted, 1 overreaching, 1 inconclusive, 1 unevidenced and 1 supported.",
        "Beside the claims, 1 matter is for a competent person to decide, 1 major observation needs an answer and "
        "1 minor question is open.",
    ]
    fine = make_report(findings=[make_finding(), make_finding(claim_id="G02")], observations=[])
    assert page.conclusion(fine) == [
        "All 2 claims are supported.",
        "Nothing else in the documents needs an answer.",
    ]


def test_the_simple_rule_says_so(make_report):
    words = parsed(make_report(rule=Rule(name="simple"))).words
    assert "Decision rule: simple, the measured side alone decides (JCGM 106:2012, 8.2)." in words


def test_claims_stand_worst_first(report):
    order = [each for each in parsed(report).ids if re.fullmatch(r"claim-G\d+", each)]
    assert order == ["claim-G02", "claim-G04", "claim-G03", "claim-G05", "claim-G01"]


def test_every_verdict_is_a_word_beside_its_mark(report):
    html = page.write(report).decode()
    for verdict in glossary.VERDICTS:
        assert re.search(rf'<use href="#mark-{verdict}"/></svg> {verdict.capitalize()}</span>', html)
        assert f'<symbol id="mark-{verdict}"' in html


def test_every_claim_can_be_linked_to(make_report, make_finding):
    ids = ["A 1", "A-1", "a/1", "A-1-2", "", "<b>", "🪶", "A 1"]
    found = parsed(make_report(findings=[make_finding(claim_id=each) for each in ids])).ids
    anchors = [each for each in found if each.startswith("claim-") and not each.endswith(("-title", "-evidence"))]
    assert len(anchors) == len(ids) == len({each.casefold() for each in anchors})
    assert all(re.fullmatch(r"claim-[A-Za-z0-9-]+", each) for each in anchors)
    assert len(found) == len(set(found))


def test_every_link_stays_on_the_page_and_finds_its_target(whole):
    found = parsed(whole)
    links = [attributes["href"] for _, attributes in found.tags if "href" in attributes]
    assert links
    assert {link[1:] for link in links if link} <= set(found.ids)
    assert all(link[0] == "#" for link in links)
    labels = [attributes["aria-labelledby"] for _, attributes in found.tags if "aria-labelledby" in attributes]
    assert set(labels) <= set(found.ids)


def test_page_fetches_nothing_and_runs_its_own_script_alone(whole):
    html = page.write(filled_with(whole, HOSTILE)).decode()
    assert not re.search(r"url\((?!#)|@import|<link|<iframe|<object|<base|<img", html)
    (script,) = re.findall(r"(?s)<script>(.*?)</script>", html)
    assert script == resources.files("plugins.outputs").joinpath("page.js").read_text(encoding="utf-8").strip()
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', html)
    assert f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}';" in policy
    assert not re.search("https?:", page.write(whole).decode())


def test_hostile_text_changes_nothing_but_text(whole):
    harmless, hostile = parsed(filled_with(whole, "reed")), parsed(filled_with(whole, HOSTILE))
    assert hostile.structure == harmless.structure
    assert text.visible(HOSTILE) in hostile.text
    values = [value or "" for _, attributes in hostile.tags for key, value in attributes.items() if key != "aria-label"]
    assert not any("javascript" in value and not value.startswith(("claim-", "#claim-")) for value in values)


def test_no_hidden_character_reaches_the_page(whole):
    html = page.write(filled_with(whole, HOSTILE)).decode()
    assert set(text.UNSAFE.findall(html)) == {"\n"}
    assert "\\u202e" in html
    assert "\\u0000" in html


def test_page_is_sound_html(whole):
    """Elements that need an end have one, in order; tables have captions and headings with a scope."""
    html = re.sub(r"(?s)<style>.*?</style>|<script>.*</script>", "", page.write(whole).decode())
    stack = []
    for end, tag, rest in re.findall(r"<(/?)([a-z][a-z0-9]*)((?:[^>\"]|\"[^\"]*\")*)>", html):
        if end:
            assert stack.pop() == tag
        elif tag != "meta" and not rest.endswith("/"):
            stack.append(tag)
    assert not stack
    found = parsed(whole)
    tags = [tag for tag, _ in found.tags]
    assert tags.count("table") == tags.count("caption") > 0
    assert tags.count("main") == tags.count("h1") == 1
    assert all("scope" in attributes for tag, attributes in found.tags if tag == "th")
    assert ("html", {"lang": "en"}) in found.tags


def test_page_without_claims(without_claims):
    found = parsed(without_claims)
    assert "There was no claim to judge. 40 values were read or computed from 2 documents." in found.words
    assert all(each in found.words for each in without_claims.missing)
    assert "claims" not in found.ids
    assert "#claims" not in [attributes.get("href") for _, attributes in found.tags]


def test_empty_folder_has_a_page(make_report):
    report = make_report(
        inputs=[], claims=[], findings=[], observations=[], readings=[], methods=[], missing=["a document"]
    )
    assert "The folder was empty." in parsed(report).words


def test_long_audits_stay_light_and_say_what_is_left_out(make_report, make_finding, report):
    evidence = list(report.findings[0]["evidence"]) * 20
    findings = [make_finding(claim_id=f"C{number}", evidence=evidence) for number in range(200)]
    readings = list(report.readings) * 100
    data = page.write(make_report(findings=findings, readings=readings))
    print(f"page of 200 claims: {len(data) / 1e6:.2f} MB")
    assert len(data) < 3_000_000
    words = Parsed(data).words
    assert "The first 500 of 4000 values. The other 3500 are left out" in words
    assert "35 more places in findings.json." in words


def test_products_share_the_rows(make_report, report):
    readings = [{**each, "product": f"P{number}"} for number in range(3) for each in list(report.readings) * 10]
    shown = page.readings_by_product(readings)
    assert [len(group["rows"]) for group in shown["groups"]] == [166, 166, 166]
    many = page.readings_by_product([{**report.readings[0], "product": f"P{number}"} for number in range(250)])
    assert (len(many["groups"]), many["more_products"]) == (100, 150)


def test_questions_are_asked_once_and_name_their_claims(make_report, make_finding):
    findings = [make_finding(claim_id=each, ask="Which edition?") for each in ("C1", "C2")]
    words = parsed(make_report(findings=findings, observations=[])).words
    assert "Which edition? (C1, C2)" in words


def test_many_notes_are_folded(make_report, report):
    notes = [{**report.observations[0], "message": f"note {number}"} for number in range(9)]
    assert "All 9" in parsed(make_report(observations=notes)).words


def test_same_report_same_page(report):
    turned = dataclasses.replace(report, findings=report.findings[::-1], observations=report.observations[::-1])
    assert page.write(turned) == page.write(report)


def test_decisions_stand_beside_the_untouched_results(report, decided):
    page_words = parsed(decided).words
    on_finding, on_reading, on_observation, stale = decided.decisions
    card = page_words.partition("G02 ·")[2].partition("Evidence and working")[0]
    assert "Contradicted misses as measured" in card
    assert f"rejected by R. Glasswort, 2026-05-31: {on_finding['reason']}" in card
    card = page_words.partition("G03 ·")[2].partition("Evidence and working")[0]
    assert "Inconclusive misses as measured" in card
    assert f"corrected to 89.9 by R. Glasswort, 2026-05-31: {on_reading['reason']}" in card
    assert f"on the reading {on_reading['identity']}" in card
    assert "cell G18 to 89.9: supported. The finding stands as computed." in card
    observed = page_words.partition("the report mentions an emergency mode")[2]
    assert f"accepted by R. Glasswort, 2026-05-31: {on_observation['reason']}" in observed
    section = page_words.partition("Decisions handed in")[2].partition("What was read and computed")[0]
    assert all(each["identity"] in section for each in decided.decisions)
    assert "nothing, it is stale: since then changed: the claim" in section
    assert section.index(stale["identity"]) < section.index(on_finding["identity"])
    assert page.conclusion(decided) == page.conclusion(report)


def test_identities_are_there_to_copy(report):
    words = parsed(report).words
    assert all(each["identity"] in words for each in (*report.findings, *report.observations))
    deciding = [row for each in report.findings for row in each["evidence"] if row["role"] == "deciding"]
    assert all(row["identity"] in words for row in deciding)


def test_many_decisions_are_cut_and_say_so(make_report, decided):
    words = parsed(make_report(decisions=list(decided.decisions) * 100)).words
    assert "200 more decisions in findings.json." in words


def palettes() -> dict[str, dict[str, str]]:
    css = resources.files("plugins.outputs").joinpath("page.css").read_text(encoding="utf-8")
    blocks = [dict(re.findall(r"--(\w+): (#\w+)", block)) for block in re.findall(r":root \{([^}]*)\}", css)]
    return dict(zip(("light", "dark", "print"), blocks, strict=True))


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    linear = [
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4
        for share in (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize("ink", ["ink", "soft", "water", "samphire", "reed", "lavender", "mud"])
def test_contrast_is_enough_for_small_text(scheme, ink):
    """WCAG 2.2, success criterion 1.4.3 (AA): at least 4.5 to 1, by its definition of relative luminance."""
    colours = palettes()[scheme]
    for ground in ("ground", "sheet"):
        lighter, darker = sorted((luminance(colours[ink]), luminance(colours[ground])), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 4.5


def test_figures_are_shown_with_words_and_a_way_to_their_claims(report):
    page_of = parsed(report)
    assert ("figure", {"id": "figure-ra-over-cct"}) in page_of.tags
    assert "Ra rises from 92.4 at 2700 K to 93.1 at 6500 K." in page_of.words
    assert "unit 4: 92.4" in page_of.words  # what stands over a point
    assert "#figures" in [attributes.get("href") for tag, attributes in page_of.tags if tag == "a"]


def test_page_without_figures_says_nothing_of_them(make_report):
    assert "#figures" not in [attributes.get("href") for _, attributes in parsed(make_report(figures=[])).tags]


def test_figures_of_one_name_have_identifiers_of_their_own(make_report, make_figure):
    ids = parsed(make_report(figures=[make_figure(), make_figure(product="another")])).ids
    assert {"figure-ra-over-cct", "figure-ra-over-cct-2"} <= set(ids)
    assert len(ids) == len(set(ids))


def test_a_figure_that_cant_be_drawn_is_told_in_words(make_report, make_figure, monkeypatch):
    def fails(shown: Figure, anchor: str, say: object) -> str:
        if shown.title == "broken":
            raise OverflowError("too steep")
        return "<svg></svg>"

    monkeypatch.setattr(drawing, "svg", fails)
    page_of = parsed(make_report(figures=[make_figure(title="broken"), make_figure(title="sound")]))
    assert "could not be drawn (OverflowError: too steep)" in page_of.words
    assert page_of.words.count("Ra rises from 92.4") == 2
    assert ("svg", {}) in page_of.tags


def test_many_figures_are_cut_and_say_so(make_report, make_figure):
    words = parsed(make_report(figures=[make_figure(product=str(n)) for n in range(page.MOST_FIGURES + 3)])).words
    assert "3 more figures left out of this page" in words


def test_a_claim_tells_what_the_evidence_carries(make_report, report):
    """The strongest honest claim stands under the finding, in the words of findings.json."""
    told = {"definition": "", "lower": 91.0, "upper": None, "units": 2, "sentence": "Ra: at least 91 (each of 2 units)"}
    findings = [dict(finding, strongest=[told]) for finding in report.findings[:1]]
    html = page.write(make_report(findings=findings)).decode()
    assert html.count("<b>The evidence carries</b> Ra: at least 91 (each of 2 units).") == 1
    assert "The evidence carries" not in page.write(report).decode()


def test_figures_and_dates_are_said_as_the_reader_has_them(decided):
    eu = parsed(dataclasses.replace(decided, habit=HABITS["eu"])).words
    assert "Value −0,00471 ± 0,00060" in eu
    assert "Limit −0,003 to 0,003 Margin −0,00122" in eu
    assert "0,04 below the limit, with an expanded uncertainty of 1,0" in eu
    assert "rejected by R. Glasswort, 31 May 2026" in eu
    assert "corrected to 89.9 by" in eu  # what a person wrote into decisions.csv
    assert "CIE 13.3-1995" in eu
    assert "0.000121, 0.000130 ..." in eu
    us = parsed(dataclasses.replace(decided, habit=HABITS["us"])).words
    assert "25 °C (77 °F) ambient" in us
    assert "May 31, 2026" in us


def test_sections_stand_in_the_order_in_which_they_are_needed(whole):
    found = [each for each in parsed(whole).ids if not each.startswith(("claim-", "question-"))]
    order = ["claims", "figures", "observations", "ask", "methods", "second", "inputs", "cautions", "words"]
    assert [each for each in found if each in order] == order


def test_the_staff_shows_value_limits_and_the_ground_that_is_claimed(make_finding):
    """92.4 ± 1.0 against at least 90: post, then the spread about the value, on ground up to the right end."""
    drawn = page_cards.staff(make_finding())
    assert drawn["limits"][0] < drawn["low"] < drawn["value"] < drawn["high"] < page_cards.STAFF
    assert drawn["ground"] == (drawn["limits"][0], page_cards.STAFF)
    scale = (drawn["value"] - drawn["limits"][0]) / (92.4171 - 90)
    assert drawn["high"] - drawn["value"] == pytest.approx(1.0 * scale, abs=0.2)
    outside = page_cards.staff(
        make_finding(value=-0.0047, limit=[-0.003, 0.003], relation="within", expanded_uncertainty=None)
    )
    assert outside["value"] == outside["low"] == outside["high"] < outside["ground"][0] < outside["ground"][1]
    most = page_cards.staff(make_finding(relation="at_most", value=90.0, limit=90.0, expanded_uncertainty=None))
    assert most["ground"] == (0.0, most["value"])
    assert page_cards.staff(make_finding(value=None)) == page_cards.staff(make_finding(limit=None)) == {}
    assert page_cards.staff(make_finding(limit=float("inf"))) == {}


def test_what_a_claim_rests_on_and_what_to_ask_stand_without_a_click(report):
    card = parsed(report).words.partition("G02 ·")[2].partition("Evidence and working")[0]
    assert "Rests on LR-0417 spectra.csv, row 17, cells E17:OO17. Question 1 asks about it." in card
    other = parsed(report).words.partition("G04 ·")[2].partition("Evidence and working")[0]
    assert "Nearest to it: LR-0417 photometry.xlsx, sheet 'Flux', row 4, cell D4." in other


def test_the_strongest_honest_claims_are_listed_beside_what_is_claimed(make_report, report):
    told = {"definition": "", "lower": 91.0, "upper": None, "units": 2, "sentence": "Ra: at least 91"}
    findings = [dict(report.findings[0], strongest=[told]), *report.findings[1:]]
    section = parsed(make_report(findings=findings)).words.partition("What is claimed, and what the evidence")[2]
    assert (
        "G01 SupportedGeneral colour rendering index at least 90, every unit and every settingRa: at least 91"
        in section
    )
    assert "Nothing is carried of G02, G03, G04, G05:" in section


def test_what_rests_on_memory_is_listed_with_its_claims(report, make_report):
    assert "defaults of the register are MEMORY (chosen) (G01, G02)" in parsed(report).words
    assert "No finding here rests on such a value." in parsed(make_report(memory=[])).words


def test_the_letter_asks_each_question_once_and_says_of_what(report):
    asked = page.questions([{**each, "names": [], "title": "Duv"} for each in report.findings])
    lines = page.letter(report, asked, page.remedies(text.by_tier(report.observations)))
    assert lines[:4] == [
        f"Questions on {report.findings[0]['product']}",
        "",
        "1. How are the two channels mixed from 3500 K to 4500 K, and is ±0.003 meant there?",
        "   (G02, Duv)",
    ]
    assert sum(line[:1].isdigit() for line in lines) == 4 + 3
    assert page.letter(report, {}, {}) == []


def test_a_second_opinion_stands_beside_our_values(seconded, report):
    words = parsed(seconded).words
    section = words.partition("Our values beside those of colour-science 0.4.7")[2]
    assert "general colour rendering index Ra2592.4292.41−0.008unit 4" in section
    assert "Special colour rendering index R9: 3 of 25 values differ." in words.replace("special", "Special")
    assert "92.4171 92.4094 by colour-science 0.4.7" in words.partition("Where the evidence for G01 stands")[2]
    assert "Second opinion" not in parsed(report).words


def test_only_what_leaves_a_choice_can_be_narrowed_down(report, make_report, make_finding):
    named = [attributes["name"] for tag, attributes in parsed(report).tags if tag == "select"]
    assert named == ["verdict", "quantity"]  # of one product there is nothing to choose
    alike = [make_finding(), make_finding(claim_id="G02")]
    assert "form" not in [tag for tag, _ in parsed(make_report(findings=alike)).tags]


def test_a_chance_is_told_of_what_was_measured_alone(make_report, make_finding):
    """A claim that goes further than its evidence has it as far as measured; what nothing measured has none."""
    beyond = make_finding(claim_id="M", verdict="overreaching", side="meets as measured", probability=0.91)
    modelled = make_finding(claim_id="N", verdict="overreaching", side="", probability=1.0)
    words = parsed(make_report(findings=[beyond, modelled])).words
    assert "Chance of meeting 91.0 % as far as measured" in words
    assert words.count("as far as measured") == 1
