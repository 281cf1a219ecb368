"""A seeded project folder of any size, for measuring: N results and the field tables that belong to them.

    python tests/benchmarks/make_folder.py FOLDER --results 1000000 [--seed 7]

Every twentieth sample is a duplicate; about one sample in fifty has a leak, one in a hundred a short purge, one in
eighty was analysed late, and one tip in forty was not cleaned. The numbers are invented.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd

ANALYTES = (
    ("71-43-2", "Benzene"), ("108-88-3", "Toluene"), ("100-41-4", "Ethylbenzene"), ("95-47-6", "o-Xylene"),
    ("79-01-6", "Trichloroethene"), ("127-18-4", "Tetrachloroethene"), ("75-01-4", "Vinyl chloride"),
    ("156-59-2", "cis-1,2-Dichloroethene"), ("156-60-5", "trans-1,2-Dichloroethene"), ("75-35-4", "1,1-Dichloroethene"),
    ("71-55-6", "1,1,1-Trichloroethane"), ("75-34-3", "1,1-Dichloroethane"), ("107-06-2", "1,2-Dichloroethane"),
    ("67-66-3", "Chloroform"), ("56-23-5", "Carbon tetrachloride"), ("75-09-2", "Methylene chloride"),
    ("91-20-3", "Naphthalene"), ("106-99-0", "1,3-Butadiene"), ("67-64-1", "Acetone"), ("78-93-3", "2-Butanone"),
    ("110-54-3", "n-Hexane"), ("75-15-0", "Carbon disulfide"), ("74-87-3", "Chloromethane"), ("100-42-5", "Styrene"),
    ("108-90-7", "Chlorobenzene"), ("1634-04-4", "Methyl tert-butyl ether"), ("110-82-7", "Cyclohexane"),
    ("142-82-5", "n-Heptane"), ("109-99-9", "Tetrahydrofuran"), ("74-83-9", "Bromomethane"),
)  # fmt: skip
#: Topics whose forms are not made here: they would only say, on every row, that their tables are missing.
WITHOUT_FORMS = (
    "installation", "shut_in", "sampling", "field_instruments", "custody", "blanks", "recovery", "calibration",
    "reporting",
)  # fmt: skip
START = np.datetime64("2025-03-03T08:00")


def minutes(base: np.ndarray, add: np.ndarray | int) -> list[str]:
    """Local stamps, `add` minutes after `base`."""
    return list(np.datetime_as_string(base + np.asarray(add).astype("timedelta64[m]"), unit="m"))


def make(folder: Path, results: int, seed: int) -> None:
    """Write the folder."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    samples = max(results // len(ANALYTES), 20)
    number = np.arange(samples)
    duplicate = number % 20 == 19
    parent = number - 1
    begun = START + (number // 8).astype("timedelta64[D]") + (60 * (number % 8)).astype("timedelta64[m]")
    begun = np.where(duplicate, np.roll(begun, 1), begun)
    name = np.array([f"SG-{n:06d}" for n in number])
    (folder / "project.yaml").write_text(
        "project: Measured Yard\npurpose: remediation\ntime_zone: America/Denver\nlab_time_zone: America/Chicago\n"
        "altitude: 4100 ft\nlab_altitude: 600 ft\nleave_out:\n"
        + "".join(f"  {topic}: the measured folder holds no forms for it\n" for topic in WITHOUT_FORMS)
    )

    def write(table: str, columns: dict[str, object]) -> None:
        pd.DataFrame(columns).to_csv(folder / f"{table}.csv", index=False)

    own = ~duplicate
    probe = np.where(duplicate, np.roll(name, 1), name)
    probe = np.char.replace(probe.astype(str), "SG", "P")
    write("locations", {"location_id": np.char.replace(name[own].astype(str), "SG", "L")})
    install = begun - np.timedelta64(180, "m")
    tips = np.where(duplicate, "", np.char.mod("T%03d", number % 400))
    write(
        "probes",
        {
            "probe_id": probe[own], "location_id": np.char.replace(name[own].astype(str), "SG", "L"), "kind": "driven",
            "install_method": "hand_driven", "pilot_hole": "none", "installed_at": np.array(minutes(install, 0))[own],
            "depth_top [ft]": 5.0, "depth_bottom [ft]": 5.25, "tubing_length [ft]": 8.5,
            "tubing_inner_diameter [in]": 0.17, "tubing_outer_diameter [in]": 0.25, "rod_length [ft]": 7.0,
            "rod_outer_diameter [in]": 1.0, "retraction [in]": 3.0, "tubing_material": "ptfe", "joints_checked": "yes",
            "tip_id": tips[own], "tip_use": "reusable", "stick_up [in]": 7.0,
        },
    )  # fmt: skip
    write(
        "samples",
        {
            "sample_id": name, "probe_id": probe, "kind": np.where(duplicate, "field_duplicate", "primary"),
            "parent_sample_id": np.where(duplicate, name[parent], ""), "matrix": "soil_gas", "container": "canister",
            "container_id": [f"C{n % 900:04d}" for n in number], "started_at": minutes(begun, 0),
            "ended_at": minutes(begun, 6), "flow [mL/min]": 150, "shipment_id": [f"W{n // 40:05d}" for n in number],
            "water_seen": "no",
        },
    )  # fmt: skip
    leak = rng.random(samples) < 0.02
    write(
        "tracer_tests",
        {
            "test_id": [f"TT{n}" for n in number[own]], "sample_id": name[own],
            "at": np.array(minutes(begun, -12))[own],
            "tracer": "helium", "approach": "shroud", "basis": "field", "shroud_low [%v]": 20.0,
            "train_reading [%v]": np.round(
                np.where(leak, rng.uniform(1.2, 5, samples), rng.uniform(0.05, 0.6, samples)), 2
            )[own],
            "train_detected": "yes", "train_reporting_limit [%v]": 0.01,
        },
    )  # fmt: skip
    short = rng.random(samples) < 0.01
    write(
        "purges",
        {
            "purge_id": [f"PU{n}" for n in number[own]], "sample_id": name[own],
            "started_at": np.array(minutes(begun, -8))[own], "ended_at": np.array(minutes(begun, -4))[own],
            "flow [mL/min]": 150, "volume [mL]": np.where(short, 90, 600)[own], "vacuum_highest [inH2O]": 12,
        },
    )  # fmt: skip
    _equipment(write, begun, own, probe, tips, rng)
    _results(folder, results, name, begun, duplicate, rng)


def _equipment(
    write: object, begun: np.ndarray, own: np.ndarray, probe: np.ndarray, tips: np.ndarray, rng: object
) -> None:
    rows = np.flatnonzero(own)
    used = np.array(minutes(begun, -180))[rows]
    cleaned = np.array(minutes(begun, 30))[rows]
    keep = rng.random(len(rows)) > 0.025  # type: ignore[attr-defined]
    count = len(rows)
    write(  # type: ignore[operator]
        "equipment_log",
        {
            "event_id": [f"E{n}" for n in range(count + int(keep.sum()))],
            "equipment_id": np.concatenate([tips[rows], tips[rows][keep]]), "equipment_kind": "tip",
            "at": np.concatenate([used, cleaned[keep]]),
            "event": np.concatenate([np.full(count, "used"), np.full(int(keep.sum()), "cleaned")]),
            "probe_id": np.concatenate([probe[rows], np.full(int(keep.sum()), "")]),
            "cleaning_method": np.concatenate([np.full(count, ""), np.full(int(keep.sum()), "detergent, two rinses")]),
            "dried": np.concatenate([np.full(count, ""), np.full(int(keep.sum()), "yes")]),
        },
    )  # fmt: skip


def _results(
    folder: Path, results: int, name: np.ndarray, begun: np.ndarray, duplicate: np.ndarray, rng: np.random.Generator
) -> None:
    per = len(ANALYTES)
    n = len(name) * per
    sample = np.repeat(np.arange(len(name)), per)
    analyte = np.tile(np.arange(per), len(name))
    level = rng.lognormal(0.0, 2.0, per)[analyte] * rng.lognormal(0.0, 1.0, len(name))[sample]
    twin = duplicate[sample]
    level[twin] = level[np.flatnonzero(twin) - per] * rng.uniform(0.85, 1.15, int(twin.sum()))
    limit = np.round(rng.choice([0.5, 1.0, 2.0], per)[analyte], 2)
    text = np.where(level < limit, "ND", np.char.mod("%.3g", level))
    late = rng.random(len(name)) < 0.0125
    days = np.where(late, 35, rng.integers(3, 20, len(name)))
    spread = (np.arange(len(name)) % 300).astype("timedelta64[m]")
    analysed = np.datetime_as_string(begun + days.astype("timedelta64[D]") + spread, unit="m")
    frame = pd.DataFrame(
        {
            "result_id": np.char.mod("R%08d", np.arange(n)), "sample_id": name[sample],
            "lab_sample_id": np.char.add("L", name[sample].astype(str)), "laboratory": "Laboratory A",
            "delivery_group": np.char.mod("DG%04d", sample // 40), "batch_id": np.char.mod("B%05d", sample // 20),
            "run_id": "1", "method": "TO-15", "cas": np.array([c for c, _ in ANALYTES])[analyte],
            "analyte": np.array([a for _, a in ANALYTES])[analyte], "kind": "target", "result": text, "unit": "ug/m3",
            "reporting_limit": limit, "detection_limit": limit / 4, "dilution": 1, "lab_flag": "",
            "analyzed_at": np.array(analysed)[sample],
        }
    ).head(max(results, 1))  # fmt: skip
    frame.to_csv(folder / "results.csv", index=False)
    _blanks(folder, frame)


def _blanks(folder: Path, frame: pd.DataFrame) -> None:
    """A clean method blank for every analyte of every batch."""
    blanks = frame.drop_duplicates(["batch_id", "cas"])[
        ["laboratory", "batch_id", "run_id", "method", "cas", "analyte", "unit", "reporting_limit"]
    ].reset_index(drop=True)
    blanks.insert(0, "qc_id", [f"Q{n}" for n in range(len(blanks))])
    blanks["kind"], blanks["result"] = "method_blank", "ND"
    blanks.to_csv(folder / "lab_qc.csv", index=False)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--results", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    make(asked.folder, asked.results, asked.seed)
