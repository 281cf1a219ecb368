"""The screen, SARIF, JUnit and workflow annotations."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree as ET

from conftest import labels
from made_reviews import Said, made_review, write_folder

from vaporqa.outcomes import Letter, Outcome, Pair
from vaporqa.report.exchange import junit, sarif, workflow_annotations
from vaporqa.report.screen import A_RULE, screen
from vaporqa.report.writing import Report
from vaporqa.review.values import Review

HIGH = Pair(Letter.J_PLUS, Letter.NONE)


def text_of(review: Review, *, colour: bool = False) -> str:
    report = Report.of(review)
    return screen(review, report.tally, report.sentences, colour=colour)


def test_the_screen_is_eighty_columns_wide_and_names_places(review: Review) -> None:
    text = text_of(review)
    assert max(map(len, text.splitlines())) <= 80
    assert "results.csv:5:5  unproven" in text
    assert text.index("tracer_tests.csv:3  reject") < text.index("tracer_tests.csv:2  estimate")


def test_colour_only_where_it_is_wanted(review: Review) -> None:
    assert "\x1b" not in text_of(review)
    assert "\x1b[31;1m" in text_of(review, colour=True)


def test_cells_cannot_steer_the_screen_nor_a_build_server(tmp_path: Path) -> None:
    hostile = "::error::\x1b[2Jgone\n::set-output name=a::b"
    said = [Said(3, "results", 0, Outcome.BROKEN, HIGH, facts={"analyte": labels(hostile)})]
    review = made_review(write_folder(tmp_path / "yard"), said)
    text = text_of(review)
    assert "\x1b" not in text
    assert not [line for line in text.splitlines() if line.lstrip().startswith("::")]
    commands = workflow_annotations(Report.of(review)).decode().splitlines()
    assert len(commands) == 1
    assert commands[0].startswith("::warning file=")


def test_the_screen_caps_and_says_so(tmp_path: Path) -> None:
    results = "sample_id,analyte,result,unit\n" + "".join(f"S1,A{at},1,ug/m3\n" for at in range(50))
    said = [Said(3, "results", at, Outcome.BROKEN, HIGH, facts={"analyte": labels(f"A{at}")}) for at in range(50)]
    text = text_of(made_review(write_folder(tmp_path / "yard", results=results), said))
    assert text.count("stands above") == A_RULE
    assert "... and 46 more; findings.csv" in text


def test_sarif_has_rules_lines_and_fingerprints(review: Review) -> None:
    made = json.loads(sarif(Report.of(review)))
    run = made["runs"][0]
    assert made["version"] == "2.1.0"
    ids = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    for result in run["results"]:
        assert ids[result["ruleIndex"]] == result["ruleId"]
        assert result["level"] in ("error", "warning", "note")
    reject = next(one for one in run["results"] if one["level"] == "error")
    place = reject["locations"][0]["physicalLocation"]
    assert place["artifactLocation"] == {"uri": "tracer_tests.csv", "uriBaseId": "PROJECT"}
    assert place["region"] == {"startLine": 3}
    assert reject["partialFingerprints"] == {"finding/v1": "leak-tracer-recovery/tracer_tests/T2"}


def test_junit_has_one_case_a_rule_and_table(review: Review) -> None:
    root = ET.fromstring(junit(Report.of(review)))
    cases = {case.get("name"): case for case in root.iter("testcase")}
    assert set(cases) == {"readable-number", "leak-tracer-recovery", "purge-done", "lab-flag-kept"}
    failure = cases["leak-tracer-recovery"].find("failure")
    assert failure is not None
    assert failure.get("type") == "reject"
    assert "tracer_tests.csv:2 estimate" in (failure.text or "")
    assert root.get("failures") == "4"


def test_annotations_escape_and_stop_at_ten_of_a_kind(tmp_path: Path) -> None:
    results = "sample_id,analyte,result,unit\n" + "".join(f"S1,A{at},1,ug/m3\n" for at in range(50))
    said = [Said(3, "results", at, Outcome.BROKEN, HIGH, facts={"analyte": labels("100 % of it")}) for at in range(50)]
    lines = workflow_annotations(
        Report.of(made_review(write_folder(tmp_path / "yard", results=results), said))
    ).decode()
    assert lines.count("::warning ") == 10
    assert "100 %25 of it" in lines
    assert "40 findings more than a workflow run shows" in lines
