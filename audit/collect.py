"""What lies in the folder handed in: every file once, in a fixed order, links and system litter named, not read."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from audit.model import Document
from audit.recorder import Recorder

HEAD_BYTES = 65_536
OUTPUT_FOLDER = "claimlight-out"
LITTER = ("thumbs.db", "desktop.ini")
EVIDENCE_SUFFIXES = (".csv", ".tsv", ".txt", ".xls", ".xlsx", ".ods", ".xml", ".spdx")
OWN_REPORT = {"findings.json", "report.html"}  # a folder with both is a report of an earlier audit


def collect(folder: Path, notes: Recorder) -> list[Document]:
    """Return the documents below `folder`, ordered by path. What isn't read is observed in `notes`."""
    documents, litter = [], []
    for path in _walk(folder):
        # A name that isn't UTF-8 is shown with escapes, as no report could print it otherwise.
        name = path.relative_to(folder).as_posix().encode("utf-8", "backslashreplace").decode()
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


def _walk(folder: Path) -> Iterator[Path]:
    for parent, folders, files in os.walk(folder):
        here = Path(parent)
        links = [name for name in folders if (here / name).is_symlink()]
        folders[:] = sorted(
            name
            for name in folders
            if name not in (*links, OUTPUT_FOLDER)
            and not name.startswith(".")
            and not all((here / name / own).is_file() for own in OWN_REPORT)
        )
        yield from (here / name for name in sorted(files + links))


def _document(path: Path, name: str, notes: Recorder) -> Document | None:
    try:
        if not path.is_file():
            raise OSError("not a regular file")
        with path.open("rb") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
        return Document(name, path, path.stat().st_size, digest)
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
