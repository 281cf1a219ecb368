"""Field forms: the columns that rules judge by, and workbooks that come back through the intake as they stand."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest

import vaporqa.library
from vaporqa.checks import CHECKS
from vaporqa.errors import OutputError, UsageError
from vaporqa.evidence import Evidence
from vaporqa.examples.small_tables import project_of, tables_of
from vaporqa.intake import load_project, read_folder
from vaporqa.outcomes import Outcome
from vaporqa.report import flags_as, form_columns, pdf
from vaporqa.report.form_books import CHECKED_ROWS, form_book
from vaporqa.report.form_columns import FORM_TABLES, needed_columns
from vaporqa.report.form_pages import PAPERS, forms_page
from vaporqa.report.form_writing import write_forms
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.dictionary import TABLES

HEAD = "project: Made up\ntime_zone: America/Boise\nlab_time_zone: America/Boise\naltitude: 4100 ft\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    made = tmp_path_factory.mktemp("forms") / "made"
    made.mkdir()
    (made / "project.yaml").write_text(HEAD + "units: {probes.depth_top: ft}\n")
    (made / "locations.csv").write_text("location_id\n007\nL-2\n")
    (made / "probes.csv").write_text("probe_id,location_id\n01,007\nSG-2,L-2\n")
    return made


@pytest.fixture(scope="module")
def forms(folder):
    return vaporqa.library.forms(folder)


def columns(forms) -> dict[str, set[str]]:
    return {form.table.name: {column.spec.name for column in form.columns} for form in forms.forms}


def test_every_column_that_a_rule_in_force_judges_by_is_on_its_form(forms):
    on = columns(forms)
    book = load_rulebook()
    assert tuple(on) == FORM_TABLES
    for rule in book.rules:
        if not rule.off:
            for table, needed in needed_columns(rule, book).items():
                assert table not in on or needed <= on[table], rule.id


def test_nothing_else_is_on_a_form(forms):
    """Keys, columns that must be there, units of amounts and the clearance of services; the rest some rule needs."""
    book = load_rulebook()
    asked: dict[str, set[str]] = {}
    for rule in book.rules:
        if not rule.off:
            for table, needed in needed_columns(rule, book).items():
                asked.setdefault(table, set()).update(needed)
    for form in forms.forms:
        spec = form.table
        units = {one.unit_column for one in spec.columns if one.name in asked[spec.name] or one.required}
        must = {one.name for one in spec.columns if one.key or one.required}
        more = {column.spec.name for column in form.columns} - asked[spec.name] - units - must
        assert more == ({"services_cleared_at"} if spec.name == "probes" else set())


@pytest.mark.parametrize(
    ("rule_id", "table", "column"),
    [
        # By hand: what these rules cannot be judged without.
        ("shut-in-vacuum", "shut_in_tests", "vacuum_start"),
        ("purge-flow", "purges", "flow"),
        ("purge-vacuum", "purges", "vacuum_highest"),
        ("tip-opened", "probes", "retraction"),
        ("stick-up-clearance", "probes", "stick_up"),
        ("above-water", "probes", "water_depth"),
        ("tubing-material", "probes", "tubing_material"),
        ("sampling-flow", "samples", "flow"),
        ("canister-end", "samples", "vacuum_end"),
        ("suction-present", "samples", "probe_pressure"),
        ("rain-wait", "weather", "rain"),
    ],
)
def test_a_form_without_a_needed_column_leaves_its_rule_unproven(rule_id, table, column):
    book = load_rulebook()
    rule = book.rule(rule_id)
    assert column in needed_columns(rule, book)[table]
    example = next(one for one in rule.examples if any(said == "holds" for said, _ in one.expect.values()))
    bare = replace(
        example,
        row={name: cell for name, cell in example.row.items() if table != rule.row or name != column},
        tables={
            name: tuple({key: cell for key, cell in row.items() if name != table or key != column}
                        for row in rows)
            for name, rows in example.tables.items()
        },
    )  # fmt: skip

    def outcomes(one) -> set[int]:
        project = project_of(one)
        tables = tables_of(rule, one, project)
        said = CHECKS[rule.check].run(rule, Evidence(tables, project, book))
        return {int(state) for judged in said for state in np.unique(judged.state)}

    assert Outcome.HOLDS in outcomes(example)
    assert Outcome.UNPROVEN in outcomes(bare)
    assert outcomes(bare) <= {Outcome.UNPROVEN, Outcome.NOT_CONCERNED}


def test_a_rule_that_is_off_puts_nothing_on_a_form_until_a_profile_turns_it_on(folder):
    book = load_rulebook()
    target = next(rule for rule in book.rules if rule.id == "shut-in-vacuum")
    rules = tuple(replace(rule, off=True) if rule is not target else rule for rule in book.rules)
    project = load_project(folder)
    made = form_columns.forms_of(project, read_folder(folder, project), replace(book, rules=rules))
    assert "flow" not in columns(made)["purges"]
    assert "vacuum_start" in columns(made)["shut_in_tests"]


def sheet_of(form, safety):
    return openpyxl.load_workbook(io.BytesIO(form_book(form, safety)))


#: What a crew writes into a cell of each kind, and how the frame of the table holds it.
MOMENT = dt.datetime(2026, 12, 1, 8, 30)


def cell(column, row: int):
    spec = column.spec
    if spec.words:
        return spec.words[row % len(spec.words)]
    kinds = {"yes_no": "yes", "unit": "ppmv", "time": MOMENT, "fraction": 0.25, "number": 3, "quantity": 12.5,
             "amount": 7.5, "coordinate": 1000.25, "percent": 50, "id": f"00{row}", "text": f"text {row}"}  # fmt: skip
    return kinds[spec.kind]


def test_a_filled_workbook_comes_back_without_a_mapping(forms, tmp_path):
    (tmp_path / "project.yaml").write_text(HEAD)
    expected = {}
    for form in forms.forms:
        book = sheet_of(form, forms.safety)
        sheet = book[form.table.name]
        for row in (1, 2):
            for place, column in enumerate(form.columns, start=1):
                sheet.cell(row + 1, place).value = cell(column, row)
        expected[form.table.name] = form
        book.save(tmp_path / f"{form.table.name}.xlsx")
    # The unit that project.yaml declares stands in the heading; here nothing is declared.
    tables = read_folder(tmp_path, load_project(tmp_path))
    assert set(tables.tables) == set(FORM_TABLES)
    for name, form in expected.items():
        table = tables.tables[name]
        assert table.rows == 2, name
        for column in form.columns:
            where = f"{name}.{column.spec.name}"
            kept = table.columns[column.spec.name]
            assert kept.state.tolist() == [1, 1], where
            if column.spec.kind in ("id", "text"):
                assert [kept.at(0), kept.at(1)] == [cell(column, 1), cell(column, 2)], where
            if column.spec.kind == "word":
                assert [kept.at(0), kept.at(1)] == [cell(column, 1), cell(column, 2)], where
    # 08:30 in Boise on 1 December is 15:30 UTC (UTC-7, IANA time-zone database).
    moment = dt.datetime(2026, 12, 1, 15, 30, tzinfo=dt.UTC).timestamp() * 1e6
    assert tables.tables["purges"].time("started_at").low.tolist() == [moment, moment]
    # 12.5 ft and 12.5 m (international foot, 0.3048 m, NIST SP 811).
    assert tables.tables["probes"].number("depth_top").values.tolist() == pytest.approx([12.5 * 0.3048] * 2)
    assert tables.tables["probes"].number("depth_bottom").values.tolist() == pytest.approx([12.5] * 2)


def test_a_filled_workbook_can_be_checked(forms, tmp_path):
    (tmp_path / "project.yaml").write_text(HEAD)
    for form in forms.forms:
        book = sheet_of(form, forms.safety)
        for place, column in enumerate(form.columns, start=1):
            book[form.table.name].cell(2, place).value = cell(column, 1)
        book.save(tmp_path / f"{form.table.name}.xlsx")
    assert vaporqa.library.check(tmp_path).report.review.tables.tables["purges"].rows == 1


def test_an_unfilled_form_is_empty_but_for_the_known_ids(forms, tmp_path):
    (tmp_path / "project.yaml").write_text(HEAD)
    write_forms(forms, tmp_path / "out")
    for name in FORM_TABLES:
        (tmp_path / f"{name}.xlsx").write_bytes((tmp_path / "out" / f"{name}.xlsx").read_bytes())
    tables = read_folder(tmp_path, load_project(tmp_path))
    rows = {name: table.rows for name, table in tables.tables.items() if table.rows}
    assert rows == {"locations": 2, "probes": 2}
    probes = tables.tables["probes"]
    assert [(probes.text("probe_id").at(row), probes.text("location_id").at(row)) for row in (0, 1)] == [
        ("01", "007"), ("SG-2", "L-2"),
    ]  # fmt: skip


def test_a_workbook_has_a_frozen_header_with_units_words_to_choose_and_dates_that_are_checked(forms):
    form = next(one for one in forms.forms if one.table.name == "probes")
    book = sheet_of(form, forms.safety)
    sheet = book["probes"]
    heads = [one.value for one in sheet[1]]
    assert sheet.freeze_panes == "B2"
    assert "depth_top [ft]" in heads
    assert "tip_volume [mL]" in heads
    checks = {str(one.sqref).split(":")[0].rstrip("0123456789"): one for one in sheet.data_validations.dataValidation}

    def check_of(name: str):
        return checks[sheet.cell(1, heads.index(name) + 1).column_letter]

    kind = check_of("kind")
    assert (kind.type, kind.errorStyle or "stop") == ("list", "stop")
    area = kind.formula1.split("!")[1].replace("$", "")
    words = [one[0].value for one in book["words"][area]]
    assert words == list(TABLES["probes"].column("kind").words)
    assert check_of("installed_at").type == "date"
    assert str(check_of("installed_at").sqref).endswith(str(CHECKED_ROWS + 1))
    assert check_of("depth_top [ft]").type == "decimal"
    known = check_of("location_id")
    assert known.errorStyle == "information"


def test_safety_stands_on_every_form(forms):
    text = " ".join(forms.safety).lower()
    for word in ("buried services", "cleared", "methane", "oxygen", "traffic", "lift", "local codes", "licensed"):
        assert word in text
    assert forms.safety[0].startswith("Local codes")
    # A limit is what must be kept; said the other way round it would send people into an explosive hole.
    assert "stop where one is outside its limit" in text
    assert "no reading in a table makes a place safe" in text
    oxygen = next(limit for limit in load_rulebook().rule("oxygen-deficient").limits)
    assert oxygen.written in " ".join(forms.safety)
    for paper in PAPERS:
        page = forms_page(forms, paper).decode()
        assert f"size: {paper} portrait" in page
        assert page.count(forms.safety[0]) == len(FORM_TABLES)
    for form in forms.forms:
        cells = [one.value for row in sheet_of(form, forms.safety)["before you start"] for one in row]
        assert set(forms.safety) <= set(cells)


def test_the_same_forms_twice_are_the_same_bytes(forms):
    for form in forms.forms:
        assert form_book(form, forms.safety) == form_book(form, forms.safety)
    assert forms_page(forms, "A4") == forms_page(forms, "A4")


def test_a_known_id_is_text_and_is_escaped_on_the_page(tmp_path):
    (tmp_path / "project.yaml").write_text(HEAD)
    (tmp_path / "locations.csv").write_text("location_id\n=1+1\n<b>x</b>\n")
    made = vaporqa.library.forms(tmp_path)
    assert b"<b>x</b>" not in forms_page(made, "A4")
    sheet = sheet_of(made.forms[0], made.safety)["locations"]
    assert sheet["A2"].value == "=1+1"
    with zipfile.ZipFile(io.BytesIO(form_book(made.forms[0], made.safety))) as parts:
        assert b"<f>" not in parts.read("xl/worksheets/sheet1.xml")


def test_a_missing_library_is_said_before_anything_is_written(forms, tmp_path, monkeypatch):
    monkeypatch.setattr(flags_as, "find_spec", lambda name: None)
    with pytest.raises(UsageError, match="xlsxwriter, which is not installed"):
        write_forms(forms, tmp_path / "out")
    assert not (tmp_path / "out").exists()
    assert len(write_forms(forms, tmp_path / "out", workbooks=False)) == 2
    monkeypatch.setattr(pdf, "find_spec", lambda name: None)
    with pytest.raises(UsageError, match="WeasyPrint, which is not installed"):
        write_forms(forms, tmp_path / "more", pdf=True, workbooks=False)
    assert not (tmp_path / "more").exists()


def test_forms_never_go_over_a_folder_that_holds_something(forms, tmp_path):
    write_forms(forms, tmp_path / "out", workbooks=False)
    with pytest.raises(OutputError, match="may be filled in"):
        write_forms(forms, tmp_path / "out", workbooks=False)
