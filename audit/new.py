"""`claimlight new`: a folder with a claims workbook to fill in. Nothing that is there already is touched."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path

from audit.claims_workbook import claims_workbook
from audit.model import Quantity, Refusal

FILE = "claims.xlsx"


def make_folder(folder: Path, known: Mapping[str, Quantity]) -> str:
    """Write `folder`/claims.xlsx, making the folder if needed, and return what to do next, for a person.

    Raises Refusal where the folder has a claims sheet already or can't be written to.
    """
    try:
        if folder.exists() and not folder.is_dir():
            raise Refusal(f"'{folder}' is a file, not a folder", ask="name another folder, or one that isn't there yet")
        _refuse_second(folder)
        content = claims_workbook(known)
        folder.mkdir(parents=True, exist_ok=True)
        with (folder / FILE).open("xb") as stream:  # x: whatever is there by now stays as it is
            stream.write(content)
    except OSError as error:
        raise Refusal(
            f"the claims workbook can't be written to '{folder}' ({error.strerror or error})",
            ask="name a folder that you may write to",
        ) from error
    command = f"claimlight audit {shlex.quote(str(folder))}"
    return (
        f"Made {folder / FILE}\n"
        "  1. Fill in the sheet 'claims', a row for each claim; save and close it.\n"
        f"  2. Copy the test reports and spectra into {folder}\n"
        f"  3. {command}\n"
        "`claimlight explain` lists what a claim can be about; `claimlight explain NAME` tells more.\n"
    )


def _refuse_second(folder: Path) -> None:
    """Refuse a folder with a file that is named like a claims sheet: an audit would read both."""
    if not folder.is_dir():
        return
    there = sorted(path.name for path in folder.iterdir() if path.name.casefold().startswith("claims"))
    if there:
        raise Refusal(
            f"'{folder}' has a claims sheet already: '{there[0]}'",
            ask="add the claims there; or name another folder, or move that file away, to begin anew",
        )
