"""Faults of the laboratory's table itself at Marrowgate Plating: runs, limits, names, forms, flags."""

from __future__ import annotations

from collections.abc import Callable

from chemistry import PCE, TCE, TOLUENE
from deliverable import CIS_DCE, M_P_XYLENES, NAPHTHALENE, O_XYLENE, VINYL_CHLORIDE, XYLENES
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from marrowgate_field import together
from marrowgate_laboratory import result, several
from paper import Folder, sig
from planting import Letters, Plant, change


def key_of(folder: Folder, sample: str, cas: str, name: str = "") -> str:
    """Key of a sample's first result of an analyte, by its number or, where that is damaged, by its name."""
    for row in folder.rows("results", sample_id=sample, kind="target"):
        if row["cas"] == cas and name in ("", row["analyte"]):
            return row["result_id"]
    raise LookupError(f"{sample} {cas} {name}")


def on(
    rule: str, sample: str, cas: str, letters: Letters, outcome: str = "broken"
) -> Callable[[Folder], list[Finding]]:  # fmt: skip
    """A finding on one result."""
    return lambda f: [Finding(rule, "results", key_of(f, sample, cas), outcome, letters)]


def run_again(sample: str, dilution: float, linked: bool) -> Plant:
    """Trichloroethene over range, and a second run of it with its surrogates and internal standards."""

    def plant(folder: Folder) -> None:
        sheet = folder.sheets["results"]
        first = folder.one("results", sample_id=sample, cas=TCE)
        first["lab_flag"] = "E"
        again = {"run_id": f"{first['run_id']}-2", "dilution": f"{dilution:.2f}", "lab_flag": ""}
        if linked:
            again |= {"run_of": first["run_id"], "run_kind": "dilution"}
        share = dilution / float(first["dilution"])
        clean = {"recovery": "97"}
        for row in folder.rows("results", run_id=first["run_id"]):
            if row["kind"] == "target" and row is not first:
                continue
            cells = row | again | {"result_id": f"R-{len(sheet.rows) + 1:04d}"}
            if row["kind"] == "surrogate":
                cells |= clean
            if row is first:
                for name in ("reporting_limit", "limit_of_detection", "detection_limit"):
                    for form in (name, f"{name}_volume"):
                        cells[form] = sig(float(row[form]) * share)
                cells |= {form: sig(float(row[form]) * 0.97) for form in ("result", "result_volume")}
            sheet.rows.append(cells)

    return plant


def two_runs(folder: Folder, sample: str) -> tuple[str, str]:
    """Keys of the first and the second run of trichloroethene."""
    first, second = folder.rows("results", sample_id=sample, cas=TCE)
    return first["result_id"], second["result_id"]


def on_runs(sample: str, over_range: Letters, letters: Letters) -> Callable[[Folder], list[Finding]]:
    """What is said of two runs of trichloroethene, of which the first is over range."""

    def findings(folder: Folder) -> list[Finding]:
        first, second = two_runs(folder, sample)
        return [
            Finding("over-range", "results", first, "broken", over_range),
            *(Finding("one-value-in-use", "results", key, "broken", letters) for key in (first, second)),
        ]

    return findings


def decane(folder: Folder) -> None:
    """A compound that was never calibrated, found in the first run of A01 by its spectrum."""
    like = folder.one("results", sample_id="MG-A01", cas=TOLUENE)
    sheet = folder.sheets["results"]
    blank = {name: "" for name in like if "limit" in name}
    sheet.rows.append(
        like | blank | {
            "result_id": f"R-{len(sheet.rows) + 1:04d}", "cas": "124-18-5", "analyte": "Decane", "kind": "tentative",
            "result": "25.0", "result_volume": "4.30", "lab_flag": "T", "internal_standard": "",
        }
    )  # fmt: skip


def without_blanks(key: str) -> list[Finding]:
    """What is said of a result that no blank clears: no such analyte stands in any."""
    return [
        Finding("method-blank", "results", key, "unproven", UNPROVEN),
        Finding("container-blank", "results", key, "unproven", NOTE),
        Finding("material-blank", "results", key, "unproven", NOTE),
    ]


def uncalibrated(folder: Folder) -> list[Finding]:
    """Nothing stands in the first calibration and in batch V1 for decane and for the number that does not exist.

    It is said once a calibration, and once a batch.
    """
    keys = folder.one("results", kind="tentative")["result_id"], key_of(folder, "MG-B04", "91-20-4")
    return [
        Finding("control-sample-recovery", "lab_qc", "*:V1", "unproven", UNPROVEN, (Reach(keys=keys),)),
        *(
            Finding(rule, "lab_qc", "*:CAL-1", "unproven", UNPROVEN, (Reach(keys=keys),))
            for rule in ("initial-calibration", "calibration-check", "second-source-check", "response-factor")
        ),
    ]


def raised_limit(folder: Folder) -> None:
    """The limit of naphthalene in B01 stands 12 % over what its dilution makes of it."""
    row = folder.one("results", sample_id="MG-B01", cas=NAPHTHALENE)
    for form in ("reporting_limit", "reporting_limit_volume"):
        row[form] = sig(float(row[form]) * 1.12)


def level_at_the_limit(folder: Folder) -> None:
    """The screening level of vinyl chloride is the limit of A06, which was diluted eight times."""
    limit = folder.one("results", sample_id="MG-A06", cas=VINYL_CHLORIDE)["reporting_limit"]
    folder.one("screening_levels", cas=VINYL_CHLORIDE)["level"] = limit


def xylenes(sample: str, total: str, total_volume: str) -> Plant:
    """Parts of 100 and 40 ug/m3, and a total."""
    return together(
        result(sample, M_P_XYLENES, result="100", result_volume="23.0"),
        result(sample, O_XYLENE, result="40.0", result_volume="9.22"),
        result(sample, XYLENES, result=total, result_volume=total_volume),
    )


def off(sample: str, cas: str, factor: float) -> Plant:
    """The volume form of a result is off by a factor."""

    def plant(folder: Folder) -> None:
        row = folder.one("results", sample_id=sample, cas=cas)
        row["result_volume"] = sig(float(row["result_volume"]) * factor, 4)

    return plant


def damaged(sample: str, number: str, **cells: str) -> Plant:
    """A number or a name that is not that of the analyte."""
    return change("results", {"sample_id": sample, "cas": number}, **cells)


FAULTS: tuple[Fault, ...] = (
    Fault("Tetrachloroethene in B05 is over range, and was not run again.",
          result("MG-B05", PCE, lab_flag="E"), on("over-range", "MG-B05", PCE, ("J", "-"))),
    Fault("Trichloroethene in A06 is over range, and was run again at forty times, as a dilution of that run.",
          run_again("MG-A06", 40.0, linked=True), on_runs("MG-A06", NOTE, NOTE),
          not_in_use=lambda f: [two_runs(f, "MG-A06")]),
    Fault("Trichloroethene in B07 is over range; another run of it stands in the table, and nothing links the two.",
          run_again("MG-B07", 10.0, linked=False), on_runs("MG-B07", UNPROVEN, UNPROVEN),
          not_in_use=lambda f: [(key, "") for key in two_runs(f, "MG-B07")]),
    Fault("Decane in A01 was named by its spectrum alone; no blank, calibration or standard speaks of it.", decane,
          several(lambda f: [Finding("tentative", "results", f.one("results", kind="tentative")["result_id"], "broken",
                                     ("NJ", "-"))],
                  lambda f: without_blanks(f.one("results", kind="tentative")["result_id"]),
                  uncalibrated)),
    Fault("The screening level of vinyl chloride is exactly the limit of A06; that of A07, diluted twelve times, lies "
          "over it.",
          level_at_the_limit, on("sensitivity", "MG-A07", VINYL_CHLORIDE, NOTE)),
    Fault("The limit of naphthalene in B01 does not follow its dilution.",
          raised_limit, on("limit-follows-dilution", "MG-B01", NAPHTHALENE, NOTE)),
    Fault("A spreadsheet made a date of the CAS number of vinyl chloride in A04.",
          damaged("MG-A04", VINYL_CHLORIDE, cas="2075-01-04"),
          on("cas-number", "MG-A04", "2075-01-04", UNPROVEN)),
    Fault("The check digit of the CAS number of naphthalene in B04 does not fit.",
          damaged("MG-B04", NAPHTHALENE, cas="91-20-4"),
          several(on("cas-number", "MG-B04", "91-20-4", UNPROVEN),
                  lambda f: without_blanks(key_of(f, "MG-B04", "91-20-4")),
                  lambda f: [
                      Finding("sensitivity", "results", "*:Naphthalene", "unproven", NOTE,
                              (Reach(keys=(key_of(f, "MG-B04", "91-20-4"),)),)),
                      Finding("analytes-complete", "samples", "MG-B04", "broken", NOTE),
                  ]),
          consequence="It meets no blank, calibration or screening level; the calibration says so once, with decane."),
    Fault("Naphthalene in B02 has no CAS number.",
          damaged("MG-B02", NAPHTHALENE, cas=""),
          lambda f: [Finding("cas-number", "results", "*:Naphthalene", "unproven", NOTE,
                             (Reach(keys=(key_of(f, "MG-B02", "", "Naphthalene"),)),))]),
    Fault("o-Xylene in A05 is called ethylbenzene.",
          damaged("MG-A05", O_XYLENE, analyte="Ethylbenzene"), on("analyte-name", "MG-A05", O_XYLENE, NOTE)),
    Fault("Tetrachloroethene in A02 is called `Plating solvent 2`, which is in no list.",
          damaged("MG-A02", PCE, analyte="Plating solvent 2"),
          lambda f: [Finding("analyte-name", "results", "*:Plating solvent 2", "unproven", NOTE,
                             (Reach(keys=(key_of(f, "MG-A02", PCE),)),))]),
    Fault("Vinyl chloride in B06 is a detect under its own detection limit.",
          result("MG-B06", VINYL_CHLORIDE, result="0.128", result_volume="0.0501", lab_flag="J"),
          several(on("result-consistent", "MG-B06", VINYL_CHLORIDE, UNPROVEN),
                  on("below-reporting-limit", "MG-B06", VINYL_CHLORIDE, ("J", "-")))),
    Fault("The limit of detection of cis-1,2-dichloroethene in B06 stands over its reporting limit.",
          result("MG-B06", CIS_DCE, limit_of_detection="9.91", limit_of_detection_volume="2.50"),
          on("result-consistent", "MG-B06", CIS_DCE, NOTE)),
    Fault("Toluene in A07 is flagged as under its reporting limit, and lies over it.",
          result("MG-A07", TOLUENE, result="75.4", result_volume="20.0", lab_flag="J"),
          on("result-consistent", "MG-A07", TOLUENE, UNPROVEN)),
    Fault("The laboratory rejected toluene in A03 by a flag, and no table says why. Tetrachloroethene in A02 is "
          "flagged late and for a control sample; the tables hold the times and the control sample that these mean.",
          together(result("MG-A03", TOLUENE, lab_flag="X"), result("MG-A02", PCE, lab_flag="HQ")),
          on("laboratory-flag", "MG-A03", TOLUENE, NOTE)),
    Fault("The total of xylenes in B06 is half as high again as its parts; in B07 it is exactly 1.3 times their sum.",
          together(xylenes("MG-B06", "210", "48.4"), xylenes("MG-B07", "182", "41.9")),
          on("parts-and-totals", "MG-B06", XYLENES, NOTE)),
    Fault("The two forms of tetrachloroethene in A07 lie one per cent apart.",
          off("MG-A07", PCE, 1.01), on("forms-agree", "MG-A07", PCE, NOTE)),
    Fault("The two forms of toluene in B05 lie ten per cent apart.",
          off("MG-B05", TOLUENE, 1.10), on("forms-agree", "MG-B05", TOLUENE, UNPROVEN)),
    Fault("o-Xylene in B02 was collected three hours after its sample was shut, by the laboratory's table.",
          result("MG-B02", O_XYLENE, collected_at="2026-04-20T21:00"),
          on("collection-time-agrees", "MG-B02", O_XYLENE, UNPROVEN)),
)  # fmt: skip
