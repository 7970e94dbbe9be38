"""colour-science, live, on every light source it carries: the same spectrum, two independent codes.

Its own resampling of 5 nm spectra to 1 nm in CRI (Sprague) moves Ra of line spectra by up to 0.8, so both
codes get one 1 nm spectrum here, interpolated linearly, as fits neither of them better. What the resampling
itself does is tested against published x and y.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from audit.quantities.chromaticity import cct_duv, chromaticity
from audit.quantities.rendition import rendition
from audit.quantities.tables import VISIBLE, WAVELENGTH_NM

pytestmark = pytest.mark.filterwarnings("ignore")  # the library remarks on short spectra

NM = WAVELENGTH_NM[VISIBLE]


@pytest.fixture(scope="module")
def at_1_nm(all_sources):
    """Every source at 1 nm from 380 nm to 780 nm: names and power (n, 401)."""
    power = [np.interp(NM, nm, p) for p, nm in all_sources.values()]
    assert len(power) > 100
    return list(all_sources), np.array(power)


def test_cct_and_duv(colour, at_1_nm):
    """Source: colour-science 0.4.7, Ohno 2013, from the same x and y: 0.1 K, 2e-6 (its table is coarser)."""
    names, power = at_1_nm
    own = chromaticity(power, NM)
    for i, name in enumerate(names):
        xyz = colour.sd_to_XYZ(power[i], shape=colour.SpectralShape(380, 780, 1), method="Integration")
        x, y = colour.XYZ_to_xy(xyz)
        assert own.x[i] == pytest.approx(x, abs=1e-9), name
        assert own.y[i] == pytest.approx(y, abs=1e-9), name
        expected_K, expected_duv = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(xyz)))
        cct_K, duv = cct_duv(x, y)
        assert cct_K == pytest.approx(expected_K, abs=0.1), name
        assert duv == pytest.approx(expected_duv, abs=2e-6), name


def test_cri(colour, at_1_nm):
    """Source: colour-science 0.4.7: Ra 0.02, Ri 0.15; its CCT is from Robertson, up to 1.5 K off."""
    names, power = at_1_nm
    own = rendition(power, NM)
    for i, name in enumerate(names):
        spectrum = colour.SpectralDistribution(power[i], NM)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = colour.colour_rendering_index(spectrum, additional_data=True)
        expected = [theirs.Q_as[k].Q_a for k in range(1, 15)]
        assert own.ra[i] == pytest.approx(theirs.Q_a, abs=0.02), name
        np.testing.assert_allclose(own.ri[i, :14], expected, atol=0.15, err_msg=name)


def test_tm30(colour, at_1_nm):
    """Source: colour-science 0.4.7, ANSI/IES TM-30-18, Rf and Rg 0.01, all sixteen bins.

    It interpolates the daylight components by Sprague's formula, where CIE 15 prescribes a linear one, and
    mixes references of equal 2-degree instead of 10-degree Y.
    """
    names, power = at_1_nm
    own = rendition(power, NM)
    for i, name in enumerate(names):
        spectrum = colour.SpectralDistribution(power[i], NM)
        theirs = colour.quality.colour_fidelity_index_ANSIIESTM3018(spectrum, additional_data=True)
        assert own.rf[i] == pytest.approx(theirs.R_f, abs=0.01), name
        assert own.rg[i] == pytest.approx(theirs.R_g, abs=0.01), name
        np.testing.assert_allclose(own.rf_h[i], theirs.R_fs, atol=0.02, err_msg=name)
        np.testing.assert_allclose(own.rcs_h[i], theirs.R_cs, atol=0.02, err_msg=name)
        np.testing.assert_allclose(own.rhs_h[i], theirs.R_hs, atol=0.0002, err_msg=name)


def test_rf_and_rg_from_5_nm(colour, all_sources):
    """Source: colour-science 0.4.7 with plain sums at 5 nm; 0.01, so neither resampling moves Rf or Rg."""
    for name, (power, nm) in all_sources.items():
        own = rendition(power, nm)
        theirs = colour.quality.colour_fidelity_index_ANSIIESTM3018(
            colour.SpectralDistribution(power, nm), additional_data=True
        )
        assert own.rf[0] == pytest.approx(theirs.R_f, abs=0.01), name
        assert own.rg[0] == pytest.approx(theirs.R_g, abs=0.01), name
