"""x and y of one light: by spectrum and state, by row or column where units carry no serial number."""

import pytest

from audit.gather import Part, gather
from audit.model import Document
from audit.pairs import paired
from audit.recorder import Recorder
from audit.register import quantity_register


def pairs(readings):
    """readings: (quantity, value, serial, row, cell) -> pairs of values."""
    recorder = Recorder(Document("report.csv", "report.csv", 1, "0" * 64))
    for quantity, value, serial, row, cell in readings:
        point = recorder.point(product="P", serial=serial)
        recorder.reading(point, quantity, value, recorder.place(row=row, cell=cell))
    evidence = gather([Part(recorder.document, "t", recorder.tables())], {"p": "P"}, quantity_register(), recorder)
    rows = evidence.readings
    quantity = rows["quantity"].astype(str)
    one, other = paired(evidence, *(rows.index[quantity == name].to_numpy() for name in ("x", "y")))
    return list(zip(rows["value"].iloc[one], rows["value"].iloc[other], strict=True))


def test_units_with_serial_numbers_are_told_apart_by_them():
    rows = [("x", 0.31, "1", 2, "B2"), ("y", 0.42, "2", 3, "C3"), ("y", 0.41, "1", 4, "C4"), ("x", 0.32, "2", 5, "B5")]
    assert pairs(rows) == [(0.31, 0.41), (0.32, 0.42)]


def test_without_serial_numbers_those_in_one_row_belong_together():
    rows = [("x", 0.31, "", 2, "B2"), ("x", 0.32, "", 3, "B3"), ("y", 0.42, "", 3, "C3"), ("y", 0.41, "", 2, "C2")]
    assert pairs(rows) == [(0.31, 0.41), (0.32, 0.42)]


def test_without_serial_numbers_and_on_their_side_those_in_one_column_do():
    rows = [("x", 0.31, "", 2, "B2"), ("x", 0.32, "", 2, "C2"), ("y", 0.41, "", 3, "B3"), ("y", 0.42, "", 3, "C3")]
    assert pairs(rows) == [(0.31, 0.41), (0.32, 0.42)]


@pytest.mark.parametrize(
    "rows",
    [
        [("x", 0.31, "", 2, "B2"), ("x", 0.32, "", 3, "B3"), ("y", 0.41, "", 5, "C5"), ("y", 0.42, "", 6, "C6")],
        [("x", 0.31, "1", 2, "B2"), ("y", 0.41, "2", 2, "C2")],
        [("x", 0.31, "1", 2, "B2")],
    ],
    ids=["rows and columns differ", "two units", "no y"],
)
def test_what_cannot_be_told_has_no_partner(rows):
    assert pairs(rows) == []
