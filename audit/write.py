"""Writing a report: every file is made whole beside its place and then renamed, so none is ever half there."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from audit.model import Refusal, Report, Tell, Writer, told_to_nobody


def write_report(
    report: Report, writers: Sequence[Writer], out: Path, folder: Path, tell: Tell = told_to_nobody
) -> str:
    """Write the report on the audited `folder` into `out` and return the text for the terminal.

    Raises Refusal if it can't be written.
    """
    report = replace(report, way=_way(out, folder))
    forms = []
    for number, writer in enumerate(writers):
        tell(f"writing the {writer.title}", number, len(writers))
        try:
            forms.append((writer, writer.write(report)))
        except OSError as error:  # a workbook's rows go to files for the time being
            raise Refusal(
                f"the {writer.title} can't be made ({error.strerror or error})",
                ask="free some space for temporary files, or name another place for them with TMPDIR",
            ) from error
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


def _way(out: Path, folder: Path) -> str:
    """Return how to get from `out` to `folder`, as a link has it; "" where no way leads there (another drive)."""
    try:
        return Path(os.path.relpath(folder.resolve(), out.resolve())).as_posix()
    except ValueError:
        return ""
