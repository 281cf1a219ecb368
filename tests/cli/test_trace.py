"""``vaporqa trace``: one row of a folder, with everything behind it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import vaporqa
import vaporqa.cli as cli

CUTBANK = Path(__file__).parents[2] / "sample_inputs" / "cutbank-terminal"
#: Lines of the targets of the sample that a leak of 27 % rejects.
TARGETS = [
    line for line in (CUTBANK / "results.csv").read_text(encoding="utf-8").splitlines()
    if ",CT-A16," in line and ",target," in line
]  # fmt: skip
PROJECT = """\
project: Hostile Yard
purpose: property transaction
time_zone: America/Boise
lab_time_zone: America/Chicago
"""
#: A terminal escape in a sample, a build server's command in an analyte, markup in a laboratory flag.
SAMPLES = 'sample_id,kind,matrix,container\n"S\x1b[31m1",primary,soil_gas,canister\n'
RESULTS = (
    "result_id,sample_id,cas,analyte,result,unit,reporting_limit,lab_flag,collected_at,analyzed_at\n"
    'R1,"S\x1b[31m1",71-43-2,::error::x,12.5,ug/m3,1.0,<script>alert(1)</script>,2025-05-06 10:00,2025-05-08 10:00\n'
)


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    folder = tmp_path / "hostile"
    folder.mkdir()
    (folder / "project.yaml").write_text(PROJECT, encoding="utf-8")
    (folder / "samples.csv").write_text(SAMPLES, encoding="utf-8")
    (folder / "results.csv").write_text(RESULTS, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def cutbank() -> vaporqa.Checked:
    return vaporqa.check(CUTBANK)


def printed(capfd: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert cli.run(["trace", *arguments]) == 0
    return capfd.readouterr().out


def test_a_rejected_result_on_the_terminal(capfd: pytest.CaptureFixture[str]) -> None:
    text = printed(capfd, str(CUTBANK), "results", "R-00857")  # chloromethane of CT-A16, fault 19
    lines = text.splitlines()
    assert lines[0] == "results R-00857: Chloromethane in CT-A16"
    assert lines[1] == "results.csv:857"
    assert lines[2].startswith("✕ rejected, qualifier R; not detected at 11.1 ug/m3")
    whole = " ".join(text.split())
    for part in ("result: 11.1", "unit: ug/m3", "reporting_limit: 11.1", "lab_flag: U"):
        assert part in whole
    assert "R leak-tracer-recovery/tracer_tests/TT-A16" in whole
    assert "Together: R, rejected." in whole
    assert "✕ Leak tracer: broken (reject)" in lines
    assert "tracer_tests TT-A16 tracer_tests.csv:17" in whole
    assert "27 % of the lowest shroud reading of 20 %v" in whole
    assert "● purge-flow: Flow of the purge: in order, 165 mL/min (at most 200 mL/min)." in whole
    assert all(len(line) <= 80 for line in lines)


def test_as_json(capfd: pytest.CaptureFixture[str]) -> None:
    found = json.loads(printed(capfd, str(CUTBANK), "results", "R-00857", "--format", "json"))
    assert (found["table"], found["key"]) == ("results", "R-00857")
    (row,) = found["rows"]
    assert (row["standing"], row["qualifier"], row["place"]) == ("rejected", "R", "results.csv:857")
    links = {link["name"]: link for link in row["links"]}
    assert (links["tracer"]["state"], links["tracer"]["effect"]) == ("broken", "reject")
    (leak,) = [one for one in links["tracer"]["said"] if one["rule"] == "leak-tracer-recovery"]
    # 5.4 % of helium under a shroud of 20 %
    assert (float(leak["measured"]), leak["unit"], leak["limit"]) == (27.0, "%", "at most 20 %")
    assert leak["findings"] == ["leak-tracer-recovery/tracer_tests/TT-A16"]
    assert leak["place"] == "tracer_tests.csv:17"
    assert row["settled"][0]["letters"] == "R"


def test_a_profile_is_put_on_top(capfd: pytest.CaptureFixture[str]) -> None:
    name = "california-2015"
    found = json.loads(printed(capfd, str(CUTBANK), "probes", "P-A01", "--format", "json", "--profile", name))
    checked = vaporqa.check(CUTBANK, profile=name).trace("probes", "P-A01").as_json()
    assert found == json.loads(json.dumps(checked))


def test_a_key_that_two_rows_share_shows_both(capfd: pytest.CaptureFixture[str]) -> None:
    text = printed(capfd, str(CUTBANK), "tracer_tests", "TT-A11")  # fault 15
    assert text.startswith("2 rows of tracer_tests stand under the key TT-A11: all of them follow.")
    assert "tracer_tests.csv:12" in text
    assert "tracer_tests.csv:53" in text
    assert text.count("Samples that hang on it: CT-A11.") == 2


def test_a_made_key_shows_the_rows_that_were_numbered_after_it(tmp_path: Path) -> None:
    (tmp_path / "project.yaml").write_text(PROJECT, encoding="utf-8")
    lines = ["S1,Benzene,71-43-2,5,ug/m3", "S1,Benzene,71-43-2,6,ug/m3", "S1,Toluene,108-88-3,6,ug/m3"]
    text = "\n".join(["sample_id,analyte,cas,result,unit", *lines, ""])
    (tmp_path / "results.csv").write_text(text, encoding="utf-8")
    checked = vaporqa.check(tmp_path)
    assert [row.key for row in checked.trace("results", "S1/71-43-2").rows] == ["S1/71-43-2", "S1/71-43-2#2"]
    assert [row.key for row in checked.trace("results", "S1/71-43-2#2").rows] == ["S1/71-43-2#2"]


def test_a_matter_of_safety_is_called_one(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "project.yaml").write_text(PROJECT, encoding="utf-8")
    text = "reading_id,location_id,at,gas,reading,unit\nF1,L1,2025-05-06 10:00,methane,40,%v\n"
    (tmp_path / "field_readings.csv").write_text(text, encoding="utf-8")
    assert "broken, caution: methane-explosive: Methane of 40 %v" in printed(
        capfd, str(tmp_path), "field_readings", "F1"
    )


def test_a_copy_names_the_row_that_counts(cutbank: vaporqa.Checked) -> None:
    found = cutbank.trace("results", "R-00473")  # chloroform of CT-A09 stands in the file twice, fault 14
    assert [row.place for row in found.rows] == ["results.csv:473", "results.csv:2732"]
    assert found.rows[0].stands_in == ""
    assert found.rows[1].stands_in == "This row is an exact copy; R-00473 (results.csv:473) counts for it."


@pytest.mark.parametrize(
    ("table", "key", "upward", "samples"),
    [
        ("probes", "P-A16", ["L-A16"], ("CT-A16",)),
        ("tracer_tests", "TT-A16", ["CT-A16", "P-A16", "L-A16", "CN-6481"], ("CT-A16",)),
        ("purges", "PU-A16", ["CT-A16", "P-A16", "L-A16", "CN-6481"], ("CT-A16",)),
        ("equipment_log", "E-057", ["L-A16", "P-A16"], ("CT-A16",)),
        ("locations", "L-A16", [], ("CT-A16",)),
        ("containers", "CN-6481", [], ("CT-A16",)),
    ],
)
def test_other_tables_say_what_they_stand_on_and_what_hangs_on_them(
    cutbank: vaporqa.Checked, table: str, key: str, upward: list[str], samples: tuple[str, ...]
) -> None:
    (row,) = cutbank.trace(table, key).rows
    assert sorted(one[1] for one in row.upward) == sorted(upward)
    assert row.samples == samples
    assert row.results_behind == len(TARGETS)


def test_findings_reach_the_targets_of_the_sample(cutbank: vaporqa.Checked) -> None:
    (row,) = cutbank.trace("tracer_tests", "TT-A16").rows
    assert dict(row.reaches) == {"samples": 1, "results": len(TARGETS)}
    (row,) = cutbank.trace("probes", "P-A16").rows
    assert row.reaches == ()


def test_every_row_of_every_table_can_be_traced(cutbank: vaporqa.Checked) -> None:
    from vaporqa.report.trace_text import trace_text

    for name, table in cutbank.review.tables.tables.items():
        for key in dict.fromkeys(table.keys[:: max(1, table.rows // 6)].tolist()):
            found = cutbank.trace(name, str(key))
            assert {row.key for row in found.rows} == {str(key)}
            assert trace_text(found).count("\n") > 4


def refused(capfd: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert cli.run(["trace", str(CUTBANK), *arguments]) == cli.NOT_DONE
    out, err = capfd.readouterr()
    assert out == ""
    return err


def test_an_unknown_table_or_key_offers_the_nearest(capfd: pytest.CaptureFixture[str]) -> None:
    assert "no table 'tracertests'; did you mean 'tracer_tests'?" in refused(capfd, "tracertests", "TT-A11")
    assert "no row under the key 'CT-A1'; did you mean 'CT-A10'" in refused(capfd, "samples", "CT-A1")
    assert "did you mean 'CT-A21'?" in refused(capfd, "samples", "ct-a21")
    assert "did you mean 'TT-A16'" in refused(capfd, "tracer_tests", "TT-A16x")
    assert "the first is 'R-00001'" in refused(capfd, "results", "nothing of the kind")
    assert "\x1b" not in refused(capfd, "samples", "\x1b[31m")


def test_hostile_cells_stay_text(hostile: Path, capfd: pytest.CaptureFixture[str]) -> None:
    text = printed(capfd, str(hostile), "results", "R1")
    assert "\x1b" not in text
    assert "\\x1b[31m" in text
    assert not any(line.lstrip().startswith("::") for line in text.splitlines())
    assert "<script>alert(1)</script>" in text
    found = json.loads(printed(capfd, str(hostile), "results", "R1", "--format", "json"))
    assert dict(found["rows"][0]["cells"])["lab_flag"] == "<script>alert(1)</script>"
    page = vaporqa.check(hostile).write(hostile.parent / "out") / "report.html"
    html = page.read_text(encoding="utf-8")
    assert 'id="chains"' in html
    assert html.count("<script") == 1  # the page's own, which sifts tables
    assert "<script>alert" not in html
    assert "\x1b" not in html
