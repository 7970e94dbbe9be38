"""From the documents handed in to the tables of each: one reader a document, a failure costs its document alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from audit import wording
from audit.collect import head_of
from audit.gather import Part
from audit.model import Document, Quantity, Reader, Refusal, Tell, told_to_nobody
from audit.recorder import Recorder
from audit.sheets import MAX_BYTES

LEAST_CONFIDENCE = 0.1  # below this a reader's recognition is no recognition


def read(
    documents: Sequence[Document],
    readers: Sequence[Reader],
    known: Mapping[str, Quantity],
    notes: Recorder,
    tell: Tell = told_to_nobody,
) -> list[Part]:
    """Let the most confident reader read each document; a failure is observed and the others go on."""
    parts = []
    for number, document in enumerate(documents):
        tell(f"reading {document.path}", number, len(documents))
        try:
            _refuse_large(document)
            reader = _reader_for(document, readers, notes)
            if reader is None:
                continue
            tables = reader.read(document)
            strangers = set(tables.column("readings", "quantity")) - known.keys()
            if strangers:
                raise TypeError(f"it gave quantities that no register knows: {', '.join(sorted(strangers))}")
            parts.append(Part(document, reader.title, tables))
        except Refusal as refusal:
            notes.observe(
                "document_not_read",
                "major",
                f"'{document.path}': {refusal.message}",
                ask=refusal.ask,
                subject=document.path,
                document=document.path,
                place=refusal.place,
                by="reading",
            )
        except Exception as error:  # a reader's defect costs its document, never the audit
            notes.observe(
                "reader_failed",
                "major",
                f"'{document.path}': the reader failed ({type(error).__name__}: {error})",
                ask="report this with the file, or hand the data in as a table with one heading row",
                subject=document.path,
                document=document.path,
                by="reading",
            )
    return parts


def _refuse_large(document: Document) -> None:
    if document.size > MAX_BYTES:
        raise Refusal(
            f"the file has {document.size:,} bytes, more than the {MAX_BYTES:,} that are read: it is neither read nor"
            " hashed",
            ask="split it into smaller files, or hand in only what bears on the claims",
        )


def without_copies(papers: Sequence[Document], notes: Recorder) -> list[Document]:
    """Return the documents without copies: the same bytes twice are no second measurement."""
    first: dict[str, Document] = {}
    copies: dict[str, list[str]] = {}
    for paper in papers:
        original = first.setdefault(paper.sha256 or paper.path, paper)
        if original is not paper:
            copies.setdefault(original.path, []).append(paper.path)
    for original_path, paths in copies.items():
        notes.observe(
            "document_copied",
            "major",
            f"'{original_path}' was handed in {len(paths) + 1} times, byte for byte, and counts once; "
            f"the copies: {wording.listing(paths)}",
            ask="was another report meant? Send that one, or take the copies out",
            subject=original_path,
            document=original_path,
            by="reading",
        )
    return list(first.values())


def observe_nothing_read(
    documents: Sequence[Document], papers: Sequence[Document], parts: Sequence[Part], notes: Recorder
) -> None:
    """Observe documents that gave nothing, and said nothing of why; and that there is no document at all."""
    if documents and not papers:
        notes.observe(
            "no_documents",
            "major",
            "there is no document beside the claims sheet",
            ask="put the test reports and spectra into the folder",
            by="reading",
        )
    for part in parts:
        if not {"readings", "spectra", "observations"} & part.tables.keys():
            notes.observe(
                "document_without_values",
                "major",
                f"'{part.document.path}' holds no value that was read",
                ask="is it empty, or are its values in another place or form? Hand them in as a table with headings",
                subject=part.document.path,
                document=part.document.path,
                by="reading",
            )


def _reader_for(document: Document, readers: Sequence[Reader], notes: Recorder) -> Reader | None:
    head = head_of(document)
    bids = sorted(((reader.recognise(document, head), reader.name, reader) for reader in readers), reverse=True)
    best = [bid for bid in bids if bid[0] == bids[0][0]] if bids else []
    if best and best[0][0] >= LEAST_CONFIDENCE and len(best) == 1:
        return best[0][2]
    tied = bool(best) and best[0][0] >= LEAST_CONFIDENCE
    tried = ", ".join(reader.title for _, _, reader in bids)
    notes.observe(
        "document_not_recognised",
        "major",
        f"'{document.path}' isn't read: "
        + (
            f"{' and '.join(name for _, name, _ in best)} both claim it"
            if tied
            else f"no reader knows it (tried: {tried})"
        ),
        ask="hand the data in as CSV or XLSX with a heading row, or take the file out if it is no evidence",
        subject=document.path,
        document=document.path,
        by="reading",
    )
    return None
