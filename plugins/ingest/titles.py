"""What stands around a table and holds for its rows: titles, the sheet's and the file's name, keys above.

It is used for a field only where the rows don't state it themselves, and said. Where two of them disagree, nothing is
guessed: the rows stay unread until the title is mended or the rows state it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from audit.answers import answer_line
from audit.sheets import Sheet, text_of
from plugins.ingest.blocks import Region
from plugins.ingest.columns import Column
from plugins.ingest.headings import DOCUMENT, READING, SPECTRAL, STATE, WAVELENGTH, resolve
from plugins.ingest.kinds import LONG, only_cell
from plugins.ingest.labels import name_fields, not_light, quantities, settings_of, title_fields
from plugins.ingest.layouts import VALUES
from plugins.ingest.notebook import Notebook, clip, where
from plugins.ingest.spectra import wavelength_run
from plugins.ingest.spectral_words import doubt_of, doubt_of_title, is_energy_per_nm, power_per_nm

SAME = 1e-6  # of the value: settings are printed, not measured
DEFAULT_NAMES = re.compile(r"(?:sheet|table|tabelle|feuil|hoja|foglio|blad|工作表)\s?\d*|", re.IGNORECASE)


@dataclass(frozen=True)
class Stated:
    """A field that something around a table states: its value, what states it, and where that stands."""

    field: str
    value: Any
    words: str
    place: str


def title_cells(sheet: Sheet, region: Region) -> Iterator[tuple[int, int]]:
    """Yield the cells that stand alone above a table or title some of its rows, the nearest first."""
    yield from reversed(region.titles)
    for row in reversed(region.above):
        cells = sheet.rows[row]
        alone = only_cell(cells)
        if alone is not None:
            if region.left <= alone < region.right or region.left == 0:
                yield row, alone
            continue
        inside = [at for at in range(region.left, min(region.right, len(cells))) if text_of(cells[at])]
        apart = region.left or region.right < len(sheet.rows[region.header])
        if apart and len(inside) == 1:  # the title of one of several tables side by side
            yield row, inside[0]


def stated_by(notebook: Notebook, sheet: Sheet, region: Region) -> list[Stated]:
    """Return what the titles, the sheet's name and the file's name state, the nearest first."""
    found: list[Stated] = []
    for row, column in title_cells(sheet, region):
        text = text_of(sheet.rows[row][column])
        if resolve(text.partition(":")[0]).target == "physical_minimum":
            continue  # where a driver stops is no state of what was measured
        nearer = {each.field for each in found} if (row, column) not in region.titles and region.titles else set()
        found += [
            Stated(name, value, f"the line '{text[:60]}'", where(sheet, row, column))
            for name, value in title_fields(text).items()
            if name not in nearer  # a line inside the table holds for the rows below it alone
        ]
    return found + stated_by_names(notebook, sheet)


def stated_by_names(notebook: Notebook, sheet: Sheet) -> list[Stated]:
    """Return what the names of the sheet and of the file state."""
    stem = PurePosixPath(notebook.recorder.document.path).stem
    sheet_says = name_fields(sheet.name) if sheet.name else {}
    found = [
        Stated(name, value, f"the sheet's name '{sheet.name}'", where(sheet, 0)) for name, value in sheet_says.items()
    ]
    found += [
        Stated(name, value, f"the file's name '{stem}'", "")
        for name, value in name_fields(stem).items()
        if name not in sheet_says  # a sheet is nearer than its workbook
    ]
    return found


def same(first: Any, second: Any) -> bool:
    """Whether two statements of one field agree."""
    if isinstance(first, float) and isinstance(second, float):
        return math.isclose(first, second, rel_tol=SAME, abs_tol=SAME)
    return str(first).casefold() == str(second).casefold()


def settle(
    notebook: Notebook, sheet: Sheet, states: Sequence[Column], keys: Mapping[str, Any], stated: Iterable[Stated]
) -> dict[str, Any] | None:
    """Return what holds for the rows that don't state it themselves; None where two statements disagree.

    `states` are the table's own columns of states, `keys` what keys above the table state.
    """
    own = {column.meaning.target: column for column in states}
    settled: dict[str, Stated] = {}
    for each in stated:
        column = own.get(each.field)
        if column is not None and _has(column):
            _compare(notebook, sheet, column, each)
            if all(_values(column)):
                continue
        rival = settled.setdefault(each.field, each)
        other = keys.get(each.field, rival.value)
        if not same(other, each.value):
            _disagree(notebook, each, other, rival)
            return None
    for field, each in settled.items():
        if field not in keys:
            notebook.alike(
                "state_from_title",
                "note",
                f"{field} of the rows that don't state it is taken from titles and names",
                f"{_shown(each.value)} from {each.words}",
                "nothing, if that is right; otherwise give the table a column for it",
                subject=field,
                place=each.place,
            )
    return {field: each.value for field, each in settled.items()} | dict(keys)


def _shown(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _values(column: Column) -> list[Any]:
    """Return what each cell of a state column says, None where it says nothing."""
    if column.meaning.number:
        return [None if math.isnan(value) else (value,) for value in column.value.tolist()]
    return [(text_of(cell),) if text_of(cell) else None for cell in column.cells]


def _has(column: Column) -> bool:
    return any(_values(column))


def _compare(notebook: Notebook, sheet: Sheet, column: Column, stated: Stated) -> None:
    """Ask where a title states what none of the rows says; the rows are nearer to the measurement."""
    values = [value[0] for value in _values(column) if value]
    if not any(same(value, stated.value) for value in values):
        notebook.remark(
            "state_conflict",
            "minor",
            f"{stated.words} says {stated.field} {_shown(stated.value)}, but the rows say"
            f" {_shown(values[0])} under '{clip(column.heading)}': the rows are used",
            "ask the sender which of them is right",
            subject=stated.field,
            place="; ".join(filter(None, (stated.place, where(sheet, 0, column.index)))),
        )


def _disagree(notebook: Notebook, each: Stated, other: Any, rival: Stated) -> None:
    by = rival.words if rival is not each else "a line above the table"
    notebook.remark(
        "state_conflict",
        "major",
        f"no row of this table is used: {each.words} says {each.field} {_shown(each.value)}, {by} says {_shown(other)}",
        f"ask the sender which is right, and give the table a column for {each.field}",
        subject=each.field,
        place="; ".join(dict.fromkeys(filter(None, (each.place, rival.place)))),
    )


def no_light(notebook: Notebook, sheet: Sheet, region: Region, block: Sheet) -> bool:
    """Say so where the words around spectra name them as those of a surface or a filter: no light source has them."""
    texts = [(text_of(sheet.rows[row][at]), where(sheet, row, at)) for row, at in title_cells(sheet, region)]
    around = [*texts, (sheet.name, where(sheet, 0)), (PurePosixPath(notebook.recorder.document.path).stem, "")]
    texts = [*around, *((text_of(cell), where(block, 0, at)) for at, cell in enumerate(block.rows[0][:50]))]
    text, place = next(((text, place) for text, place in texts if not_light(text)), ("", ""))
    if text:
        message = f"its spectra aren't read: '{text[:60]}' says {not_light(text)}, and they are no light source's"
        ask = "hand in the spectrum of the light source; if these are one, take that word out of the heading"
        notebook.remark("not_light", "major", message, ask, subject="spectrum", place=place)
        return True
    run = wavelength_run(block.rows[0]) if region.kind != LONG else {}
    heads = [text_of(block.rows[0][at]) for at in run][:1] if run else list(filter(None, map(text_of, block.rows[0])))
    if _says_itself(heads, LONG if not run else ""):
        return False
    own = [(doubt_of(text), text, where(block, 0, at)) for text, at in zip(heads, run, strict=False)]
    for doubt, text, place in [*own, *((doubt_of_title(text), text, place) for text, place in around)]:
        if doubt:
            message = f"its spectra aren't read: in '{clip(text)}' {doubt}"
            ask = doubt.remedy(notebook.recorder.document)
            notebook.remark(doubt.rule, "major", message, ask, subject="spectrum", place=place)
            return True
    return False


def _says_itself(heads: Sequence[str], kind: str) -> bool:
    """Whether headings of spectra say what they are, power or none, so that no title needs to be asked."""
    if any(is_energy_per_nm(settings_of(text)[1]) or power_per_nm(text) for text in heads):
        return True
    values = [text for text in heads if resolve(text).role not in (WAVELENGTH, STATE, DOCUMENT, READING)]
    known = [text for text in values if resolve(text).role == SPECTRAL or doubt_of(text)]
    return kind == LONG and bool(known) and (len(known) == len(values) or any(not doubt_of(text) for text in known))


def quantity_of(notebook: Notebook, sheet: Sheet, region: Region, corner: str) -> str:
    """Return the heading of the one quantity that a table of hours or settings holds, "" where nothing says it."""
    answer = notebook.recorder.document.answers.get(VALUES, "")
    if answer:
        notebook.answer(answer_line(VALUES, answer), sheet, region.header, region.left, corner)
        return answer
    texts = [(text_of(sheet.rows[row][at]), where(sheet, row, at)) for row, at in title_cells(sheet, region)]
    texts.append((corner, where(sheet, region.header, region.left)))
    if not DEFAULT_NAMES.fullmatch(sheet.name):
        texts.append((sheet.name, where(sheet, 0)))
    texts.append((PurePosixPath(notebook.recorder.document.path).stem, ""))
    for text, place in texts:
        found = dict.fromkeys(quantities(text))
        targets = {resolve(name).target for name in found}
        if len(targets) == 1:
            name = next(iter(found))
            notebook.alike(
                "quantity_from_title",
                "note",
                f"the values of a table whose headings name no quantity are {resolve(name).target}",
                f"'{text[:80]}'",
                "nothing, if that is right",
                subject=resolve(name).target,
                place=place,
            )
            return name
        if targets:
            return ""
    return ""
