"""The report page in a browser: read on a phone and a desk, narrowed down, walked by keyboard, printed."""

from __future__ import annotations

import dataclasses
import io
import re

import pytest
from browsing import chromium

from audit.habit import HABITS
from audit.model import Habit
from plugins.outputs import page

pytestmark = pytest.mark.browser

LONG = "Reed-and-samphire-display-case-luminaire-" * 6
HOSTILE = "</script><script>document.title='taken'</script><img src=x onerror=\"document.title='taken'\">' onfocus=x "
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]  # of axe-core
EDGES = """() => {
  document.querySelectorAll("details").forEach(each => each.open = true);
  const wide = [...document.querySelectorAll("body *")].filter(each => !each.closest(".scroll, .skip, thead"));
  return [document.documentElement.scrollWidth, Math.max(...wide.map(each => each.getBoundingClientRect().right))];
}"""
VISIBLE = "() => [...document.querySelectorAll('.claim')].filter(each => each.offsetHeight).map(each => each.id)"
FOCUSED = """() => {
  const at = document.activeElement, box = at.getBoundingClientRect();
  const style = getComputedStyle(at);
  return [at.name || at.textContent.trim().slice(0, 40), style.outlineStyle, box.width * box.height > 0];
}"""


@pytest.fixture(scope="module")
def browser():
    with chromium() as found:
        yield found


@pytest.fixture
def opened(browser, tmp_path):
    """Open a report, watched: no console message, no failed script and no request beyond the file itself."""
    contexts, told = [], []

    def show(report, width=1280, height=900, scheme="light", at="", script=True):
        source = tmp_path / f"report-{len(contexts)}.html"
        source.write_bytes(page.write(report))
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, java_script_enabled=script
        )
        contexts.append(context)
        shown = context.new_page()
        shown.on("console", lambda message: told.append(message.text))
        shown.on("pageerror", lambda error: told.append(str(error)))
        shown.on("request", lambda request: told.append(request.url) if request.url != asked else None)
        asked = source.as_uri()
        shown.goto(asked + at)
        return shown

    yield show
    for context in contexts:
        context.close()
    assert told == []


@pytest.fixture
def crowded(make_report, make_finding, report, seconded):
    """The gallery, and beside it a claim and observations with names that have no place to break."""
    hard = make_finding(claim_id=LONG, product=LONG, claim=LONG, message=LONG, unit="lm/W", ask=LONG, method=LONG)
    hard["evidence"] = [{**each, "document": LONG, "place": LONG, "raw": LONG} for each in hard["evidence"]]
    remarks = [{**each, "message": LONG, "document": LONG, "place": LONG} for each in report.observations]
    return make_report(
        folder=LONG,
        findings=[*report.findings, hard],
        observations=[*report.observations, *remarks],
        second_opinion=seconded.second_opinion,
    )


@pytest.mark.parametrize("width", [360, 768, 1280, 3840])
def test_nothing_overflows(opened, crowded, width):
    scrolled, rightmost = opened(crowded, width).evaluate(EDGES)
    assert scrolled <= width
    assert rightmost <= width


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_it_meets_the_guidelines_for_accessibility(opened, decided, seconded, width, scheme):
    """WCAG 2.2 AA and best practice, as far as axe-core can tell, with everything unfolded."""
    from axe_playwright_python.sync_playwright import Axe

    whole = dataclasses.replace(decided, readings=seconded.readings, second_opinion=seconded.second_opinion)
    shown = opened(whole, width, scheme=scheme)
    shown.evaluate(EDGES)
    found = Axe().run(shown, options={"runOnly": RULES})
    assert [(each["id"], each["nodes"][0]["html"]) for each in found.response["violations"]] == []
    assert len(found.response["passes"]) > 20


def test_claims_are_narrowed_down_and_the_count_is_announced(opened, report, make_finding, make_report):
    other = make_finding(claim_id="H01", product="Samphire 20", verdict="supported")
    shown = opened(make_report(findings=[*report.findings, other]))
    status = shown.get_by_role("status").first
    assert status.inner_text() == "6 of 6 shown"
    shown.get_by_role("combobox", name="Verdict").select_option(label="supported (2)")
    assert sorted(shown.evaluate(VISIBLE)) == ["claim-G01", "claim-H01"]
    assert status.inner_text() == "2 of 6 shown"
    assert not shown.get_by_role("heading", name="Contradicted 1").is_visible()
    shown.get_by_role("combobox", name="Product").select_option(label="Samphire 20 (1)")
    assert shown.evaluate(VISIBLE) == ["claim-H01"]
    shown.get_by_role("button", name="Show all").click()
    shown.wait_for_function("document.getElementById('filter-status').textContent === '6 of 6 shown'")
    shown.get_by_role("combobox", name="Quantity").select_option(label="distance from the Planckian locus (1)")
    assert shown.evaluate(VISIBLE) == ["claim-G02"]


def test_a_link_to_a_finding_leads_there_whatever_is_narrowed_down_or_folded(opened, report):
    shown = opened(report, at="#claim-G04")
    assert shown.locator("#claim-G04").evaluate("each => each.getBoundingClientRect().top") < 200
    shown.get_by_role("combobox", name="Verdict").select_option("supported")
    assert not shown.locator("#claim-G04").is_visible()
    shown.evaluate("location.hash = '#claim-G02-evidence'")
    shown.locator("#claim-G02-evidence table").wait_for(state="visible")
    assert len(shown.evaluate(VISIBLE)) == 5
    assert shown.get_by_text("0.000121, ...").first.is_visible()


def test_without_script_everything_is_shown(opened, report):
    shown = opened(report, script=False)
    assert all(shown.locator(f"#claim-{each['claim_id']}").is_visible() for each in report.findings)
    assert not shown.locator("#filter").is_visible()
    assert not shown.locator("#copy").is_visible()
    shown.locator("#claim-G02 summary").click()
    assert shown.locator("#claim-G02 table").is_visible()


def test_the_keyboard_reaches_everything_in_order_and_shows_where_it_is(opened, report):
    shown = opened(report)
    walked = []
    while not walked or not shown.evaluate("document.activeElement === document.body"):
        shown.keyboard.press("Tab")
        walked.append(shown.evaluate(FOCUSED))
    walked.pop()  # past the last one the focus is the browser's
    names = [name for name, *_ in walked]
    assert names[0] == "Skip to the report"
    order = ["Claims", "verdict", "quantity", "G02", "Evidence and working"]
    places = [names.index(each) for each in order]
    assert places == sorted(places)
    assert [name for name, outline, seen in walked if outline == "none" or not seen] == []
    shown.locator("#claim-G02 summary").focus()
    shown.keyboard.press("Enter")
    assert shown.locator("#claim-G02 table").is_visible()
    shown.get_by_role("combobox", name="Verdict").focus()
    shown.keyboard.press("c")
    assert shown.evaluate(VISIBLE) == ["claim-G02"]


def test_questions_are_copied_as_text(opened, report):
    shown = opened(report)
    shown.context.grant_permissions(["clipboard-read", "clipboard-write"])
    shown.get_by_role("button", name="Copy all as text").click()
    shown.get_by_text("Copied.").wait_for()
    copied = shown.evaluate("navigator.clipboard.readText()")
    assert copied.startswith("Questions on Saltern 90 downlight\n\n1. How are the two channels mixed")
    assert "   (G02, distance from the Planckian locus)" in copied
    assert all(each["ask"] in copied for each in (*report.findings, *report.observations))


def test_questions_that_may_not_be_copied_are_selected(opened, report):
    shown = opened(report)
    shown.evaluate("() => { navigator.clipboard.writeText = () => Promise.reject(new Error('no')); }")
    shown.get_by_role("button", name="Copy all as text").click()
    shown.get_by_text("the text is selected").wait_for()
    assert "1. How are the two channels mixed" in shown.evaluate("getSelection().toString()")


def test_words_of_documents_stay_words(opened, make_report, make_finding, make_figure, report):
    texts = ("claim_id", "product", "claim", "message", "ask", "method", "statistic", "definition", "quantity", "unit")
    hard = make_finding(**dict.fromkeys(texts, HOSTILE), operating_point={"serial": HOSTILE})
    hard["evidence"] = [
        {**each, "document": HOSTILE, "place": HOSTILE, "raw": HOSTILE, "operating_point": {"serial": HOSTILE}}
        for each in hard["evidence"]
    ]
    hard["strongest"] = [{"sentence": HOSTILE}]
    spoilt = [
        {**each, "message": HOSTILE, "ask": HOSTILE, "document": HOSTILE, "place": HOSTILE, "subject": HOSTILE}
        for each in report.observations
    ]
    inputs = [{**each, **dict.fromkeys(("path", "laboratory", "report_number"), HOSTILE)} for each in report.inputs]
    readings = [{**each, "product": HOSTILE, "raw": HOSTILE, "document": HOSTILE} for each in report.readings]
    figure = make_figure(title=HOSTILE, alternative=HOSTILE, product=HOSTILE)
    shown = opened(
        make_report(
            folder=HOSTILE,
            findings=[*report.findings, hard],
            observations=spoilt,
            inputs=inputs,
            readings=readings,
            figures=[figure],
            missing=[HOSTILE],
            methods=[HOSTILE],
        )
    )
    shown.get_by_role("combobox", name="Quantity").select_option(index=2)
    shown.get_by_role("button", name="Show all").click()
    assert shown.title().endswith("claims and evidence")
    assert shown.locator("script").count() == 1
    assert shown.locator("img, [onerror], [onfocus]").count() == 0


def test_dark_is_dark_and_light_is_light(opened, report):
    for scheme, dark in (("light", False), ("dark", True)):
        ground = opened(report, scheme=scheme).evaluate("getComputedStyle(document.documentElement).backgroundColor")
        assert (sum(map(int, re.findall(r"\d+", ground))) < 200) is dark


def test_a_picture_shows_more_than_a_blank_sheet(opened, report):
    from PIL import Image

    picture = Image.open(io.BytesIO(opened(report, 360, 780).screenshot()))
    assert picture.size == (360, 780)
    assert len(picture.getcolors(1 << 20)) > 50


def pages(shown) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", shown.pdf(prefer_css_page_size=True)))


@pytest.mark.parametrize(("habit", "size"), [(Habit(), (594, 842)), (HABITS["us"], (612, 792))])
def test_paper_has_the_size_that_the_reader_uses(opened, report, habit, size):
    printed = opened(dataclasses.replace(report, habit=habit)).pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
    assert boxes
    assert all(abs(float(box[0]) - size[0]) < 2 and abs(float(box[1]) - size[1]) < 2 for box in boxes)


def test_paper_carries_the_evidence_but_not_the_long_list_of_values(opened, make_report, report):
    def printed(**changes):
        return pages(opened(make_report(**changes)))

    def with_evidence(times):
        return [{**each, "evidence": list(each["evidence"]) * times} for each in report.findings]

    gallery = printed()
    assert 4 <= gallery <= 8
    deep, deeper = printed(findings=with_evidence(2)), printed(findings=with_evidence(40))
    assert abs(deeper - deep) <= 1  # twenty times the evidence, and only the sentence that says where the rest is
    assert printed(readings=list(report.readings) * 10) == gallery
    shown = opened(report)
    shown.get_by_role("combobox", name="Verdict").select_option("supported")
    assert pages(shown) == gallery  # paper has the whole audit


def test_no_sheet_is_blank_and_none_holds_a_stray_line(opened, report, make_report, make_finding):
    """Every sheet is filled to a tenth at least, the last one excepted; drawn by the browser's own print layout."""
    import subprocess

    from PIL import Image

    findings = [make_finding(claim_id=f"C{number}", message="Reed. " * (7 * number)) for number in range(12)]
    shown = opened(make_report(findings=[*report.findings, *findings]))
    drawn = subprocess.run(
        ["pdftoppm", "-r", "20", "-gray", "-"], input=shown.pdf(prefer_css_page_size=True), capture_output=True
    ).stdout
    sheets = []
    while drawn:
        picture = Image.open(io.BytesIO(drawn))
        picture.load()
        header = re.match(rb"P5\s+\d+\s+\d+\s+\d+\s", drawn)
        drawn = drawn[header.end() + picture.width * picture.height :]
        box = picture.point(lambda shade: 255 if shade < 245 else 0).getbbox()
        sheets.append((box[3] - box[1]) / picture.height if box else 0.0)
    assert len(sheets) > 4
    assert min(sheets[:-1]) > 0.1
    assert sheets[-1] > 0.05


def test_two_hundred_claims_stay_usable(opened, make_report, make_finding, report):
    names = ["ra", "rf", "cct", "duv"]
    findings = [
        make_finding(claim_id=f"C{number}", product=f"Reed {number % 9}", quantity=names[number % 4])
        for number in range(200)
    ]
    made = make_report(findings=findings, readings=list(report.readings) * 100)
    assert len(page.write(made)) < 3_000_000
    shown = opened(made)
    took = shown.evaluate("""() => {
      const select = document.querySelector("select[name=quantity]"), start = performance.now();
      select.selectedIndex = 1;
      select.dispatchEvent(new Event("change", {bubbles: true}));
      document.body.offsetHeight;
      return performance.now() - start;
    }""")
    print(f"figure narrowing 200 claims down: {took:.0f} ms")
    assert len(shown.evaluate(VISIBLE)) == 50
