"""Writing a report: every file is made whole beside its place and then renamed, so none is ever half there."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from audit.model import Refusal, Report, Writer


def write_report(report: Report, writers: Sequence[Writer], out: Path) -> str:
    """Write the report's files into `out` and return the text for the terminal. Raises Refusal if it can't."""
    forms = [(writer, writer.write(report)) for writer in writers]
    files = {writer.filename: content for writer, content in forms if writer.filename is not None}
    try:
        out.mkdir(parents=True, exist_ok=True)
        beside = {name: out / f".{name}.{os.getpid()}" for name in files}
        try:
            for name, path in beside.items():
                path.write_bytes(files[name])
            for name, path in beside.items():
                path.replace(out / name)
        finally:
            for path in beside.values():
                path.unlink(missing_ok=True)
    except OSError as error:
        raise Refusal(
            f"the report can't be written to '{out}' ({error.strerror or error})",
            ask="name a folder that you may write to with --out",
        ) from error
    return "".join(content.decode("utf-8") for writer, content in forms if writer.filename is None)
