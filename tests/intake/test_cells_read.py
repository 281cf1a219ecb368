"""How cells of each kind are read, and what is found where they cannot be."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from vaporqa.tables.values import BY_MASS, BY_VOLUME, EMPTY, NO_FAMILY, READ, UNREADABLE, Tables


def found(tables: Tables, rule: str, column: str | None = None) -> list[tuple[list[int], list[str]]]:
    """Rows and details of the readings of one rule."""
    return [
        (reading.rows.tolist(), [str(text) for text in reading.detail])
        for reading in tables.readings
        if reading.rule == rule and (column is None or reading.column == column)
    ]


def remarks(tables: Tables) -> str:
    return "\n".join(f"{remark.file}: {remark.text}" for remark in tables.remarks)


def one_column(header: str, cells: list[str]) -> str:
    rows = "".join(f'P{number},L1,"{cell}"\n' for number, cell in enumerate(cells, 1))
    return f"probe_id,location_id,{header}\n{rows}"


NOT_NUMBERS = {
    "0,034": "0.034?",
    "1,200": "1200?",
    "1,5": "1.5?",
    "1.234,5": "1234.5?",
    "I5": "15?",
    "O.5": "0.5?",
    "１２": "12?",
    "−5": "-5?",
    "~5": "5?",
    "5 ft": "5?",
    "3 or 4": "",
    "inf": "",
    "nan": "",
    "NA": "",
    "0x10": "",
    "1e999": "",
    "1_000": "",
    "five": "",
}


def test_numbers_are_plain_decimals_and_anything_else_is_offered_not_used(read):
    good = ["5", " 5 ", "+5", "5.", ".5", "-5", "5e1", "5E-1"]
    tables = read({"probes.csv": one_column("depth_top [m]", good + list(NOT_NUMBERS))})
    depth = tables.tables["probes"].number("depth_top")
    assert depth.values[: len(good)] == pytest.approx([5, 5, 5, 5, 0.5, -5, 50, 0.5])
    assert (depth.state[: len(good)] == READ).all()
    assert (depth.state[len(good) :] == UNREADABLE).all()
    assert np.isnan(depth.values[len(good) :]).all()
    [(rows, details)] = found(tables, "readable-number")
    assert rows == list(range(len(good), len(good) + len(NOT_NUMBERS)))
    assert details == list(NOT_NUMBERS.values())


def test_an_empty_cell_is_empty_and_a_missing_spelling_too(read):
    project = "time_zone: UTC\nmissing: [n/a]\n"
    tables = read({"probes.csv": one_column("depth_top [m]", ["", "  ", "n/a", "NA", "5"])}, project)
    assert tables.tables["probes"].number("depth_top").state.tolist() == [EMPTY, EMPTY, EMPTY, UNREADABLE, READ]


def test_quantities_come_in_the_canonical_unit_by_header_project_or_cell(read):
    header = read({"probes.csv": one_column("depth_top [ft]", ["10"])}).tables["probes"]
    project = read({"probes.csv": one_column("depth_top", ["10"])}, "units: {probes.depth_top: ft}\n").tables["probes"]
    cell = read({"probes.csv": "probe_id,location_id,depth_top,depth_top_unit\nP1,L1,10,ft\nP2,L1,120,in\n"}).tables[
        "probes"
    ]
    # Exactly 0.3048 m a foot (NIST SP 811, B.8).
    assert header.number("depth_top").values == pytest.approx([3.048])
    assert project.number("depth_top").values == pytest.approx([3.048])
    assert cell.number("depth_top").values == pytest.approx([3.048, 3.048])
    assert header.headers["depth_top"] == "depth_top [ft]"


def test_an_unknown_or_empty_unit_cell_is_a_finding_on_its_row_only(read):
    rows = "P1,L1,10,ft\nP2,L1,10,feeet\nP3,L1,10,\nP4,L1,,\n"
    tables = read({"probes.csv": "probe_id,location_id,depth_top,depth_top_unit\n" + rows})
    assert tables.tables["probes"].number("depth_top").state.tolist() == [READ, UNREADABLE, UNREADABLE, EMPTY]
    assert found(tables, "known-unit", "depth_top_unit") == [([1, 2], ["ft?", ""])]


RESULTS = "sample_id,analyte,result,unit,reporting_limit,kind\n"


def test_nondetect_marks_and_numbers_of_results(read):
    cells = [
        "5",
        "ND",
        "N.D.",
        "U",
        "<5",
        "< 0.5",
        "5 U",
        "5U",
        "<5 U",
        "-1",
        "0",
        "",
        "BDL",
        "5 u",
        "1.2 J",
        "nd",
        "> 5",
    ]
    rows = "".join(f"S{number},Benzene,{cell},ug/m3,1,\n" for number, cell in enumerate(cells))
    tables = read({"results.csv": RESULTS + rows})
    result = tables.tables["results"].amount("result")
    by_cell = {cell: at for at, cell in enumerate(cells)}
    nondetects = {cell for cell in cells if result.nondetect[by_cell[cell]]}
    assert nondetects == {"ND", "N.D.", "U", "<5", "< 0.5", "5 U", "5U", "<5 U", "-1"}
    assert {cell for cell in cells if result.marked[by_cell[cell]]} == {"<5", "< 0.5", "5 U", "5U", "<5 U"}
    assert result.written[by_cell["< 0.5"]] == 0.5
    assert result.state[by_cell["ND"]] == EMPTY
    assert (result.state[by_cell["0"]], result.values[by_cell["0"]]) == (READ, 0)
    [(wrong, details)] = found(tables, "readable-number", "result")
    assert [cells[row] for row in wrong] == ["BDL", "5 u", "nd", "> 5"]
    assert details == ["ND?", "5 U?", "ND?", "5?"]
    # A flag that nobody declared leaves the number to be read, and the row open.
    assert result.written[by_cell["1.2 J"]] == 1.2
    assert [(reading.whole, reading.rows.tolist()) for reading in tables.readings if reading.rule == "known-flag"] == [
        ("J", [by_cell["1.2 J"]])
    ]
    assert "1 negative numbers, read as nondetects" in remarks(tables)


def test_units_of_results_row_by_row(read):
    rows = "S1,Benzene,5,ppbv,1,\nS2,Benzene,5,ug/m3,1,\nS3,Benzene,5,furlong,1,\nS4,Benzene,5,,1,\nS5,Benzene,ND,,,\n"
    tables = read({"results.csv": RESULTS + rows})
    result = tables.tables["results"].amount("result")
    assert result.family.tolist() == [BY_VOLUME, BY_MASS, NO_FAMILY, NO_FAMILY, NO_FAMILY]
    assert result.state.tolist() == [READ, READ, READ, READ, EMPTY]
    assert np.isnan(result.values[2:]).all()
    assert result.written[:4].tolist() == [5, 5, 5, 5]
    [(wrong, _)] = found(tables, "known-unit", "unit")
    assert wrong == [2, 3]  # one finding a row, though result and reporting_limit share the cell


def test_per_cent_of_the_lower_explosive_limit_is_for_methane_only(read):
    rows = "S1,Methane,10,%LEL,1,\nS2,74-82-8,10,%LEL,1,\nS3,Benzene,10,%LEL,1,\n"
    tables = read({"results.csv": RESULTS + rows})
    result = tables.tables["results"].amount("result")
    assert result.values[:2] == pytest.approx([5e6, 5e6])  # a tenth of 5 % by volume, in ppbv
    assert result.family.tolist() == [BY_VOLUME, BY_VOLUME, NO_FAMILY]
    assert found(tables, "known-unit", "unit")[0][0] == [2]


def test_a_declared_unit_that_the_row_contradicts_is_a_finding(read):
    table = "sample_id,analyte,result [ug/m3],unit\nS1,Benzene,5,ug/m3\nS2,Benzene,5,ppbv\nS3,Benzene,5,\n"
    tables = read({"results.csv": table})
    assert tables.tables["results"].amount("result").family.tolist() == [BY_MASS, NO_FAMILY, BY_MASS]
    assert found(tables, "known-unit")[0][0] == [1]


def test_surrogates_give_recoveries_and_observations_give_text(read):
    rows = (
        "S1,Toluene-d8,98,%,70-130,surrogate\n"
        "S1,Remark,cloudy,as seen,n,observation\n"
        "S1,Benzene,98,%,70-130,target\n"
        "S1,Toluene,98,%,1,target\n"
    )
    tables = read({"results.csv": RESULTS + rows})
    table = tables.tables["results"]
    result = table.amount("result")
    assert (result.family[0], result.written[0]) == (NO_FAMILY, 98)
    assert np.isnan(result.values[0])
    assert result.values[3] == pytest.approx(98e7)  # a target in % is per cent by volume
    assert result.state[1] == EMPTY
    span = table.span("recovery_range")
    assert (span.low[0], span.high[0]) == (70, 130)
    assert span.state.tolist() == [READ, EMPTY, EMPTY, EMPTY]
    assert found(tables, "known-unit") == []
    assert [
        (reading.column, reading.rows.tolist()) for reading in tables.readings if reading.rule == "readable-number"
    ] == [("reporting_limit", [2])]


def test_undeclared_flags_are_one_finding_a_flag_and_words_mean_themselves(read):
    table = (
        "sample_id,analyte,result [ug/m3],lab_flag\n"
        'S1,Benzene,5,S\nS2,Benzene,5,"S, J"\nS3,Benzene,5,over_range\nS4,Benzene,5,\nS5,Benzene,5,nondetect\n'
    )
    tables = read({"results.csv": table})
    flags = [(reading.whole, reading.rows.tolist()) for reading in tables.readings if reading.rule == "known-flag"]
    assert flags == [("J", [1]), ("S", [0, 1])]
    results = tables.tables["results"]
    assert [results.text("lab_flag").at(row) for row in range(5)] == ["S", "S J", "over_range", "", "nondetect"]
    assert results.amount("result").nondetect.tolist() == [False, False, False, False, True]


def test_words_yes_and_no(read):
    table = "sample_id,kind,container,matrix\nS1,Primary,canister,soil_gas\nS2,,Canistr,soil gas\nS3,primary ,,\n"
    tables = read(
        {"samples.csv": table, "probes.csv": one_column("joints_checked", ["Yes", "N", "1", "FALSE", "maybe", ""])}
    )
    samples = tables.tables["samples"]
    assert [samples.word("kind").at(row) for row in range(3)] == ["primary", "unknown", "primary"]
    assert samples.word("container").codes.tolist()[1:] == [-2, -1]
    assert found(tables, "known-word", "container") == [([1], ["canister?"])]
    assert found(tables, "known-word", "matrix") == [([1], ["soil_gas?"])]
    assert tables.tables["probes"].yes_no("joints_checked").values.tolist() == [1, 0, 1, 0, -2, -1]
    assert found(tables, "known-word", "joints_checked") == [([4], ["yes or no?"])]
    assert "letter case and blanks at the ends of 'Primary', 'primary ' are not counted" in remarks(tables)


def test_ids_are_text_and_blanks_at_their_ends_are_noted(read):
    tables = read({"probes.csv": "probe_id,location_id\n007,L1\n7,L1 \nNA,l1\n"})
    probes = tables.tables["probes"]
    assert probes.keys.tolist() == ["007", "7", "NA"]
    assert [probes.text("location_id").at(row) for row in range(3)] == ["L1", "L1 ", "l1"]
    assert "blanks at the ends of 'L1 ' are kept" in remarks(tables)


def test_an_empty_cell_that_must_be_filled_is_a_finding(read):
    tables = read({"probes.csv": "probe_id,location_id\nP1,\n,L1\nP3,L1\n"})
    assert found(tables, "required-filled", "location_id") == [([0], [""])]
    assert found(tables, "required-filled", "probe_id") == [([1], [""])]


def test_a_per_cent_sign_is_read_where_the_column_is_a_percentage(read):
    table = "qc_id,kind,recovery,rpd\nQ1,control_sample,85%,3 %\nQ2,control_sample,90,4\n"
    tables = read({"lab_qc.csv": table})
    assert tables.tables["lab_qc"].number("recovery").values.tolist() == [85, 90]
    assert "a percent sign after a number is read" in remarks(tables)
    wrong = read({"probes.csv": one_column("sand_pack_porosity", ["0.3", "30%"])})
    assert wrong.tables["probes"].number("sand_pack_porosity").state.tolist() == [READ, UNREADABLE]


def test_coordinates_need_a_crs_or_a_unit(read):
    table = "location_id,x,y,crs\nL1,1,2,EPSG:32611\nL2,3,4,\n"
    tables = read({"locations.csv": table})
    assert tables.tables["locations"].number("x").state.tolist() == [READ, UNREADABLE]
    assert found(tables, "known-unit", "x")[0][0] == [1]
    feet = read({"locations.csv": "location_id,x [ft],y [deg]\nL1,10,45\n"}).tables["locations"]
    assert feet.number("x").values == pytest.approx([3.048])
    assert feet.number("y").values.tolist() == [45]


VACUUM = "sample_id,vacuum_end [inHg]\n"


def test_vacua_are_magnitudes_where_all_are_negative_and_findings_where_signs_are_mixed(read):
    down = read({"samples.csv": VACUUM + "S1,-5\nS2,0\nS3,-10\n"})
    # 1 inHg is 3.386389 kPa (NIST SP 811, B.8, conventional).
    assert down.tables["samples"].number("vacuum_end").values == pytest.approx(
        [5 * 3.386389, 0, 10 * 3.386389], rel=1e-6
    )
    assert "their magnitudes are meant as vacuum" in remarks(down)
    mixed = read({"samples.csv": VACUUM + "S1,-5\nS2,4\nS3,-10\nS4,0\n"})
    vacuum = mixed.tables["samples"].number("vacuum_end")
    assert vacuum.state.tolist() == [READ, UNREADABLE, READ, READ]
    assert vacuum.values[0] == pytest.approx(5 * 3.386389, rel=1e-6)
    assert found(mixed, "units-as-declared", "vacuum_end")[0][0] == [1]
    tie = read({"samples.csv": VACUUM + "S1,-5\nS2,4\nS3,0\n"})
    assert tie.tables["samples"].number("vacuum_end").state.tolist() == [UNREADABLE, UNREADABLE, READ]


def test_values_that_look_like_another_unit_are_a_note_on_the_column(read):
    tables = read(
        {
            "lab_qc.csv": "qc_id,kind,recovery\nQ1,control_sample,0.9\nQ2,control_sample,1.1\nQ3,control_sample,0.8\n",
            "probes.csv": one_column("depth_top [ft]", ["5", "400"]),
            "samples.csv": VACUUM + "S1,32\n",
        }
    )
    notes = {reading.whole: reading for reading in tables.readings if reading.rule == "units-as-declared"}
    assert set(notes) == {"recovery", "depth_top", "vacuum_end"}
    assert all(reading.note for reading in notes.values())
    assert str(notes["recovery"].detail[0]).startswith("every one of 3 values is under 2")
    assert tables.tables["probes"].number("depth_top").values[1] == pytest.approx(121.92)
    two = read({"lab_qc.csv": "qc_id,kind,recovery\nQ1,control_sample,0.9\nQ2,control_sample,1.1\n"})
    assert two.readings == ()


def at(text: str) -> int:
    moment = dt.datetime.fromisoformat(text)
    return (moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)


def samples(cells: list[str]) -> str:
    return "sample_id,started_at\n" + "".join(f"S{number},{cell}\n" for number, cell in enumerate(cells))


def test_times_are_placed_in_utc(read):
    cells = [
        "2025-06-03T10:00-06:00",
        "2025-06-03 10:00",
        "2025-06-03T16:00:00Z",
        "2025-06-03T10:00:00.250",
        "2025-06-03T12:00-0400",
        "2025-12-03 10:00",
    ]
    started = read({"samples.csv": samples(cells)}).tables["samples"].time("started_at")
    ten = at("2025-06-03T16:00:00+00:00")
    assert started.low.tolist() == [ten, ten, ten, ten + 250_000, ten, at("2025-12-03T17:00:00+00:00")]
    assert (started.high == started.low).all()
    assert started.day[0] == (dt.date(2025, 6, 3) - dt.date(1970, 1, 1)).days


def test_a_date_alone_is_one_local_day_of_23_24_or_25_hours(read):
    # Clocks in the United States went forward on 2025-03-09 and back on 2025-11-02 (15 U.S.C. 260a).
    started = (
        read({"samples.csv": samples(["2025-03-09", "2025-06-03", "2025-11-02"])}).tables["samples"].time("started_at")
    )
    hours = (started.high - started.low + 1) / 3_600_000_000
    assert hours.tolist() == [23, 24, 25]
    assert started.date_only.all()
    assert started.low[1] == at("2025-06-03T06:00:00+00:00")


def test_a_local_time_that_occurs_twice_or_never_is_a_finding(read):
    cells = ["2025-11-02 01:30", "2025-03-09 02:30", "2025-11-02 02:30", "2025-11-02T01:30-07:00"]
    tables = read({"samples.csv": samples(cells)})
    started = tables.tables["samples"].time("started_at")
    assert started.state.tolist() == [UNREADABLE, UNREADABLE, READ, READ]
    assert found(tables, "local-time-exists") == [
        ([0, 1], ["2025-11-02 01:30 occurs twice in America/Boise", "2025-03-09 02:30 occurs never in America/Boise"])
    ]


NOT_TIMES = {
    "06/03/2025": "2025-06-03 or 2025-03-06?",
    "6/13/2025 2:05 PM": "2025-06-13T14:05?",
    "2025/06/03": "2025-06-03?",
    "2025-02-30": "",
    "2025-06-03 24:00": "",
    "2025-06-03 10:61": "",
    "2025-13-01": "",
    "63923": "",
    "soon": "",
    "2025-6-3": "2025-06-03?",
    "2025-06-03t10:00z": "2025-06-03T10:00Z?",
    "0025-06-03": "",
    "2025-06-03T10:00+15:00": "",
}


def test_other_spellings_of_times_are_offered_in_iso_form_not_read(read):
    tables = read({"samples.csv": samples(list(NOT_TIMES))})
    assert (tables.tables["samples"].time("started_at").state == UNREADABLE).all()
    [(_, details)] = found(tables, "readable-time")
    assert details == list(NOT_TIMES.values())


def test_each_table_is_read_by_its_own_clock(read):
    tables = read(
        {
            "samples.csv": "sample_id,started_at,received_at\nS1,2025-06-03 10:00,2025-06-04 10:00\n",
            "results.csv": "sample_id,analyte,collected_at,analyzed_at\nS1,Benzene,2025-06-03 10:00,2025-06-05 10:00\n",
            "custody.csv": "custody_id,sample_id,step,released_at,received_at\n"
            "C1,S1,2,2025-06-03 10:00,2025-06-03 10:00\nC2,S1,10,2025-06-03 10:00,2025-06-03 10:00\n"
            "C3,S2,1,2025-06-03 10:00,2025-06-03 10:00\n",
        }
    )
    boise, chicago = at("2025-06-03T16:00:00+00:00"), at("2025-06-03T15:00:00+00:00")
    day = 86_400_000_000
    assert tables.tables["samples"].time("started_at").low.tolist() == [boise]
    assert tables.tables["samples"].time("received_at").low.tolist() == [chicago + day]
    assert tables.tables["results"].time("collected_at").low.tolist() == [boise]
    assert tables.tables["results"].time("analyzed_at").low.tolist() == [chicago + 2 * day]
    custody = tables.tables["custody"]
    assert custody.time("received_at").low.tolist() == [boise, chicago, chicago]  # step 10 comes after step 2
    assert custody.time("released_at").low.tolist() == [boise] * 3


def test_without_a_laboratory_zone_the_field_zone_is_used_and_that_is_said(read):
    table = "sample_id,analyte,analyzed_at\nS1,Benzene,2025-06-05 10:00\n"
    tables = read({"results.csv": table}, "time_zone: America/Boise\n")
    assert tables.tables["results"].time("analyzed_at").low.tolist() == [at("2025-06-05T16:00:00+00:00")]
    assert "no lab_time_zone: local times of the laboratory are read in America/Boise" in remarks(tables)


def test_a_column_of_midnights_is_read_as_dates_and_one_of_one_instant_is_noted(read):
    midnight = read({"samples.csv": samples(["2025-06-03 00:00", "2025-06-04T00:00-06:00", ""])})
    assert midnight.tables["samples"].time("started_at").date_only.tolist() == [True, True, False]
    assert "column 'started_at': every time is local midnight; read as dates" in remarks(midnight)
    mixed = read({"samples.csv": samples(["2025-06-03 00:00", "2025-06-04 00:01"])})
    assert not mixed.tables["samples"].time("started_at").date_only.any()
    noon = read({"samples.csv": samples(["2025-06-03 12:00", "2025-06-04 12:00", "2025-06-05 12:00"])})
    assert not noon.tables["samples"].time("started_at").date_only.any()
    assert "all of 3 dates share one time of day (12:00); left as it is" in remarks(noon)
    two = read({"samples.csv": samples(["2025-06-03 12:00", "2025-06-04 12:00"])})
    assert "share one time" not in remarks(two)


def test_days_are_those_of_the_columns_zone(read):
    started = read({"samples.csv": samples(["2025-06-04T03:00Z"])}).tables["samples"].time("started_at")
    local = dt.datetime(2025, 6, 4, 3, tzinfo=dt.UTC).astimezone(ZoneInfo("America/Boise")).date()
    assert started.day[0] == (local - dt.date(1970, 1, 1)).days
