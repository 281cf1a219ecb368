"""Quillback Wharf: one laboratory table that somebody else made, and no field form but a list of probes."""

from __future__ import annotations

from collections.abc import Iterable

from chemistry import BY_CAS, PCE, TCE, TOLUENE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach, numbered
from paper import Folder, Row, Sheet, sig

#: Sample -> its parent, start and end of collection, crew, and ug/m3 of tetrachloroethene, trichloroethene, toluene.
DRAWN: dict[str, tuple[str, str, str, str, tuple[float, ...]]] = {
    "QW-1": ("", "2026-02-10T09:10", "2026-02-10T09:16", "crew A", (410, 96, 14)),
    "QW-1D": ("QW-1", "", "2026-02-10T09:16", "crew A", (395, 101, 15)),
    "QW-2": ("", "2026-02-10T10:40", "2026-02-10T10:46", "crew A", (23, 0, 21)),
    "QW-3": ("", "2026-02-10T12:05", "2026-02-10T12:11", "crew A", (88, 0, 17)),
    "QW-4": ("", "2026-02-10T13:20", "2026-02-10T13:26", "crew A", (6.1, 0, 9.4)),
}
ANALYTES = tuple(BY_CAS[cas] for cas in (PCE, TCE, TOLUENE))
SAMPLES = ("sample_id", "probe_id", "kind", "parent_sample_id", "matrix", "container", "started_at", "ended_at", "crew")
RESULTS = (
    "result_id", "sample_id", "probe", "sample_kind", "parent", "matrix", "container", "started", "ended", "crew",
    "laboratory", "delivery_group", "method", "cas", "analyte", "kind", "result", "unit", "reporting_limit",
    "collected_at", "received_at", "analyzed_at",
)  # fmt: skip
DRIVEN = {"P-1": "2026-02-10T07:00", "P-2": "2026-02-10T08:30", "P-3": "2026-02-10T10:00"}
#: Contract column -> header with its unit.
PROBES = {
    **{n: n for n in ("probe_id", "location_id", "kind", "install_method", "pilot_hole", "installed_at")},
    "depth_top": "depth_top [ft]", "depth_bottom": "depth_bottom [ft]", "retraction": "retraction [in]",
    "rod_length": "rod_length [ft]", "tubing_length": "tubing_length [ft]",
    **{n: n for n in ("tubing_material", "tip_id", "tip_use", "joints_checked")},
}  # fmt: skip
PROJECT = """\
project: Quillback Wharf            # invented
purpose: property transaction
time_zone: America/Chicago
lab_time_zone: America/Chicago
altitude: 40 ft
lab_altitude: 600 ft
reference: {temperature: 25 degC, pressure: 1 atm}
stage: 1
tables:
  results:
    - file: deliverable.csv
  samples:
    - from: results
      columns:
        sample_id: sample_id
        probe_id: probe
        kind: sample_kind
        parent_sample_id: parent
        matrix: matrix
        container: container
        started_at: started
        ended_at: ended
        crew: crew
"""

README = """\
# Quillback Wharf

An invented wharf, reviewed at a desk: one table of a laboratory, out of which the samples are read as well, and a list
of three probes. There is no other field form. What is not there is unproven by name, once a sample where a test should
have been done or its probe should have been named, and once a table where a whole column or the table is absent.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a nondetect.

"""


def build() -> Folder:
    """The folder: clean first, then the faults, one after the other."""
    folder = Folder(
        "quillback-wharf", PROJECT,
        {"results": Sheet({n: n for n in RESULTS}), "samples": Sheet({n: n for n in SAMPLES}),
         "probes": Sheet(dict(PROBES))},
        derived=("samples",), file_names={"results": "deliverable"},
    )  # fmt: skip
    for sample, (parent, started, ended, crew, amounts) in DRAWN.items():
        kind = "field_duplicate" if parent else "primary"
        own = {"matrix": "soil_gas", "container": "canister", "crew": crew}
        probe = f"P-{(parent or sample)[3:]}" if sample != "QW-4" else ""
        if probe and not parent:
            drive(folder, probe, DRIVEN[probe])
        folder.sheets["samples"].add(
            sample_id=sample, probe_id=probe, kind=kind, parent_sample_id=parent, started_at=started, ended_at=ended,
            **own,
        )  # fmt: skip
        for a, amount in zip(ANALYTES, amounts, strict=True):
            limit = a.in_mass(a.limit) * 1.5
            folder.sheets["results"].add(
                result_id=f"R-{len(folder.sheets['results'].rows) + 1:02d}", sample_id=sample, probe=probe,
                sample_kind=kind, parent=parent, started=started, ended=ended, collected_at=ended,
                laboratory="Laboratory A", delivery_group="QW-7", method="TO-15", cas=a.cas, analyte=a.name,
                kind="target", result=sig(amount) if amount else "ND", unit="ug/m3", reporting_limit=sig(limit),
                received_at="2026-02-12T09:30", analyzed_at="2026-02-15T14:20", **own,
            )  # fmt: skip
    for fault in FAULTS:
        fault.plant(folder)
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def drive(folder: Folder, probe: str, at: str) -> None:
    """A driven probe with everything on its form."""
    folder.sheets["probes"].add(
        probe_id=probe, location_id=f"L-{probe[2:]}", kind="driven", install_method="direct_push", pilot_hole="none",
        installed_at=at, depth_top="6.50", depth_bottom="6.75", retraction="3.0", rod_length="7.25",
        tubing_length="8.00", tubing_material="ptfe", tip_id="DT-1" if probe == "P-1" else "T-9",
        tip_use="dedicated" if probe == "P-1" else "reusable",
        joints_checked="yes",
    )  # fmt: skip


def nothing(_: Folder) -> None:
    """It is simply not there."""


def once_a_sample(rules: Iterable[tuple[str, tuple[str, str]]]) -> list[Finding]:
    """Said of each sample, and reaching its results."""
    return [
        Finding(rule, "samples", sample, "unproven", letters, (Reach(sample=sample),))
        for rule, letters in rules for sample in DRAWN
    ]  # fmt: skip


def once_a_table(table: str, rules: Iterable[str], letters: tuple[str, str], *, reaches: bool = True) -> list[Finding]:
    """Said of a whole table or column that is not there."""
    named = tuple(DRAWN) if table == "samples" else ()
    taints = (Reach(),) if reaches else ()
    return [Finding(rule, table, "*", "unproven", letters, taints, named=named) for rule in rules]


def two_crews(folder: Folder) -> None:
    """One row of QW-3 names another crew; the derived cell is neither."""
    rows(folder, "QW-3")[2]["crew"] = "crew B"


def rows(folder: Folder, sample: str) -> list[Row]:
    """Results of a sample."""
    return folder.rows("results", sample_id=sample)


FAULTS: tuple[Fault, ...] = (
    Fault("The rows of QW-3 name two crews.", two_crews,
          lambda f: [Finding("one-value-a-key", "samples", "QW-3", "broken", UNPROVEN),
                     *(Finding("one-value-a-key", "results", r["result_id"], "broken", UNPROVEN)
                       for r in rows(f, "QW-3"))]),
    Fault("When the duplicate QW-1D was begun is not said.", nothing,
          lambda f: [Finding("equilibration-time", "probes", "P-1", "unproven", UNPROVEN, (Reach(sample="QW-1D"),)),
                     *(Finding("duplicate-kind", "results", r["result_id"], "unproven", NOTE)
                       for sample in ("QW-1", "QW-1D") for r in rows(f, sample))]),
    Fault("There is no form of a shut-in test, a leak test or a purge, and no custody.", nothing,
          lambda _: [*once_a_sample((rule, UNPROVEN) for rule in ("shut-in-done", "leak-test-done", "purge-done")),
                     *(Finding("custody-done", "samples", sample, "unproven", NOTE) for sample in DRAWN)]),
    Fault("Neither the flow nor a reading of a gauge stands in the table, and there is no weather.", nothing,
          lambda _: [*once_a_table("samples", ("sampling-flow", "canister-start", "canister-end", "canister-held"),
                                   UNPROVEN),
                     *once_a_table("samples", ("rain-wait",), NOTE)]),
    Fault("P-2 and P-3 were driven with one reusable tip, and there is no equipment log.", nothing,
          lambda _: [Finding("clean-between-locations", "probes", "*", "unproven", UNPROVEN, (Reach(sample="QW-3"),),
                             named=("P-3",))]),
    Fault("The cell that should name the probe of QW-4 is empty: its depth and its tip are not known.", nothing,
          lambda _: [*(Finding(rule, "probes", "*:QW-4", "unproven", UNPROVEN, (Reach(sample="QW-4"),))
                       for rule in ("equilibration-time", "probe-depth", "tip-opened", "tubing-reaches-tip",
                                    "tubing-material")),
                     Finding("joints-tight", "probes", "*:QW-4", "unproven", NOTE, (Reach(sample="QW-4"),)),
                     Finding("clean-between-locations", "equipment_log", "*", "unproven", UNPROVEN,
                             (Reach(sample="QW-4"),))]),
    Fault("Without an equipment log nothing is known of blanks and of cleaning either.", nothing,
          lambda _: once_a_table("equipment_log", ("equipment-blank-frequency", "cleaning-method"), NOTE,
                                 reaches=False)),
    Fault("There are no screening levels.", nothing,
          lambda f: [Finding("sensitivity", "results", "*", "unproven", NOTE,
                             (Reach(keys=tuple(r["result_id"] for r in f.rows("results", result="ND"))),))]),
)  # fmt: skip
