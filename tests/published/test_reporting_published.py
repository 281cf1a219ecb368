"""Reporting, meters and cautions against published numbers, through the rules themselves and the whole review.

Codes (A15, C24, N10, X5 ...) are those of the project's list of published criteria, which names where each was read:

- A15, A16: molar volume 24.45 L/mol at 25 degC and 1 atm, 24.055 at 20 degC (gas conversions: EPA/600/C-05/007, 2005).
- A17: appendix F of the Advisory - Active Soil Gas Investigations prints 315 ppbv for 1000 ug/m3 of benzene, with a gas
  constant of 0.0825; the right one gives 313.
- C23: reporting limit and screening level, MassDEP compendium, questions and answers (read). C24, C25: qualifier
  definitions, appendix B (second hand), the action from memory. C35: partial against total, Validation SOP 28.0.
- N3: a landfill-gas health and safety text with 27 CCR 20921 (read). N4: New York DPS, odour page (read). X5: 27 CCR
  20921 against the same state's inspection guide (read). N10, X7: NEPIS P101G6SK prints two xylenes swapped (read).
- Offsets of 0.06, 1.7 and 9.1 %: the project's list, 12.1; spreadsheet dates: measured in a spreadsheet.
"""

from __future__ import annotations

import pytest
import stdnum.casrn

from vaporqa.checks import CHECKS
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Labels
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.quantities.units import parse_number_with_unit
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
Rows = dict[str, list[dict[str, str]]]
BENZENE, TCE = {"analyte": "benzene", "cas": "71-43-2"}, {"analyte": "trichloroethene", "cas": "79-01-6"}


def judge(rule_id: str, rows: Rows, *, temperature: float = 25.0, book=RULEBOOK) -> dict[str, tuple[str, str]]:
    """Outcome and broken limit by key of every row of the rule's tables, and of each finding on the whole table."""
    project = Project(time_zone="UTC", lab_time_zone="UTC", reference_temperature=temperature)
    tables = tables_from_text(rows, project)
    rule = book.rule(rule_id)
    out: dict[str, tuple[str, str]] = {}
    for one in CHECKS[rule.check].run(rule, Evidence(tables, project, book)):
        table = tables.tables[one.table or rule.row]
        for row, key in enumerate(table.keys):
            out[str(key)] = (Outcome(int(one.state[row])).words, "")
        for entry, row in enumerate(one.row.tolist()):
            name = "*" if row < 0 else str(table.keys[row])
            limit = rule.limits[one.limit[entry]].name if one.limit[entry] >= 0 else ""
            out[name] = (Outcome(int(one.outcome[entry])).words, limit)
    return out


def both_forms(mass: str, volume: str, of: dict[str, str], temperature: float = 25.0) -> tuple[str, str]:
    """What `forms-agree` says of one result."""
    row = {"result_id": "R", "sample_id": "S", **of, "result_mass": mass, "result_volume": volume}
    return judge("forms-agree", {"results": [row]}, temperature=temperature)["R"]


def review(rows: Rows) -> Review:
    """The whole review of small tables by the whole rulebook."""
    project = Project(time_zone="UTC", lab_time_zone="UTC", stage="1")
    return review_folder(project, tables_from_text(rows, project), RULEBOOK)


# -- two forms of one number -----------------------------------------------------------------------------------------


def test_a15_two_ppbv_of_trichloroethene():
    """2.0 ppbv is 10.75 ug/m3 by 24.45 L/mol (0.06 % from the exact volume, which passes), 10.92 at 20 degC."""
    assert both_forms("10.75 ug/m3", "2.000 ppbv", TCE) == ("holds", "")
    assert both_forms("10.92 ug/m3", "2.000 ppbv", TCE) == ("broken", "agree")
    assert both_forms("10.92 ug/m3", "2.000 ppbv", TCE, temperature=20.0) == ("holds", "")


def test_a16_thirty_micrograms_of_tetrachloroethene():
    pce = {"analyte": "tetrachloroethene", "cas": "127-18-4"}
    assert both_forms("30.0 ug/m3", "4.42 ppbv", pce) == ("holds", "")
    # 24.45 at 0 degC instead: 22.414 x 30 / 165.83 = 4.05 ppbv.
    assert both_forms("30.0 ug/m3", "4.05 ppbv", pce) == ("broken", "wrong")


def test_a17_a_published_number_made_with_a_wrong_gas_constant():
    assert both_forms("1000.0 ug/m3", "313.0 ppbv", BENZENE) == ("holds", "")
    assert both_forms("1000.0 ug/m3", "315 ppbv", BENZENE) == ("broken", "agree")


@pytest.mark.parametrize(
    ("name", "cas", "factor"),
    [("benzene", "71-43-2", "3.19"), ("trichloroethene", "79-01-6", "5.37"), ("vinyl chloride", "75-01-4", "2.56"),
     ("toluene", "108-88-3", "3.77")],
)  # fmt: skip
def test_printed_factors_agree(name, cas, factor):
    """NIOSH Pocket Guide, 1 ppm = ... mg/m3 at 25 degC and 1 atm: the four that were read on their entries."""
    assert both_forms(f"{factor} mg/m3", "1.000 ppmv", {"analyte": name, "cas": cas}) == ("holds", "")


@pytest.mark.parametrize(
    ("molar_volume", "limit", "degrees"),
    [(24.055117, "agree", "20.0 degC"), (22.413970, "wrong", "0.0 degC"), (24.45, "", "")],
)
def test_a_laboratory_with_another_reference_is_found_out_once(molar_volume, limit, degrees):
    """Molar volumes at 1 atm: 24.055117 L/mol at 20 degC, 22.413970 at 0 degC (CODATA 2018); 24.45 is a rounding."""
    masses = {("benzene", "71-43-2"): 78.11, ("toluene", "108-88-3"): 92.14, ("trichloroethene", "79-01-6"): 131.39,
              ("tetrachloroethene", "127-18-4"): 165.83}  # fmt: skip
    results = [
        {"sample_id": f"S{place}", "analyte": name, "cas": cas, "result_volume": f"{volume} ppbv",
         "result_mass": f"{float(volume) * mass / molar_volume:.2f} ug/m3"}
        for (name, cas), mass in masses.items() for place, volume in enumerate(("20.00", "50.00"))
    ]  # fmt: skip
    said = judge("forms-agree", {"results": results})
    rows = {key: outcome for key, outcome in said.items() if key != "*"}
    if not limit:
        assert "*" not in said
        assert set(rows.values()) == {("holds", "")}
        return
    assert said["*"] == ("broken", limit)
    assert set(rows.values()) == {("broken", "")}  # each row only by the finding on the whole table
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    rule = RULEBOOK.rule("forms-agree")
    (one,) = CHECKS[rule.check].run(rule, Evidence(tables_from_text({"results": results}, project), project, RULEBOOK))
    hint = one.facts["hint"]
    assert isinstance(hint, Labels)
    assert str(hint.values[0]).endswith(degrees)


# -- limits, runs, totals --------------------------------------------------------------------------------------------

SAMPLE = {"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}


def qualifier(found: Review, key: str) -> str:
    index = [str(one) for one in found.tables.tables["results"].keys].index(key)
    return QUALIFIERS[found.settled["results"].qualifier[index]]


def effects(found: Review, rule_id: str) -> list[int]:
    number = [rule.id for rule in found.rules].index(rule_id)
    return found.findings.effect[found.findings.rule == number].tolist()


def test_c23_a_limit_over_the_screening_level_changes_no_letter():
    found = review({
        "samples": [SAMPLE],
        "results": [{"result_id": "R", "sample_id": "S", **BENZENE, "result": "ND", "unit": "ug/m3",
                     "reporting_limit": "5.0"}],
        "screening_levels": [{"cas": "71-43-2", "matrix": "soil_gas", "level": "2.1", "unit": "ug/m3"}],
    })  # fmt: skip
    assert effects(found, "sensitivity") == [1]  # a note
    assert qualifier(found, "R") == "U"


def test_c24_and_c25_a_value_over_range():
    """With a dilution run the value in range stands without a letter; without one the value is J."""
    high = {"sample_id": "S", **BENZENE, "result": "900", "unit": "ug/m3", "dilution": "1", "lab_flag": "over_range",
            "reporting_limit": "1", "run_id": "1"}  # fmt: skip
    again = {"sample_id": "S", **BENZENE, "result": "850", "unit": "ug/m3", "dilution": "10", "run_id": "2",
             "run_of": "1", "run_kind": "dilution", "reporting_limit": "10"}  # fmt: skip
    both = review({"samples": [SAMPLE], "results": [{"result_id": "E", **high}, {"result_id": "D", **again}]})
    assert both.evidence.in_use.tolist() == [0, 1]
    assert (qualifier(both, "E"), qualifier(both, "D")) == ("", "")
    alone = review({"samples": [SAMPLE], "results": [{"result_id": "E", **high}]})
    assert qualifier(alone, "E") == "J"


def test_c35_xylenes_and_their_parts():
    def total(value: str) -> tuple[str, str]:
        cells = {"sample_id": "S", "unit": "ug/m3", "reporting_limit": "0.5"}
        return judge("parts-and-totals", {"results": [
            {"result_id": "T", "analyte": "total xylenes", "cas": "1330-20-7", "result": value, **cells},
            {"result_id": "MP", "analyte": "m,p-xylene", "cas": "179601-23-1", "result": "7", **cells},
            {"result_id": "O", "analyte": "o-xylene", "cas": "95-47-6", "result": "3.2", **cells},
        ]})["T"]  # fmt: skip

    assert total("10") == ("holds", "")
    assert total("14") == ("broken", "sum")  # 10.2 and a third more


# -- identity --------------------------------------------------------------------------------------------------------


def test_n10_swapped_numbers_pass_their_check_digits_and_not_their_names():
    """NEPIS P101G6SK gives m-xylene as 95-47-6 and o-xylene as 108-38-3; the right pairs are the other way round."""
    printed = [{"result_id": "M", "sample_id": "S", "analyte": "m-Xylene", "cas": "95-47-6"},
               {"result_id": "O", "sample_id": "S", "analyte": "o-Xylene", "cas": "108-38-3"}]  # fmt: skip
    right = [{"result_id": "M", "sample_id": "S", "analyte": "m-Xylene", "cas": "108-38-3"},
             {"result_id": "O", "sample_id": "S", "analyte": "o-Xylene", "cas": "95-47-6"}]  # fmt: skip
    assert all(stdnum.casrn.is_valid(row["cas"]) for row in printed)
    assert set(judge("cas-number", {"results": printed}).values()) == {("holds", "")}
    assert set(judge("analyte-name", {"results": printed}).values()) == {("broken", "belongs")}
    assert set(judge("analyte-name", {"results": right}).values()) == {("holds", "")}


@pytest.mark.parametrize("last", range(10))
def test_check_digits_as_the_reference_library_has_them(last):
    cas = f"127-18-{last}"
    (said,) = judge("cas-number", {"results": [{"sample_id": "S", "analyte": "PCE", "cas": cas}]}).values()
    assert (said == ("holds", "")) == stdnum.casrn.is_valid(cas)


@pytest.mark.parametrize(
    ("cell", "meant"),
    [("2075-01-04", "75-01-4"), ("63923", "75-01-4"), ("64164", "75-09-2"), ("65386", "79-01-6")],
)
def test_spreadsheet_dates_name_the_number_they_were(cell, meant):
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    row = {"sample_id": "S", "analyte": "a compound", "cas": cell}
    rule = RULEBOOK.rule("cas-number")
    evidence = Evidence(tables_from_text({"results": [row]}, project), project, RULEBOOK)
    (one,) = CHECKS[rule.check].run(rule, evidence)
    assert [rule.limits[limit].name for limit in one.limit] == ["spreadsheet_date"]
    assert one.facts["meant"].values.tolist() == [meant]


# -- methane ---------------------------------------------------------------------------------------------------------


def methane(setting: str, reading: str, book=RULEBOOK) -> tuple[str, str]:
    row = {"reading_id": "R", "at": "2025-06-03T10:00", "setting": setting, "gas": "methane", "reading": reading}
    return judge("methane-explosive", {"field_readings": [row]}, book=book)["R"]


@pytest.mark.parametrize("reading", ["1.25 %v", "12500 ppmv", "25 %LEL"])
def test_n3_a_quarter_of_the_explosive_limit(reading):
    assert methane("structure", reading) == ("holds", "")


@pytest.mark.parametrize("reading", ["5 %v", "50000 ppmv", "100 %LEL"])
def test_n3_the_explosive_limit_itself(reading):
    assert methane("boundary", reading) == ("holds", "")


@pytest.mark.parametrize(("setting", "reading", "limit"), [
    ("structure", "12501 ppmv", "structure"), ("structure", "26 %LEL", "structure"),
    ("boundary", "50001 ppmv", "reading"), ("soil", "101 %LEL", "reading"),
])  # fmt: skip
def test_n3_just_over_either(setting, reading, limit):
    assert methane(setting, reading) == ("broken", limit)


@pytest.mark.parametrize(("fraction", "percent"), [("20 %LEL", 1.0), ("10 %LEL", 0.5)])
def test_n4_a_fifth_and_a_tenth_of_the_explosive_limit(fraction, percent):
    number, unit = parse_number_with_unit(fraction, "amount")
    assert unit.to_canonical(number) == pytest.approx(percent * 1e7)


def test_x5_the_inspection_guide_counts_equality_as_a_violation(tmp_path):
    """27 CCR 20921 says 'must not exceed'; the guide of the same state says '5 percent or greater'."""
    profile = tmp_path / "guide.yaml"
    source = "source: {document: inspection guide}, backing: verified"
    profile.write_text(
        "format: 1\nprofile: guide\nabout: the state's inspection guide\nlimits:\n"
        f"  methane-explosive.reading: {{under: 5 %v, {source}}}\n"
        f"  methane-explosive.structure: {{under: 1.25 %v, {source}}}\n"
    )
    guide = load_rulebook(further=[profile], profiles=["guide"])
    assert methane("boundary", "5 %v") == ("holds", "")
    assert methane("boundary", "5 %v", guide) == ("broken", "reading")
    assert methane("structure", "1.25 %v", guide) == ("broken", "structure")
    assert methane("structure", "1.24 %v", guide) == ("holds", "")
