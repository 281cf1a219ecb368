"""By which name sentences speak of an analyte: one of its own, whichever row comes first."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
TCE = "79-01-6"


def names(*rows: tuple[str, str], **tables: list[dict[str, str]]) -> set[str]:
    """Names of the analytes of result rows with these CAS numbers and names; the same backwards."""

    def of(given: tuple[tuple[str, str], ...]) -> list[str]:
        results = [{"sample_id": f"S{at}", "cas": cas, "analyte": name} for at, (cas, name) in enumerate(given)]
        evidence = Evidence(tables_from_text({"results": results, **tables}, PROJECT), PROJECT, load_rulebook())
        return [str(name) for name in evidence.analyte_names(np.arange(len(given)))]

    found = of(rows)
    assert of(rows[::-1]) == found[::-1]
    return set(found)


@pytest.mark.parametrize(
    ("rows", "name"),
    [
        # One row calls trichloroethene chloroform: the other rows of that number are none of its business.
        (((TCE, "Chloroform"), (TCE, "Trichloroethene")), "Trichloroethene"),
        # A name that no list knows gives way to one that belongs, however often it stands there.
        (((TCE, "Solvent 7"), (TCE, "Solvent 7"), (TCE, "TCE")), "TCE"),
        (((TCE, "Solvent 7"),), "Solvent 7"),
        # Of names that belong the one in the most rows, then the first by its letters.
        (((TCE, "TCE"), ("", "Trichloroethylene"), (TCE, "Trichloroethylene")), "Trichloroethylene"),
        (((TCE, "Trichloroethylene"), (TCE, "TCE")), "TCE"),
        # Nothing but the name of another substance: the list has the name of the number.
        (((TCE, "Chloroform"),), "trichloroethene"),
        ((("", "Solvent 7"), ("", "solvent 7"), ("", "solvent 7")), "solvent 7"),
        (((TCE, ""),), TCE),
    ],
)
def test_the_name_belongs_to_the_number(rows: tuple[tuple[str, str], ...], name: str) -> None:
    assert names(*rows) == {name}


def test_the_results_name_it_before_any_other_table() -> None:
    levels = [{"cas": TCE, "analyte": "Trichloroethylene", "level": "5", "unit": "ug/m3"}]
    assert names((TCE, "TCE"), screening_levels=levels) == {"TCE"}


def test_a_spelling_of_the_project_belongs() -> None:
    spelled = [{"name": "Solvent 7", "cas": TCE}]
    assert names((TCE, "Chloroform"), (TCE, "Solvent 7"), analyte_names=spelled) == {"Solvent 7"}
