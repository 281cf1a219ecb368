"""A constant without its reference does not come into being."""

import pytest

from vaporqa.quantities import constants
from vaporqa.quantities.constants import Constant


@pytest.mark.parametrize("reference", ["", "  "])
def test_a_constant_without_reference_is_refused(reference):
    with pytest.raises(ValueError, match="reference"):
        Constant("inch", 0.0254, "m", reference)


def test_a_constant_without_unit_or_number_is_refused():
    with pytest.raises(ValueError, match="unit"):
        Constant("inch", 0.0254, "", "agreement of 1959")
    with pytest.raises(ValueError, match="finite"):
        Constant("inch", float("nan"), "m", "agreement of 1959")
    with pytest.raises(ValueError, match="finite"):
        Constant("inch", 0.0254, "m", "agreement of 1959", uncertainty=-1)


def test_every_constant_of_the_module_is_listed():
    found = [value for value in vars(constants).values() if isinstance(value, Constant)]
    assert sorted(found, key=lambda one: one.name) == sorted(constants.ALL, key=lambda one: one.name)
    assert all(one.exact == (one.uncertainty == 0) for one in found)
