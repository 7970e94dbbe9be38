"""Files that accompany documents but are no evidence: read-me texts, and tables of expected verdicts."""

from __future__ import annotations

from audit.hooks import hookimpl
from audit.model import Document, Reader
from audit.recorder import Recorder
from audit.sheets import decode, delimiter_of
from audit.tables import Tables

TEXT_ENDINGS = (".md", ".markdown", ".rst")
TEXT_NAMES = ("readme", "licence", "license", "changelog", "copying")
VERDICT_HEADINGS = {"claim_id", "verdict"}


def recognise(document: Document, head: bytes) -> float:
    """Return 1 for a table of verdicts, 0.95 for a text that explains, by name or ending."""
    if b"\x00" in head[:4096]:
        return 0.0
    first = decode(head).partition("\n")[0]
    cells = {cell.strip(' "\r').casefold() for cell in first.split(delimiter_of(first))}
    if cells >= VERDICT_HEADINGS:
        return 1.0
    name = document.path.rpartition("/")[2].casefold()
    stem, _, ending = name.partition(".")
    named = stem in TEXT_NAMES and ending in ("", "txt")
    return 0.95 if named or name.endswith(TEXT_ENDINGS) else 0.0


def read(document: Document) -> Tables:
    """Say that the file isn't evidence; its content isn't looked at."""
    notes = Recorder(document)
    notes.observe(
        "not_evidence",
        "note",
        f"'{document.path}' accompanies the documents and is no evidence: not read",
        ask="nothing, unless it holds measurements; then hand them in as a table",
        subject=document.path,
        by="companion",
    )
    return notes.tables()


@hookimpl
def register_readers() -> list[Reader]:
    """One reader for what needs no reading."""
    return [Reader("companion", "read-me texts and expected verdicts (no evidence)", recognise, read)]
