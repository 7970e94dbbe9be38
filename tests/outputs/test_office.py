"""findings.xlsx in LibreOffice: it opens without complaint, reads back equal, and can be printed."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
import subprocess
from datetime import date
from pathlib import Path

import pytest
from workbook_parts import Parts

from plugins.outputs import workbook

pytestmark = pytest.mark.office
ODD = (
    # Comma, quotation mark, UTF-8, from line 1; numbers with all their digits; every sheet a file of its own.
    '=HYPERLINK("http://x.example")',
    "+1",
    "-1",
    "@x",
    "a\nb",
    "“11,8 W?” = 1",
    "1.0",
    "2026-05-31",
    "_x0041_",
    "⟨ß⟩",
)
EVERY_SHEET = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"


def converted(folder: Path, data: bytes, form: str) -> list[Path]:
    """Return the files that LibreOffice makes of a workbook. Its complaints fail the test."""
    (folder / "findings.xlsx").write_bytes(data)
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", "--convert-to", form, "--outdir", str(folder), "findings.xlsx"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=180, check=True)
    assert not re.search(r"\b(error|repair|corrupt)", done.stdout + done.stderr, re.IGNORECASE)
    return sorted(path for path in folder.iterdir() if path.suffix == f".{form.partition(':')[0]}")


def test_every_cell_reads_back_equal(decided, make_finding, tmp_path):
    hard = [make_finding(claim_id=f"H{number:02}", message=words) for number, words in enumerate(ODD)]
    report = dataclasses.replace(decided, findings=[*decided.findings, *hard], way="../papers")
    data = workbook.write(report)
    book = Parts(data)
    files = {path.stem.partition("-")[2]: path for path in converted(tmp_path, data, EVERY_SHEET)}
    assert set(files) == set(book.sheets)
    for name, path in files.items():
        back = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
        there = {
            f"{letters(column)}{row}": words
            for row, line in enumerate(back, start=1)
            for column, words in enumerate(line)
            if words
        }
        for address, (kind, words) in book.cells(name).items():
            if kind == "inlineStr":
                assert there[address] == words
            elif re.fullmatch(r"\d{4}-\d\d-\d\d", there[address]):
                assert (date.fromisoformat(there[address]) - date(1899, 12, 30)).days == int(words)
            else:
                assert float(there[address]) == pytest.approx(float(words), rel=1e-12)


def letters(column: int) -> str:
    """Return the letters of a column counted from 0."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def test_it_prints_on_the_paper_of_the_habit(report, tmp_path):
    (pdf,) = converted(tmp_path, workbook.write(report), "pdf")
    sizes = set(re.findall(rb"/MediaBox\s*\[([\d. ]+)\]", pdf.read_bytes()))
    (size,) = {tuple(round(float(each)) for each in found.split()) for found in sizes}
    assert size == (0, 0, 842, 595)  # A4 on its side, ISO 216, in points
