"""A folder of three samples and three purges, judged by no more rules than a test names."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from vaporqa.rulebook import load_rulebook

SAMPLES = "sample_id,kind,matrix,started_at\n" + "".join(
    f"S{n},primary,soil_gas,2025-05-06T1{n}:00\n" for n in (1, 2, 3)
)
RESULTS = "result_id,sample_id,cas,analyte,result,unit,reporting_limit\n" + "".join(
    f"R{n}{m},S{n},{cas},{name},5,ug/m3,1\n"
    for n in (1, 2, 3)
    for m, (cas, name) in enumerate((("71-43-2", "Benzene"), ("108-88-3", "Toluene")))
)
#: The vacuum of PU1 has a letter for a figure, that of PU2 was not written down; the end of PU1 neither.
PURGES = """\
purge_id,sample_id,ended_at,vacuum_highest [inH2O]
PU1,S1,,I5
PU2,S2,2025-05-06T11:58,
PU3,S3,2025-05-06T12:58,20
"""


def small_folder(
    folder: Path, rules: Sequence[str], *, stage: str = "1", samples: str = SAMPLES, results: str = RESULTS,
    purges: str = PURGES,
) -> Path:  # fmt: skip
    """Write the folder; every shipped rule but `rules` is left out, with a reason."""
    folder.mkdir(parents=True)
    left_out = {rule.id: "not of this test" for rule in load_rulebook().rules if rule.id not in rules}
    project = {"project": "Larkspur Yard", "time_zone": "UTC", "stage": stage, "leave_out": left_out}
    (folder / "project.yaml").write_text(json.dumps(project), encoding="utf-8")
    for name, text in (("samples", samples), ("results", results), ("purges", purges)):
        if text:
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder
