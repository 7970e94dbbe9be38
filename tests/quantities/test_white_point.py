"""ANSI C78.377 quadrangles against published tables, against the rule that makes them and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize

from audit.quantities import tables
from audit.quantities.chromaticity import cct_duv
from audit.quantities.white_point import (
    EDITIONS,
    centre,
    duv_limits,
    in_quadrangle,
    label,
    nominal_cct,
    quadrangle_probability,
    quadrangles,
    target_duv,
)


def chromaticity_of(cct_K, duv, near):
    """x and y of a CCT and Duv, by root finding from a neighbour."""

    def miss(xy):
        found = cct_duv(*xy)
        return [(found[0] - cct_K) / 1e4, found[1] - duv]

    return optimize.root(miss, near, tol=1e-12).x


def test_targets_and_centres_are_the_published_ones(published):
    """Source: ANSI C78.377-2008 and -2015/2017 as quoted publicly (VERIFIED, secondary)."""
    rows = published("ansi_c78377_nominal")
    assert len(rows) == sum(quadrangles(edition).nominal_K.size for edition in EDITIONS) == 18
    for row in rows:
        table, nominal = quadrangles(row["edition"]), float(row["nominal_CCT_K"])
        at = table.nominal_K.tolist().index(nominal)
        assert centre(nominal, row["edition"]) == (float(row["centre_x"]), float(row["centre_y"]))
        assert table.target_cct_K[at] == float(row["target_CCT_K"])
        assert table.cct_tolerance_K[at] == float(row["CCT_tolerance_K"])
        low, high = duv_limits(nominal, row["edition"])
        assert (low + high) / 2 == pytest.approx(float(row["target_Duv"]), abs=1e-12)
        assert (high - low) / 2 == pytest.approx(float(row["Duv_tolerance"]), abs=1e-12)
        assert table.centre_u_prime[at] == pytest.approx(float(row["centre_u_prime"]), abs=6e-5)
        assert table.centre_v_prime[at] == pytest.approx(float(row["centre_v_prime"]), abs=6e-5)


def test_corners_are_the_published_ones(published):
    """Source: the same; where none was published the computed ones, which are marked."""
    order = ("low CCT +Duv", "high CCT +Duv", "high CCT -Duv", "low CCT -Duv")
    rows = published("ansi_c78377_quadrangles")
    assert len(rows) == 72
    for row in rows:
        table = quadrangles(row["edition"])
        at = table.nominal_K.tolist().index(float(row["nominal_CCT_K"]))
        kind = "published" if row["x_published"] else "calc"
        assert table.corners_status[at] == ("VERIFIED" if kind == "published" else "COMPUTED")
        expected = [float(row[f"x_{kind}"]), float(row[f"y_{kind}"])]
        assert table.corners[at, order.index(row["corner"])].tolist() == expected


@pytest.mark.parametrize(("edition", "off"), [("2008", 6e-5), ("2015/2017", 2.1e-4)])
def test_corners_follow_from_targets_and_tolerances(edition, off):
    """The rule of each edition (COMPUTED): constant target Duv in 2008, Duv(T) of the corner later."""
    table = quadrangles(edition)
    for i in range(table.nominal_K.size):
        for corner, (side, height) in enumerate(((-1, 1), (1, 1), (1, -1), (-1, -1))):
            cct_K = table.target_cct_K[i] + side * table.cct_tolerance_K[i]
            middle = table.target_duv[i] if edition == "2008" else target_duv(cct_K)
            xy = chromaticity_of(cct_K, middle + height * table.duv_tolerance[i], table.corners[i, corner])
            tolerance = 6e-5 if table.corners_status[i] == "COMPUTED" else off
            np.testing.assert_allclose(table.corners[i, corner], xy, atol=tolerance, err_msg=f"{i} {corner}")


def test_the_duv_formula_gives_the_ten_published_centres():
    """Source: centres of ANSI C78.377-2015/2017 (VERIFIED, secondary), to their four decimals."""
    table = quadrangles("2015/2017")
    for i, cct_K in enumerate(table.target_cct_K):
        published_xy = np.array([table.centre_x[i], table.centre_y[i]])
        xy = chromaticity_of(cct_K, target_duv(cct_K), published_xy)
        np.testing.assert_allclose(published_xy, xy, atol=7e-5, err_msg=f"{cct_K} K")
    np.testing.assert_allclose(table.target_duv, target_duv(table.target_cct_K), atol=6e-6)


def test_target_duv_below_the_bend_and_for_nothing():
    assert target_duv([2238, 2725, 2869]).tolist() == [0.0, 0.0, 0.0]
    assert np.isnan(target_duv(np.nan))


@pytest.mark.parametrize("edition", EDITIONS)
def test_each_centre_lies_in_its_own_quadrangle_only(edition):
    table = quadrangles(edition)
    x, y = table.centre_x[:, None], table.centre_y[:, None]
    assert in_quadrangle(x, y, table.nominal_K, edition).tolist() == np.eye(table.nominal_K.size, dtype=bool).tolist()
    assert nominal_cct(table.centre_x, table.centre_y, edition).tolist() == table.nominal_K.tolist()


@pytest.mark.parametrize("edition", EDITIONS)
def test_edges_are_straight_and_belong_to_the_quadrangle(edition):
    table = quadrangles(edition)
    ahead = np.roll(table.corners, -1, axis=1)
    nominal = table.nominal_K[:, None]
    for share in (0.0, 0.25, 0.5):
        on_edge = table.corners * (1 - share) + ahead * share
        assert in_quadrangle(on_edge[..., 0], on_edge[..., 1], nominal, edition).all()
    middle = np.stack([table.centre_x, table.centre_y], -1)[:, None]
    beyond = middle + (1 + 1e-5) * ((table.corners + ahead) / 2 - middle)
    assert not in_quadrangle(beyond[..., 0], beyond[..., 1], nominal, edition).any()


def test_a_box_in_cct_and_duv_is_not_the_quadrangle():
    """COMPUTED: at 3500 K the box bulges beyond the straight edge by up to 0.0004 in x, y."""
    table = quadrangles("2015/2017")
    corners = table.corners[table.nominal_K.tolist().index(3500)]
    x, y = chromaticity_of(3465, float(target_duv(3465)) + 0.0059, corners[:2].mean(axis=0))
    _, duv = cct_duv(x, y)
    assert abs(duv - target_duv(3465)) < 0.006
    assert not in_quadrangle(x, y, 3500, "2015/2017")


def test_nominal_cct_of_chromaticities_in_none_and_on_a_common_edge():
    low, high = quadrangles("2008").corners[0, 1], quadrangles("2008").corners[0, 2]
    edge = (low + high) / 2  # 2700 K and 3000 K meet there
    assert nominal_cct(*edge, "2008") in (2700, 3000)
    assert in_quadrangle(*edge, [2700, 3000], "2008").all()
    nothing = nominal_cct([0.64, np.nan, 0.9, 0.44], [0.33, 0.4, 0.4, np.nan], "2017")
    assert np.isnan(nothing).all()
    assert nominal_cct(0.5018, 0.4153, "2015") == 2200
    assert np.isnan(nominal_cct(0.5018, 0.4153, "2008"))


def test_probability_is_the_share_of_a_simulation():
    """300,000 seeded draws for each of four correlated cases; four standard deviations of the share."""
    rng = np.random.default_rng(5)
    draws = rng.standard_normal((300_000, 2))
    for nominal, x, y, u_x, u_y, r in (
        (3000, 0.4339, 0.4033, 0.008, 0.010, 0.5),
        (3000, 0.4500, 0.4220, 0.0015, 0.0015, 0.0),
        (2200, 0.5018, 0.4300, 0.002, 0.004, -0.7),
        (6500, 0.3040, 0.3320, 0.002, 0.001, 0.9),
    ):
        true_x = x + u_x * draws[:, 0]
        true_y = y + u_y * (r * draws[:, 0] + np.sqrt(1 - r * r) * draws[:, 1])
        share = in_quadrangle(true_x, true_y, nominal, "2015/2017").mean()
        p = quadrangle_probability(x, y, u_x, u_y, r, nominal, "2015/2017")
        assert 0.02 < p < 0.98
        assert p == pytest.approx(share, abs=4 * np.sqrt(p * (1 - p) / 300_000))


def test_probability_without_uncertainty_and_without_a_value():
    x, y = [0.4339, 0.5, np.nan, 0.4339], [0.4033, 0.4, 0.4, 0.4033]
    p = quadrangle_probability(x, y, 0.0, 0.0, 0.0, [3000, 3000, 3000, np.nan], "2015/2017")
    np.testing.assert_array_equal(p, [1.0, 0.0, np.nan, np.nan])
    assert quadrangle_probability(0.4339, 0.4033, 0.001, 0.001, 1.0, 3000, "2017") == pytest.approx(1, abs=1e-9)


def test_every_result_names_its_edition():
    assert label(3000, "2015") == label(3000, "2017") == "ANSI C78.377-2015/2017, 3000 K"
    assert label(3000, "2008") == "ANSI C78.377-2008, 3000 K"


def test_what_an_edition_does_not_have_is_said():
    with pytest.raises(ValueError, match="-2008 has no nominal CCT of 2200 K, only 2700, 3000"):
        in_quadrangle(0.5, 0.41, 2200, "2008")
    with pytest.raises(ValueError, match="no edition '1996' here; state one of 2008 or 2015/2017"):
        nominal_cct(0.5, 0.41, "1996")
    with pytest.raises(ValueError, match="no nominal CCT is stated"):
        centre(np.nan, "2008")
    assert not in_quadrangle(0.4339, 0.4033, np.nan, "2008")


@pytest.mark.parametrize("name", ["ansi_c78377_2008", "ansi_c78377_2015_2017", "iec60081_ellipses"])
def test_the_tables_name_source_and_status(name):
    head = (tables.DATA / f"{name}.csv").read_text(encoding="utf-8").splitlines()[:5]
    assert any(line.startswith("# source: ") for line in head)
    assert any(line.startswith("# status: ") for line in head)
