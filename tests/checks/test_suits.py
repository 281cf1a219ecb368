"""Words against what they must be, by word, by analyte and by class."""

from __future__ import annotations

from dataclasses import replace

from vaporqa.checks import suits
from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Letter, Outcome, Pair
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
BENZENE, NAPHTHALENE, SULFIDE = "71-43-2", "91-20-3", "7783-06-4"


def judged(material: str, analytes: tuple[str, ...], rule=None):
    tables = tables_from_text(
        {
            "probes": [{"probe_id": "P", "kind": "driven", "tubing_material": material}],
            "samples": [{"sample_id": "A", "probe_id": "P", "kind": "primary", "matrix": "soil_gas"}],
            "results": [{"sample_id": "A", "cas": cas, "analyte": cas} for cas in analytes],
        },
        PROJECT,
    )
    evidence = Evidence(tables, PROJECT, RULEBOOK)
    rule = rule or RULEBOOK.rule("tubing-material")
    (one,) = suits.run(rule, evidence)
    said = {}
    for entry in range(len(one.row)):
        rows = one.results.target[one.results.entry == entry].tolist()
        for sample in one.samples.target[one.samples.entry == entry].tolist():
            rows += evidence.results_of_samples(one.samples.target[one.samples.target == sample]).tolist()
        name = rule.limits[one.limit[entry]].name if one.limit[entry] >= 0 else ""
        said[name] = {analytes[row] for row in rows}
    return Outcome(int(one.state[0])), said


def test_a_material_that_suits_all_but_one_reaches_that_one():
    assert judged("nylon", (BENZENE, NAPHTHALENE)) == (Outcome.BROKEN, {"naphthalene": {NAPHTHALENE}})
    assert judged("stainless", (BENZENE, SULFIDE)) == (Outcome.BROKEN, {"hydrogen_sulfide": {SULFIDE}})


def test_without_the_analyte_there_is_nothing_to_find():
    assert judged("nylon", (BENZENE, SULFIDE)) == (Outcome.HOLDS, {})


def test_the_gravest_breach_speaks_alone():
    assert judged("ldpe", (BENZENE, NAPHTHALENE, SULFIDE)) == (
        Outcome.BROKEN, {"never_ldpe": {BENZENE, NAPHTHALENE, SULFIDE}},
    )  # fmt: skip
    assert judged("hdpe", (BENZENE, NAPHTHALENE)) == (Outcome.BROKEN, {"soft_plastic": {BENZENE, NAPHTHALENE}})


def test_a_milder_breach_still_reaches_what_the_graver_one_leaves_out():
    rule = RULEBOOK.rule("tubing-material")
    graver = {**rule.consequence, "naphthalene": Pair(Letter.R, Letter.R)}
    changed = replace(rule, consequence=graver)
    outcome, said = judged("hdpe", (BENZENE, NAPHTHALENE), changed)
    assert outcome is Outcome.BROKEN
    assert said["naphthalene"] == {NAPHTHALENE}
    assert BENZENE in said["soft_plastic"]


def test_words_that_prove_nothing():
    for material in ("other", "", "rubber"):
        outcome, said = judged(material, (BENZENE,))
        assert outcome is Outcome.UNPROVEN
        assert said == {"": {BENZENE}}
