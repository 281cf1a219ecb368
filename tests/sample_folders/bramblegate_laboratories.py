"""What the laboratories of Bramblegate Dyeworks deliver: the rows, what they mean, and how their files print them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta

from chemistry import BY_CAS, CARBON_DIOXIDE, OXYGEN, PCE, TCE, TOLUENE
from paper import Row, sig, stamp
from stranger import Cell, Delivery, Page, parquet, separated, shown, workbook

VINYL_CHLORIDE, CIS_DCE = "75-01-4", "156-59-2"
ORGANICS = (VINYL_CHLORIDE, CIS_DCE, TCE, TOLUENE, PCE)
#: L/mol at 20 degC and 1 atm: Laboratory A makes its mass concentrations with it, and the project declares 25 degC.
AT_20_DEGREES = 24.055117
COLUMNS = (
    "result_id", "sample_id", "laboratory", "batch_id", "method", "cas", "analyte", "kind", "result", "unit",
    "reporting_limit", "lab_flag", "dilution", "recovery",
)  # fmt: skip
WORKBOOK, WIDE, MOBILE = "deliveries/laboratory_a.xlsx", "deliveries/fixed_gases.csv", "deliveries/mobile.tsv"
PAGES_OF_B = ("deliveries/laboratory_b/page_1.csv", "deliveries/laboratory_b/page_2.csv")
BLANKS = "deliveries/blanks.parquet"

#: Client ID -> sheet, type, parent, begun, ended, and ppbv of the five organics (0: not found).
OF_A: dict[str, tuple[str, str, str, datetime, tuple[float, ...]]] = {
    "01": ("Page 1", "N", "", datetime(2026, 4, 20, 9, 0), (0, 4.2, 18, 6.1, 120)),
    "02": ("Page 1", "N", "", datetime(2026, 4, 20, 10, 30), (0, 0, 2.4, 3.3, 14)),
    "03": ("Page 1", "N", "", datetime(2026, 4, 20, 12, 0), (1.1, 22, 64, 9.5, 310)),
    "04": ("Page 2", "N", "", datetime(2026, 4, 20, 13, 30), (0, 1.9, 7.7, 5.0, 45)),
    "04D": ("Page 2", "FD", "BG/04", datetime(2026, 4, 20, 13, 30), (0, 2.0, 8.0, 5.2, 47)),
    "05": ("Page 2", "N", "", datetime(2026, 4, 20, 15, 0), (0, 6.0, 450, 7.2, 210)),
    "05DL": ("Page 2", "N", "", datetime(2026, 4, 20, 15, 0), (0, 0, 430, 0, 0)),
    "06": ("Page 2", "N", "", datetime(2026, 4, 21, 9, 0), (0, 0, 1.4, 3.9, 8.8)),
    "07": ("Page 2", "FD", "", datetime(2026, 4, 21, 10, 30), (0, 0, 0, 4.4, 2.1)),
}
#: Sample -> file, begun, ug/m3 of the five organics.
OF_B: dict[str, tuple[str, datetime, tuple[float, ...]]] = {
    "BG-11": (PAGES_OF_B[0], datetime(2026, 4, 20, 9, 30), (0, 8.4, 33, 21, 160)),
    "BG-12": (PAGES_OF_B[0], datetime(2026, 4, 20, 11, 0), (0, 0, 5.1, 12.5, 27)),
    "BG-13": (PAGES_OF_B[1], datetime(2026, 4, 20, 12, 30), (0, 12, 41, 17, 230)),
}
#: Sample -> laboratory on wheels, begun, ug/L of the five organics.
OF_MOBILE: dict[str, tuple[str, datetime, tuple[float, ...]]] = {
    "BG-21": ("Laboratory C", datetime(2026, 4, 21, 9, 15), (0, 0.021, 0.088, 0.034, 0.61)),
    "BG-22": ("Laboratory C", datetime(2026, 4, 21, 10, 45), (0, 0, 0.019, 0.026, 0.12)),
    "BG-23": ("Laboratory D", datetime(2026, 4, 21, 12, 15), (0, 0, 0, 0.041, 0.095)),
}
NAMES_OF_B = {
    VINYL_CHLORIDE: "Chloroethene", CIS_DCE: "cis-1,2-Dichloroethylene", TCE: "Trichloroethylene",
    TOLUENE: "Methylbenzene", PCE: "Perchloroethylene",
}  # fmt: skip
GASES = {"BG/01": (18.2, 2.1), "BG/02": (17.4, 3.0), "BG/04": (16.9, 3.8)}
RUN_OF_A = datetime(2026, 4, 24, 13, 0)


def ended(begun: datetime) -> datetime:
    """Every container fills in six minutes."""
    return begun + timedelta(minutes=6)


def write_results(folder: Delivery) -> None:
    """Rows of every delivery, in the order of the mapping."""
    for sheet in ("Page 1", "Page 2"):
        for turn, (own, (page, _, _, begun, amounts)) in enumerate(OF_A.items()):
            if page == sheet:
                write_run_of_a(folder, own, begun, amounts, RUN_OF_A + timedelta(minutes=35 * turn))
    for page in PAGES_OF_B:
        for sample, (file, begun, amounts) in OF_B.items():
            if file == page:
                write_sample_of_b(folder, sample, page, begun, amounts)
    for sample, (laboratory, begun, amounts) in OF_MOBILE.items():
        write_mobile(folder, sample, laboratory, begun, amounts)
    for sample, shares in GASES.items():
        for cas, share in zip((OXYGEN, CARBON_DIOXIDE), shares, strict=True):
            add(folder, WIDE, sample_id=sample, laboratory="Laboratory E", batch_id="F1", method="D1946", kind="target",
                analyte=BY_CAS[cas].name, result=str(share), unit="%v", reporting_limit="0.1")  # fmt: skip


def add(folder: Delivery, file: str, **cells: str) -> Row:
    """One row of the results, and the file that prints it."""
    row = folder.sheets["results"].add(**cells)
    row["@file"] = file
    return row


def write_run_of_a(folder: Delivery, own: str, begun: datetime, amounts: tuple[float, ...], at: datetime) -> None:
    """Each analyte in ug/m3 and in ppbv, four figures, then the surrogates."""
    again = own.endswith("DL")
    dilution = 15.0 if again else 1.5
    sample = "BG/" + own.removesuffix("DL")
    common = {
        "sample_id": sample, "laboratory": "Laboratory A", "batch_id": "V1", "method": "TO-15",
        "dilution": str(dilution),
    }  # fmt: skip
    extra = {"@sample_id": f"BG/{own}", "@sheet": OF_A[own][0], "@own": own, "@begun": stamp(begun), "@at": stamp(at)}
    for cas, amount in zip(ORGANICS, amounts, strict=True):
        if again and cas != TCE:
            continue
        a = BY_CAS[cas]
        for unit, share in (("ug/m3", a.molar_mass / AT_20_DEGREES), ("ppbv", 1.0)):
            limit = sig(a.limit * dilution * share, 4)
            mark = {VINYL_CHLORIDE: "ND", CIS_DCE: f"< {limit}"}.get(cas, f"{limit} U")
            row = add(folder, WORKBOOK, **common, cas=cas, analyte=a.name, kind="target", unit=unit,
                      reporting_limit=limit, result=sig(amount * share, 4) if amount else mark)  # fmt: skip
            row |= extra
            if mark.endswith("U") and not amount:
                row |= {"result": limit, "lab_flag": "U", "@result": mark, "@lab_flag": ""}
    for number, name in enumerate(("% Toluene-d8", "% Bromofluorobenzene")):
        row = add(folder, WORKBOOK, **common, analyte=name, kind="surrogate",
                  recovery=str(96 + 3 * number + int(own[1])))  # fmt: skip
        row |= extra | {"@result": row["recovery"], "@unit": "%", "@reporting_limit": "70-130"}


def write_sample_of_b(folder: Delivery, sample: str, page: str, begun: datetime, amounts: tuple[float, ...]) -> None:
    """Names of its own, a decimal comma, and no number for tetrachloroethene."""
    for cas, amount in zip(ORGANICS, amounts, strict=True):
        a = BY_CAS[cas]
        limit = sig(a.in_mass(a.limit * 1.2))
        row = add(folder, page, sample_id=sample, laboratory="Laboratory B", batch_id="W1", method="TO-15",
                  cas="" if cas == PCE else cas, analyte=NAMES_OF_B[cas], kind="target", unit="ug/m3",
                  reporting_limit=limit, result=sig(amount) if amount else f"<{limit}")  # fmt: skip
        count = sum(r.get("@file", "") in PAGES_OF_B for r in folder.sheets["results"].rows)
        row |= {"result_id": f"B-{count:03d}", "@begun": stamp(begun), "@cas": row["cas"] or "-", "@type": "N"}


def write_mobile(
    folder: Delivery, sample: str, laboratory: str, begun: datetime, amounts: tuple[float, ...]
) -> None:  # fmt: skip
    """Two laboratories on wheels in one file, each with flags of its own."""
    batch = "M1" if laboratory == "Laboratory C" else "M2"
    extra = {"@begun": stamp(begun), "@at": (begun + timedelta(hours=52)).strftime("%m/%d/%Y %H:%M")}
    common = {"sample_id": sample, "laboratory": laboratory, "batch_id": batch, "method": "8260"}
    for cas, amount in zip(ORGANICS, amounts, strict=True):
        row = add(folder, MOBILE, **common, cas=cas, analyte=BY_CAS[cas].name, kind="target", unit="ug/L",
                  reporting_limit="0.010", result=str(amount) if amount else "ND")  # fmt: skip
        row |= extra
        if cas == TOLUENE and laboratory == "Laboratory D":
            row["lab_flag"] = "S"  # its solvent, by its own list
    row = add(folder, MOBILE, **common, analyte="Toluene-d8", kind="surrogate", recovery="104")
    row |= extra | {"@result": "104", "@unit": "%", "@reporting_limit": "70-130"}


def write_blanks(folder: Delivery) -> None:
    """A clean method blank for each analyte of each batch."""
    batches = [("Laboratory A", "V1"), ("Laboratory B", "W1"), ("Laboratory C", "M1"), ("Laboratory D", "M2")]
    wanted = [(lab, batch, cas, "ug/m3") for lab, batch in batches for cas in ORGANICS]
    wanted += [("Laboratory E", "F1", cas, "%v") for cas in (OXYGEN, CARBON_DIOXIDE)]
    for lab, batch, cas, unit in wanted:
        a = BY_CAS[cas]
        folder.sheets["lab_qc"].add(
            qc_id=f"MB-{batch}-{cas}", laboratory=lab, batch_id=batch, kind="method_blank", cas=cas, analyte=a.name,
            unit=unit, detected="false", reporting_limit="0.1" if unit == "%v" else sig(a.in_mass(a.limit)),
        )  # fmt: skip


def print_blanks(folder: Delivery) -> bytes:
    """The blanks, typed."""
    rows = folder.sheets["lab_qc"].rows
    heads = {"Blank": "qc_id", "Lab": "laboratory", "Batch": "batch_id", "CAS": "cas", "Compound": "analyte",
             "Limit": "reporting_limit", "Units": "unit"}  # fmt: skip
    return parquet({
        **{head: [r[name] for r in rows] for head, name in heads.items()},
        "Found": [r["detected"] == "true" for r in rows],
        "Run": [datetime(2026, 4, 22, 6, 0) + timedelta(minutes=10 * at) for at in range(len(rows))],
    })  # fmt: skip


HEAD_OF_A = (
    "Lab No.", "Site", "Client ID", "Point", "Type", "Parent", "Matrix", "Vessel", "Began", "Date\nSampled", "Ended",
    "TZ", "Received", "Analyzed", "Batch", "Dilution", "CAS No.", "Parameter", "Units", "Result", "RL", "Q",
)  # fmt: skip
PREAMBLE = (
    ("Laboratory A",), ("Report of analysis 2207, air and vapor",), ("Client project: Bramblegate Dyeworks",),
    (), ("Units of results stand in the rows; limits share them.",),
)  # fmt: skip
UNITS_ROW = (*[""] * 15, "x", "", "", "", "(see Units)", "(see Units)", "")
FOOTERS = ("Notes", "U: not detected at the number shown. J: under the limit. E: over the calibrated range.")


def print_workbook(folder: Delivery) -> bytes:
    """Two sheets of rows with a header each, and one of notes that feeds nothing."""
    pages = [page_of_a(folder, "Page 1"), page_of_a(folder, "Page 2")]
    return workbook([*pages, Page("Narrative", (("Case narrative",), ("Received in good order.",)))])


def page_of_a(folder: Delivery, sheet: str) -> Page:
    """One sheet: preamble, header, units row, rows, the header again where a page ends, and notes below."""
    out: list[tuple[Cell, ...]] = [*PREAMBLE, HEAD_OF_A, UNITS_ROW]
    merged: list[tuple[int, int, int]] = []
    rows = [r for r in folder.sheets["results"].rows if r.get("@sheet") == sheet]
    for at, row in enumerate(rows):
        before = rows[at - 1]["@own"] if at else ""
        first = row["@own"] != before
        if first and row["@own"] in ("03", "06"):
            out.append(HEAD_OF_A)
        out.append(tuple(cells_of_a(row, first)))
        if first:
            last = len(out) + sum(r["@own"] == row["@own"] for r in rows) - 1
            columns = ("Received",) if row["@own"] != "06" else ("Date\nSampled", "Ended", "TZ")
            merged += [(len(out), last, HEAD_OF_A.index(name)) for name in columns]
    out += [(text,) for text in FOOTERS]
    return Page(sheet, out, merged)


def skipped_of_a(folder: Delivery, sheet: str) -> str:
    """The units row and the notes below, as `skip_rows` lists them."""
    rows = len(page_of_a(folder, sheet).rows)
    return f"[7, {rows - 1}, {rows}]"


def cells_of_a(row: Row, first: bool) -> Iterator[Cell]:
    """Cells of one row: true dates and times, but the analysis of 03 a serial number and that of 04 and 04D texts."""
    own, begun = row["@own"], datetime.fromisoformat(row["@begun"])
    _, kind, parent, _, _ = OF_A[own]
    at = datetime.fromisoformat(row["@at"])
    alone = own != "06" or first
    yield from (f"A-2207-{own}", "BG", own, f"P-{own[:2]}", kind, parent, "Soil vapor", "1 L can")
    yield stamp(begun).replace("T", " ")
    yield from ((begun.date(), ended(begun).time(), "EDT") if alone else (None, None, None))
    yield datetime(2026, 4, 22, 9, 40) if first and own != "06" else None
    if own == "03":
        yield (at - datetime(1899, 12, 30)).total_seconds() / 86400
    elif own in ("04", "04D"):
        yield at.strftime("%m/%d/%Y %H:%M" if own == "04" else "%m/%d/%y %H:%M")
    else:
        yield at
    yield from (row["batch_id"], float(row["dilution"]))
    number = shown(row, "cas")
    yield date.fromisoformat(number) if number.startswith("20") else number
    yield from (row["analyte"], shown(row, "unit"))
    result = shown(row, "result")
    yield float(result) if row["kind"] == "surrogate" else result
    yield from (shown(row, "reporting_limit"), shown(row, "lab_flag"))


HEAD_OF_B = (
    "Record", "Client\r\nSample", "Point", "Type", "Matrix", "Opened", "Sampled", "Analysed", "CAS", "Compound",
    "Result", "Unit", "LOQ", "Batch", "Remark",
)  # fmt: skip


def print_of_b(page: str) -> dict[str, str]:
    """How each file of Laboratory B is coded."""
    if page == PAGES_OF_B[0]:
        return {"encoding": "cp1252", "ends": "\r\n"}
    return {"encoding": "utf-8", "preamble": "\N{ZERO WIDTH NO-BREAK SPACE}"}


def page_of_b(page: str) -> Callable[[Delivery], bytes]:
    """What prints a file of Laboratory B."""

    def printed(folder: Delivery) -> bytes:
        lines = [HEAD_OF_B]
        for r in folder.sheets["results"].rows:
            if r["@file"] != page:
                continue
            begun = datetime.fromisoformat(r["@begun"])
            times = (begun, ended(begun), begun + timedelta(days=5, hours=2))
            lines.append((
                r["result_id"], r["sample_id"], "P-" + r["sample_id"][3:], r["@type"], "Soil gas",
                *(at.strftime("%d.%m.%Y %H:%M") for at in times), shown(r, "cas"), r["analyte"],
                r["result"].replace(".", ","), r.get("@unit", "\N{MICRO SIGN}g/m\N{SUPERSCRIPT THREE}"),
                r["reporting_limit"].replace(".", ","), r["batch_id"],
                "held over\r\none night" if r["result_id"] == "B-002" else "",
            ))  # fmt: skip
        return separated(lines, **print_of_b(page))

    return printed


def print_mobile(folder: Delivery) -> bytes:
    """Tabs, a date, a time and a zone in three columns, and flags stuck to numbers."""
    lines = [("Lab", "Sample", "Point", "Date", "Time", "Zone", "Run at", "Compound", "No.", "Value", "Unit", "PQL",
              "Q")]  # fmt: skip
    for r in folder.sheets["results"].rows:
        if r["@file"] == MOBILE:
            begun = datetime.fromisoformat(r["@begun"])
            lines.append((
                r["laboratory"], r["sample_id"], "P-" + r["sample_id"][3:], begun.strftime("%Y-%m-%d"),
                begun.strftime("%H:%M"), "EDT", r["@at"], r["analyte"], r["cas"], shown(r, "result"),
                shown(r, "unit"), shown(r, "reporting_limit"), shown(r, "lab_flag"),
            ))  # fmt: skip
    return separated(lines, mark="\t")


def print_wide(folder: Delivery) -> bytes:
    """One row a sample; its time of analysis is an artefact of the export."""
    lines = [("Client No.", "Run", "Oxygen", "Carbon dioxide", "Tech")]
    for sample in GASES:
        cells = [r["result"] for r in folder.rows("results", sample_id=sample, laboratory="Laboratory E")]
        lines.append((sample, "2026-04-25T17:00", cells[0], cells[1], "crew L"))
    return separated(lines)
