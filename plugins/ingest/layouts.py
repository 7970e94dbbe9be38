"""From the layout in which a table came to the one in which it is read, and tables of one quantity over two states.

A matrix has hours, units or settings as its headings and one quantity in its cells, which a title names, or nobody.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from audit.answers import answer_line, question
from audit.model import POINT_FIELDS
from audit.numbers import parse_number
from audit.sheets import Sheet, text_of
from plugins.ingest.blocks import Block, Region, make_block
from plugins.ingest.headings import READING, SPECTRAL, STATE, UNCERTAINTY, WAVELENGTH, resolve
from plugins.ingest.heads import IN_DOUBT, IN_NO_GROUP, IN_NO_SETTING
from plugins.ingest.kinds import ACROSS, LONG, MATRIX, TIDY, known, texts_of
from plugins.ingest.labels import START, identifies, is_summary, label_of
from plugins.ingest.notebook import Notebook, clip, some, where
from plugins.ingest.reshape import (
    headings_apart,
    is_free,
    labels_down,
    lay_down,
    layered,
    qualified,
    remark_summary,
    spread,
)
from plugins.ingest.spectra import wavelength_run

VALUES = "values"  # the key in columns.toml for what a table without a named quantity holds
HEADINGS = "headings"  # and for what headings that are bare numbers mean
MOST_SHOWN = 4
OF_SPECTRA = ("scene", "cct_setting_K", "level_percent", "channel", "serial", "ignore")  # what a row above them states
OPEN_HEADS = {
    IN_NO_GROUP: (
        "groups_unclear",
        "the columns {} aren't used: the names of groups may stand over their first columns or in their middle",
        "write the group's name above each of its columns, or into the heading itself",
    ),
    IN_DOUBT: (
        "unit_row_doubtful",
        "the columns {} aren't used: the row of units below the headings has one under a heading without unit",
        "put each unit under its heading, or into it",
    ),
}


def canonical(notebook: Notebook, sheet: Sheet, region: Region, quantity: Callable[[str], str]) -> list[Block]:
    """Return a region as tables with headings on top; columns that stay open are asked about and blank.

    `quantity` takes the corner of a table whose headings name no quantity, and returns what it holds or "".
    """
    if region.kind == LONG:
        return _spectral(notebook, sheet, region)
    if region.kind == ACROSS:
        block = lay_down(notebook, sheet, region)
        if _unlabelled(notebook, block):
            return []
        return [headings_apart(notebook, labels_down(notebook, block, free=True))]
    block = _without_open_heads(notebook, make_block(sheet, region))
    if region.kind == TIDY:
        return [labels_down(notebook, part, free=False) for part in spread(notebook, block)]
    texts = [text_of(cell) for cell in block.rows[0]]
    run = wavelength_run(texts)
    if run and resolve(texts[0]).role == WAVELENGTH:  # a matrix of spectra, turned
        block = replace(block, rows=[["", *block.rows[0][1:]], *block.rows[1:]])
        return [labels_down(notebook, block, free=True)]
    free = [text for text in texts if is_free(notebook, text)]
    whole = [text for text in free if label_of(text).whole]
    if not any(map(qualified, free)) and (region.kind == MATRIX or (len(whole) > 1 and not run)):
        block = matrix(notebook, block, quantity)
    else:
        block = headings_apart(notebook, block)
    return [labels_down(notebook, block, free=False)]


def _spectral(notebook: Notebook, sheet: Sheet, region: Region) -> list[Block]:
    """Return spectra as a block; what rows above them say and nobody can read is asked about."""
    block, answers = make_block(sheet, region), notebook.recorder.document.answers
    for row, meaning in region.states.items():
        if meaning.answer:
            name = text_of(sheet.cell(row, 0))
            notebook.answer(answer_line(meaning.answer, answers[meaning.answer]), sheet, row, 0, name)
    _remark_above(notebook, sheet, region)
    mark = f"({IN_NO_SETTING})"
    columns = {at for at, cell in enumerate(block.rows[0]) if text_of(cell).endswith(mark)}
    for row in region.states if columns else ():
        cells = {at: text_of(sheet.cell(row, at + region.left)) for at in sorted(columns)}
        open_ones = [at for at, text in cells.items() if f"{text} {mark}" == text_of(block.rows[0][at])]
        if open_ones:
            shown = some([f"'{clip(cells[at])}'" for at in open_ones])
            name, why = text_of(sheet.cell(row, 0)), region.states[row].why or "what it says of them isn't known"
            message = f"the spectra under {shown} aren't used, because of the row '{clip(name)}': {why}"
            ask = question(notebook.recorder.document, [answer_line(name, choice) for choice in OF_SPECTRA])
            place = where(sheet, row, open_ones[0] + region.left)
            notebook.remark("setting_unknown", "major", message, ask, subject=name, place=place)
    return [_without(block, columns)] if len(columns) + 1 < len(block.rows[0]) else []


def _remark_above(notebook: Notebook, sheet: Sheet, region: Region) -> None:
    """Ask about a row just above spectra that says something of each of them under a name that isn't known."""
    row = min([*region.heads, *region.states]) - 1
    texts = texts_of(sheet, row) if row in region.above else []
    if len(texts) < 3 or not all(texts[: region.right]) or len(texts) < region.right or known(texts[0]):
        return
    message = f"what the row '{clip(texts[0])}' above the spectra says of each isn't known: they are read without it"
    ask = question(notebook.recorder.document, [answer_line(texts[0], choice) for choice in OF_SPECTRA])
    notebook.remark("setting_unknown", "major", message, ask, subject=texts[0], place=where(sheet, row, 0))


def matrix(notebook: Notebook, block: Block, quantity: Callable[[str], str]) -> Block:
    """Lay out a table of one quantity whose headings are hours, settings or units; what is open is asked."""
    texts = [text_of(cell) for cell in block.rows[0]]
    corner_at = next(at for at, text in enumerate(texts) if text)
    labelled = {
        at: text for at, text in enumerate(texts) if at > corner_at and (is_free(notebook, text) or parse_number(text))
    }
    for at in [at for at, text in labelled.items() if is_summary(text)]:
        remark_summary(notebook, labelled.pop(at), where(block, 0, at))
        block = _without(block, {at})
    if not labelled:
        return block
    word = quantity(texts[corner_at])
    if not word:
        _ask_quantity(notebook, block, labelled)
        return _without(block, set(labelled))
    axes = _axes(texts[corner_at])
    numbers = _number_field(
        notebook, block, axes, [found.value for text in labelled.values() if (found := parse_number(text))]
    )
    kept = {at: _label_fields(text, axes, numbers) for at, text in labelled.items()}
    if not all(kept.values()):
        _ask_headings(notebook, block, labelled)
        return _without(block, set(labelled))
    head = texts[corner_at] if resolve(texts[corner_at]).role == STATE or not axes else axes[0][0]
    first = [head if at == corner_at else cell for at, cell in enumerate(block.rows[0])]
    return layered(
        notebook,
        replace(block, rows=[first, *block.rows[1:]]),
        {at: (fields or {}, word) for at, fields in kept.items()},
    )


def _unlabelled(notebook: Notebook, block: Block) -> bool:
    """Ask about a table on its side whose columns nothing heads: they may be units, settings, or rated and measured."""
    roles = [resolve(text_of(cell)).role for cell in block.rows[0]]
    if STATE in roles or roles[0] not in (READING, UNCERTAINTY, SPECTRAL) or len(block.rows) < 3:
        return False
    message = f"nothing heads the {len(block.rows) - 1} columns of values, so what each is of isn't known: none is used"
    ask = "put a row above them with the units' serials or the settings, and its name (Serial, CCT setting) before it"
    notebook.remark("label_unknown", "major", message, ask, place=where(block, 1, 0))
    return True


def _without_open_heads(notebook: Notebook, block: Block) -> Block:
    """Ask about headings that rows of groups or units leave open, and blank their columns out."""
    texts = [text_of(cell) for cell in block.rows[0]]
    for mark, (rule, message, ask) in OPEN_HEADS.items():
        columns = {at for at, text in enumerate(texts) if text.endswith(f"({mark})")}
        if columns:
            shown = some([f"'{clip(texts[at].removesuffix(f'({mark})').strip())}'" for at in sorted(columns)])
            place = where(block, 0, min(columns))
            notebook.remark(rule, "major", message.format(shown), ask, subject=shown, place=place)
            block = _without(block, columns)
    return block


def _without(block: Block, columns: set[int]) -> Block:
    """Blank out columns that aren't used, so that nothing else takes them for anything."""
    rows = [["" if at in columns else cell for at, cell in enumerate(cells)] for cells in block.rows]
    return replace(block, rows=rows)


def _axes(corner: str) -> list[tuple[str, str]]:
    """Return the states that a corner names, words and field: "Hours \\ Unit" says what stands below and beside it."""
    parts = [part.strip() for part in corner.replace("\\", "/").replace("|", "/").split("/")]
    whole = resolve(corner)
    if whole.role == STATE:
        return [(corner, whole.target)]
    return [(part, resolve(part).target) for part in parts if resolve(part).role == STATE]


def _label_fields(text: str, axes: list[tuple[str, str]], numbers: str) -> dict[str, Any] | None:
    """Return what a heading states, None where that is open or what the first column states already."""
    label, below = label_of(text), axes[0][1] if axes else ""
    fields: dict[str, Any] = {}
    if label.whole:
        fields = dict(label.fields)
    elif text.casefold() in START:
        fields = {"hours": 0.0}
    elif printed := parse_number(text):
        fields = {numbers: printed.value if POINT_FIELDS[numbers] != "str" else text} if numbers else {}
    elif identifies(text):
        fields = {"serial": text}
    return fields if fields and below not in fields else None


def _number_field(notebook: Notebook, block: Block, axes: list[tuple[str, str]], numbers: list[float]) -> str:
    """Return the field that headings which are bare numbers state, "" where nothing says it."""
    answer = notebook.recorder.document.answers.get(HEADINGS, "")
    if answer and numbers:
        notebook.answer(answer_line(HEADINGS, answer), block, 0, 0, answer)
        return resolve(answer).target if resolve(answer).target in POINT_FIELDS else ""
    if len(axes) > 1:
        return axes[1][1]
    counted = numbers == [float(number) for number in range(1, len(numbers) + 1)]
    return "serial" if axes and axes[0][1] != "serial" and counted else ""


def _shown(labelled: Mapping[int, str]) -> str:
    texts = list(labelled.values())
    return ", ".join(f"'{text[:40]}'" for text in texts[:MOST_SHOWN]) + (" ..." if len(texts) > MOST_SHOWN else "")


def _ask_headings(notebook: Notebook, block: Block, labelled: Mapping[int, str]) -> None:
    at, example = next(iter(labelled.items()))
    choices = (("hours", ""), ("serial", "the numbers of the units"), ("level_percent", ""), ("cct_setting_K", ""))
    lines = [answer_line(HEADINGS, meaning, comment) for meaning, comment in choices]
    ask = question(notebook.recorder.document, lines)
    if not all(map(parse_number, labelled.values())):
        ask = f"write hours and settings with their units into the headings (1000 h, 50 %); if all are numbers, {ask}"
    message = f"what the headings {_shown(labelled)} mean isn't stated, so the values under them aren't used"
    notebook.remark("column_ambiguous", "major", message, ask, subject=example, place=where(block, 0, at))


def _ask_quantity(notebook: Notebook, block: Block, labelled: Mapping[int, str]) -> None:
    at, example = next(iter(labelled.items()))
    lines = [answer_line(VALUES, meaning) for meaning in ("flux_ratio [%]", "luminous_flux [lm]", "chromaticity_shift")]
    message = f"nothing says which quantity stands under the headings {_shown(labelled)}: their values aren't used"
    ask = question(notebook.recorder.document, [*lines, "# or another quantity of the register, with its unit"])
    notebook.remark("quantity_unknown", "major", message, ask, subject=example, place=where(block, 0, at))
