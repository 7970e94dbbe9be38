"""Steps by ellipse and by circle, worst pair and probabilities, against published rows, scipy and simulation."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats
from scipy.spatial.distance import pdist, squareform

from audit.quantities.chromaticity import xy_to_uv_prime
from audit.quantities.steps import (
    CIRCLE_STEP,
    DATA_SHEET_2700_K,
    Centre,
    Form,
    ansi_centre,
    axes,
    circle_steps,
    ellipse_steps,
    form_from_axes,
    iec_centre,
    in_circle_steps,
    in_ellipse_steps,
    sample_centre,
    stated_centre,
    worst_pair,
)


def ellipse_probability(*light_centre_and_steps):
    """Probability of lying within the last argument, in steps by ellipse."""
    return in_ellipse_steps(*light_centre_and_steps[:-1]).probability(light_centre_and_steps[-1])


def circle_probability(*light_centre_and_steps):
    """The same by u'v' circle."""
    return in_circle_steps(*light_centre_and_steps[:-1]).probability(light_centre_and_steps[-1])


def boundary(x, y, a, b, theta_deg, n=12):
    """Points of an ellipse by its parametric form, independent of any quadratic form."""
    t, turn = np.linspace(0, 2 * np.pi, n, endpoint=False), np.radians(theta_deg)
    along, across = a * np.cos(t), b * np.sin(t)
    return x + along * np.cos(turn) - across * np.sin(turn), y + along * np.sin(turn) + across * np.cos(turn)


def test_iec_ellipses_are_the_published_ones(published):
    """Source: IEC 60081, Annex D, centres and coefficients as quoted publicly (VERIFIED, secondary)."""
    rows = published("iec60081_ellipses")
    assert len(rows) == 6
    for row in rows:
        listed = iec_centre(float(row["colour"].split()[1]))
        assert (listed.x, listed.y) == (float(row["x"]), float(row["y"]))
        assert listed.form == tuple(float(row[g]) for g in ("g11", "g12", "g22"))
        a, b, theta = axes(listed.form)
        assert a == pytest.approx(float(row["a_1step"]), abs=6e-7)
        assert b == pytest.approx(float(row["b_1step"]), abs=6e-7)
        assert theta == pytest.approx(float(row["theta_deg"]), abs=6e-3)


def test_the_data_sheet_ellipse(published):
    """Source: public data sheet of a 2700 K LED package, table 9 (VERIFIED); its 3-step ellipse is 3 steps."""
    (row,) = published("led_datasheet_ellipses")
    assert np.round(DATA_SHEET_2700_K.form).tolist() == [float(row[g]) for g in ("g11", "g12", "g22")]
    x, y = boundary(float(row["centre_x"]), float(row["centre_y"]), 0.00810, 0.00420, 53.70)
    np.testing.assert_allclose(ellipse_steps(x, y, DATA_SHEET_2700_K), 3, rtol=1e-12)


def test_worked_examples_both_ways(published):
    """Source: ten examples by quadratic form, by rotated axes and by circle (COMPUTED, independent code)."""
    rows = published("sdcm_examples")
    assert len(rows) == 10
    for row in rows:
        x, y = float(row["x"]), float(row["y"])
        listed = iec_centre(float(row["centre"].split()[1]))
        assert ellipse_steps(x, y, listed) == pytest.approx(float(row["steps_quadratic_form"]), abs=6e-5)
        rotated = replace(listed, form=form_from_axes(*axes(listed.form)))
        assert ellipse_steps(x, y, rotated) == pytest.approx(float(row["steps_rotated_axes"]), abs=6e-5)
        by_circle = circle_steps(x, y, float(row["cx"]), float(row["cy"]))
        assert by_circle == pytest.approx(float(row["steps_uv_circle_0.0011"]), abs=1e-4)
        assert by_circle * CIRCLE_STEP == pytest.approx(float(row["delta_u_v_prime"]), abs=6e-7)


def test_macadam_ellipses_are_one_step_of_their_own_form(published, colour):
    """Source: D. L. MacAdam 1942, 25 ellipses (VERIFIED), live from colour-science; observed and calculated."""
    live = np.asarray(colour.models.datasets.macadam_ellipses.DATA_MACADAM_1942_ELLIPSES)
    rows = published("macadam1942_ellipses")
    columns = (
        "x",
        "y",
        *(f"{name}_{kind}" for kind in ("observed", "calculated") for name in ("a_1e-3", "b_1e-3", "theta_deg")),
    )
    np.testing.assert_array_equal(live, [[float(row[name]) for name in columns] for row in rows])
    for x, y, *ellipses in live:
        for a, b, theta in (ellipses[:3], ellipses[3:]):
            form = form_from_axes(a / 1000, b / 1000, theta)
            centre = Centre("MacAdam 1942", x, y, form)
            np.testing.assert_allclose(ellipse_steps(*boundary(x, y, a / 1000, b / 1000, theta), centre), 1, rtol=1e-9)
            np.testing.assert_allclose(axes(form), [a / 1000, b / 1000, theta % 180], rtol=1e-9)


def test_macadam_form_is_that_of_an_ellipse_fit(colour):
    """Source: colour.algebra, canonical to general ellipse; the same quadratic form from another code."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        general = colour.geometry.ellipse_coefficients_general_form([0.44, 0.403, 0.0028, 0.0014, 53.0])
    form = form_from_axes(0.0028, 0.0014, 53.0)
    np.testing.assert_allclose(general[:3] / general[0], [1, 2 * form.g12 / form.g11, form.g22 / form.g11], rtol=1e-9)


def test_centres_say_what_was_moved_and_why_not():
    moved = ansi_centre(3000, "2008")
    assert (moved.name, moved.x, moved.y) == ("ANSI C78.377-2008, 3000 K", 0.4338, 0.4030)
    assert moved.note == "ellipse of IEC 60081 F 3000 moved to this centre"
    assert moved.form == iec_centre(3000).form
    for nominal in (2200, 2500, 4500, 5700):
        bare = ansi_centre(nominal, "2015/2017")
        assert bare.form is None
        assert bare.refused.startswith(f"IEC 60081 has no ellipse of {nominal} K, only of 2700, 3000")
    at_home = stated_centre(0.440, 0.403, 3000)
    assert (at_home.form, at_home.note, at_home.refused) == (iec_centre(3000).form, "", "")
    assert stated_centre(0.437, 0.404, 3000).note == moved.note
    assert "need the nominal CCT" in stated_centre(0.437, 0.404).refused
    stranger = stated_centre(0.3123, 0.3282, 3000)
    assert stranger.form is None
    assert "in no ANSI C78.377 quadrangle of 3000 K" in stranger.refused
    assert "not to the mean of a sample" in sample_centre([0.44], [0.4]).refused


def test_centres_that_cannot_be():
    for x, y in ((0.7, 0.5), (0.1, 0.1), (0.44, -0.4), (np.nan, 0.4)):
        with pytest.raises(ValueError, match="no light has this chromaticity; ask for the centre"):
            stated_centre(x, y, 3000)
    with pytest.raises(ValueError, match="IEC 60081 has no ellipse of 4500 K"):
        iec_centre(4500)
    with pytest.raises(ValueError, match="no nominal CCT of 2500 K"):
        ansi_centre(2500, "2008")
    with pytest.raises(ValueError, match="no unit has a chromaticity"):
        sample_centre([np.nan, 0.9], [0.4, 0.9])


def test_the_sample_mean_leaves_out_what_is_missing():
    centre = sample_centre([0.43, 0.45, np.nan, 0.9], [0.40, 0.41, 0.40, 0.4])
    assert (centre.x, centre.y, centre.name) == (pytest.approx(0.44), pytest.approx(0.405), "mean of the sample, n = 2")


def test_no_ellipse_gives_no_number():
    nowhere = stated_centre(0.437, 0.404)
    assert np.isnan(ellipse_steps([0.43, 0.44], 0.4, nowhere)).all()
    assert np.isnan(ellipse_probability(0.43, 0.4, 0.001, 0.001, 0, nowhere, 3))


def test_impossible_and_missing_chromaticities_give_no_number():
    x, y = np.array([np.nan, 0.7, -0.1, 0.4]), np.array([0.4, 0.4, 0.4, 0.0])
    centre = iec_centre(3000)
    assert np.isnan(ellipse_steps(x, y, centre)).all()
    assert np.isnan(circle_steps(x, y, 0.44, 0.403)).all()
    assert np.isnan(circle_steps(0.44, 0.403, x, y)).all()
    assert np.isnan(ellipse_probability(x, y, 0.001, 0.001, 0.0, centre, 3)).all()
    assert np.isnan(circle_probability(x, y, 0.001, 0.001, 0.0, 0.44, 0.403, 3)).all()


def test_a_unit_on_the_centre_is_not_certain():
    """Source: own integration and simulation (COMPUTED): U = 0.003 (k = 2) in x and y, 2 steps at 3000 K."""
    for edition in ("2008", "2015/2017"):
        centre = ansi_centre(3000, edition)
        at = (centre.x, centre.y)
        assert circle_probability(*at, 0.0015, 0.0015, 0, *at, 2) == pytest.approx(0.925, abs=5e-4)
    listed = iec_centre(3000)
    assert ellipse_probability(listed.x, listed.y, 0.0015, 0.0015, 0, listed, 2) == pytest.approx(0.918, abs=5e-4)


def test_ellipse_probability_under_a_covariance_of_its_own_shape_is_ncx2():
    """Source: scipy.stats.ncx2; a covariance that is s^2 times the inverse of the form is circular in steps."""
    for nominal in (2700, 6500):
        centre = iec_centre(nominal)
        g11, g12, g22 = centre.form
        for s in (0.05, 0.5, 2.0):
            inverse = s**2 * np.linalg.inv([[g11, g12], [g12, g22]])
            u_x, u_y = np.sqrt(np.diag(inverse))
            x, y = boundary(centre.x, centre.y, *(np.array(axes(centre.form)[:2]) * 2.9), axes(centre.form)[2])
            p = ellipse_probability(x, y, u_x, u_y, inverse[0, 1] / u_x / u_y, centre, 3)
            np.testing.assert_allclose(p, stats.ncx2.cdf(9 / s**2, 2, 2.9**2 / s**2), atol=1e-9)


def test_ellipse_probability_is_the_integral_in_x_y():
    """Source: the definition, by scipy.integrate.dblquad of the density over the ellipse in x, y itself."""
    centre, (x, y, u_x, u_y, r) = iec_centre(4000), (0.3835, 0.3821, 0.0012, 0.0009, 0.4)
    g11, g12, g22 = centre.form
    normal = stats.multivariate_normal([x, y], [[u_x**2, r * u_x * u_y], [r * u_x * u_y, u_y**2]])
    width = 2 * np.sqrt(g22 / (g11 * g22 - g12**2))

    def edge(side):
        return lambda at: (
            centre.y
            + (-g12 * (at - centre.x) + side * np.sqrt(max(g22 * 4 - (g11 * g22 - g12**2) * (at - centre.x) ** 2, 0)))
            / g22
        )

    expected, _ = integrate.dblquad(
        lambda b, a: normal.pdf([a, b]), centre.x - width, centre.x + width, edge(-1), edge(1), epsabs=1e-7, epsrel=1e-7
    )
    assert 0.3 < expected < 0.9
    assert ellipse_probability(x, y, u_x, u_y, r, centre, 2) == pytest.approx(expected, abs=1e-6)


def test_probabilities_are_the_shares_of_a_simulation():
    """400,000 seeded draws in x, y; the circle's first-order propagation is within 0.002 of the whole one."""
    rng = np.random.default_rng(6)
    draws = rng.standard_normal((400_000, 2))
    for nominal, dx, dy, u_x, u_y, r, n in (
        (2700, 0.004, 0.001, 0.0015, 0.0015, 0.0, 3),
        (4000, -0.003, -0.004, 0.003, 0.002, 0.8, 3),
        (6500, 0.002, 0.004, 0.0008, 0.0012, -0.5, 2),
    ):
        centre = iec_centre(nominal)
        x, y = centre.x + dx, centre.y + dy
        true_x, true_y = x + u_x * draws[:, 0], y + u_y * (r * draws[:, 0] + np.sqrt(1 - r * r) * draws[:, 1])
        share = (ellipse_steps(true_x, true_y, centre) <= n).mean()
        p = ellipse_probability(x, y, u_x, u_y, r, centre, n)
        assert 0.02 < p < 0.98
        assert p == pytest.approx(share, abs=4 * np.sqrt(p * (1 - p) / 400_000))
        share = (circle_steps(true_x, true_y, centre.x, centre.y) <= n).mean()
        p = circle_probability(x, y, u_x, u_y, r, centre.x, centre.y, n)
        assert 0.02 < p < 0.98
        assert p == pytest.approx(share, abs=0.002 + 4 * np.sqrt(p * (1 - p) / 400_000))


def test_probability_at_the_limits_of_uncertainty():
    centre = iec_centre(3000)
    x, y = boundary(centre.x, centre.y, *(3 * np.array(axes(centre.form)[:2])), axes(centre.form)[2])
    assert (ellipse_probability(x, y, 0, 0, 0, centre, 3 + 1e-6) == 1).all()
    assert (ellipse_probability(x, y, 0, 0, 0, centre, 3 - 1e-6) == 0).all()
    by_circle = circle_steps(x, y, centre.x, centre.y)
    assert (circle_probability(x, y, 0, 0, 0, centre.x, centre.y, by_circle + 1e-6) == 1).all()
    assert (circle_probability(x, y, 0, 0, 0, centre.x, centre.y, by_circle - 1e-6) == 0).all()
    # fully correlated: the line x = y through the centre leaves the ellipse after one half width each way
    half = 3 / np.sqrt(sum((centre.form.g11, 2 * centre.form.g12, centre.form.g22)))
    p = ellipse_probability(centre.x, centre.y, half, half, 1, centre, 3)
    assert p == pytest.approx(stats.norm.cdf(1) - stats.norm.cdf(-1), abs=1e-9)


@pytest.mark.parametrize("form", [None, iec_centre(3000).form])
def test_worst_pair_is_that_of_all_pairs(form):
    """Source: scipy.spatial.distance.pdist over the same plane; a cloud and a ring, on which all units count."""
    rng = np.random.default_rng(7)
    angle = rng.uniform(0, 2 * np.pi, 700)
    clouds = ((0.44 + rng.normal(0, 0.002, 700), 0.403 + rng.normal(0, 0.001, 700)),)
    clouds += ((0.44 + 0.003 * np.cos(angle), 0.403 + 0.003 * np.sin(angle)),)
    clouds += ((np.r_[0.44, 0.44, 0.44], np.r_[0.403, 0.403, 0.403]),)
    for x, y in clouds:
        plane = np.stack(xy_to_uv_prime(x, y), -1) / CIRCLE_STEP
        if form is not None:
            plane = np.stack([x, y], -1) @ np.linalg.cholesky([[form.g11, form.g12], [form.g12, form.g22]])
        found, every = worst_pair(x, y, form), squareform(pdist(plane))
        assert found.steps == pytest.approx(every.max(), abs=1e-9)
        assert every[found.first, found.second] == pytest.approx(every.max(), abs=1e-9)
        assert found.first < found.second


def test_two_units_inside_n_steps_may_lie_2n_apart():
    centre = iec_centre(4000)
    x, y = boundary(centre.x, centre.y, *(3 * np.array(axes(centre.form)[:2])), axes(centre.form)[2], n=2)
    np.testing.assert_allclose(ellipse_steps(x, y, centre), 3, rtol=1e-9)
    assert worst_pair(x, y, centre.form).steps == pytest.approx(6, rel=1e-9)


def test_worst_pair_passes_over_units_without_a_chromaticity():
    pair = worst_pair([np.nan, 0.44, 0.9, 0.441, 0.443], [0.4, 0.403, 0.4, 0.403, 0.403])
    assert (pair.first, pair.second) == (1, 4)
    lone = worst_pair([0.44, np.nan], [0.403, 0.4])
    assert (lone.first, lone.second) == (-1, -1)
    assert np.isnan(lone.steps)


def test_a_form_without_tilt_keeps_its_axes():
    assert axes(Form(1e6, 0.0, 4e6)) == (pytest.approx(1e-3), pytest.approx(5e-4), pytest.approx(0.0))
