"""The report page in a browser: it fits a phone and a desk, and prints its evidence."""

from __future__ import annotations

import html
import re
import subprocess
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from plugins.outputs import page

pytestmark = pytest.mark.browser

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LONG = "Reed-and-samphire-display-case-luminaire-" * 6

# A page of a fixed width inside a window of any width, since a window can't be made as narrow as a phone.
FRAME = """<!DOCTYPE html><title>waiting</title><iframe width="{width}" height="800" srcdoc="{page}"></iframe>
<script>onload = () => {{
  const inside = document.querySelector("iframe").contentDocument;
  inside.querySelectorAll("details").forEach(each => each.open = true);
  const root = inside.documentElement;
  const wide = [...inside.querySelectorAll("body *")].filter(each => !each.closest(".scroll, .skip, thead"));
  const right = Math.max(...wide.map(each => each.getBoundingClientRect().right));
  document.title = [root.clientWidth, root.scrollWidth, right];
}}</script>"""

Browser = Callable[..., str]


@pytest.fixture
def browser(tmp_path: Path) -> Browser:
    def run(url: Path, *flags: str) -> str:
        command = ["chromium", *FLAGS, f"--user-data-dir={tmp_path / 'profile'}", *flags, url.as_uri()]
        return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout

    return run


@pytest.fixture
def crowded(make_report, make_finding, report):
    """The gallery, and beside it a claim and observations with names that have no place to break."""
    hard = make_finding(claim_id=LONG, product=LONG, claim=LONG, message=LONG, unit="lm/W", ask=LONG, method=LONG)
    hard["evidence"] = [{**each, "document": LONG, "place": LONG, "raw": LONG} for each in hard["evidence"]]
    remarks = [{**each, "message": LONG, "document": LONG, "place": LONG} for each in report.observations]
    return make_report(folder=LONG, findings=[*report.findings, hard], observations=[*report.observations, *remarks])


@pytest.mark.parametrize("width", [360, 1280])
def test_nothing_overflows(browser, crowded, tmp_path, width):
    host = tmp_path / "host.html"
    host.write_text(FRAME.format(width=width, page=html.escape(page.write(crowded).decode())), encoding="utf-8")
    found = re.search(r"<title>(\d+),(\d+),([\d.]+)</title>", browser(host, "--dump-dom"))
    assert found
    inside, scrolled, rightmost = map(float, found.groups())
    assert inside <= width
    assert scrolled <= inside
    assert rightmost <= inside


@pytest.mark.parametrize("width", [360, 1280])
def test_screenshot_is_taken(browser, report, tmp_path, width):
    source, picture = tmp_path / "report.html", tmp_path / "report.png"
    source.write_bytes(page.write(report))
    browser(source, f"--window-size={width},1600", f"--screenshot={picture}")
    data = picture.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(data[16:20], "big") == width
    assert colours(data) > 50  # text and marks, not a blank sheet


def colours(png: bytes) -> int:
    """Return a lower bound of the distinct bytes in the picture's unfiltered data."""
    chunks, at = b"", 8
    while at < len(png):
        length = int.from_bytes(png[at : at + 4], "big")
        if png[at + 4 : at + 8] == b"IDAT":
            chunks += png[at + 8 : at + 8 + length]
        at += length + 12
    return len(set(zlib.decompress(chunks)))


def test_paper_carries_the_evidence_but_not_the_long_list_of_values(browser, make_report, report, tmp_path):
    def pages(name: str, **changes: object) -> int:
        source, pdf = tmp_path / f"{name}.html", tmp_path / f"{name}.pdf"
        source.write_bytes(page.write(make_report(**changes)))
        browser(source, f"--print-to-pdf={pdf}", "--no-pdf-header-footer")
        return len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))

    def with_evidence(times: int) -> list[dict[str, object]]:
        return [{**each, "evidence": list(each["evidence"]) * times} for each in report.findings]

    gallery = pages("gallery")
    assert 4 <= gallery <= 10
    assert pages("bare", findings=[{**each, "method": ""} for each in with_evidence(0)]) <= gallery
    deep, deeper = pages("deep", findings=with_evidence(9)), pages("deeper", findings=with_evidence(90))
    assert gallery < deep
    assert abs(deeper - deep) <= 1  # ten times the evidence, and only the sentence that says where the rest is
    assert pages("many", readings=list(report.readings) * 10) == gallery
