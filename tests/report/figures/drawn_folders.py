"""Tiny project folders for pictures, whose every drawn number is worked out beside its row."""

from __future__ import annotations

import random
from pathlib import Path

from vaporqa.intake import load_project, read_folder
from vaporqa.report.figures import Picture, pictures
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook

PROJECT = """\
project: Larkspur Yard
purpose: property transaction
time_zone: America/Boise
lab_time_zone: America/Boise
altitude: 0 ft
lab_altitude: 0 ft
"""

#: Shroud at 20 %v: 1.0 is 5 %, 1.6 is 8 %, 5.0 is 25 %; a nondetect at 0.5 may be up to 2.5 %; T5 lacks the reading.
TRACER = """\
test_id,sample_id,at,approach,tracer,shroud_low [%v],train_reading [%v]
T1,S1,2025-05-06T09:30,shroud,helium,20,1.0
T2,S2,2025-05-06T09:30,shroud,helium,20,1.6
T3,S3,2025-05-06T09:30,shroud,helium,20,5.0
T4,S4,2025-05-06T09:30,shroud,helium,20,<0.5
T5,S5,2025-05-06T09:30,shroud,helium,20,
"""
#: A bare line of 3 m and 6 mm bore holds pi / 4 x 0.6^2 x 300 = 84.8 mL; with a train of 15.2 mL the dead volume is
#: 100.0 mL. Drawn: 400, 200 and 50 mL, that is 4, 2 and 0.5 dead volumes; U4 states no volume.
PURGES = """\
purge_id,sample_id,probe_id,volume [mL],train_volume [mL]
U1,S1,P1,400,15.177
U2,S2,P2,200,15.177
U3,S3,P3,50,15.177
U4,S4,P4,,15.177
"""
PROBES = """\
probe_id,location_id,kind,tip_use,tubing_length [m],tubing_inner_diameter [mm]
P1,L1,driven,dedicated,3,6
P2,L2,driven,dedicated,3,6
P3,L3,driven,dedicated,3,6
P4,L4,driven,dedicated,3,6
"""
#: L1 to L2 is 30 ft along x; L3 lies 40 ft above L1; L4 has no coordinates.
LOCATIONS = """\
location_id,x [ft],y [ft]
L1,0,0
L2,30,0
L3,0,40
L4,,
"""
#: Canisters ended on 6 May: analysed on 5 June it is 30 of 30 days, on 20 June 45 of 30 (150 %), on 20 July 75 (250 %).
#: At sea level at both ends a vacuum of 5 inHg after the draw and 5 inHg at receipt is no change.
SAMPLES = """\
sample_id,kind,matrix,container,probe_id,location_id,parent_sample_id,started_at,ended_at,vacuum_dispatch [inHg],\
vacuum_start [inHg],vacuum_end [inHg],vacuum_receipt [inHg]
S1,primary,soil_gas,canister,P1,L1,,2025-05-06T10:00,2025-05-06T10:10,29.5,29,5,5
S2,primary,soil_gas,canister,P2,L2,,2025-05-06T10:00,2025-05-06T10:10,29.5,29,5,5
S3,primary,soil_gas,canister,P3,L3,,2025-05-06T10:00,2025-05-06T10:10,29.5,20,5,5
S4,primary,soil_gas,canister,P4,L4,,2025-05-06T10:00,2025-05-06T10:10,,,,
S5,primary,soil_gas,canister,,,,2025-05-06T10:00,2025-05-06T10:10,,,,
S1D,field_duplicate,soil_gas,canister,P1,L1,S1,2025-05-06T10:00,2025-05-06T10:10,29.5,29,5,5
"""
#: Pairs at a limit of 2: benzene 60 and 100 (30 and 50 times: an RPD of 50 %, on the limit), toluene 60 and 200 (30 and
#: 100 times: 108 %), trichloroethene twice not detected, vinyl chloride 3 and a nondetect at 2 (1.5 and 1 times: apart
#: by half the limit).
RESULTS = """\
sample_id,cas,analyte,result,unit,reporting_limit,analyzed_at,collected_at,kind,recovery
S1,71-43-2,Benzene,60,ug/m3,2,2025-06-05T09:00,,,
S1,108-88-3,Toluene,60,ug/m3,2,2025-06-05T09:00,,,
S1,79-01-6,Trichloroethene,<2,ug/m3,2,2025-06-05T09:00,,,
S1,75-01-4,Vinyl chloride,3,ug/m3,2,2025-06-05T09:00,,,
S1D,71-43-2,Benzene,100,ug/m3,2,2025-06-05T09:00,,,
S1D,108-88-3,Toluene,200,ug/m3,2,2025-06-05T09:00,,,
S1D,79-01-6,Trichloroethene,<2,ug/m3,2,2025-06-05T09:00,,,
S1D,75-01-4,Vinyl chloride,<2,ug/m3,2,2025-06-05T09:00,,,
S2,71-43-2,Benzene,30,ug/m3,2,2025-06-20T09:00,,,
S3,71-43-2,Benzene,5,ug/m3,2,2025-07-20T09:00,,,
S1,460-00-4,4-Bromofluorobenzene,,%,,2025-06-05T09:00,,surrogate,100
S2,460-00-4,4-Bromofluorobenzene,,%,,2025-06-20T09:00,,surrogate,60
S3,460-00-4,4-Bromofluorobenzene,,%,,2025-07-20T09:00,,surrogate,9
"""
LEVELS = "analyte,cas,level,unit\nBenzene,71-43-2,10,ug/m3\n"
#: Manifold A went from P1 to P2 cleaned and from P2 to P3 uncleaned; its blank found benzene. Manifold B was used
#: twice, cleaned.
LOG = """\
event_id,equipment_id,equipment_kind,event,at,probe_id,sample_id
E1,A,manifold,used,2025-05-05T09:00,P1,
E2,A,manifold,cleaned,2025-05-05T10:00,,
E3,A,manifold,blank,2025-05-05T10:30,,EB
E4,A,manifold,used,2025-05-05T11:00,P2,
E5,A,manifold,used,2025-05-05T13:00,P3,
E6,B,manifold,used,2025-05-05T09:00,P4,
E7,B,manifold,cleaned,2025-05-05T10:00,,
E8,B,manifold,used,2025-05-05T11:00,P1,
"""
BLANK = "EB,equipment_blank,soil_gas,canister,,,,2025-05-05T10:30,2025-05-05T10:30,,,,\n"
BLANK_RESULT = "EB,71-43-2,Benzene,4,ug/m3,2,2025-05-20T09:00,,,\n"

TABLES = {
    "tracer_tests": TRACER, "purges": PURGES, "probes": PROBES, "locations": LOCATIONS, "samples": SAMPLES + BLANK,
    "results": RESULTS + BLANK_RESULT, "screening_levels": LEVELS, "equipment_log": LOG,
}  # fmt: skip


def folder_of(folder: Path, tables: dict[str, str] | None = None, shuffle: int = 0) -> Path:
    """Write a folder of the tables; with `shuffle` their rows in another order."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "project.yaml").write_text(PROJECT, encoding="utf-8")
    for name, text in (TABLES if tables is None else tables).items():
        head, *rows = text.splitlines()
        if shuffle:
            random.Random(shuffle).shuffle(rows)
        (folder / f"{name}.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return folder


def review_of(folder: Path, *profiles: str) -> Review:
    """Judge a folder by the shipped rules."""
    project = load_project(folder)
    book = load_rulebook(profiles=profiles or project.profiles)
    return review_folder(project, read_folder(folder, project), book)


def drawn(folder: Path, *profiles: str) -> dict[str, Picture]:
    """Return the pictures of a folder by name."""
    return {one.name.removeprefix("picture-"): one for one in pictures(review_of(folder, *profiles))}
