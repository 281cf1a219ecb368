"""The typed tables: what intake hands to evidence.

Columnar and dense: numbers as float64, words and texts as integer codes into a short list, times as microseconds UTC.
Every column keeps a state a cell, because an empty cell, an unreadable cell and a readable one are three things.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from vaporqa.quantities.units import BY_MASS, BY_VOLUME, FAMILY_UNITS, IN_SOLID, MASS_ONLY, NO_FAMILY

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "BY_MASS", "BY_VOLUME", "EMPTY", "FAMILY_UNITS", "IN_SOLID", "MASS_ONLY", "MICROSECONDS_PER_DAY", "NO_FAMILY",
    "READ", "UNREADABLE", "Amount", "Bool", "Column", "FlagBits", "Float", "InputFile", "Int8", "Int16", "Int32",
    "Int64", "Number", "Reading", "Remark", "Span", "Table", "Tables", "Text", "Texts", "Time", "UInt8", "Word",
    "YesNo",
]  # fmt: skip

Int8 = npt.NDArray[np.int8]
Int16 = npt.NDArray[np.int16]
Int32 = npt.NDArray[np.int32]
Int64 = npt.NDArray[np.int64]
UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]
Texts = npt.NDArray[np.object_]

#: States of a cell.
EMPTY, READ, UNREADABLE = 0, 1, 2

MICROSECONDS_PER_DAY = 86_400_000_000


@dataclass(frozen=True, slots=True)
class Text:
    """Free text or an id. ``codes[i]`` points into `words`; -1 is an empty cell.

    Where several texts stand for one (a derived table whose source rows differ), the word is all of them, joined by
    `` | ``: it equals none of them, and its state is UNREADABLE.
    """

    codes: Int32  # (n,)
    words: Texts  # (k,) distinct texts, str objects
    ambiguous: Bool | None = None  # (n,), None where no cell is

    @property
    def state(self) -> UInt8:
        """EMPTY, READ or UNREADABLE (several texts), (n,)."""
        state = np.where(self.codes >= 0, READ, EMPTY)
        return (state if self.ambiguous is None else np.where(self.ambiguous, UNREADABLE, state)).astype(np.uint8)

    def at(self, row: int) -> str:
        """Text of one row; empty where the cell is."""
        code = int(self.codes[row])
        return str(self.words[code]) if code >= 0 else ""


@dataclass(frozen=True, slots=True)
class Word:
    """A word of a closed list. ``codes[i]`` points into `words`; -1 is an empty cell, -2 an unreadable one."""

    codes: Int16  # (n,)
    words: tuple[str, ...]  # the closed list of the data dictionary, in its order

    @property
    def state(self) -> UInt8:
        """EMPTY, READ or UNREADABLE, (n,)."""
        return np.where(self.codes >= 0, READ, np.where(self.codes == -1, EMPTY, UNREADABLE)).astype(np.uint8)

    def at(self, row: int) -> str:
        """Word of one row; empty where there is none."""
        code = int(self.codes[row])
        return self.words[code] if code >= 0 else ""

    def is_in(self, *words: str) -> Bool:
        """Rows whose word is one of `words`, (n,)."""
        wanted = [self.words.index(word) for word in words]
        return np.isin(self.codes, wanted)


@dataclass(frozen=True, slots=True)
class YesNo:
    """1 yes, 0 no, -1 empty, -2 unreadable; (n,)."""

    values: Int8

    @property
    def state(self) -> UInt8:
        """EMPTY, READ or UNREADABLE, (n,)."""
        return np.where(self.values >= 0, READ, np.where(self.values == -1, EMPTY, UNREADABLE)).astype(np.uint8)


@dataclass(frozen=True, slots=True)
class Number:
    """A number in the canonical unit of its dimension; nan unless READ.

    Canonical units: m lengths, mL volumes, mL/min flows, kPa pressures (vacua as positive gauge vacuum),
    s durations, degC temperatures, percent for percentages, plain otherwise. `Column.dimension` in the data
    dictionary names the dimension.
    """

    values: Float  # (n,)
    state: UInt8  # (n,)


@dataclass(frozen=True, slots=True)
class Amount:
    """A concentration, in the canonical unit of its family (`FAMILY_UNITS`); nan unless READ.

    Attributes
    ----------
    values : float64 (n,)
        Canonical value; nan where the number or its unit could not be read.
    written : float64 (n,)
        The number as it stands in the file, in the unit `unit_codes` names.
    family : int8 (n,)
        NO_FAMILY where the unit is empty or unknown.
    unit_codes : int16 (n,)
        Into `units`, -1 where none.
    units : tuple of str
        Unit spellings as written in the files.
    state : uint8 (n,)
        READ means that the number was read (its unit may still be unknown: see `family`).
    nondetect : bool (n,)
        The cell itself carries a mark of nondetection (``ND``, ``<x``, ``x U``) or the number is negative.
    marked : bool (n,)
        A number stands beside a nondetect mark (it is kept in `values` and `written`).
    """

    values: Float
    written: Float
    family: Int8
    unit_codes: Int16
    units: tuple[str, ...]
    state: UInt8
    nondetect: Bool
    marked: Bool

    def unit_at(self, row: int) -> str:
        """Unit spelling of one row as written in the file; empty where there is none."""
        code = int(self.unit_codes[row])
        return self.units[code] if code >= 0 else ""


@dataclass(frozen=True, slots=True)
class Time:
    """An instant, or the interval of one local day for a date without a time.

    Attributes
    ----------
    low, high : int64 (n,)
        Microseconds since 1970-01-01 UTC; equal for an instant; for a date, local midnight and the next local
        midnight less one microsecond. 0 unless READ.
    day : int32 (n,)
        Local calendar date (in the column's declared zone) as days since 1970-01-01.
    date_only : bool (n,)
    state : uint8 (n,)
    """

    low: Int64
    high: Int64
    day: Int32
    date_only: Bool
    state: UInt8


@dataclass(frozen=True, slots=True)
class Span:
    """A range such as ``70-130``, (n,) each; nan unless READ."""

    low: Float
    high: Float
    state: UInt8


@dataclass(frozen=True, slots=True)
class FlagBits:
    """What the laboratory's flags of a row mean: bit i for FLAG_MEANINGS[i] of the data dictionary, (n,)."""

    values: Int64

    @property
    def state(self) -> UInt8:
        """READ where a row has a flag with a meaning, else EMPTY, (n,)."""
        return np.where(self.values != 0, READ, EMPTY).astype(np.uint8)


Column = Text | Word | YesNo | Number | Amount | Time | Span | FlagBits


@dataclass(frozen=True, slots=True)
class Table:
    """One typed table.

    Attributes
    ----------
    name : str
        Its name in the data dictionary.
    rows : int
        Number of data rows, exact copies included.
    columns : mapping
        Contract column to typed column; a column that no file has is not in it.
    headers : mapping
        Contract column to its header in the file (`shroud_low [%v]`); composite keys joined by `/`.
    files : tuple of str
        Files that feed it, relative to the project folder.
    file_of : int16 (n,)
        Row to file.
    line_of : int64 (n,)
        Row to the first physical line of its record (in a workbook the physical row).
    sheets : tuple of str
        Sheet of each file, empty for text files.
    keys : object (n,)
        Key of each row, composite parts joined by `/`, repeats numbered `#2`, `#3` where the key is made.
    key_stated : bool
        The key stands in the files (False: it was made from the row).
    copy_of : int32 (n,)
        -1, or the row of which this row is a later exact copy (it counts in no rule).
    conflicted : bool (n,)
        Another, different row stands under the same stated key.
    cells : object
        The raw text, for passing through: see `vaporqa.intake.cells.Cells`.
    fixed : mapping
        Contract columns given once for the whole table by a mapping, as text.
    form_of : int32 (n,) or None
        Of a row by volume, the row by mass of the same key that is the other form of the same result
        (`two_forms`); -1 elsewhere. None where no mapping declares two forms.
    """

    name: str
    rows: int
    columns: Mapping[str, Column]
    headers: Mapping[str, str]
    files: tuple[str, ...]
    file_of: Int16
    line_of: Int64
    keys: Texts
    key_stated: bool
    copy_of: Int32
    conflicted: Bool
    cells: Any = None
    sheets: tuple[str, ...] = ()
    fixed: Mapping[str, str] = field(default_factory=dict)
    form_of: Int32 | None = None

    def __contains__(self, column: object) -> bool:
        return column in self.columns

    @property
    def counts(self) -> Bool:
        """Rows that count: all but exact copies, (n,)."""
        return self.copy_of < 0

    def text(self, column: str) -> Text | None:
        """The column as text, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, Text) else None

    def word(self, column: str) -> Word | None:
        """The column as words of a closed list, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, Word) else None

    def yes_no(self, column: str) -> YesNo | None:
        """The column as yes and no, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, YesNo) else None

    def number(self, column: str) -> Number | None:
        """The column as numbers in the canonical unit, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, Number) else None

    def amount(self, column: str) -> Amount | None:
        """The column as concentrations, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, Amount) else None

    def time(self, column: str) -> Time | None:
        """The column as times, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, Time) else None

    def span(self, column: str) -> Span | None:
        """The column as ranges, or None where no file has it."""
        found = self.columns.get(column)
        return found if isinstance(found, Span) else None

    def frame(self) -> pd.DataFrame:
        """The typed table as a DataFrame, one column a contract column, `key` as a column of its own.

        Times become UTC timestamps (a date becomes its first instant), words and texts become strings,
        concentrations become float64 in the canonical unit of their family.
        """
        import pandas as pd  # start-up time: --help and rules list never need it

        data: dict[str, Any] = {"key": self.keys}
        for name, column in self.columns.items():
            if isinstance(column, Text | Word):
                words: Texts = np.empty(len(column.words) + 1, dtype=object)
                words[:-1] = column.words
                data[name] = words[np.where(column.codes < 0, -1, column.codes)]
            elif isinstance(column, YesNo):
                data[name] = pd.Series(column.values == 1, dtype="boolean").mask(column.values < 0)
            elif isinstance(column, Time):
                stamps = column.low.astype("datetime64[us]")
                stamps[column.state != READ] = np.datetime64("NaT")
                data[name] = pd.Series(stamps).dt.tz_localize("UTC")
            elif isinstance(column, Span):
                data[f"{name}_low"] = column.low
                data[f"{name}_high"] = column.high
            else:
                data[name] = column.values
        return pd.DataFrame(data)


@dataclass(frozen=True, slots=True)
class Reading:
    """What intake found wrong with cells of one column, all rows of one kind together.

    Attributes
    ----------
    rule : str
        `readable-number`, `readable-time`, `known-word`, `known-unit`, `known-flag`, `required-filled`,
        `local-time-exists`, `duplicate-rows`, `units-as-declared`, `one-value-a-key`.
    table, column : str
        Where; `column` may be empty for whole rows.
    rows : int64 (k,)
        Table rows; empty where the finding is on the whole column (`whole` is then set).
    detail : object (k,) or (1,)
        What more there is to say of each row: the nearest reading, the nearest word; may be empty text.
    note : bool
        The effect is a note; otherwise unproven for what needed the cell.
    whole : str
        Empty, or the subject of a finding on the whole table (key `*` or `*:subject`).
    """

    rule: str
    table: str
    column: str
    rows: Int64
    detail: Texts
    note: bool = False
    whole: str = ""


@dataclass(frozen=True, slots=True)
class Remark:
    """Something noted about how the tables were read; no finding. An urgent one is said on the screen too."""

    file: str
    text: str
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that was read: name relative to the project folder, hash, size, and the tables it feeds."""

    name: str
    sha256: str
    size: int
    feeds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tables:
    """All typed tables of a project folder and what reading them found."""

    tables: Mapping[str, Table]
    readings: Sequence[Reading]
    remarks: Sequence[Remark]
    files: Sequence[InputFile]

    def get(self, name: str) -> Table | None:
        """The table called `name`, or None where the folder has none."""
        return self.tables.get(name)

    def __contains__(self, name: object) -> bool:
        return name in self.tables
