"""The laboratories' tables: results, and control samples for every batch that the results name."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from chemistry import (
    BY_CAS,
    CARBON_DIOXIDE,
    FIXED_GASES,
    HELIUM,
    METHANE,
    NITROGEN,
    OXYGEN,
    PCE,
    SURROGATES,
    VOLATILES,
    Analyte,
)  # fmt: skip
from forms import BOTTLES, fixed_gas, helium, nitrogen
from paper import Folder, Row, Sheet, minutes, sig, stamp
from site_plan import Point, Site

FIXED = {a.cas for a in FIXED_GASES}


@dataclass(frozen=True)
class Run:
    """One injection of one sample."""

    sample: str
    method: str
    analytes: tuple[Analyte, ...]
    batch: str
    run: str
    analysed: datetime
    laboratory: str
    received: str  # as printed
    group: str
    dilution: float
    offset: str = ""  # printed behind the laboratory's times
    water: bool = False
    date_only: bool = False


def results_sheet(site: Site, *, stated_keys: bool, flags: bool, lod: bool) -> Sheet:
    """An empty table of results with the columns that this folder's laboratories use."""
    names = (
        ("result_id " if stated_keys else "") + "sample_id lab_sample_id laboratory delivery_group batch_id run_id "
        "method cas analyte kind result unit reporting_limit "
        + ("limit_of_detection detection_limit " if lod else "") + "dilution "
        + ("lab_flag pair_id " if flags else "") + "recovery recovery_low recovery_high received_at analyzed_at"
    )  # fmt: skip
    return Sheet({name: name for name in names.split()})


class Bench:
    """Turns points and runs into rows of results.

    Parameters
    ----------
    site : Site
    points : list of Point
    given : dict
        (sample, CAS number) -> value in the printed unit, None for not detected, in place of what the source gives.
    nondetect : str
        How a nondetect is printed: `ND`, `U` (the limit, and a flag) or `<`.
    """

    def __init__(
        self, site: Site, points: list[Point], given: dict[tuple[str, str], float | None], nondetect: str
    ) -> None:
        self.site, self.given, self.nondetect = site, given, nondetect
        self.points = {p.sample: p for p in points} | {p.duplicate: p for p in points if p.duplicate}

    def tetrachloroethene(self, p: Point) -> float:
        """ppbv at a point."""
        dice = self.site.dice("source", p.sample)
        return self.site.first_ppbv * self.site.growth**p.visit * dice.uniform(0.97, 1.03)

    def found(self, sample: str, a: Analyte) -> float:
        """What is truly in the container: ppbv, %v for fixed gases, 0 where nothing is."""
        p = self.points.get(sample)
        if p is None:
            return 0.0
        source = self.tetrachloroethene(p)
        dice = self.site.dice("found", p.sample, a.cas)
        if a.cas in FIXED:
            oxygen, dioxide = fixed_gas(self.site, p)
            true = {
                OXYGEN: oxygen, NITROGEN: nitrogen(p), CARBON_DIOXIDE: dioxide,
                METHANE: dice.uniform(0.004, 0.03), HELIUM: helium(self.site, p.sample),
            }[a.cas]  # fmt: skip
            return true if sample == p.sample or a.cas in (OXYGEN, NITROGEN) else true * self.twin(sample, a)
        if a.cas == PCE:
            true = source
        else:
            true = a.share * source * math.exp(dice.gauss(0, 0.35)) + a.background * math.exp(dice.gauss(0, 0.4))
            true = min(true, 0.4 * source)
        return true if sample == p.sample else true * self.twin(sample, a)

    def twin(self, sample: str, a: Analyte) -> float:
        """How a duplicate differs from its parent."""
        return self.site.dice("twin", sample, a.cas).uniform(0.93, 1.07)

    def unit(self, a: Analyte, water: bool = False) -> str:
        """Unit that the laboratory prints."""
        if water:
            return "ug/L"
        return "%v" if a.cas in FIXED else "ug/m3" if self.site.mass else "ppbv"

    def printed(self, a: Analyte, amount: float, water: bool = False) -> float:
        """ppbv (or %v) in the printed unit."""
        return amount if a.cas in FIXED or water or not self.site.mass else a.in_mass(amount)

    def write(self, sheet: Sheet, run: Run) -> None:
        """Rows of one injection, surrogates last."""
        analysed = run.analysed.date().isoformat() if run.date_only else stamp(run.analysed, run.offset)
        common = {
            "sample_id": run.sample, "laboratory": run.laboratory, "delivery_group": run.group, "batch_id": run.batch,
            "run_id": run.run, "method": run.method, "received_at": run.received, "analyzed_at": analysed,
            "lab_sample_id": f"{run.group}-{self.site.dice('lab', run.sample).randint(100, 999)}",
        }  # fmt: skip
        parent = self.points[run.sample].sample if run.sample in self.points else run.sample
        for a in run.analytes:
            limit = self.printed(a, a.limit, run.water) * run.dilution
            amount = self.printed(a, self.found(run.sample, a), run.water)
            there = self.printed(a, self.found(parent, a), run.water) >= 1.25 * limit
            if (run.sample, a.cas) in self.given:
                amount = self.given[run.sample, a.cas] or 0.0
                there = amount > 0
            cells = common | {
                "cas": a.cas, "analyte": a.name, "kind": "target", "unit": self.unit(a, run.water),
                "dilution": f"{run.dilution:.2f}", "reporting_limit": sig(limit),
            }  # fmt: skip
            if "limit_of_detection" in sheet.headers:
                cells |= {"limit_of_detection": sig(limit * 0.5), "detection_limit": sig(limit * 0.25)}
            if there:
                cells["result"] = sig(amount)
            elif self.nondetect == "U":
                cells |= {"result": sig(limit), "lab_flag": "U"}
            else:
                cells["result"] = "ND" if self.nondetect == "ND" else f"<{sig(limit)}"
            self.add(sheet, cells)
        if run.method in ("TO-15", "8260"):
            for name, cas in SURROGATES:
                recovery = self.site.dice("surrogate", run.run, cas).uniform(89, 112)
                self.add(
                    sheet,
                    common | {
                        "cas": cas, "analyte": name, "kind": "surrogate", "result": sig(recovery / 10),
                        "unit": "ug/L" if run.water else "ppbv", "dilution": f"{run.dilution:.2f}",
                        "recovery": f"{recovery:.0f}", "recovery_low": "70", "recovery_high": "130",
                    },
                )  # fmt: skip

    def add(self, sheet: Sheet, cells: Row) -> None:
        """Append, numbered where this laboratory numbers its results."""
        if "result_id" in sheet.headers:
            cells = cells | {"result_id": f"R-{len(sheet.rows) + 1:05d}"}
        sheet.add(**cells)


QC_COLUMNS = (
    "qc_id", "laboratory", "batch_id", "run_id", "kind", "cas", "analyte", "method", "result", "unit", "detected",
    "reporting_limit", "spiked", "recovery", "recovery_low", "recovery_high", "rpd", "rpd_high", "parent_qc_id",
    "sample_id", "cleaning_lot", "analyzed_at",
)  # fmt: skip


def write_lab_qc(bench: Bench, folder: Folder) -> None:
    """A method blank, a control sample pair and a laboratory duplicate a batch; a blank of each cleaning lot."""
    sheet = folder.sheets["lab_qc"] = Sheet({name: name for name in QC_COLUMNS})
    targets = [r for r in folder.sheets["results"].rows if r["kind"] == "target"]
    batches: dict[tuple[str, str, str], list[Row]] = {}
    lots: dict[tuple[str, str], dict[tuple[str, str], Row]] = {}
    container = {r["sample_id"]: r["container"] for r in folder.sheets["samples"].rows}
    for row in targets:
        batches.setdefault((row["laboratory"], row["batch_id"], row["method"]), []).append(row)
        lot = (row["laboratory"], BOTTLES[container[row["sample_id"]]][2])
        lots.setdefault(lot, {})[row["cas"], row["unit"]] = row
    for (laboratory, batch, method), rows in batches.items():
        offset = rows[0]["analyzed_at"][16:]
        first = min(r["analyzed_at"] for r in rows if len(r["analyzed_at"]) > 10)[:16]
        began = datetime.fromisoformat(first)
        kinds = {(r["cas"], r["unit"]): r for r in rows}
        own = {"laboratory": laboratory, "batch_id": batch, "method": method}
        for (cas, unit), row in kinds.items():
            a, dice = BY_CAS[cas], bench.site.dice("qc", batch, cas)
            limit = sig(bench.printed(a, a.limit, unit == "ug/L"))
            name = {"cas": cas, "analyte": row["analyte"], "unit": unit}
            short = f"{batch}-{cas}"
            sheet.add(
                qc_id=f"MB-{short}", kind="method_blank", run_id=f"{batch}-MB", detected="no", reporting_limit=limit,
                analyzed_at=stamp(began - minutes(50), offset), **own, **name,
            )  # fmt: skip
            spiked = 5.0 if cas in FIXED else float(sig(bench.printed(a, 10.0, unit == "ug/L")))
            recovery = dice.uniform(88, 111)
            second = recovery * dice.uniform(0.94, 1.06)
            for kind, value, prefix, before in (
                ("control_sample", recovery, "CS", 100), ("control_sample_duplicate", second, "CD", 75),
            ):  # fmt: skip
                pair = value is second
                sheet.add(
                    qc_id=f"{prefix}-{short}", kind=kind, run_id=f"{batch}-{prefix}", detected="yes",
                    result=sig(spiked * value / 100), reporting_limit=limit, spiked=sig(spiked),
                    recovery=f"{value:.0f}", recovery_low="70", recovery_high="130",
                    rpd=f"{200 * abs(recovery - second) / (recovery + second):.1f}" if pair else "",
                    rpd_high="25" if pair else "", parent_qc_id=f"CS-{short}" if pair else "",
                    analyzed_at=stamp(began - minutes(before), offset), **own, **name,
                )  # fmt: skip
        repeat_one_sample(bench, folder, rows, own, began, offset)
    for (laboratory, cleaning_lot), held in lots.items():
        for (cas, unit), row in held.items():
            sheet.add(
                qc_id=f"CB-{cleaning_lot}-{cas}", laboratory=laboratory, kind="container_blank", cas=cas, unit=unit,
                analyte=row["analyte"], method=row["method"], detected="no", cleaning_lot=cleaning_lot,
                reporting_limit=sig(bench.printed(BY_CAS[cas], BY_CAS[cas].limit, unit == "ug/L")),
                analyzed_at=(datetime.fromisoformat(folder.sheets["containers"].rows[0]["cleaned_at"])
                             + minutes(300)).strftime("%Y-%m-%dT%H:%M"),
            )  # fmt: skip


def repeat_one_sample(
    bench: Bench, folder: Folder, rows: list[Row], own: Row, began: datetime, offset: str
) -> None:  # fmt: skip
    """The laboratory's own duplicate: one field sample of the batch run again, what it held printed again."""
    field = {r["sample_id"] for r in folder.rows("samples", kind="primary")}
    detects = [r for r in rows if r["sample_id"] in field and r["result"][0].isdigit() and not r.get("lab_flag")]
    if not detects:
        return
    chosen = detects[0]["sample_id"]
    for row in detects:
        if row["sample_id"] != chosen:
            continue
        value = float(row["result"])
        again = sig(value * bench.site.dice("again", row["batch_id"], row["cas"]).uniform(0.94, 1.06))
        folder.sheets["lab_qc"].add(
            qc_id=f"LD-{row['batch_id']}-{row['cas']}", kind="laboratory_duplicate", run_id=f"{row['run_id']}R",
            cas=row["cas"], analyte=row["analyte"], unit=row["unit"], detected="yes", result=again,
            reporting_limit=row["reporting_limit"], sample_id=chosen, rpd_high="25",
            rpd=f"{200 * abs(float(again) - value) / (float(again) + value):.1f}",
            analyzed_at=stamp(began + minutes(1400), offset), **own,
        )  # fmt: skip


def write_levels(bench: Bench, folder: Folder, others: Iterable[Analyte] = ()) -> None:
    """Screening levels for soil gas, well above every limit. The tracer has none: it must not be a target."""
    levels = folder.sheets["screening_levels"] = Sheet(
        {n: n for n in ("cas", "analyte", "matrix", "level", "unit", "basis")}
    )
    methane = BY_CAS[METHANE]
    for a in (*VOLATILES, *others, methane):
        level = bench.printed(a, a.limit) * math.exp(bench.site.dice("level", a.cas).uniform(4.5, 7.5))
        levels.add(
            cas=a.cas, analyte=a.name, matrix="soil_gas", level="0.5" if a is methane else sig(level, 2),
            unit=bench.unit(a), basis="project plan",
        )  # fmt: skip


def write_required(folder: Folder) -> None:
    """What the project asked for of canisters: the whole list of volatile organics."""
    wanted = folder.sheets["required_analytes"] = Sheet({n: n for n in ("cas", "analyte", "method")})
    for a in VOLATILES:
        wanted.add(cas=a.cas, analyte=a.name, method="TO-15")
