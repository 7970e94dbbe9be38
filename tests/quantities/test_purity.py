"""Dominant and complementary wavelength and purity, against computed rows and colour-science."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from audit.quantities.purity import WHITE_POINTS, in_gamut, propagate, purity


def test_computed_rows(published):
    """Source: own intersection with straight lines between 1 nm entries (COMPUTED), which depart by up to
    0.012 nm and 4e-5 in purity. Rows named E were worked with the exact 1/3, printed as .3333."""
    rows = published("purity_dominant_wavelength")
    assert len(rows) == 12
    for row in rows:
        result = purity(float(row["x"]), float(row["y"]), WHITE_POINTS[row["white"]])
        nm = float(row["wavelength_own_nm_neg_if_complementary"])
        found = result.dominant_nm if row["type"] == "dominant" else -result.complementary_nm
        # illuminants: x and y are printed to five decimals but were worked unrounded
        assert found[0] == pytest.approx(nm, abs=0.02), row["stimulus"]
        assert result.excitation_purity[0] == pytest.approx(float(row["pe_own"]), abs=6e-5), row["stimulus"]
        assert np.isnan(result.dominant_nm[0]) == (row["type"] == "complementary")
        if row["type"] == "dominant":
            assert found[0] == pytest.approx(float(row["wavelength_colour_nm"]), abs=0.51), row["stimulus"]
            assert result.excitation_purity[0] == pytest.approx(float(row["pe_colour"]), abs=6e-5), row["stimulus"]
        else:
            assert result.excitation_purity[0] == pytest.approx(float(row["pe_colour"]), abs=1e-3), row["stimulus"]


@pytest.mark.parametrize("white", ["E", "D65", "EU 2019/2020"])
def test_second_opinion_of_the_open_library(colour, white):
    """Source: colour-science 0.4.7 live; whole nm, sign for complementary, locus cut at 360 nm: purples to 0.002."""
    rng = np.random.default_rng(8)
    x, y = rng.uniform(0.15, 0.6, 150), rng.uniform(0.08, 0.6, 150)
    inside = in_gamut(x, y) & (np.hypot(x - 1 / 3, y - 1 / 3) > 0.02)
    x, y = x[inside], y[inside]
    result = purity(x, y, WHITE_POINTS[white])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        xy = np.stack([x, y], -1)
        nm = np.array([colour.dominant_wavelength(one, WHITE_POINTS[white])[0] for one in xy])
        pe = np.array([colour.excitation_purity(one, WHITE_POINTS[white]) for one in xy])
    spectral = nm > 0
    assert 15 < (~spectral).sum() < spectral.sum()
    np.testing.assert_allclose(result.dominant_nm[spectral], nm[spectral], atol=0.52)
    np.testing.assert_allclose(result.complementary_nm[~spectral], -nm[~spectral], atol=0.52)
    np.testing.assert_allclose(result.excitation_purity[spectral], pe[spectral], atol=3e-4)
    np.testing.assert_allclose(result.excitation_purity[~spectral], pe[~spectral], atol=2e-3)
    assert np.isnan(result.dominant_nm[~spectral]).all()


def test_a_hundredth_of_a_nanometre_means_something(colour):
    """Source: the observer between its 1 nm entries by Sprague's interpolation (colour-science, CIE 167)."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy()
    fine = observer.interpolate(colour.SpectralShape(415, 685, 0.1))
    nm = fine.wavelengths
    inside = (nm >= 420) & (nm <= 680)
    xyz = fine.values[inside]
    result = purity(*(xyz[:, :2] / xyz.sum(axis=1, keepdims=True)).T)
    np.testing.assert_allclose(result.dominant_nm, nm[inside], atol=0.001)
    np.testing.assert_allclose(result.excitation_purity, 1, atol=1e-5)


def test_purity_is_the_share_of_the_way_to_the_boundary():
    """By definition (IEV 845-23): halfway between white and boundary is 0.5, whichever formula is used."""
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    white = np.array(WHITE_POINTS["E"])
    start = purity(white[0] + 0.05 * np.cos(angle), white[1] + 0.05 * np.sin(angle))
    for share in (0.01, 0.5, 0.99):
        x = white[0] + share * (start.boundary_x - white[0])
        y = white[1] + share * (start.boundary_y - white[1])
        result = purity(x, y)
        np.testing.assert_allclose(result.excitation_purity, share, rtol=1e-9)
        np.testing.assert_allclose(result.dominant_nm, start.dominant_nm, rtol=1e-9)
    opposite = purity(white[0] - 0.05 * np.cos(angle), white[1] - 0.05 * np.sin(angle))
    np.testing.assert_allclose(opposite.dominant_nm, start.complementary_nm, rtol=1e-9)
    assert 5 < np.isnan(start.dominant_nm).sum() < 36


def test_points_on_the_purple_line_have_purity_one():
    """Source: ends of the CIE 1931 locus, CIE 15: 380 nm (.17411, .00496) and 699 nm and up (.73469, .26531)."""
    share = np.linspace(0.1, 0.9, 9)
    x, y = 0.17411 + share * (0.73469 - 0.17411), 0.00496 + share * (0.26531 - 0.00496)
    result = purity(x, y)
    np.testing.assert_allclose(result.excitation_purity, 1, atol=5e-5)
    assert np.isnan(result.dominant_nm).all()
    assert ((result.complementary_nm > 493) & (result.complementary_nm < 568)).all()


def test_refused_colours_say_why_and_the_rest_go_on():
    result = purity([1 / 3, 0.33335, 0.9, 0.02, 0.7, np.nan, 0.5], [1 / 3, 0.3333, 0.05, 0.3, 0.5, 0.3, 0.4])
    assert np.isnan(result.excitation_purity).tolist() == [True] * 6 + [False]
    assert np.isnan(result.dominant_nm).tolist() == [True] * 6 + [False]
    assert [text[:15] for text in result.refused] == ["it is the white"] * 2 + ["it lies outside"] * 3 + ["", ""]


def test_the_locus_as_printed_is_not_refused(colour):
    """Source: chromaticity of the CIE 1931 observer at 1 nm (colour-science 0.4.7), rounded as printed tables are."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    xyz = observer.values[(observer.wavelengths >= 380) & (observer.wavelengths <= 780)]
    result = purity(*np.round(xyz[:, :2] / xyz.sum(axis=1, keepdims=True), 4).T)
    assert set(result.refused) == {""}
    assert result.excitation_purity.min() > 0.9995
    assert result.excitation_purity.max() == 1.0


def test_a_white_point_must_be_a_colour():
    for white in ((0.7, 0.5), (np.nan, 0.3), (0.1, 0.05)):
        with pytest.raises(ValueError, match="is no colour of light; state another"):
            purity(0.4, 0.4, white)


def test_uncertainties_are_the_scatter_of_a_simulation():
    """20,000 seeded draws in x, y, correlated; amber, blue-white and magenta."""
    rng = np.random.default_rng(8)
    draws = rng.standard_normal((2, 20_000))
    for x, y, r in ((0.50, 0.42, 0.0), (0.28, 0.29, 0.5), (0.32, 0.154, -0.3)):
        spreads = propagate(x, y, 0.0010, 0.0008, r)
        drawn = purity(x + 0.0010 * draws[0], y + 0.0008 * (r * draws[0] + np.sqrt(1 - r * r) * draws[1]))
        assert spreads["excitation_purity"] == pytest.approx(drawn.excitation_purity.std(), rel=0.03)
        for name, values in (
            ("dominant_wavelength", drawn.dominant_nm),
            ("complementary_wavelength", drawn.complementary_nm),
        ):
            if np.isnan(values).all():
                assert np.isnan(spreads[name])
            else:
                assert spreads[name] == pytest.approx(np.nanstd(values), rel=0.05)


def test_near_white_a_wavelength_is_hardly_known():
    near, far = (propagate(1 / 3 + d, 1 / 3 + d, 0.001, 0.001)["dominant_wavelength"] for d in (0.001, 0.1))
    assert near > 30 * far


def test_gamut():
    x, y = [0.1, 0.08, 0.6, 0.3333, 1 / 3, 0.5, np.nan], [0.1, 0.83, 0.5, 0.05, 1 / 3, 0.4, 0.3]
    assert in_gamut(x, y).tolist() == [False, True, False, False, True, True, False]
