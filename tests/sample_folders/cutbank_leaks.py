"""Cutbank Terminal: leak tests."""

from __future__ import annotations

from chemistry import CLOTH_TRACER, HELIUM, METHANE, OXYGEN
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder
from planting import LOW, REJECTED, Plant, absent, change, fault, result_key, targets, unproven, whole

DFA, PROPANOL = CLOTH_TRACER.cas, "67-63-0"
LEAKS_GIVEN: dict[tuple[str, str], float | None] = {
    ("CT-A15", HELIUM): 1.76,  # 8.0 % of 22.0
    ("CT-A16", HELIUM): 5.40,  # 27 % of 20.0
    ("CT-A17", HELIUM): 0.315,  # 1.5 % of 21.0
    ("CT-A18", HELIUM): 1.60,  # 8.0 % of 20.0
    ("CT-A20", HELIUM): 0.060,  # 1.0 % of 6.0
    ("CT-B05", HELIUM): 1.00,  # 5.0 % of 20.0, which passes
    ("CT-A03", DFA): 2.1, ("CT-A22", DFA): 120.0, ("CT-A25", PROPANOL): None,
    ("CT-A26", METHANE): 3.05, ("CT-A26", OXYGEN): 9.8,
}  # fmt: skip


def shroud(test: str, low: str, reading: str, **cells: str) -> Plant:
    """A shroud test of crew A, in %v."""
    return change(
        "tracer_tests", {"test_id": test}, shroud_low=low, shroud_high=f"{float(low) + 4:.1f}", train_reading=reading,
        train_reading_unit="%v", **cells,
    )  # fmt: skip


def broken(rule: str, test: str, letters: tuple[str, str], *reaches: Reach, air: bool = False) -> Finding:
    """A tracer test over its limit."""
    return Finding(rule, "tracer_tests", test, "broken", letters, reaches, air)


def drop_helium(folder: Folder, sample: str) -> None:
    """The laboratory's helium channel was not reported."""
    folder.drop("results", sample_id=sample, cas=HELIUM)


def laboratory_row(folder: Folder) -> None:
    """The laboratory's helium stands on the tracer form as a row of its own."""
    row = folder.one("tracer_tests", test_id="TT-A18")
    row |= {"shroud_low": "20.0", "shroud_high": "24.0", "train_reading": "0.25", "train_reading_unit": "%v"}
    folder.sheets["tracer_tests"].rows.append(
        row | {"test_id": "TT-A18L", "basis": "laboratory", "train_reading": "1.60", "instrument_id": "",
               "detector": "", "background": ""}
    )  # fmt: skip


def undetected(folder: Folder) -> None:
    """The meter saw nothing, but could not have seen less than 8 % of the shroud's helium."""
    folder.one("tracer_tests", test_id="TT-A19").update(
        shroud_low="20.0", shroud_high="23.0", train_reading="", train_reading_unit="", train_detected="no",
        train_reporting_limit="1.6",
    )  # fmt: skip
    drop_helium(folder, "CT-A19")


def cloth(test: str, tracer: str) -> Plant:
    """A cloth wetted with the tracer lay round the fittings; no meter was used."""
    return change(
        "tracer_tests", {"test_id": test}, approach="cloth", tracer=tracer, basis="laboratory", shroud_low="",
        shroud_high="", train_reading="", train_reading_unit="", train_detected="", train_reporting_limit="",
        train_reporting_limit_unit="", background="", instrument_id="", detector="",
    )  # fmt: skip


def cloth_recovered(folder: Folder) -> list[Finding]:
    """Analytes whose reporting limit is at most a tenth of the tracer, both by mass; the tracer itself is spared."""
    tracer = next(float(row["result"]) for _, row in targets(folder, "CT-A22") if row["cas"] == DFA)
    reached = tuple(
        key for key, row in targets(folder, "CT-A22")
        if row["unit"] == "ug/m3" and row["cas"] != DFA and tracer >= 10 * float(row["reporting_limit"])
    )  # fmt: skip
    return [
        broken("cloth-tracer-recovery", "TT-A22", ("J-", "R"), Reach(keys=reached), air=True),
        *no_material_blank(folder, "CT-A22"),
    ]


def no_material_blank(folder: Folder, sample: str) -> list[Finding]:
    """The blanks over the tubing were not run for the tracer of the cloth."""
    return [Finding("material-blank", "results", result_key(folder, sample, DFA), "unproven", NOTE)]


def unreported(folder: Folder) -> None:
    """The tracer laid on the cloth is not on the laboratory's list for the sample."""
    cloth("TT-A23", CLOTH_TRACER.name)(folder)
    folder.drop("results", sample_id="CT-A23", cas=DFA)


def methane_meter(folder: Folder) -> None:
    """Three per cent methane under a meter that reads conductivity, and no helium from the laboratory."""
    drop_helium(folder, "CT-A26")
    folder.one("field_readings", probe_id="P-A26", gas="methane")["reading"] = "3.1"
    folder.one("field_readings", probe_id="P-A26", gas="oxygen")["reading"] = "9.9"


LEAKS: tuple[Fault, ...] = (
    fault(
        "CT-A15: the laboratory found 1.76 % helium, 8 % of the lowest 22 % under the shroud. Its tip came uncleaned "
        "from CT-A12 as well (see below): high and low bias meet on one sample.",
        shroud("TT-A15", "22.0", "1.70"),
        broken("leak-tracer-recovery", "TT-A15", LOW, *whole("CT-A15", HELIUM), air=True),
        consequence="Oxygen and nitrogen read high instead of low; helium's own row is spared.",
    ),
    fault(
        "CT-A16: 5.4 % helium under a shroud of 20 %: more than a fifth of the sample is outside air.",
        shroud("TT-A16", "20.0", "5.20"),
        broken("leak-tracer-recovery", "TT-A16", REJECTED, *whole("CT-A16", HELIUM), air=True),
    ),
    fault(
        "CT-A17: the meter read 2.50 % of 21.0 % (12 %), the laboratory 0.315 % (1.5 %). The laboratory outranks the "
        "meter.",
        shroud("TT-A17", "21.0", "2.50"),
    ),
    fault(
        "CT-A18: the meter read 0.25 % of 20.0 %, but the laboratory's row of the same test holds 1.60 % (8 %).",
        laboratory_row,
        broken("leak-tracer-recovery", "TT-A18L", LOW, *whole("CT-A18", HELIUM), air=True),
    ),
    fault("CT-B05: the laboratory found 1.00 % of 20.0 %: exactly 5 %.", shroud("TT-B05", "20.0", "0.95")),
    fault(
        "CT-A19: no helium detected, but at a reporting limit of 1.6 % under 20.0 %: a leak of 8 % could hide. The "
        "laboratory reported no helium.",
        undetected,
        broken("leak-tracer-undetected", "TT-A19", UNPROVEN, *whole("CT-A19", HELIUM), air=True),
    ),
    fault(
        "CT-A20: the shroud fell to 6.0 %, under 10 % and under a hundred times the meter's limit of 0.10 %.",
        shroud("TT-A20", "6.0", "0.10", train_reporting_limit="0.10"),
        broken("shroud-concentration", "TT-A20", UNPROVEN, *whole("CT-A20", HELIUM), air=True),
    ),
    fault(
        "CT-A21 has no tracer test.",
        lambda folder: folder.drop("tracer_tests", test_id="TT-A21"),
        absent("leak-test-done", "CT-A21", *whole("CT-A21")),
    ),
    Fault(
        "CT-A03 was tested with a cloth of 1,1-difluoroethane; 2.1 ug/m3 of it is under ten times every limit.",
        cloth("TT-A03", CLOTH_TRACER.name),
        lambda folder: no_material_blank(folder, "CT-A03"),
    ),
    Fault(
        "CT-A22 holds 120 ug/m3 of the cloth's 1,1-difluoroethane: at least ten times the reporting limit of many "
        "analytes, and of those only.",
        cloth("TT-A22", CLOTH_TRACER.name), cloth_recovered,
    ),
    fault(
        "CT-A23 was tested with the same cloth, but the laboratory did not report the tracer.",
        unreported,
        unproven("cloth-tracer-recovery", "tracer_tests", "TT-A23", *whole("CT-A23")),
        Finding("cloth-tracer-reported", "samples", "CT-A23", "broken", UNPROVEN, whole("CT-A23")),
    ),
    fault(
        "CT-A25 was tested with 2-propanol, which is on the project's own list.",
        cloth("TT-A25", "2-Propanol"),
        broken("tracer-not-a-target", "TT-A25", UNPROVEN, *whole("CT-A25", PROPANOL)),
    ),
    fault(
        "CT-A26: a thermal-conductivity meter read the helium in gas with 3 % methane, and the laboratory reported no "
        "helium.",
        methane_meter,
        broken("tracer-meter-interference", "TT-A26", UNPROVEN, *whole("CT-A26", HELIUM)),
    ),
    fault(
        "CT-A27: nothing was written down of the gas under the shroud.",
        change("tracer_tests", {"test_id": "TT-A27"}, shroud_low="", shroud_high=""),
        unproven("leak-tracer-recovery", "tracer_tests", "TT-A27", *whole("CT-A27", HELIUM)),
        unproven("shroud-concentration", "tracer_tests", "TT-A27", *whole("CT-A27", HELIUM)),
    ),
)  # fmt: skip
