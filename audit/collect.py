"""What lies in the folder handed in: every file once, in a fixed order, links and system litter named, not read."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from audit.model import Document
from audit.recorder import Recorder
from audit.sheets import MAX_BYTES

HEAD_BYTES = 65_536
OUTPUT_FOLDER = "claimlight-out"
LITTER = ("thumbs.db", "desktop.ini")
EVIDENCE_SUFFIXES = (".csv", ".tsv", ".txt", ".xls", ".xlsx", ".ods", ".xml", ".spdx")
OWN_REPORT = {"findings.json", "report.html"}  # a folder with both is a report of an earlier audit


def collect(folder: Path, notes: Recorder) -> list[Document]:
    """Return the documents below `folder`, ordered by path. What isn't read is observed in `notes`."""
    documents, litter = [], []
    for path in _walk(folder, notes):
        name = _shown(path, folder)
        if path.is_symlink():
            notes.observe(
                "link_not_followed",
                "major",
                f"'{name}' is a link and isn't followed: what it points to may lie outside the folder",
                ask="put a copy of the file itself into the folder",
                subject=name,
                by="collect",
            )
        elif path.name.startswith((".", "~$")) or path.name.casefold() in LITTER:
            if path.suffix.casefold() in EVIDENCE_SUFFIXES and not path.name.startswith("~$"):
                notes.observe(
                    "hidden_file",
                    "minor",
                    f"'{name}' is hidden by its name and isn't read",
                    ask="give it a name that doesn't begin with a dot if it is evidence",
                    subject=name,
                    document=name,
                    by="collect",
                )
            else:
                litter.append(name)
        else:
            document = _document(path, name, notes)
            if document:
                documents.append(document)
    if litter:
        notes.observe(
            "system_files",
            "note",
            f"hidden or system files, not read: {', '.join(litter[:10])}" + (" ..." if len(litter) > 10 else ""),
            by="collect",
        )
    return documents


def head_of(document: Document) -> bytes:
    """Return the first bytes of a document, by which readers recognise it."""
    with document.file.open("rb") as stream:
        return stream.read(HEAD_BYTES)


def _walk(folder: Path, notes: Recorder) -> Iterator[Path]:
    """Yield files and links in a fixed order; folders that aren't gone into are observed."""
    for parent, folders, files in os.walk(folder, onerror=lambda error: _observe_closed(error, folder, notes)):
        here = Path(parent)
        links = [name for name in folders if (here / name).is_symlink()]
        passed = {name: why for name in folders if name not in links and (why := _why_passed_over(here / name))}
        for name, why in sorted(passed.items()):
            shown = _shown(here / name, folder)
            notes.observe(
                "folder_not_read",
                "minor",
                f"the folder '{shown}' {why}, and what lies in it isn't read",
                ask="give it another name, or move its files, if they are evidence",
                subject=shown,
                by="collect",
            )
        folders[:] = sorted(name for name in folders if name not in links and name not in passed)
        yield from (here / name for name in sorted(files + links))


def _why_passed_over(folder: Path) -> str:
    if folder.name.startswith("."):
        return "is hidden by its name"
    own = folder.name == OUTPUT_FOLDER or all((folder / name).is_file() for name in OWN_REPORT)
    return "looks like the report of an earlier audit" if own else ""


def _observe_closed(error: OSError, folder: Path, notes: Recorder) -> None:
    shown = _shown(Path(error.filename), folder)
    notes.observe(
        "folder_not_read",
        "major",
        f"the folder '{shown}' can't be opened ({error.strerror or error})",
        ask="check that you may read it",
        subject=shown,
        by="collect",
    )


def _shown(path: Path, folder: Path) -> str:
    """Return a path inside the folder as a report can print it: a name that isn't UTF-8 with escapes."""
    return path.relative_to(folder).as_posix().encode("utf-8", "backslashreplace").decode()


def _document(path: Path, name: str, notes: Recorder) -> Document | None:
    try:
        if not path.is_file():
            raise OSError("not a regular file")
        size, digest = path.stat().st_size, ""
        if size <= MAX_BYTES:  # a larger one is refused by its reader, and nothing rests on its bytes
            with path.open("rb") as stream:
                digest = hashlib.file_digest(stream, "sha256").hexdigest()
        return Document(name, path, size, digest)
    except OSError as error:
        notes.observe(
            "document_not_read",
            "major",
            f"'{name}' can't be opened ({error.strerror or error})",
            ask="check that the file exists and that you may read it",
            subject=name,
            by="collect",
        )
        return None
