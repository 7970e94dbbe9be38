"""Standard uncertainties: stated, shared within a test, propagated, assumed by standing, rounded."""

import math
from pathlib import Path

import pytest

from audit.gather import Part, gather
from audit.model import Document
from audit.recorder import Recorder
from audit.register import quantity_register
from audit.uncertainty import uncertainties


def spread(readings, standing="accredited report"):
    """readings: (serial, quantity, value, stated U, resolution) -> the Uncertainties, in that order."""
    recorder = Recorder(Document("report.csv", Path("report.csv"), 1, "0" * 64))
    recorder.metadata("standing", standing, recorder.place())
    for serial, quantity, value, stated, resolution in readings:
        point = recorder.point(serial=serial, product="P")
        place = recorder.place(row=1)
        recorder.reading(point, quantity, value, place, expanded_uncertainty=stated, resolution=resolution)
    evidence = gather([Part(recorder.document, "t", recorder.tables())], {"p": "P"}, quantity_register(), recorder)
    return uncertainties(evidence, dict(quantity_register()))


NAN = math.nan


def test_stated_uncertainty_is_expanded_with_k_2():
    assert spread([("1", "ra", 90, 1.0, NAN)]).total == pytest.approx([0.5])
    assert not spread([("1", "ra", 90, 1.0, NAN)]).assumed[0]


def test_one_row_that_states_it_speaks_for_the_test():
    found = spread([("1", "ra", 90, 1.4, NAN), ("2", "ra", 91, NAN, NAN), ("2", "rf", 91, NAN, NAN)])
    assert found.total[:2] == pytest.approx([0.7, 0.7])
    assert found.assumed.tolist() == [False, False, True]


@pytest.mark.parametrize(
    ("standing", "factor"),
    [
        ("accredited report", 1),
        ("maker's laboratory", 1.5),
        ("own measurement with a portable instrument", 3),
        ("not stated", 2),
    ],
)
def test_defaults_widen_with_the_standing(standing, factor):
    # The defaults and factors are settings of this project (MEMORY, chosen); their use is what is tested.
    found = spread([("1", "ra", 90, NAN, NAN), ("1", "luminous_flux", 1000, NAN, NAN)], standing)
    assert found.total == pytest.approx([0.5 * factor, 12.5 * factor])
    assert found.assumed.all()


def test_half_a_printed_digit_is_added_in_quadrature():
    # JCGM 100:2008, 4.3.7: a rectangular half-width a has u = a / sqrt 3.
    assert spread([("1", "ra", 90, 1.0, 1.0)]).total == pytest.approx([math.hypot(0.5, 0.5 / math.sqrt(3))])


def test_cct_and_duv_take_theirs_from_x_and_y():
    # ANSI C78.377 3000 K centre, U(x) = U(y) = 0.0015: U(CCT) 29 K, U(Duv) 0.00064 (computed table of sensitivities,
    # numerical derivatives of the exact map).
    found = spread(
        [
            ("1", "x", 0.4339, 0.0015, NAN),
            ("1", "y", 0.4033, 0.0015, NAN),
            ("1", "cct", 3045, NAN, NAN),
            ("1", "duv", 0.0002, NAN, NAN),
        ]
    )
    assert 2 * found.total[2] == pytest.approx(29, abs=0.5)
    assert 2 * found.total[3] == pytest.approx(0.00064, abs=5e-6)
    assert not found.assumed.any()


def test_the_rounding_of_x_and_y_is_propagated_too():
    fine, coarse = (
        spread([("1", "x", 0.434, 1e-9, digit), ("1", "y", 0.403, 1e-9, digit), ("1", "cct", 3045, NAN, NAN)]).total[2]
        for digit in (0.0001, 0.001)
    )
    # JCGM 100:2008, 4.3.7 and 5.1.2; sensitivities at 3000 K: half the digit over sqrt 3 in both coordinates.
    assert coarse == pytest.approx(10 * fine, rel=1e-3)
    assert coarse == pytest.approx(29 / 2 * (0.0005 / math.sqrt(3)) / 0.00075, rel=0.02)


def test_without_x_and_y_cct_has_a_default():
    found = spread([("1", "cct", 3000, NAN, NAN)])
    assert found.total == pytest.approx([15])
    assert found.assumed.all()


def test_a_quantity_without_a_default_has_no_uncertainty():
    found = spread([("1", "unified_glare_rating", 17, NAN, NAN)])
    assert math.isnan(found.total[0])
    assert not found.assumed[0]


def test_repeatability_never_exceeds_the_whole():
    found = spread([("1", "ra", 90, 0.1, NAN)])
    assert found.repeat[0] <= found.total[0]
