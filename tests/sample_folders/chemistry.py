"""What the invented laboratories report: analytes, CAS numbers, molar masses, limits.

CAS numbers are checked against their own check digit when this file is read. Molar masses are those of the usual
handbooks, from memory, and serve only to print plausible mass concentrations.
"""

from __future__ import annotations

from dataclasses import dataclass

MOLAR_VOLUME = 24.465404  # L/mol at 25 degC and 1 atm: R T / p with the 2019 SI gas constant


@dataclass(frozen=True)
class Analyte:
    """One analyte: `limit` is the undiluted reporting limit in ppbv (in %v for fixed gases)."""

    name: str
    cas: str
    molar_mass: float
    limit: float
    share: float = 0.0  # of the tetrachloroethene that the source gives
    background: float = 0.0  # ppbv that soil gas holds anyway

    def in_mass(self, ppbv: float) -> float:
        """ug/m3 at 25 degC and 1 atm."""
        return ppbv * self.molar_mass / MOLAR_VOLUME


def check_digit_holds(cas: str) -> bool:
    """A CAS number's last digit is the sum of its digits, each times its place from the right, modulo 10."""
    head, check = cas.replace("-", "")[:-1], int(cas[-1])
    return sum(place * int(digit) for place, digit in enumerate(reversed(head), 1)) % 10 == check


VOLATILES = (
    Analyte("Dichlorodifluoromethane", "75-71-8", 120.91, 0.50, background=0.9),
    Analyte("Chloromethane", "74-87-3", 50.49, 0.80),
    Analyte("Vinyl chloride", "75-01-4", 62.50, 0.20, share=0.002),
    Analyte("1,3-Butadiene", "106-99-0", 54.09, 0.30),
    Analyte("Bromomethane", "74-83-9", 94.94, 0.50),
    Analyte("Chloroethane", "75-00-3", 64.51, 0.50),
    Analyte("Trichlorofluoromethane", "75-69-4", 137.37, 0.40, background=0.7),
    Analyte("Acetone", "67-64-1", 58.08, 4.0, background=9.0),
    Analyte("1,1-Dichloroethene", "75-35-4", 96.94, 0.30, share=0.004),
    Analyte("Methylene chloride", "75-09-2", 84.93, 1.0, background=0.7),
    Analyte("Carbon disulfide", "75-15-0", 76.14, 1.0, background=1.6),
    Analyte("trans-1,2-Dichloroethene", "156-60-5", 96.94, 0.30, share=0.003),
    Analyte("Methyl tert-butyl ether", "1634-04-4", 88.15, 0.40),
    Analyte("1,1-Dichloroethane", "75-34-3", 98.96, 0.30, share=0.003),
    Analyte("2-Butanone", "78-93-3", 72.11, 2.0, background=3.4),
    Analyte("cis-1,2-Dichloroethene", "156-59-2", 96.94, 0.30, share=0.04),
    Analyte("Hexane", "110-54-3", 86.18, 0.50, background=1.5),
    Analyte("Chloroform", "67-66-3", 119.38, 0.30, share=0.006, background=0.6),
    Analyte("1,2-Dichloroethane", "107-06-2", 98.96, 0.30),
    Analyte("1,1,1-Trichloroethane", "71-55-6", 133.40, 0.30, share=0.03),
    Analyte("Benzene", "71-43-2", 78.11, 0.40, background=1.2),
    Analyte("Carbon tetrachloride", "56-23-5", 153.82, 0.25, share=0.002),
    Analyte("Cyclohexane", "110-82-7", 84.16, 0.50, background=1.0),
    Analyte("1,2-Dichloropropane", "78-87-5", 112.99, 0.30),
    Analyte("Bromodichloromethane", "75-27-4", 163.83, 0.30),
    Analyte("Trichloroethene", "79-01-6", 131.39, 0.25, share=0.18),
    Analyte("Heptane", "142-82-5", 100.20, 0.50, background=1.1),
    Analyte("4-Methyl-2-pentanone", "108-10-1", 100.16, 1.0),
    Analyte("Toluene", "108-88-3", 92.14, 0.50, background=3.6),
    Analyte("1,1,2-Trichloroethane", "79-00-5", 133.40, 0.30),
    Analyte("Tetrachloroethene", "127-18-4", 165.83, 0.30, share=1.0),
    Analyte("1,2-Dibromoethane", "106-93-4", 187.86, 0.30),
    Analyte("Chlorobenzene", "108-90-7", 112.56, 0.30, share=0.002),
    Analyte("Ethylbenzene", "100-41-4", 106.17, 0.40, background=0.9),
    Analyte("m,p-Xylenes", "179601-23-1", 106.17, 0.80, background=2.6),
    Analyte("o-Xylene", "95-47-6", 106.17, 0.40, background=1.0),
    Analyte("Styrene", "100-42-5", 104.15, 0.40),
    Analyte("1,3,5-Trimethylbenzene", "108-67-8", 120.19, 0.40, background=0.4),
    Analyte("1,2,4-Trimethylbenzene", "95-63-6", 120.19, 0.40, background=0.9),
    Analyte("1,4-Dichlorobenzene", "106-46-7", 147.00, 0.40),
    Analyte("2-Propanol", "67-63-0", 60.10, 1.5),
    Analyte("Naphthalene", "91-20-3", 128.17, 0.60),
)
#: Reported on request where it was laid on a cloth round the fittings as a tracer.
CLOTH_TRACER = Analyte("1,1-Difluoroethane", "75-37-6", 66.05, 0.40, background=0.9)
#: Limits in per cent by volume.
FIXED_GASES = (
    Analyte("Oxygen", "7782-44-7", 32.00, 0.5),
    Analyte("Nitrogen", "7727-37-9", 28.01, 1.0),
    Analyte("Carbon dioxide", "124-38-9", 44.01, 0.05),
    Analyte("Methane", "74-82-8", 16.04, 0.001),
    Analyte("Helium", "7440-59-7", 4.003, 0.01),
)
SULFUR_GASES = (
    Analyte("Hydrogen sulfide", "7783-06-4", 34.08, 3.0, background=9.0),
    Analyte("Carbonyl sulfide", "463-58-1", 60.07, 3.0, background=7.0),
    Analyte("Methyl mercaptan", "74-93-1", 48.11, 3.0),
    Analyte("Dimethyl sulfide", "75-18-3", 62.13, 3.0),
)
SURROGATES = (
    ("1,2-Dichloroethane-d4", "17060-07-0"),
    ("Toluene-d8", "2037-26-5"),
    ("4-Bromofluorobenzene", "460-00-4"),
)
#: What the laboratory on wheels reports: nothing that sticks to a bag.
MOBILE = tuple(
    a
    for a in VOLATILES
    if a.name
    in {
        "Vinyl chloride", "1,1-Dichloroethene", "trans-1,2-Dichloroethene", "1,1-Dichloroethane",
        "cis-1,2-Dichloroethene", "Chloroform", "1,2-Dichloroethane", "1,1,1-Trichloroethane", "Benzene",
        "Carbon tetrachloride", "Trichloroethene", "Toluene", "1,1,2-Trichloroethane", "Tetrachloroethene",
        "Chlorobenzene", "Ethylbenzene", "m,p-Xylenes", "o-Xylene",
    }
)  # fmt: skip
OXYGEN, NITROGEN, CARBON_DIOXIDE, METHANE, HELIUM = (a.cas for a in FIXED_GASES)
PCE, TCE, TOLUENE, CHLOROFORM = "127-18-4", "79-01-6", "108-88-3", "67-66-3"

BY_CAS = {a.cas: a for a in (*VOLATILES, CLOTH_TRACER, *FIXED_GASES, *SULFUR_GASES)}
for _cas in (*BY_CAS, *(cas for _, cas in SURROGATES)):
    if not check_digit_holds(_cas):
        raise ValueError(_cas)
