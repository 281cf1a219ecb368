"""The physical and conventional constants behind every conversion, each with its unit and reference."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Constant:
    """A number that was not measured by the crew or the laboratory.

    Attributes
    ----------
    name : str
    value : float
    unit : str
    reference : str
        Document that defines or recommends the value.
    uncertainty : float
        Standard uncertainty in `unit`; 0 is exact by definition.

    Raises
    ------
    ValueError
        The reference or the unit is empty, or a number is not finite.
    """

    name: str
    value: float
    unit: str
    reference: str
    uncertainty: float = 0.0

    def __post_init__(self) -> None:
        for what in ("name", "unit", "reference"):
            if not getattr(self, what).strip():
                raise ValueError(f"constant {self.name!r} has an empty {what}; give its name, unit and reference")
        if not math.isfinite(self.value) or not math.isfinite(self.uncertainty) or self.uncertainty < 0:
            raise ValueError(f"constant {self.name!r}: value and uncertainty must be finite numbers")

    @property
    def exact(self) -> bool:
        """The value is exact by definition."""
        return self.uncertainty == 0


_YARD_1959 = "International yard and pound agreement of 1959; NIST SP 811 (2008), appendix B.8"
_CONVENTIONAL = "NIST SP 811 (2008), appendix B.8, conventional manometer fluids"
_ATMOSPHERE_1976 = "U.S. Standard Atmosphere, 1976 (NOAA, NASA, USAF), tables 2 and 4"

#: SI: 1 inch is 25.4 mm.
INCH = Constant("inch", 0.0254, "m", _YARD_1959)
FOOT = Constant("foot", 0.3048, "m", _YARD_1959)
POUND = Constant("avoirdupois pound", 0.45359237, "kg", _YARD_1959)

GRAVITY = Constant("standard acceleration of gravity", 9.80665, "m/s2", "3rd CGPM (1901), SI Brochure")
ATMOSPHERE = Constant("standard atmosphere", 101.325, "kPa", "10th CGPM (1954), NIST SP 811 (2008)")
ICE_POINT = Constant("zero of the Celsius scale", 273.15, "K", "SI Brochure, 9th edition (2019), 2.3.1")
GAS_CONSTANT = Constant("molar gas constant", 8.314462618, "J/(mol K)", "CODATA 2018; exact since the SI of 2019")

#: Gauges are graduated in conventional columns: the fluid has this density whatever its temperature is.
MERCURY = Constant("conventional density of mercury (0 degC)", 13595.1, "kg/m3", _CONVENTIONAL)
WATER = Constant("conventional density of water (4 degC)", 1000.0, "kg/m3", _CONVENTIONAL)

#: Lower explosive limit of methane in air: the meaning of `%LEL` in the landfill gas rules.
METHANE_LEL = Constant("lower explosive limit of methane", 5.0, "% by volume", "40 CFR 257.3-8; 27 CCR 20921")

#: The standard atmosphere keeps the gas constant of its own year, not today's.
ATMOSPHERE_GAS_CONSTANT = Constant("gas constant of the model", 8.31432, "J/(mol K)", _ATMOSPHERE_1976)
ATMOSPHERE_MOLAR_MASS = Constant("molar mass of air at sea level", 0.0289644, "kg/mol", _ATMOSPHERE_1976)
ATMOSPHERE_TEMPERATURE = Constant("temperature at sea level", 288.15, "K", _ATMOSPHERE_1976)
ATMOSPHERE_LAPSE = Constant("lapse rate of the troposphere", 0.0065, "K/m", _ATMOSPHERE_1976)
ATMOSPHERE_RADIUS = Constant("effective radius of the earth", 6_356_766.0, "m", _ATMOSPHERE_1976)

ALL = (
    INCH, FOOT, POUND, GRAVITY, ATMOSPHERE, ICE_POINT, GAS_CONSTANT, MERCURY, WATER, METHANE_LEL,
    ATMOSPHERE_GAS_CONSTANT, ATMOSPHERE_MOLAR_MASS, ATMOSPHERE_TEMPERATURE, ATMOSPHERE_LAPSE, ATMOSPHERE_RADIUS,
)  # fmt: skip
