"""The viscosity index against a general library, whose table of ASTM D2270 is not ours.

Made with chemicals 1.5.2: ``chemicals.viscosity.viscosity_index(nu_40 * 1e-6, nu_100 * 1e-6)``. The
library reads between the rows of the printed table; ours has its coefficients from memory.
"""

import pytest

from witnessmark.fluids.viscosity import viscosity_index

LIBRARY = [
    (12.0, 2.6, 8.19), (15.0, 3.3, 80.1), (30.0, 4.6, 39.95), (22.83, 5.05, 156.42), (46.0, 6.8, 101.61),
    (26.5, 7.0, 246.59), (53.47, 7.8, 111.31), (73.3, 8.86, 92.43), (100.0, 11.4, 100.26), (96.0, 14.2, 152.01),
    (150.0, 15.0, 99.8), (220.0, 19.0, 96.92), (320.0, 24.0, 95.24), (460.0, 30.5, 95.57),
]  # fmt: skip


@pytest.mark.parametrize(("at_40", "at_100", "index"), LIBRARY)
def test_the_index_is_the_library_s_to_the_whole_number(at_40, at_100, index):
    """An index is stated as a whole number (ASTM D2270, 6.1.5): within half of one."""
    assert viscosity_index(at_40, at_100) == pytest.approx(index, abs=0.5)
