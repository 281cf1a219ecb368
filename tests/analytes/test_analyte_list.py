"""The shipped analyte list: one meaning a name, classes that follow their definitions, names read with care."""

import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.analytes import CLASSES, all_analytes, by_cas, cas_format_ok, check_digit_ok, has_class, resolve

LIST = all_analytes()


def in_class(name):
    return {analyte.cas for analyte in LIST if name in analyte.classes}


def test_the_list_is_long_enough_and_each_number_stands_once():
    assert len(LIST) >= 110
    assert len({analyte.cas for analyte in LIST}) == len(LIST)
    assert len({analyte.name for analyte in LIST}) == len(LIST)


def test_every_name_and_synonym_resolves_to_its_own_number():
    for analyte in LIST:
        for name in (analyte.name, *analyte.synonyms, analyte.cas, analyte.name.upper(), f"  {analyte.name} "):
            assert resolve(name) == analyte.cas, name
        assert by_cas(analyte.cas) is analyte


def test_classes_are_the_closed_list_and_each_is_used():
    used = set().union(*(analyte.classes for analyte in LIST))
    assert used == set(CLASSES)
    with pytest.raises(ValueError, match="did you mean 'sulfur'"):
        has_class("71-43-2", "sulfer")


def test_an_unlisted_number_is_in_no_class():
    assert by_cas("50-00-0") is None
    assert not has_class("50-00-0", "volatile_organic")


def test_common_contaminants_are_the_four_of_the_rulebook():
    assert in_class("common_contaminant") == {"67-64-1", "78-93-3", "75-09-2", "108-88-3"}


def test_canister_list_keeps_the_longer_holding_time():
    assert in_class("canister_list") == {"75-15-0", "107-13-1", "75-05-8"}
    assert not in_class("canister_list") & (in_class("sulfur") | in_class("nitrogen") | in_class("short_canister"))


def test_short_canister_is_sulfur_nitrogen_and_one_ether():
    assert in_class("short_canister") == in_class("sulfur") | in_class("nitrogen") | {"542-88-1"}
    assert in_class("reactive") == in_class("sulfur") | {"106-99-0"}


@pytest.mark.parametrize(
    ("name", "class_name", "expected"),
    [
        ("hydrogen sulfide", "sulfur", True), ("carbonyl sulfide", "sulfur", True), ("sulfur dioxide", "sulfur", True),
        ("methyl mercaptan", "sulfur", True), ("dimethyl disulfide", "sulfur", True), ("thiophene", "sulfur", True),
        ("carbon disulfide", "sulfur", False), ("sulfur hexafluoride", "sulfur", False),
        ("ammonia", "nitrogen", True), ("trimethylamine", "nitrogen", True), ("nitrogen", "nitrogen", False),
        ("acrylonitrile", "nitrogen", False), ("helium", "tracer", True), ("1,1-difluoroethane", "tracer", True),
        ("methane", "fixed_gas", True), ("methane", "volatile_organic", False), ("methane", "landfill_gas", True),
        ("naphthalene", "high_boiling", True), ("1,2,4-trichlorobenzene", "high_boiling", False),
        ("hexachlorobutadiene", "high_boiling", False), ("2-methylnaphthalene", "high_boiling", True),
        ("toluene-d8", "surrogate", True), ("toluene", "surrogate", False),
    ],
)  # fmt: skip
def test_class_of(name, class_name, expected):
    assert has_class(resolve(name), class_name) is expected


def test_classes_agree_with_formulas_and_boiling_points():
    for analyte in LIST:
        assert ("chlorinated" in analyte.classes) == ("Cl" in analyte.formula), analyte.name
        boils_high = analyte.boiling_point is not None and analyte.boiling_point >= by_cas("91-20-3").boiling_point
        assert ("high_boiling" in analyte.classes) == boils_high, analyte.name
        has = set(re.findall(r"[A-Z][a-z]?", analyte.formula))
        assert "sulfur" not in analyte.classes or "S" in has
        assert "nitrogen" not in analyte.classes or "N" in has
        if "aromatic" in analyte.classes:
            assert int(re.match(r"C(\d+)", analyte.formula)[1]) >= 6
        if "S" in has:
            assert "sulfur" in analyte.classes or analyte.cas in {"75-15-0", "2551-62-4"}, analyte.name
        if "N" in has:
            assert {"nitrogen", "canister_list", "fixed_gas"} & analyte.classes, analyte.name


@pytest.mark.parametrize(
    ("written", "cas"),
    [
        ("Benzene", "71-43-2"), ("ETHYL BENZENE", "100-41-4"), ("Freon-113", "76-13-1"), ("freon 12", "75-71-8"),
        ("CFC 11", "75-69-4"), ("Methyl tert butyl ether", "1634-04-4"), ("iso-Propyl Alcohol", "67-63-0"),
        ("1, 1-Dichloroethene", "75-35-4"), ("1,1‐Dichloroethene", "75-35-4"), ("α-Pinene", "80-56-8"),
        ("p/m-Xylene", "179601-23-1"), ("m,p-Xylenes", "179601-23-1"), ("Xylenes (total)", "1330-20-7"),
        ("o-Xylene", "95-47-6"), ("Xylene, o-", "95-47-6"), ("m-Xylene", "108-38-3"), ("p-Xylene", "106-42-3"),
        ("Benzene, 1,2,4-trimethyl-", "95-63-6"), ("Dichloroethene, cis-1,2-", "156-59-2"),
        ("Ethene, trichloro-", "79-01-6"), ("2-Pentanone, 4-methyl-", "108-10-1"),
        ("Ethane, 1,1,2-trichloro-1,2,2-trifluoro-", "76-13-1"), ("Propane, 1,2-dichloro-", "78-87-5"),
        ("2-Butanone (MEK)", "78-93-3"), ("Methyl ethyl ketone (2-Butanone)", "78-93-3"),
        ("1,2-Dichloroethene (total)", "540-59-0"), ("bis(2-Chloroethyl)ether", "111-44-4"), ("TCE", "79-01-6"),
        ("71-43-2", "71-43-2"), ("50-00-0", "50-00-0"),
    ],
)  # fmt: skip
def test_names_as_laboratories_write_them(written, cas):
    assert resolve(written) == cas


@pytest.mark.parametrize(
    "written",
    [
        "", "chlorotoluene", "dichlorobenzene", "trichloroethane", "DCE", "1,2-DCE", "1,4-DCB", "hexanes", "freon",
        "trichlorotrifluoroethane", "1,3,5-Trimethybenzene", "12-dichloroethane", "1.2-dichloroethane",
        "1-2-dichloroethane",
        "2-Butanone (toluene)", "2-Butanone (total)", "Ethylbenzene, wu", "xylenes (o)", "71-43-3", "71432",
        "2071-43-02",
        "butadiene", "C6H6", "Gasoline range",
    ],
)  # fmt: skip
def test_what_is_not_certain_does_not_resolve(written):
    assert resolve(written) is None


def test_the_project_outranks_the_list_and_its_own_contradictions_resolve_to_nothing():
    assert resolve("DCE", {"DCE": "156-59-2"}) == "156-59-2"
    assert resolve("dce", {"DCE": "156-59-2"}) == "156-59-2"
    assert resolve("TCE", {"TCE": "71-55-6"}) == "71-55-6"
    assert resolve("108-38-3 & 106-42-3", {"108-38-3 & 106-42-3": "179601-23-1"}) == "179601-23-1"
    assert resolve("sum a", {"Sum A": "71-43-2", "sum-A": "108-88-3"}) is None
    assert resolve("Sum A", {"Sum A": "71-43-2", "sum-A": "108-88-3"}) == "71-43-2"


@pytest.mark.parametrize(
    "written", ["71432", " 71-43-2", "71-43-2 ", "71-43-2\n", "071-43-2", "71-4-2", "7-43-2", "71–43–2", "٧١-43-2",
    "2075-01-04"]
)  # fmt: skip
def test_format_of_cas_numbers_is_strict(written):
    assert not cas_format_ok(written)
    assert not check_digit_ok(written)


@given(st.sampled_from(LIST), st.data())
def test_one_wrong_digit_never_passes_the_check(analyte, data):
    places = [place for place, letter in enumerate(analyte.cas) if letter != "-"]
    place = data.draw(st.sampled_from(places))
    digit = data.draw(st.sampled_from([one for one in "0123456789" if one != analyte.cas[place]]))
    wrong = analyte.cas[:place] + digit + analyte.cas[place + 1 :]
    weight = len(places) - 1 - places.index(place)
    if weight == 0 or (weight * (int(digit) - int(analyte.cas[place]))) % 10 != 0:
        assert not check_digit_ok(wrong)


@given(st.text(max_size=20))
def test_any_text_resolves_to_a_valid_number_or_none(text):
    found = resolve(text)
    assert found is None or check_digit_ok(found)


def test_the_list_needs_neither_numpy_nor_pandas():
    code = "import sys, vaporqa.analytes as a; a.all_analytes(); print('pandas' in sys.modules, 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
