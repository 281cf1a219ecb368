"""Two project folders so small that what they come to together is worked out by hand beside them."""

from __future__ import annotations

import json
from pathlib import Path

PROJECT = "project: {name}\ntime_zone: America/Boise\n"
SAMPLES = "sample_id,kind,parent_sample_id,matrix,container,crew\n"
RESULTS = "sample_id,cas,analyte,method,result,unit,reporting_limit,laboratory\n"

#: One pair of two detects, 10 and 12 ug/m3: RPD = 200 x 2 / 22 = 18.1818 %. One pair of two nondetects.
NORTH = {
    "samples.csv": SAMPLES + "N1,primary,,soil_gas,canister,crew A\nN2,field_duplicate,N1,soil_gas,canister,crew A\n",
    "results.csv": RESULTS
    + "N1,71-43-2,Benzene,TO-15,10,ug/m3,1,Laboratory A\nN2,71-43-2,Benzene,TO-15,12,ug/m3,1,Laboratory A\n"
    + "N1,108-88-3,Toluene,TO-15,<2,ug/m3,2,Laboratory A\nN2,108-88-3,Toluene,TO-15,<2,ug/m3,2,Laboratory A\n",
}
#: Pairs of two detects: 20 and 30 ug/m3, RPD = 200 x 10 / 50 = 40 %; 8 and 8, RPD 0. A third sample of no stated crew.
SOUTH = {
    "samples.csv": SAMPLES
    + "S1,primary,,soil_gas,canister,CREW  a\nS2,field_duplicate,S1,soil_gas,canister,CREW  a\n"
    + "S3,primary,,soil_gas,canister,\n",
    "results.csv": RESULTS
    + "S1,71-43-2,Benzene,TO-15,20,ug/m3,1,Laboratory B\nS2,71-43-2,Benzene,TO-15,30,ug/m3,1,Laboratory B\n"
    + "S1,108-88-3,Toluene,TO-15,8,ug/m3,2,laboratory a\nS2,108-88-3,Toluene,TO-15,8,ug/m3,2,laboratory a\n"
    + "S3,71-43-2,Benzene,TO-15,5,ug/m3,1,Laboratory B\n",
}


def write_tiny(home: Path, name: str, tables: dict[str, str]) -> Path:
    """Write one of the folders."""
    folder = home / name
    folder.mkdir(parents=True)
    (folder / "project.yaml").write_text(PROJECT.format(name=json.dumps(name.title())))
    for file, text in tables.items():
        (folder / file).write_text(text)
    return folder


def write_both(home: Path) -> list[Path]:
    """Write both folders."""
    return [write_tiny(home, "north", NORTH), write_tiny(home, "south", SOUTH)]
