"""The robust centre and spread against data sets with a source, and against an independent library."""

import numpy as np
import pytest
from scipy.stats import median_abs_deviation

from debrief.history.usual.baseline import robust_centre

# Tietjen and Moore (1972), uranium isotope data, as in the NIST/SEMATECH e-Handbook, section 1.3.5.17.1
# (eda35h1.htm). The last value is the outlier that the page finds.
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]

# Grubbs (1950) and Tietjen and Moore (1972), Venus data: NIST data file TIETMOO1.DAT.
VENUS = [
    -1.40, -0.44, -0.30, -0.24, -0.22, -0.13, -0.05, 0.06, 0.10, 0.18, 0.20, 0.39, 0.48, 0.63, 1.01,
]  # fmt: skip


def test_the_published_outlier_of_the_uranium_data_is_far_outside():
    # The page names 245.57 an outlier by Grubbs' test; with n = 8 three ordinary standard deviations can
    # never find it. Median, MAD and the distance are computed, not printed there.
    centre, spread = robust_centre(URANIUM)
    assert centre == pytest.approx(201.37, abs=1e-9)
    assert spread == pytest.approx(1.4826 * 0.995, abs=1e-9)
    outside = [x for x in URANIUM if abs(x - centre) > 3 * spread]
    assert outside == [245.57]
    assert max(abs(np.array(URANIUM) - np.mean(URANIUM))) < 3 * np.std(URANIUM, ddof=1)


def test_the_venus_data_have_their_computed_median_and_deviation():
    # Computed, not published.
    centre, spread = robust_centre(VENUS)
    assert centre == pytest.approx(0.06, abs=1e-12)
    assert spread == pytest.approx(1.4826 * 0.30, abs=1e-12)


@pytest.mark.parametrize("data", [URANIUM, VENUS])
def test_an_independent_library_agrees(data):
    # SciPy scales by 1/0.67448975, this program by the usual rounded 1.4826: 2e-6 apart.
    assert robust_centre(data)[1] == pytest.approx(median_abs_deviation(data, scale="normal"), rel=5e-6)


def test_large_numbers_lose_nothing():
    # NIST Statistical Reference Datasets, NumAcc1: 10000001, 10000003, 10000002; mean 10000002, s 1 exactly.
    # Median and median absolute deviation follow by hand: 10000002 and 1.
    assert robust_centre([10000001, 10000003, 10000002]) == (10000002.0, pytest.approx(1.4826, abs=1e-12))
