"""What was planted at Bramblegate Dyeworks, and what must come of it by the data contract and the rulebook."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from bramblegate_laboratories import (
    AT_20_DEGREES,
    CIS_DCE,
    MOBILE,
    OF_A,
    ORGANICS,
    PAGES_OF_B,
    VINYL_CHLORIDE,
)  # fmt: skip
from chemistry import BY_CAS, CARBON_DIOXIDE, OXYGEN, PCE, TCE, TOLUENE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder, Row, sig
from planting import LOW, Letters, absent, change, fault, unproven, whole

HOLDING = ("holding-time", "holding-time-gross", "dates-in-order")
ON_PAGE_1 = tuple(own for own, (page, *_) in OF_A.items() if page == "Page 1")


def rows_of(folder: Folder, own: str = "", cas: str = "", kind: str = "target") -> Iterator[tuple[str, Row]]:
    """Key and row of Laboratory A's results of a sample or run, of an analyte."""
    for key, row in zip(folder.keys("results"), folder.sheets["results"].rows, strict=True):
        of_a = row["laboratory"] == "Laboratory A" and row["kind"] == kind
        if of_a and own in ("", row["@own"]) and cas in ("", row["cas"]):
            yield key, row


def pairs(folder: Folder, own: str = "", cas: str = "") -> Iterator[tuple[str, str]]:
    """Keys of the mass and the volume form of each such result."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for key, row in rows_of(folder, own, cas):
        found.setdefault((row["@own"], row["cas"]), {})[row["unit"]] = key
    for forms in found.values():
        yield forms["ug/m3"], forms["ppbv"]


def on_pairs(
    rule: str, outcome: str, letters: Letters, of: Iterable[tuple[str, str]]
) -> list[Finding]:  # fmt: skip
    """The same finding on the mass form of each, reaching the volume form."""
    return [Finding(rule, "results", mass, outcome, letters, (Reach(keys=(volume,)),)) for mass, volume in of]


def spoil(own: str, number: str, **cells: str) -> Callable[[Folder], None]:
    """Other texts in both forms of a result of Laboratory A."""

    def plant(folder: Folder) -> None:
        for _, row in rows_of(folder, own, number):
            row.update(cells)

    return plant


def key_where(folder: Folder, **wanted: str) -> tuple[str, ...]:
    """Keys of the results whose cells equal all of `wanted`."""
    rows = zip(folder.keys("results"), folder.sheets["results"].rows, strict=True)
    return tuple(key for key, row in rows if all(row.get(name, "") == text for name, text in wanted.items()))


def dates_for_numbers(folder: Folder) -> None:
    """A spreadsheet read 75-01-4 as a date, on both sheets."""
    for _, row in rows_of(folder, cas=VINYL_CHLORIDE):
        row["@cas"] = "2075-01-04"


def scaled(own: str, cas: str, factor: float, *names: str, unit: str = "") -> Callable[[Folder], None]:
    """Numbers of a result times a factor."""

    def plant(folder: Folder) -> None:
        for _, row in rows_of(folder, own, cas):
            if unit in ("", row["unit"]):
                row |= {name: sig(float(row[name]) * factor, 4) for name in names}

    return plant


def steady(folder: Folder) -> list[Finding]:
    """Every pair in use whose substance is known; the run that was set aside is judged by no rule of its own row."""
    keys = [
        key
        for own in OF_A
        for cas in ORGANICS
        if (own, cas) != ("05", TCE)
        for pair in pairs(folder, own, cas)
        for key in pair
    ]
    return [Finding("forms-agree", "results", "*:Laboratory A", "broken", NOTE, (Reach(keys=tuple(keys)),))]


def low_surrogate(folder: Folder) -> None:
    """62 % in BG/03, with the laboratory's flag."""
    row = next(row for _, row in rows_of(folder, "03", kind="surrogate") if "Bromo" in row["analyte"])
    row |= {"recovery": "62", "@result": "62", "lab_flag": "S"}


def surrogate_said(folder: Folder) -> list[Finding]:
    """It reaches both forms of everything in its run."""
    keys = tuple(key for key, _ in rows_of(folder, "03"))
    return [Finding("surrogate-recovery", "results", "BG/03/% Bromofluorobenzene/TO-15", "broken", LOW,
                    (Reach(keys=keys),))]  # fmt: skip


def over_range(folder: Folder) -> None:
    """Trichloroethene of BG/05 is marked in the result cell; the run 05DL repeats it at ten times the dilution."""
    for _, row in rows_of(folder, "05", TCE):
        row |= {"@result": f"{row['result']} E", "lab_flag": "E", "@lab_flag": ""}


def run_again(folder: Folder) -> list[Finding]:
    """The first run is set aside for the second."""
    first, second = pairs(folder, "05", TCE), pairs(folder, "05DL", TCE)
    both = [*first, *second]
    return [*on_pairs("over-range", "broken", NOTE, both[:1]), *on_pairs("one-value-in-use", "broken", NOTE, both)]


def set_aside(folder: Folder) -> list[tuple[str, str]]:
    """Each form of the first run, and the same form of the second."""
    [first], [second] = pairs(folder, "05", TCE), pairs(folder, "05DL", TCE)
    return list(zip(first, second, strict=True))


def under_limit(folder: Folder) -> None:
    """0.30 ppbv with a J stuck to it."""
    for _, row in rows_of(folder, "06", TCE):
        share = BY_CAS[TCE].molar_mass / AT_20_DEGREES if row["unit"] == "ug/m3" else 1.0
        text = sig(0.3 * share, 4)
        row |= {"result": text, "@result": f"{text}J", "lab_flag": "J", "@lab_flag": ""}


def last_year(folder: Folder) -> None:
    """The run of BG/02 is dated a year early."""
    for kind in ("target", "surrogate"):
        for _, row in rows_of(folder, "02", kind=kind):
            row["@at"] = row["@at"].replace("2026", "2025")


def merged(folder: Folder) -> list[Finding]:
    """The date, time and zone of BG/06 stand once for all of its rows: in the others the cells are empty."""
    keys = [key for kind in ("target", "surrogate") for key, _ in rows_of(folder, "06", kind=kind)]
    return [
        Finding("one-value-a-key", "samples", "BG/06", "broken", UNPROVEN),
        *(Finding("one-value-a-key", "results", key, "broken", UNPROVEN) for key in keys),
        *(f for rule in HOLDING for f in on_pairs(rule, "unproven", UNPROVEN, pairs(folder, "06"))),
    ]  # fmt: skip


def copied(folder: Folder) -> None:
    """A row of the first file stands in the second as well, word for word, and another with another number."""
    sheet = folder.sheets["results"]
    sheet_b = [r for r in sheet.rows if r["laboratory"] == "Laboratory B"]
    after = sheet.rows.index(sheet_b[-1]) + 1
    copy = folder.one("results", result_id="B-002")
    rival = folder.one("results", result_id="B-004")
    sheet.rows[after:after] = [copy | {"@file": PAGES_OF_B[1]}, rival | {"@file": PAGES_OF_B[1], "result": "12.0"}]


def conflict(_: Folder) -> list[Finding]:
    """The copy is a note; the two values unproven, and which of them counts is not decided."""
    return [
        Finding("duplicate-rows", "results", "B-002", "broken", NOTE),
        *2 * (Finding("duplicate-rows", "results", "B-004", "broken", UNPROVEN),),
        *2 * (Finding("one-value-in-use", "results", "B-004", "broken", UNPROVEN),),
    ]


def on_mobile(sample: str, cas: str, **cells: str) -> Callable[[Folder], None]:
    """Other texts in a row of the file of the laboratories on wheels."""
    return lambda folder: folder.one("results", sample_id=sample, cas=cas, **{"@file": MOBILE}).update(cells)


def mobile_key(sample: str, cas: str) -> str:
    """Its key."""
    return f"{sample}/{cas}/8260"


def nameless(name: str, folder: Folder) -> Finding:
    """Said once of a name without a number."""
    return Finding("cas-number", "results", f"*:{name}", "unproven", NOTE,
                   (Reach(keys=tuple(dict.fromkeys(key_where(folder, analyte=name)))),))  # fmt: skip


FAULTS: tuple[Fault, ...] = (
    Fault("A spreadsheet made dates of the CAS number of vinyl chloride. On the second sheet `values` says what is "
          "meant; on the first nobody does.", dates_for_numbers,
          lambda f: [x for own in ON_PAGE_1 for x in on_pairs("cas-number", "broken", UNPROVEN,
                                                              pairs(f, own, VINYL_CHLORIDE))]),
    Fault("The check digit of toluene in BG/03 does not fit.", spoil("03", TOLUENE, cas="108-88-4"),
          lambda f: [*on_pairs("cas-number", "broken", UNPROVEN, pairs(f, "03", "108-88-4")),
                     *on_pairs("method-blank", "unproven", UNPROVEN, pairs(f, "03", "108-88-4")),
                     Finding("analytes-complete", "samples", "BG/03", "broken", NOTE)],
          "It meets no blank, and its two forms cannot be held against each other."),
    Fault("Trichloroethene in BG/01 is called chloroform.", spoil("01", TCE, analyte="Chloroform"),
          lambda f: on_pairs("analyte-name", "broken", NOTE, pairs(f, "01", TCE))),
    Fault("Laboratory B gives tetrachloroethene by an older name and without a number, and the table of fixed gases "
          "has no numbers.", lambda _: None,
          lambda f: [nameless(name, f)
                     for name in ("Perchloroethylene", BY_CAS[OXYGEN].name, BY_CAS[CARBON_DIOXIDE].name)]),
    Fault("Laboratory A makes its mass concentrations at 20 degC, the project declares 25: all are off by 1.7 %.",
          lambda _: None, steady),
    Fault("The volume form of tetrachloroethene in BG/02 is off by a tenth.",
          scaled("02", PCE, 1.10, "result", unit="ppbv"),
          lambda f: on_pairs("forms-agree", "broken", UNPROVEN, pairs(f, "02", PCE))),
    Fault("A surrogate of BG/03 came back to 62 %, and the laboratory's flag S says so.", low_surrogate,
          surrogate_said),
    Fault("Trichloroethene in BG/05 is over range by an E stuck to the number, and 05DL is its dilution.", over_range,
          run_again, not_in_use=set_aside),
    Fault("Trichloroethene in BG/06 lies under its limit, and its flag is stuck to the number.", under_limit,
          lambda f: on_pairs("below-reporting-limit", "broken", ("J", "-"), pairs(f, "06", TCE))),
    Fault("The limit of toluene in BG/04 stands 12 % over what its dilution makes of it, in both forms.",
          scaled("04", TOLUENE, 1.12, "reporting_limit"),
          lambda f: on_pairs("limit-follows-dilution", "broken", NOTE, pairs(f, "04", TOLUENE))),
    Fault("The run of BG/02 is dated a year early.", last_year,
          lambda f: on_pairs("dates-in-order", "broken", UNPROVEN, pairs(f, "02"))),
    Fault("Date, time and zone of BG/06 stand in merged cells: in all rows but the first they are empty.",
          lambda _: None, merged, "An empty cell is not the one above it."),
    fault("BG/07 is a duplicate of nothing.", lambda _: None, absent("duplicate-parent", "BG/07", *whole("BG/07"))),
    Fault("The second file of Laboratory B repeats record B-002 word for word, and B-004 with another number.",
          copied, conflict, not_in_use=lambda _: [("B-004", "")]),
    fault("The type of BG-12 is `?`, which `values` makes unknown like every other word.",
          lambda f: [r.update({"@type": "?"}) for r in f.rows("results", sample_id="BG-12")],
          unproven("known-word", "samples", "BG-12", *whole("BG-12"))),
    fault("The unit of cis-1,2-dichloroethene in BG-13 was misread as `ug/rn3`, which `values` knows.",
          lambda f: f.one("results", sample_id="BG-13", cas=CIS_DCE).update({"@unit": "ug/rn3"})),
    fault("Toluene in BG-21 has a decimal comma, which is declared for another laboratory.",
          on_mobile("BG-21", TOLUENE, result="0,034"),
          *(unproven(rule, "results", mobile_key("BG-21", TOLUENE))
            for rule in ("readable-number", "method-blank", "below-reporting-limit", "result-consistent")),
          Finding("sensitivity", "results", mobile_key("BG-21", TOLUENE), "unproven", NOTE)),
    fault("Toluene in BG-23 was analysed on 05/06/2026, which the two declared formats read as two days.",
          on_mobile("BG-23", TOLUENE, **{"@at": "05/06/2026 10:15"}),
          *(unproven(rule, "results", mobile_key("BG-23", TOLUENE)) for rule in ("readable-time", *HOLDING))),
    fault("Tetrachloroethene in BG-23 carries a Q that nobody declared.",
          on_mobile("BG-23", PCE, lab_flag="Q", **{"@result": "0.095 Q", "@lab_flag": ""}),
          Finding("known-flag", "results", "*:Q", "unproven", UNPROVEN,
                  (Reach(keys=(mobile_key("BG-23", PCE),)),))),
    fault("A surrogate of BG-21 came back to 141 %; to Laboratory C the flag S says that, to Laboratory D its solvent.",
          lambda f: f.one("results", sample_id="BG-21", kind="surrogate").update(
              {"recovery": "141", "@result": "141", "lab_flag": "S"}),
          Finding("surrogate-recovery", "results", "BG-21/Toluene-d8/8260", "broken", ("J+", "-"), whole("BG-21"))),
    fault("Trichloroethene in BG-22 lies under its limit.",
          on_mobile("BG-22", TCE, result="0.008", lab_flag="J", **{"@result": "0.008J", "@lab_flag": ""}),
          Finding("below-reporting-limit", "results", mobile_key("BG-22", TCE), "broken", ("J", "-"))),
    fault("P-13 was opened at 48 in.",
          change("probes", {"probe_id": "P-13"}, depth_top="4.00", depth_bottom="4.25"),
          Finding("probe-depth", "probes", "P-13", "broken", LOW, whole("BG-13"))),
)  # fmt: skip
