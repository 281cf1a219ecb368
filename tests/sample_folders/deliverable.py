"""A laboratory deliverable at stage 2B: two forms of each result, surrogates, internal standards, calibrations."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from chemistry import BY_CAS, PCE, Analyte, check_digit_holds
from forms import BOTTLES
from paper import Folder, Row, Sheet, minutes, sig, stamp
from site_plan import Site

M_P_XYLENES, O_XYLENE, XYLENES = "179601-23-1", "95-47-6", "1330-20-7"
VINYL_CHLORIDE, CIS_DCE, NAPHTHALENE = "75-01-4", "156-59-2", "91-20-3"
#: What the invented works leaves in the ground: two solvents and what they become, and the fuel of a boiler house.
WANTED = (
    BY_CAS[VINYL_CHLORIDE], BY_CAS[CIS_DCE], BY_CAS["79-01-6"], BY_CAS["108-88-3"], BY_CAS[PCE],
    Analyte("m,p-Xylenes", M_P_XYLENES, 106.17, 0.80, background=20.0),
    Analyte("o-Xylene", O_XYLENE, 106.17, 0.40, background=9.0),
    Analyte("Xylenes (total)", XYLENES, 106.17, 0.80), BY_CAS[NAPHTHALENE],
)  # fmt: skip
BY_NUMBER = {a.cas: a for a in WANTED}
STANDARDS = (("Bromochloromethane", "74-97-5", 182_000), ("Chlorobenzene-d5", "3114-55-4", 640_000))
TRACED = (("Toluene-d8", "2037-26-5"), ("4-Bromofluorobenzene", "460-00-4"))
for _cas in (XYLENES, *(cas for _, cas, _ in STANDARDS)):
    if not check_digit_holds(_cas):
        raise ValueError(_cas)

#: Contract column -> header: the laboratory prints both forms, and the mass form is the result.
FORM = ("result", "unit", "reporting_limit", "limit_of_detection", "detection_limit")
BEFORE = (
    "result_id", "sample_id", "lab_sample_id", "laboratory", "delivery_group", "batch_id", "run_id", "run_kind",
    "run_of", "calibration_id", "tune_id", "method", "cas", "analyte", "kind",
)  # fmt: skip
AFTER = (
    "dilution", "lab_flag", "recovery", "recovery_low", "recovery_high", "internal_standard", "area", "area_low",
    "area_high", "collected_at", "received_at", "analyzed_at",
)  # fmt: skip
COLUMNS = {
    **{name: name for name in BEFORE},
    **{name: f"{name}_mass" for name in FORM},
    **{f"{name}_volume": f"{name}_volume" for name in FORM},
    **{name: name for name in AFTER},
}
QC_COLUMNS = (
    "qc_id", "laboratory", "batch_id", "run_id", "calibration_id", "kind", "cas", "analyte", "method", "result", "unit",
    "detected", "reporting_limit", "spiked", "recovery", "recovery_low", "recovery_high", "rpd", "rpd_high", "rsd",
    "difference", "response_factor", "area", "parent_qc_id", "sample_id", "cleaning_lot", "analyzed_at", "passed",
)  # fmt: skip


@dataclass(frozen=True)
class Sequence:
    """One batch: a tune, a calibration check, control samples, and the runs behind them."""

    batch: str
    calibration: str
    method: str
    laboratory: str
    tuned: datetime
    prints_windows: bool  # for the areas of internal standards

    @property
    def common(self) -> Row:
        """Cells that every control sample of the batch holds."""
        return {"laboratory": self.laboratory, "method": self.method, "batch_id": self.batch}


@dataclass(frozen=True)
class Injection:
    """One run of one sample."""

    sample: str
    run: str
    at: datetime
    dilution: float
    received: str
    analytes: tuple[Analyte, ...] = WANTED


class Deliverable:
    """Writes what the laboratories deliver into a folder.

    Parameters
    ----------
    site : Site
    strength : dict
        Sample -> tetrachloroethene in ppbv; of a duplicate its parent's. Blanks are not in it.
    parent : dict
        Duplicate -> parent.
    group : str
        Delivery group.
    """

    def __init__(self, site: Site, strength: dict[str, float], parent: dict[str, str], group: str) -> None:
        self.site, self.strength, self.parent, self.group = site, strength, parent, group

    def found(self, sample: str, a: Analyte) -> float:
        """ppbv in the container; nothing in a blank."""
        own = self.parent.get(sample, sample)
        source = self.strength.get(own, 0.0)
        if not source:
            return 0.0
        true = source if a.cas == PCE else a.share * source
        true += a.background * self.site.dice("found", own, a.cas).uniform(0.9, 1.2)
        twin = self.site.dice("twin", sample, a.cas).uniform(0.94, 1.06)
        return true if own == sample else true * twin

    def write(self, folder: Folder, of: Sequence, run: Injection) -> None:
        """Targets, surrogates and internal standards of one run."""
        sheet = folder.sheets["results"]
        common = {
            "sample_id": run.sample, "laboratory": of.laboratory, "delivery_group": self.group, "batch_id": of.batch,
            "run_id": run.run, "calibration_id": of.calibration, "tune_id": f"TU-{of.batch}", "method": of.method,
            "dilution": f"{run.dilution:.2f}", "received_at": run.received, "analyzed_at": stamp(run.at),
            "collected_at": folder.one("samples", sample_id=run.sample)["ended_at"],
            "lab_sample_id": f"{self.group}-{self.site.dice('lab', run.sample).randint(100, 999)}",
        }  # fmt: skip
        parts: list[Row] = []
        for a in run.analytes:
            limit = a.limit * run.dilution
            cells = common | {
                "cas": a.cas, "analyte": a.name, "kind": "target", "unit": "ug/m3", "unit_volume": "ppbv",
                "internal_standard": STANDARDS[0 if a.cas in (VINYL_CHLORIDE, CIS_DCE) else 1][0],
                "result": "ND", "result_volume": "ND",
            }  # fmt: skip
            for name, share in (("reporting_limit", 1.0), ("limit_of_detection", 0.5), ("detection_limit", 0.25)):
                cells |= {name: sig(a.in_mass(limit * share)), f"{name}_volume": sig(limit * share)}
            amount = self.found(run.sample, a)
            if self.found(self.parent.get(run.sample, run.sample), a) >= 1.25 * limit:
                cells |= {"result": sig(a.in_mass(amount)), "result_volume": sig(amount)}
            if a.cas == XYLENES and all(p["result"] != "ND" for p in parts):
                for name in ("result", "result_volume"):
                    cells[name] = sig(sum(float(p[name]) for p in parts))
            if a.cas in (M_P_XYLENES, O_XYLENE):
                parts.append(cells)
            self.add(sheet, cells)
        for name, cas in TRACED:
            recovery = self.site.dice("surrogate", run.run, cas).uniform(88, 113)
            self.add(sheet, common | {
                "cas": cas, "analyte": name, "kind": "surrogate", "recovery": f"{recovery:.0f}",
                "recovery_low": "70", "recovery_high": "130",
            })  # fmt: skip
        for name, cas, area in STANDARDS:
            cells = common | {"cas": cas, "analyte": name, "kind": "internal_standard"}
            cells["area"] = f"{area * self.site.dice('area', run.run, cas).uniform(0.86, 1.15):.0f}"
            if of.prints_windows:
                cells |= {"area_low": f"{0.6 * area:.0f}", "area_high": f"{1.4 * area:.0f}"}
            self.add(sheet, cells)

    def add(self, sheet: Sheet, cells: Row) -> None:
        """Append with the next number."""
        sheet.add(**(cells | {"result_id": f"R-{len(sheet.rows) + 1:04d}"}))

    def write_control(self, folder: Folder, of: Sequence, repeated: str, checked: tuple[datetime, ...]) -> None:
        """Tune, calibration and control samples of a batch; `repeated` is the sample that was run twice."""
        sheet = folder.sheets["lab_qc"]
        own, cal = of.common, {"laboratory": of.laboratory, "method": of.method, "calibration_id": of.calibration}
        sheet.add(
            **own, qc_id=f"TU-{of.batch}", run_id=f"{of.batch}-TU", kind="tune", analyzed_at=stamp(of.tuned),
            passed="yes",
        )  # fmt: skip
        here = folder.rows("results", batch_id=of.batch, kind="target")
        for cas in dict.fromkeys(r["cas"] for r in here):
            a, dice = BY_NUMBER[cas], self.site.dice("control", of.batch, cas)
            name, short = {"cas": cas, "analyte": a.name}, f"{of.batch}-{cas}"
            built = of.tuned - minutes(3 * 1440)
            sheet.add(
                **cal, **name, qc_id=f"IC-{short}", kind="initial_calibration", rsd=f"{dice.uniform(4, 24):.1f}",
                response_factor=f"{dice.uniform(0.4, 2.2):.3f}", analyzed_at=stamp(built), passed="yes",
            )  # fmt: skip
            sheet.add(
                **cal, **name, qc_id=f"SS-{short}", kind="second_source_check", passed="yes",
                difference=f"{dice.uniform(-18, 18):.1f}", analyzed_at=stamp(built + minutes(90)),
            )  # fmt: skip
            for number, at in enumerate(checked, 1):
                sheet.add(
                    **cal, **name, batch_id=of.batch, qc_id=f"CC{number}-{short}", kind="calibration_check",
                    passed="yes", difference=f"{dice.uniform(-18, 18):.1f}", analyzed_at=stamp(at),
                )  # fmt: skip
            limit = sig(a.in_mass(a.limit))
            sheet.add(
                **own, **name, qc_id=f"MB-{short}", run_id=f"{of.batch}-MB", kind="method_blank", detected="no",
                unit="ug/m3", reporting_limit=limit, analyzed_at=stamp(of.tuned + minutes(70)),
            )  # fmt: skip
            spiked, recovery = a.in_mass(10), dice.uniform(90, 110)
            for kind, prefix, share, after in (
                ("control_sample", "CS", recovery, 30),
                ("control_sample_duplicate", "CD", recovery * dice.uniform(0.95, 1.05), 50),
            ):  # fmt: skip
                pair = prefix == "CD"
                sheet.add(
                    **own, **name, qc_id=f"{prefix}-{short}", run_id=f"{of.batch}-{prefix}", kind=kind, unit="ug/m3",
                    result=sig(spiked * share / 100), reporting_limit=limit, spiked=sig(spiked), detected="yes",
                    recovery=f"{share:.0f}", recovery_low="70", recovery_high="130", rpd_high="25" if pair else "",
                    parent_qc_id=f"CS-{short}" if pair else "", analyzed_at=stamp(of.tuned + minutes(after)),
                )  # fmt: skip
        for number, at in enumerate(checked, 1):
            for standard, cas, area in STANDARDS:
                sheet.add(
                    **cal, batch_id=of.batch, qc_id=f"CC{number}-{of.batch}-{cas}", kind="calibration_check", cas=cas,
                    analyte=standard, area=str(area), analyzed_at=stamp(at), passed="yes",
                )  # fmt: skip
        for row in here:
            if row["sample_id"] != repeated or row["result"] == "ND":
                continue
            again = float(row["result"]) * self.site.dice("again", of.batch, row["cas"]).uniform(0.95, 1.05)
            sheet.add(
                **own, qc_id=f"LD-{of.batch}-{row['cas']}", run_id=f"{row['run_id']}R", cas=row["cas"],
                kind="laboratory_duplicate", analyte=row["analyte"], result=sig(again), unit="ug/m3", detected="yes",
                reporting_limit=row["reporting_limit"], sample_id=repeated, rpd_high="25",
                analyzed_at=stamp(of.tuned + minutes(700)),
            )  # fmt: skip

    def write_lots(self, folder: Folder) -> None:
        """A clean blank of each cleaning lot of containers."""
        container = {r["sample_id"]: r["container_id"] for r in folder.sheets["samples"].rows}
        lot = {r["container_id"]: r["cleaning_lot"] for r in folder.sheets["containers"].rows}
        asked: dict[tuple[str, str], Row] = {}
        for row in folder.rows("results", kind="target"):
            asked.setdefault((lot[container[row["sample_id"]]], row["cas"]), row)
        for (cleaned, cas), row in asked.items():
            a = BY_NUMBER[cas]
            folder.sheets["lab_qc"].add(
                qc_id=f"CB-{cleaned}-{cas}", laboratory=row["laboratory"], kind="container_blank", cas=cas,
                analyte=a.name, method=row["method"], detected="no", unit="ug/m3", cleaning_lot=cleaned,
                reporting_limit=sig(a.in_mass(a.limit)),
                analyzed_at=stamp(datetime.combine(self.site.days[0], datetime.min.time()) - minutes(11 * 1440)),
            )  # fmt: skip


def empty_results() -> Sheet:
    """The results table with its headers."""
    return Sheet(dict(COLUMNS))


def empty_control() -> Sheet:
    """The laboratory's control samples with their headers."""
    return Sheet({n: n for n in QC_COLUMNS})


def kept_in(container: str) -> str:
    """Cleaning lot that a kind of container usually comes from."""
    return BOTTLES[container][2]
