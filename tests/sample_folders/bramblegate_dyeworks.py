"""Bramblegate Dyeworks: a third party's delivery, ugly on purpose, read through a mapping of every kind."""

from __future__ import annotations

from bramblegate_faults import FAULTS
from bramblegate_field import (
    PROBES,
    PROBES_A,
    PROBES_B,
    PURGES,
    PURGES_A,
    PURGES_B,
    print_probes_a,
    print_probes_b,
    print_purges_a,
    print_purges_b,
    write_forms,
)  # fmt: skip
from bramblegate_laboratories import (
    BLANKS,
    COLUMNS,
    MOBILE,
    OF_A,
    OF_B,
    OF_MOBILE,
    ORGANICS,
    PAGES_OF_B,
    WIDE,
    WORKBOOK,
    page_of_b,
    print_blanks,
    print_mobile,
    print_wide,
    print_workbook,
    skipped_of_a,
    write_blanks,
    write_results,
)  # fmt: skip
from bramblegate_project import PROJECT
from chemistry import BY_CAS
from faults import numbered
from paper import Sheet
from stranger import Delivery, separated

__all__ = ["FAULTS", "build"]

QC = (
    "qc_id", "laboratory", "batch_id", "kind", "cas", "analyte", "unit", "detected", "reporting_limit",
)  # fmt: skip
LEVELS = ("cas", "analyte", "matrix", "level", "unit")
README = """\
# Bramblegate Dyeworks

An invented dye works, reviewed at a desk out of what other people sent: four laboratories, of which one fills a
workbook, one leaves two text files of different coding, and two on wheels share a third; a fifth table of fixed gases
with one column a gas; and the probe logs and purge forms of two crews, each with headers of its own. Nothing was
renamed or mended before the review. `project.yaml` holds the whole mapping, and the report repeats each of its
decisions.

* `deliveries/laboratory_a.xlsx`: two sheets feed one table, a third feeds none. Five lines above the header, a units
  row below it, the header again in mid-page, notes at the end; date, time and zone in three columns; each result twice,
  by mass and by volume; marks `ND`, `< 1.2` and `1.2 U`; flags stuck to numbers; surrogates by name, the recovery as
  result and `70-130` as limit; true dates, serial numbers and texts in two formats in one column; merged cells; a rerun
  as `05DL`; CAS numbers that became dates.
* `deliveries/laboratory_b/page_1.csv`: Windows coding (cp1252) and line ends, a line break in a header and in a remark,
  decimal commas, days before months, substances by other names. `page_2.csv`: the same in UTF-8 with a byte-order mark.
* `deliveries/mobile.tsv`: tabs; two laboratories to whom the flag `S` means two things.
* `deliveries/fixed_gases.csv`: one row a sample and one column a gas; a time of day that is an artefact of the export.
* `deliveries/blanks.parquet`: method blanks, typed.
* `field/`: titles, units rows, units in headers and in rows, inches and feet, mL and L.
* `container.csv`: feeds nothing, and its name is nearly that of a table.

Everything that is not in this list is in order under the rules that are reviewed.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a
nondetect. What stands on the mass form of a result reaches its volume form.

"""


def build() -> Delivery:
    """The folder: clean first, then the faults, one after the other."""
    names = {"probes": PROBES, "purges": PURGES, "results": COLUMNS, "samples": ("sample_id",), "lab_qc": QC,
             "screening_levels": LEVELS}  # fmt: skip
    sheets = {table: Sheet({n: n for n in columns}) for table, columns in names.items()}
    folder = Delivery("bramblegate-dyeworks", "", sheets)
    write_forms(folder)
    write_results(folder)
    write_blanks(folder)
    for sample in (*(f"BG/{own}" for own in OF_A if not own.endswith("DL")), *OF_B, *OF_MOBILE):
        folder.sheets["samples"].add(sample_id=sample)
    for cas in ORGANICS:
        folder.sheets["screening_levels"].add(
            cas=cas, analyte=BY_CAS[cas].name, matrix="soil_gas", level="500", unit="ug/m3"
        )  # fmt: skip
    folder.prints = {
        PROBES_A: print_probes_a, PROBES_B: print_probes_b, PURGES_A: print_purges_a, PURGES_B: print_purges_b,
        WORKBOOK: print_workbook, **{page: page_of_b(page) for page in PAGES_OF_B}, MOBILE: print_mobile,
        WIDE: print_wide, BLANKS: print_blanks, "screening_levels.csv": print_levels,
        "container.csv": lambda _: separated([("Can", "remark"), ("C-118", "dented")]),
    }  # fmt: skip
    for fault in FAULTS:
        fault.plant(folder)
    folder.project = PROJECT.format(page_1=skipped_of_a(folder, "Page 1"), page_2=skipped_of_a(folder, "Page 2"))
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def print_levels(folder: Delivery) -> bytes:
    """The one table that has the contract's own headers."""
    return separated([LEVELS, *([r[n] for n in LEVELS] for r in folder.sheets["screening_levels"].rows)])
