"""What a row of cells is: the headings of a table, of spectra, of a matrix of values, or the first row of a table
that lies on its side. The words of the row and the cells below it decide, never the file's name.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from audit.answers import used_by
from audit.numbers import LOOKALIKES, parse_number
from audit.sheets import Sheet, text_of
from audit.units import is_unit
from plugins.ingest.columns import NO_ANSWERS, understand
from plugins.ingest.headings import COLUMN, READING, SPECTRAL, STATE, UNCERTAINTY, UNKNOWN, WAVELENGTH, resolve
from plugins.ingest.labels import (
    CORNERS,
    MEASURED,
    SETTING_HEADS,
    START,
    UNIT_HEADINGS,
    identifies,
    is_summary,
    label_of,
)
from plugins.ingest.parts import uncertain
from plugins.ingest.spectra import SHORTEST_NM, wavelength_of, wavelength_run
from plugins.ingest.spectral_words import is_energy_per_nm

TABLE, LONG, MATRIX, TIDY, ACROSS = "table", "long", "matrix", "tidy", "across"
HEADER_WITHIN = 60  # rows: how far below a table's end, or the sheet's beginning, the next headings may stand
LOOK_AHEAD = 8  # rows: how many may state settings above the headings of spectra
SURE = 3  # quantities down the first column: so many make it a table on its side, whatever its corner says
LOOK_BELOW = 40  # rows of a table that are looked at to tell what it is
NUMERIC = re.compile(
    r"[<>≤≥~±]?\s*[+\-−]?\d[\d.,'’\s]*(?:[eE][+\-]?\d+)?(?:\s*[%°\w/µ℃′'\"]{1,5})?"
    r"(?:\s*(?:±|\+/-)\s*\d[\d.,]*(?:\s*[%°\w/µ℃]{1,5})?)?",
    re.ASCII,
)
UNCERTAIN_END = re.compile(
    r"(?:U|±|\+/-)\s*(?:\(\s*k\s*=\s*(?P<k>[\d.,]+)\s*\))?\s*[=:]?\s*±?\s*(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>[^\d\s()]\S*)?"
)
UNIT_WORDS = frozenset({"", "-", "–", "—", *UNIT_HEADINGS})


def numeric(cell: Any) -> bool:
    """Whether a cell holds a number, plain or as laboratories print it (41,8; >80; 12.1 W)."""
    if isinstance(cell, str):
        text = cell.strip()
        text = text if text.isascii() else text.translate(LOOKALIKES)
        return bool(text) and len(text) < 40 and bool(NUMERIC.fullmatch(text)) and not text[0].isalpha()
    return isinstance(cell, int | float) and not isinstance(cell, bool)


def texts_of(sheet: Sheet, row: int) -> list[str]:
    """Return the texts of one row."""
    return [text_of(cell) for cell in sheet.rows[row]]


def only_cell(cells: Sequence[Any]) -> int | None:
    """Return the index of the only cell with text, None where there are more or none."""
    found = None
    for index, cell in enumerate(cells):
        if cell.strip() if isinstance(cell, str) else cell is not None:
            if found is not None:
                return None
            found = index
    return found


def known(text: str) -> bool:
    """Whether a heading means anything here, as it stands or without the operating point that it names."""
    if not text or resolve(text).role != UNKNOWN:
        return bool(text)
    label = label_of(text)
    return bool(label.fields and label.words) and resolve(label.words).role not in (UNKNOWN, STATE)


def ends_uncertain(filled: Sequence[str]) -> bool:
    """Whether the texts of a line are a key, its value, its unit if any, and its uncertainty (U = 2.1 %, ± 30 K)."""
    return (
        len(filled) in (3, 4)
        and UNCERTAIN_END.fullmatch(filled[-1]) is not None
        and known(filled[0].rstrip(": "))
        and numeric(filled[1])
        and (len(filled) == 3 or is_unit(filled[2]))
    )


def kind_at(sheet: Sheet, row: int, answers: Mapping[str, str] = NO_ANSWERS) -> str:
    """Return what begins at this row: one of the kinds above, or ""; a heading with an answer is a known one."""
    cells = sheet.rows[row]
    texts = [text_of(cell) for cell in cells]
    filled = [text for text in texts if text]
    if len(filled) < 2:
        return LONG if filled and _axis_alone(sheet, row, filled[0], answers) else ""
    numbers_only = all(map(numeric, filled))
    # A row of small numbers is no row of wavelengths: told from its last one, without a look at all of them.
    small = numbers_only and (last := parse_number(filled[-1])) is not None and last.value < SHORTEST_NM
    if not small and wavelength_run(texts):
        return TABLE
    if numbers_only:
        counted = not texts[0] and filled == [str(number) for number in range(1, len(filled) + 1)]
        return ACROSS if counted and across(sheet, row) else ""
    if ends_uncertain(filled) or _leads_to_spectra(sheet, row, answers):
        return ""
    meanings = understand(texts, COLUMN, answers)
    below = sheet.rows[row + 1 : row + 5]  # a row of units, a blank one or two may follow
    for index, meaning in enumerate(meanings):
        wavelengths = meaning.role == WAVELENGTH or "spd_wavelength" in meaning.targets
        if wavelengths and _wavelengths_below([line[index] for line in below if index < len(line)]):
            return LONG
    if _units_over_spectra(sheet, row):
        return LONG
    if _tidy(sheet, row, texts):
        return TIDY
    if across(sheet, row):
        return ACROSS
    numbers = any(numeric(text) and not label_of(text).whole for text in filled)  # 12 W is a value, 50 % a setting
    told = sum(known(text) or bool(used_by(answers, text)) for text in filled)
    if told >= 2 and not numbers and not _keys_follow(sheet, row):
        return TABLE
    return MATRIX if _matrix(sheet, row, texts) else ""


def _axis_alone(sheet: Sheet, row: int, text: str, answers: Mapping[str, str]) -> bool:
    """Whether wavelengths are headed and their spectra aren't, because rows above state what they are of."""
    above = text_of(sheet.rows[row - 1][0]) if row and sheet.rows[row - 1] else ""
    below = sheet.rows[row + 1] if row + 1 < len(sheet.rows) else []
    stated = resolve(text).role == WAVELENGTH and tells_spectra(above, answers)
    return stated and sum(map(numeric, below)) > 1


def _leads_to_spectra(sheet: Sheet, row: int, answers: Mapping[str, str]) -> bool:
    """Whether this row states a setting for each of the spectra whose headings stand some rows below."""
    for below in range(row, min(row + LOOK_AHEAD, len(sheet.rows))):
        first = text_of(sheet.rows[below][0]) if sheet.rows[below] else ""
        if resolve(first).role == WAVELENGTH or _units_over_spectra(sheet, below):
            return below > row and not wavelength_run(_column(sheet, row, 0)[:1])
        if not tells_spectra(first, answers):
            return False
    return False


def _units_over_spectra(sheet: Sheet, row: int) -> bool:
    """Whether a row holds nothing but units per nm, and wavelengths stand below its first cell, which is blank."""
    first, *others = [*texts_of(sheet, row), ""]
    units = [text for text in others if text]
    return (
        not first
        and bool(units)
        and all(map(is_energy_per_nm, units))
        and bool(wavelength_run(_column(sheet, row, 0)[1:]))
    )


def tells_spectra(first: str, answers: Mapping[str, str]) -> bool:
    """Whether the first cell of a row above spectra says that it states something of each: a serial, a unit, settings.

    `answers`: what columns.toml explains is told too.
    """
    named = first.casefold() in SETTING_HEADS | UNIT_HEADINGS or bool(used_by(answers, first))
    return bool(first) and (named or resolve(first).role == STATE)


def _wavelengths_below(cells: Sequence[Any]) -> bool:
    values = [found.value for cell in cells if (found := parse_number(cell) or parse_number(cell, ","))]
    return (bool(values) and all(value >= 100 for value in values)) or any(0.1 < value < 3 for value in values)


def _keys_follow(sheet: Sheet, row: int) -> bool:
    """Whether the lines below begin with keys, as in an export: then this line is a key and its value."""
    return sum(map(known, {text_of(cells[0]) for cells in sheet.rows[row + 1 : row + 6] if cells})) >= 2


def _column(sheet: Sheet, row: int, column: int) -> list[str]:
    """Return the texts of a column from this row down to the first blank row."""
    found = []
    for cells in sheet.rows[row : row + LOOK_BELOW]:
        if not any(text_of(cell) for cell in cells):
            break
        found.append(text_of(cells[column]) if column < len(cells) else "")
    return found


def tidy_columns(sheet: Sheet, row: int, texts: Sequence[str]) -> tuple[int, int] | None:
    """Return the columns of quantities' names and of their values, where each row holds one value of one quantity."""
    values = [at for at, text in enumerate(texts) if text.casefold() in MEASURED]
    if len(values) != 1:
        return None
    for at, text in enumerate(texts):
        if (at == 0 or text.casefold() in CORNERS) and at != values[0]:
            names = [name for name in _column(sheet, row + 1, at) if name]
            told = [name for name in names if resolve(name).role in (READING, UNCERTAINTY)]
            if len(told) * 2 > len(names):
                return at, values[0]
    return None


def _tidy(sheet: Sheet, row: int, texts: Sequence[str]) -> bool:
    found = tidy_columns(sheet, row, texts)
    if not found:
        return False
    names = [name for name in _column(sheet, row + 1, found[0]) if name]
    others = [
        text for at, text in enumerate(texts) if text and at not in found and text.casefold() not in UNIT_HEADINGS
    ]
    apart = any(resolve(text).role == STATE or uncertain(text) for text in others)
    return len(set(names)) < len(names) or apart


def across(sheet: Sheet, row: int) -> bool:
    """Whether a table on its side begins here: names of quantities down, two or more measurements beside them."""
    if max(map(len, sheet.rows[row : row + LOOK_BELOW])) < 3:
        return False  # there is room for one measurement only
    names = _column(sheet, row, 0)
    if len(names) < 2:
        return False
    roles = [resolve(name).role if name else UNKNOWN for name in names]
    run = wavelength_run(names[1:]) and roles[0] != WAVELENGTH
    measured = [index for index, role in enumerate(roles) if role in (READING, SPECTRAL)]
    stated = [index for index, role in enumerate(roles) if role == STATE]
    if run and WAVELENGTH in roles[:LOOK_AHEAD]:
        return False  # their headings stand in that row
    few = len(measured) < 2 and not (measured and stated)
    named = any(resolve(name).target == "serial" for name in names[1:])  # the heads of the columns stand below
    odd = roles[0] == UNKNOWN and not _heads(names[0]) and (named or len(measured) < SURE)
    if not run and (few or odd):
        return False
    if not run and max(Counter(names[index] for index in measured).values()) > 1:
        return False
    lines = [sheet.rows[row + index] for index in measured] if not run else sheet.rows[row + 1 : row + LOOK_BELOW]
    width = max(map(len, lines))
    filled = [[line[at] for line in lines if at < len(line) and text_of(line[at])] for at in range(1, min(width, 200))]
    if any(known(text_of(cell)) and not is_unit(text_of(cell)) for cells in filled for cell in cells):
        return False  # pairs of keys and values side by side
    values = [cells for cells in filled if cells and sum(map(numeric, cells)) * 2 >= len(cells)]
    labels = texts_of(sheet, row)[1:]
    return len(values) >= 2 and (not run or not any(numeric(text) for text in labels if text) or _heads(names[0]))


def _heads(corner: str) -> bool:
    """Whether a corner says that quantities stand below it, or labels beside it."""
    return corner.casefold() in CORNERS or any(
        part.strip() in CORNERS for part in re.split(r"[\\/|]", corner.casefold())
    )


def _matrix(sheet: Sheet, row: int, texts: Sequence[str]) -> bool:
    """Whether the headings are hours, settings or units, and one quantity fills the cells below."""
    first = next(at for at, text in enumerate(texts) if text)
    meaning = resolve(texts[first])
    if meaning.role != STATE and not _heads(texts[first]):
        return False
    heads = [(at, text) for at, text in enumerate(texts) if text and at > first]
    free = [(at, text) for at, text in heads if resolve(text).role == UNKNOWN or wavelength_of(text)]
    labels = [(at, text) for at, text in free if is_label(text)]
    if len(labels) < 2 or len(labels) < len(free):
        return False
    below = sheet.rows[row + 1 : row + 6]
    return any(sum(1 for at, _ in labels if at < len(cells) and numeric(cells[at])) >= 2 for cells in below)


def is_label(text: str) -> bool:
    """Whether a heading names an operating point or a statistic and no quantity."""
    return (
        label_of(text).whole
        or text.casefold() in START
        or is_summary(text)
        or identifies(text)
        or parse_number(text) is not None
    )
