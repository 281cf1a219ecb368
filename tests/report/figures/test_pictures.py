"""Pictures: every drawn number derived by hand, limits from the rules in force, and a drawing that is well formed."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from drawn_folders import PROBES, RESULTS, SAMPLES, TABLES, TRACER, drawn, folder_of, review_of

from vaporqa.report.figures import Picture, pictures
from vaporqa.report.page import page
from vaporqa.report.writing import Report

ROOT = Path(__file__).parents[3]
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Picture]:
    return drawn(folder_of(tmp_path_factory.mktemp("tiny") / "yard"))


@pytest.fixture(scope="module")
def cutbank() -> dict[str, Picture]:
    return drawn(ROOT / "sample_inputs" / "cutbank-terminal")


def rows_of(picture: Picture) -> dict[str, tuple[str, ...]]:
    """Plotted rows by their first cell."""
    return {row[0]: row[1:] for row in picture.plotted.rows}


def said(picture: Picture) -> str:
    return " ".join((*picture.says, *picture.leaves_out))


def limit_lines(picture: Picture) -> list[float]:
    """Horizontal places of the upright dashed lines."""
    found = re.findall(r'd="M([\d.]+) [\d.]+L([\d.]+) [\d.]+" class="l-limit"', picture.svg)
    return sorted(float(a) for a, b in found if a == b)


def test_every_picture_is_there(tiny: dict[str, Picture]) -> None:
    assert list(tiny) == [
        "site", "matrix", "equipment", "tracer", "purge", "canisters", "holding", "surrogate-recovery", "duplicates",
    ]  # fmt: skip


def test_tracer_recovery(tiny: dict[str, Picture]) -> None:
    assert rows_of(tiny["tracer"]) == {
        "S3": ("T3", "25 %", "reject"), "S2": ("T2", "8 %", "estimate"), "S1 +1": ("T1", "5 %", "holds"),
        "S4": ("T4", "at most 2.5 %", "holds"),
    }  # fmt: skip
    assert [row[0] for row in tiny["tracer"].plotted.rows] == ["S3", "S2", "S1 +1", "S4"]
    assert "1 test not drawn, for want of a number" in said(tiny["tracer"])


def test_tracer_marks_stand_where_their_numbers_say(tiny: dict[str, Picture]) -> None:
    # The axis runs from 136 (nought) to 400 (1.04 x 25 %): 5 % stands at 136 + 264 x 5 / 26 = 186.8, 20 % at 339.1.
    assert limit_lines(tiny["tracer"]) == [186.8, 339.1]
    cross = re.search(r'class="m-reject m-line"[^>]* d="M([\d.]+) ', tiny["tracer"].svg)
    assert cross is not None
    assert float(cross[1]) == 389.8  # 136 + 264 x 25 / 26


def test_a_profile_moves_the_line_and_the_mark(tmp_path: Path) -> None:
    # New Jersey allows 10 %: 8 % then holds, and the line stands at 136 + 264 x 10 / 26 = 237.5.
    moved = drawn(folder_of(tmp_path / "yard"), "new-jersey")["tracer"]
    assert rows_of(moved)["S2"] == ("T2", "8 %", "holds")
    assert 237.5 in limit_lines(moved)
    assert "at most 10 %" in moved.svg


def test_purges(tiny: dict[str, Picture]) -> None:
    assert rows_of(tiny["purge"]) == {
        "S3": ("U3", "100 mL", "50 mL", "0.5", "reject"), "S2": ("U2", "100 mL", "200 mL", "2", "estimate"),
        "S1": ("U1", "100 mL", "400 mL", "4", "holds"),
    }  # fmt: skip
    assert "1 purge not drawn, for want of the purged or the dead volume" in said(tiny["purge"])
    assert "at least 3 dead volumes" in tiny["purge"].svg


def test_holding_times(tiny: dict[str, Picture]) -> None:
    rows = [(row[0], row[2], row[3], row[4], row[5]) for row in tiny["holding"].plotted.rows]
    assert rows == [
        ("S3", "30 d", "250 %", "1", "estimate"),  # a detect, even at more than twice the time
        ("S2", "30 d", "150 %", "1", "estimate"), ("S1", "30 d", "100 %", "4", "holds"),
        ("S1D", "30 d", "100 %", "4", "holds"), ("EB", "30 d", "50 %", "1", "holds"),
    ]  # fmt: skip
    # From 12 to 462 for 0 to 1.06 x 250 %: the holding time stands at 12 + 450 x 100 / 265, twice that at 200 / 265.
    assert limit_lines(tiny["holding"]) == [181.8, 351.6]


def test_duplicates(tiny: dict[str, Picture]) -> None:
    found = {row[2]: (row[0], row[1], *row[3:]) for row in tiny["duplicates"].plotted.rows}
    assert found == {
        "Benzene": ("S1", "S1D", "60 ug/m3", "100 ug/m3", "2 ug/m3", "holds"),
        "Toluene": ("S1", "S1D", "60 ug/m3", "200 ug/m3", "2 ug/m3", "estimate"),
        "Vinyl chloride": ("S1", "S1D", "3 ug/m3", "not detected at 2 ug/m3", "2 ug/m3", "holds"),
    }
    assert "1 pair of two nondetects, which agree, not drawn" in said(tiny["duplicates"])


def test_equal_numbers_stand_on_the_dotted_line(tmp_path: Path) -> None:
    results = RESULTS.replace("S1D,108-88-3,Toluene,200", "S1D,108-88-3,Toluene,60")
    picture = drawn(folder_of(tmp_path / "yard", {"samples": SAMPLES, "results": results}))["duplicates"]
    dotted = re.search(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)" class="l-equal"', picture.svg)
    assert dotted is not None
    x1, y1, x2, y2 = (float(one) for one in dotted.groups())
    discs = [(float(a), float(b)) for a, b in re.findall(r'class="m-holds m-full" d="M([\d.]+) ([\d.]+)', picture.svg)]
    off = [abs(y1 + (x - x1) / (x2 - x1) * (y2 - y1) - y) for x, y in discs]
    assert len(off) == 2  # toluene twice 60, benzene 60 and 100
    assert min(off) < 0.15
    assert max(off) > 10


def test_equipment(tiny: dict[str, Picture]) -> None:
    assert tiny["equipment"].plotted.rows == (
        ("A", "2025-05-05 09:00", "used", "L1", "holds"), ("A", "2025-05-05 10:00", "cleaned", "-", "-"),
        ("A", "2025-05-05 10:30", "dirty blank", "-", "-"), ("A", "2025-05-05 11:00", "used", "L2", "holds"),
        ("A", "2025-05-05 13:00", "used", "L3", "estimate"), ("B", "2025-05-05 09:00", "used", "L4", "holds"),
        ("B", "2025-05-05 10:00", "cleaned", "-", "-"), ("B", "2025-05-05 11:00", "used", "L1", "holds"),
    )  # fmt: skip
    assert tiny["equipment"].svg.count('class="m-estimate m-full"') == 1


def test_canisters(tiny: dict[str, Picture]) -> None:
    found = rows_of(tiny["canisters"])
    assert found["S1"] == ("29.5 inHg", "29 inHg", "5 inHg", "5 inHg", "holds")
    assert found["S3"][:4] == ("29.5 inHg", "20 inHg", "5 inHg", "5 inHg")
    assert found["S3"][4] != "holds"  # 20 inHg at the start is under the 25 of the rule
    assert tiny["canisters"].plotted.rows[0][0] == "S3"
    assert "S4" not in found
    assert "2 canisters not drawn, for want of any reading" in said(tiny["canisters"])


def test_recoveries(tiny: dict[str, Picture]) -> None:
    rows = [row[1:] for row in tiny["surrogate-recovery"].plotted.rows]
    assert [row[1] for row in rows] == ["9 %", "60 %", "100 %"]
    assert rows[2][3] == "holds"
    assert rows[1][3] == "estimate"
    assert rows[0][3] == "reject"
    # From 12 to 462 for 0 to 1.04 x 130 %: 10 % at 45.3, 70 % at 245.0, 130 % at 444.7.
    assert limit_lines(tiny["surrogate-recovery"]) == [45.3, 245.0, 444.7]


def test_site(tiny: dict[str, Picture]) -> None:
    found = rows_of(tiny["site"])
    # Benzene over its level of 10: the duplicate's 100 at L1, 30 at L2; what is rejected at L3 does not count.
    assert found["L1"][2:] == ("Benzene, 100 ug/m3", "10 times")
    assert found["L2"][2:] == ("Benzene, 30 ug/m3", "3 times")
    assert found["L3"][0] == "rejected"
    assert found["L3"][2:] == ("none", "no level to compare")
    assert "1 location not drawn, for want of readable coordinates" in said(tiny["site"])
    assert "ft" in tiny["site"].svg


def test_site_keeps_the_shape_of_the_ground(tmp_path: Path) -> None:
    tables = {
        "locations": "location_id,x [ft],y [ft]\nL1,0,0\nL2,30,0\nL3,0,40\n", "samples": SAMPLES, "probes": PROBES
    }  # fmt: skip
    svg = drawn(folder_of(tmp_path / "yard", tables))["site"].svg
    marks = re.findall(r'm-line" fill="none" stroke="[^"]+" stroke-width="1.6" d="M([\d.]+) ([\d.]+)', svg)
    points = sorted((float(x), float(y)) for x, y in marks)
    assert len(points) == 3
    (x1, y_top), (_, y_low), (x2, _) = points
    assert (x2 - x1) / 30 == pytest.approx((y_low - y_top) / 40, rel=0.01)


def test_matrix(tiny: dict[str, Picture]) -> None:
    picture = tiny["matrix"]
    columns = picture.plotted.columns
    by_name = {row[0]: dict(zip(columns, row, strict=True)) for row in picture.plotted.rows}
    assert by_name["S3"]["Leak tracer"] == "reject"
    assert by_name["S2"]["Leak tracer"] == "estimate"
    assert by_name["S3"]["Purge"] == "reject"
    assert by_name["S2"]["Holding times"] == "estimate"
    assert by_name["S1"]["Holding times"] == "holds"
    assert by_name["EB"]["Purge"] == "-"
    assert by_name["S3"]["Decontamination"] == "estimate"


# -- the sample folder, against the list of faults in its README -----------------------------------------------------


def test_planted_faults_are_drawn(cutbank: dict[str, Picture]) -> None:
    tracer = rows_of(cutbank["tracer"])
    assert tracer["CT-A15"][1:] == ("8 %", "estimate")
    assert tracer["CT-A19"][1:] == ("at most 8 %", "unproven")
    purges = rows_of(cutbank["purge"])
    assert purges["CT-A06"][3:] == ("2.1", "estimate")
    assert purges["CT-B07"][3:] == ("2.1", "estimate")
    assert purges["CT-B01"][4] == "reject"
    assert float(purges["CT-B01"][3]) == pytest.approx(0.7, abs=0.05)
    assert float(purges["CT-B10"][3]) > 10
    assert "CT-B05" not in purges
    assert "CT-B04" not in purges
    held = {row[0]: row[3] for row in cutbank["holding"].plotted.rows if row[2] == "30 d"}
    assert held["CT-B06"] == "113 %"  # 34 of 30 days
    assert held["CT-B07"] == "207 %"  # 62 of 30 days


# -- what holds for every picture ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(one.name for one in (ROOT / "sample_inputs").iterdir() if one.is_dir()))
def test_pictures_are_well_formed_small_and_named(name: str) -> None:
    review = review_of(ROOT / "sample_inputs" / name)
    made = pictures(review)
    for one in made:
        root = ET.fromstring(one.svg)
        assert root.attrib["role"] == "img"
        assert root.attrib["aria-labelledby"] == f"{one.name}-title {one.name}-desc"
        assert [child.tag for child in root][:2] == ["title", "desc"]
        assert all(child.text for child in list(root)[:2])
        assert not re.search(r"\b(nan|inf|None)\b", one.svg)
        assert not re.search(r"<(script|foreignObject|image|use|a)\b|href|url\(", one.svg)
        left, top, width, height = (float(part) for part in root.attrib["viewBox"].split())
        for text in root.iter("text"):
            assert left <= float(text.attrib["x"]) <= width
            assert top <= float(text.attrib["y"]) <= height
        assert all(len(number.partition(".")[2]) <= 1 for number in re.findall(r"-?\d+\.\d+", _geometry(root)))
        assert len(one.plotted.rows) <= 60
        assert one.legend
        assert one.says
    assert sum(len(one.svg.encode()) for one in made) < 500_000
    report = Report.of(review)
    text = page(review, report.tally, report.sentences).decode()
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert text.count("<figure") == len(made)


def _geometry(root: ET.Element) -> str:
    """Coordinates of everything but the fixed shapes and weights of marks."""
    parts = []
    for one in root.iter():
        parts += [one.attrib.get(key, "") for key in ("x", "y", "width", "height", "points")]
        if "m-" not in one.attrib.get("class", ""):
            parts.append(one.attrib.get("d", ""))
    return " ".join(parts)


def test_the_same_rows_in_another_order_draw_the_same_bytes(tmp_path: Path) -> None:
    first = pictures(review_of(folder_of(tmp_path / "a")))
    for shuffle in (1, 2):
        assert pictures(review_of(folder_of(tmp_path / f"b{shuffle}", shuffle=shuffle))) == first


def test_hostile_ids_are_only_text(tmp_path: Path) -> None:
    worst = '"<b onload=""x"">&S1"'
    tables = {name: re.sub(r"\bS1\b", worst.replace("\\", ""), text) for name, text in TABLES.items()}
    review = review_of(folder_of(tmp_path / "yard", tables))
    made = pictures(review)
    assert made
    for one in made:
        ET.fromstring(one.svg)
        assert "<b" not in one.svg
    report = Report.of(review)
    assert "<b onload" not in page(review, report.tally, report.sentences).decode()


def test_long_and_wide_ids_are_cut_in_the_middle(tmp_path: Path) -> None:
    long = "LARKSPUR-YARD-PHASE-TWO-SOIL-GAS-2025-05-06-NORTH-S1"
    tables = {name: re.sub(r"\bS1\b", long, text) for name, text in TABLES.items()}
    svg = drawn(folder_of(tmp_path / "yard", tables))["tracer"].svg
    assert "…" in svg
    assert long not in svg


@pytest.mark.parametrize(
    "tables", [{}, {"samples": SAMPLES.splitlines()[0] + "\n"}, {"tracer_tests": TRACER.splitlines()[0] + "\n"}]
)
def test_no_data_no_picture(tmp_path: Path, tables: dict[str, str]) -> None:
    tables = tables or {"screening_levels": TABLES["screening_levels"]}
    assert pictures(review_of(folder_of(tmp_path / "yard", tables))) == ()


def test_one_wild_number_does_not_press_the_others_flat(tmp_path: Path) -> None:
    # 20 %v in the train of a 20 %v shroud is 100 %: beyond 1.6 x the highest limit it stands at the edge.
    tests = TRACER.replace("T3,S3,2025-05-06T09:30,shroud,helium,20,5.0", "T3,S3,2025-05-06T09:30,shroud,helium,20,20")
    picture = drawn(folder_of(tmp_path / "yard", {**TABLES, "tracer_tests": tests}))["tracer"]
    assert rows_of(picture)["S3"][1] == "100 %"
    # 264 units for 1.04 x 32 %.
    assert limit_lines(picture) == [pytest.approx(136 + 264 * 5 / 33.28, abs=0.06), 294.7]
    assert any("beyond the scale" in words for _, words in picture.legend)
