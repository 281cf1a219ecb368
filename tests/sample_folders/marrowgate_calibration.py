"""Faults of tune and calibration of Marrowgate Plating."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from chemistry import PCE, TCE, TOLUENE
from deliverable import CIS_DCE, M_P_XYLENES, NAPHTHALENE, O_XYLENE, VINYL_CHLORIDE, XYLENES
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from marrowgate_field import HIGH, together
from marrowgate_laboratory import keys, on_run, qc, rows_with_keys, said, several
from paper import Folder
from planting import J_UJ, LOW, REJECTED, Letters, Plant


def calibrated(
    rule: str, key: str, letters: Letters, outcome: str = "broken", *, reaches: bool = True
) -> Callable[[Folder], list[Finding]]:  # fmt: skip
    """A finding on a calibration's row, which reaches its analyte in all results of that calibration."""

    def findings(folder: Folder) -> list[Finding]:
        row = folder.one("lab_qc", qc_id=key)
        reached = keys(folder, calibration_id=row["calibration_id"], cas=row["cas"]) if reaches else ()
        return [Finding(rule, "lab_qc", key, outcome, letters, (Reach(keys=reached),))]

    return findings


def until(key: str, passing: str, letters: Letters, outcome: str = "broken") -> Callable[[Folder], list[Finding]]:
    """A calibration check reaches what was analysed from it to the next passing one."""

    def findings(folder: Folder) -> list[Finding]:
        row, after = folder.one("lab_qc", qc_id=key), folder.one("lab_qc", qc_id=passing)["analyzed_at"]
        of = {"calibration_id": row["calibration_id"], "cas": row["cas"], "kind": "target"}
        reached = tuple(k for k, r in rows_with_keys(folder, **of) if row["analyzed_at"] <= r["analyzed_at"] < after)
        return [Finding("calibration-check", "lab_qc", key, outcome, letters, (Reach(keys=reached),))]

    return findings


def never_run(rule: str, calibration: str, cas: str) -> Callable[[Folder], list[Finding]]:
    """Said once a calibration, on the whole table."""
    return lambda f: [
        Finding(rule, "lab_qc", f"*:{calibration}", "unproven", UNPROVEN,
                (Reach(keys=keys(f, calibration_id=calibration, cas=cas)),))
    ]  # fmt: skip


def without(kind: str, calibration: str, cas: str) -> Plant:
    """Take the rows of a kind and analyte out."""

    def plant(folder: Folder) -> None:
        sheet = folder.sheets["lab_qc"]
        gone = folder.rows("lab_qc", kind=kind, calibration_id=calibration, cas=cas)
        sheet.rows = [r for r in sheet.rows if r not in gone]

    return plant


def failed_tune(folder: Folder) -> None:
    """A second tune at noon, which failed; B10 was run on it."""
    tune = folder.one("lab_qc", qc_id="TU-M2")
    folder.sheets["lab_qc"].rows.append(tune | {"qc_id": "TU-M2b", "analyzed_at": "2026-04-21T12:30", "passed": "no"})
    for row in folder.rows("results", sample_id="MG-B10"):
        row["tune_id"] = "TU-M2b"


def run_at(sample: str, at: str) -> Plant:
    """All rows of a sample's run at another time."""
    datetime.fromisoformat(at)

    def plant(folder: Folder) -> None:
        for row in folder.rows("results", sample_id=sample):
            row["analyzed_at"] = at

    return plant


def no_tune(folder: Folder) -> None:
    """B09 names no tune."""
    for row in folder.rows("results", sample_id="MG-B09"):
        row["tune_id"] = ""


FAULTS: tuple[Fault, ...] = (
    Fault("B05 was run exactly twelve hours after its tune.", run_at("MG-B05", "2026-04-25T20:00"), said()),
    Fault("B04 was run twelve hours and a minute after its tune.",
          run_at("MG-B04", "2026-04-25T20:01"), on_run("tune-clock", "MG-B04", REJECTED)),
    Fault("B10 was run on a tune that failed.", failed_tune, on_run("tune-clock", "MG-B10", REJECTED)),
    Fault("B09 names no tune.", no_tune, on_run("tune-clock", "MG-B09", UNPROVEN, "unproven")),
    Fault("In the initial calibration of V1 the xylenes spread by 31, 32 and 33 %; two analytes might have, not three.",
          together(*(qc(f"IC-V1-{cas}", rsd=rsd)
                     for cas, rsd in ((O_XYLENE, "31.0"), (M_P_XYLENES, "32.0"), (XYLENES, "33.0")))),
          several(*(calibrated("initial-calibration", f"IC-V1-{cas}", J_UJ)
                    for cas in (O_XYLENE, M_P_XYLENES, XYLENES)))),
    Fault("In that of V2 vinyl chloride spreads by exactly 40 %, cis-1,2-dichloroethene by 35 %, toluene by exactly "
          "30 %: two are allowed. By its own word tetrachloroethene failed, by the numbers it did not.",
          together(qc(f"IC-V2-{VINYL_CHLORIDE}", rsd="40.0"), qc(f"IC-V2-{CIS_DCE}", rsd="35.0"),
                   qc(f"IC-V2-{TOLUENE}", rsd="30.0"), qc(f"IC-V2-{PCE}", passed="no")),
          said(Finding("initial-calibration", "lab_qc", f"IC-V2-{PCE}", "broken", NOTE))),
    Fault("In that of the tubes tetrachloroethene spreads by 41 %, which is allowed to none.",
          qc(f"IC-S2-{PCE}", rsd="41.0"), calibrated("initial-calibration", f"IC-S2-{PCE}", J_UJ)),
    Fault("Of M2 there is no number for two analytes: one failed by the laboratory's word, of one nothing is said.",
          together(qc(f"IC-M2-{CIS_DCE}", rsd="", passed="no"), qc(f"IC-M2-{VINYL_CHLORIDE}", rsd="", passed="")),
          several(calibrated("initial-calibration", f"IC-M2-{CIS_DCE}", J_UJ),
                  calibrated("initial-calibration", f"IC-M2-{VINYL_CHLORIDE}", UNPROVEN, "unproven"))),
    Fault("The mean response factor of naphthalene is 0.049 in V1 and exactly 0.050 in V2, which holds; that of "
          "tetrachloroethene in M2 was not printed.",
          together(qc(f"IC-V1-{NAPHTHALENE}", response_factor="0.049"),
                   qc(f"IC-V2-{NAPHTHALENE}", response_factor="0.050"), qc(f"IC-M2-{PCE}", response_factor="")),
          several(calibrated("response-factor", f"IC-V1-{NAPHTHALENE}", ("J", "R")),
                  calibrated("response-factor", f"IC-M2-{PCE}", UNPROVEN, "unproven"))),
    Fault("The check standard in the middle of V1 read 35 % low for trichloroethene; that at the end passed.",
          qc(f"CC2-V1-{TCE}", difference="-35.0"), until(f"CC2-V1-{TCE}", f"CC3-V1-{TCE}", LOW)),
    Fault("The first check standard of V2 read 31 % high for tetrachloroethene; two for toluene lie exactly 30 % off.",
          together(qc(f"CC1-V2-{PCE}", difference="31.0"), qc(f"CC1-V2-{TOLUENE}", difference="30.0"),
                   qc(f"CC2-V2-{TOLUENE}", difference="-30.0")),
          until(f"CC1-V2-{PCE}", f"CC2-V2-{PCE}", HIGH)),
    Fault("Of the check standard of M2 in the afternoon nothing is said for toluene.",
          qc(f"CC2-M2-{TOLUENE}", difference="", passed=""),
          until(f"CC2-M2-{TOLUENE}", f"CC3-M2-{TOLUENE}", UNPROVEN, "unproven")),
    Fault("The tubes have no check standard for naphthalene, and no second source for trichloroethene.",
          together(without("calibration_check", "CAL-3", NAPHTHALENE), without("second_source_check", "CAL-3", TCE)),
          several(never_run("calibration-check", "CAL-3", NAPHTHALENE),
                  never_run("second-source-check", "CAL-3", TCE))),
    Fault("A second source read 31 % low for m,p-xylenes in V2 and 31 % high for o-xylene in M2; in V1 exactly 30 % "
          "high for vinyl chloride. For toluene in M2 there is the word that it failed, for cis-1,2-dichloroethene in "
          "the tubes nothing.",
          together(qc(f"SS-V2-{M_P_XYLENES}", difference="-31.0"), qc(f"SS-M2-{O_XYLENE}", difference="31.0"),
                   qc(f"SS-V1-{VINYL_CHLORIDE}", difference="30.0"),
                   qc(f"SS-M2-{TOLUENE}", difference="", passed="no"),
                   qc(f"SS-S2-{CIS_DCE}", difference="", passed="")),
          several(calibrated("second-source-check", f"SS-V2-{M_P_XYLENES}", LOW),
                  calibrated("second-source-check", f"SS-M2-{O_XYLENE}", HIGH),
                  calibrated("second-source-check", f"SS-M2-{TOLUENE}", J_UJ),
                  calibrated("second-source-check", f"SS-S2-{CIS_DCE}", UNPROVEN, "unproven"))),
)  # fmt: skip
