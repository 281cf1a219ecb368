"""What a workbook is before it is opened: declared sizes, sheets, and cells that its reader would pass over.

A workbook of half a megabyte can take half a gigabyte, and one cell in the last row and column takes more than a
machine has: the reader lays a sheet out as a full rectangle. So sizes and cell positions are looked at first.
"""

from __future__ import annotations

import html
import io
import posixpath
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass

import numpy as np

#: Entries of a workbook with hundreds of sheets and pictures.
ENTRIES_AT_MOST = 5_000
#: Bytes of all entries once they are unpacked.
UNPACKED_AT_MOST = 1 << 30
#: Real sheets pack to a tenth or a thirtieth; a bomb to a thousandth. Small files may be as dense as they like.
RATIO_AT_MOST = 200
RATIO_FROM = 32 << 20
#: Cells of one sheet, laid out as a full rectangle.
CELLS_AT_MOST = 20_000_000
#: Bytes of all texts of one sheet, a text that many cells share counted for each of them.
TEXT_AT_MOST = 1 << 31
#: Bytes of the lists of sheets and of their files.
_LIST_AT_MOST = 8 << 20

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_AS_CSV = "save the sheet as CSV in UTF-8"
_TAG = r"<(?:[A-Za-z0-9]+:)?"
# No pattern may look past the next tag: a tag that is never closed would be sought to the end from each place.
_SHEET = re.compile(_TAG + r"sheet\s([^<>]*)>")
_RELATION = re.compile(_TAG + r"Relationship\s([^<>]*)>")
_ATTRIBUTE = re.compile(r"""(?<![A-Za-z0-9:])([A-Za-z0-9:]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_CELL_PLACE = re.compile(rb"""\sr\s*=\s*["']([A-Za-z]{1,3})([0-9]{1,7})["']""")
_SHARED = re.compile(
    rb"<(?:[A-Za-z0-9]+:)?si[\s>][^<]*+(?:<(?!/?(?:[A-Za-z0-9]+:)?si[\s>])[^<]*+)*+</(?:[A-Za-z0-9]+:)?si>"
)
_USE = re.compile(rb"<(?:[A-Za-z0-9]+:)?c\s([^<>]*)><(?:[A-Za-z0-9]+:)?v>([0-9]{1,9})<")
_OF_SHARED = re.compile(rb"""\bt\s*=\s*["']s["']""")
_CELL = re.compile(
    rb"<(?:[A-Za-z0-9]+:)?c\s([^<>]*?)"
    rb"(?:/>|>([^<]*+(?:<(?!/?(?:[A-Za-z0-9]+:)?c[\s/>])[^<]*+)*+)</(?:[A-Za-z0-9]+:)?c>)"
)
_VALUE = re.compile(rb"<(?:[A-Za-z0-9]+:)?v\s*(?:/>|>([^<]*)<)")
_FORMULA = re.compile(rb"<(?:[A-Za-z0-9]+:)?f(?:\s[^<>]*?)?(?:/>|>([^<]*)<)")
_ERROR = re.compile(rb"""\bt\s*=\s*["']e["']""")


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What a sheet holds that its reader does not say.

    Attributes
    ----------
    rows, columns : int
        Of the smallest rectangle from A1 that holds every cell.
    silent : dict
        (row, column), both from 1, to the text of cells that the reader shows as empty: errors, and formulas whose
        value was never computed.
    """

    rows: int
    columns: int
    silent: dict[tuple[int, int], str]


class Refused(Exception):  # noqa: N818 - carried no further than the reader of workbooks
    """A workbook that is not opened: what is wrong with it, and how to mend it."""

    def __init__(self, message: str, mend: str = _AS_CSV) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


class Package:
    """A workbook as a package of files, looked at before it is read."""

    def __init__(self, data: bytes) -> None:
        if data.startswith(_OLE):
            if _ENCRYPTED in data:
                raise Refused("the workbook is protected by a password", "save it without a password")
            raise Refused("this is an old workbook (.xls) or another old document, not what its name says")
        self.data = data
        try:
            self.zip = zipfile.ZipFile(io.BytesIO(data))
        except (zipfile.BadZipFile, ValueError, NotImplementedError, struct.error) as error:
            raise Refused("this is no workbook: it cannot be opened as a package of sheets") from error
        self._look_at_sizes()
        names = {info.filename.lower() for info in self.zip.infolist()}
        if any(name.endswith("vbaproject.bin") for name in names):
            raise Refused("the workbook holds macros, and none is opened", "save it as .xlsx without macros, or as CSV")
        if "xl/workbook.xml" not in names:
            raise Refused("this package is no .xlsx workbook: it has no xl/workbook.xml")

    def _look_at_sizes(self) -> None:
        entries = self.zip.infolist()
        if len(entries) > ENTRIES_AT_MOST:
            raise Refused(f"the workbook holds {len(entries):,} parts; at most {ENTRIES_AT_MOST:,} are opened")
        unpacked = sum(info.file_size for info in entries)
        if unpacked > UNPACKED_AT_MOST:
            message = f"the workbook unpacks to {unpacked:,} bytes; at most {UNPACKED_AT_MOST:,} are opened"
            raise Refused(message, "split it, or save its sheets as CSV in UTF-8")
        if unpacked > RATIO_FROM and unpacked > RATIO_AT_MOST * max(len(self.data), 1):
            times = unpacked // max(len(self.data), 1)
            raise Refused(
                f"the workbook unpacks to {times:,} times its size ({unpacked:,} bytes); "
                f"at most {RATIO_AT_MOST} times are opened"
            )
        for info in entries:
            if info.flag_bits & 1:
                raise Refused("the workbook is protected by a password", "save it without a password")
            if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise Refused(f"the workbook is packed in a way that no workbook is ({info.filename})")

    def part(self, name: str) -> bytes:
        """Return one file of the package, unpacked to its declared size and no further."""
        found = next((info for info in self.zip.infolist() if info.filename.lower() == name.lower()), None)
        if found is None:
            raise Refused(f"the workbook lacks a part that it names ({name})")
        try:
            with self.zip.open(found) as stream:
                data = stream.read()
        # A directory that points before the file or past its end makes other errors than BadZipFile.
        except (zipfile.BadZipFile, zlib.error, struct.error, EOFError, RuntimeError, OSError, ValueError) as error:
            raise Refused(f"the workbook is damaged ({name})", "save it again, or as CSV in UTF-8") from error
        self._is_all(found)
        return data

    def _is_all(self, info: zipfile.ZipInfo) -> None:
        """Refuse a part that goes on after its declared size: the reader would unpack all of it."""
        if info.compress_type != zipfile.ZIP_DEFLATED:
            return
        begin = info.header_offset
        names = int.from_bytes(self.data[begin + 26 : begin + 28], "little")
        extra = int.from_bytes(self.data[begin + 28 : begin + 30], "little")
        start = begin + 30 + names + extra
        unpacker = zlib.decompressobj(-15)
        size, rest = 0, self.data[start : start + info.compress_size]
        while rest and not unpacker.eof:
            size += len(unpacker.decompress(rest, 1 << 24))
            rest = unpacker.unconsumed_tail
            if size > info.file_size:
                raise Refused(f"the workbook is damaged: a part is larger than it says ({info.filename})")

    def sheets(self) -> tuple[dict[str, str], bool]:
        """Return the sheets by name, each with its part, in order; and whether days are counted from 1904."""
        book = self._list("xl/workbook.xml")
        relations = {}
        for match in _RELATION.finditer(self._list("xl/_rels/workbook.xml.rels")):
            values = _attributes(match[1])
            relations[values.get("Id", "")] = values.get("Target", "")
        found = {}
        for match in _SHEET.finditer(book):
            values = _attributes(match[1])
            target = next((relations.get(text, "") for key, text in values.items() if key.endswith(":id")), "")
            part = target.lstrip("/") if target.startswith("/") else posixpath.normpath(f"xl/{target}")
            if "worksheets/" in part.lower() or part.lower().endswith(".xml"):
                found[values.get("name", "")] = part
        properties = re.search(_TAG + r"workbookPr\s([^<>]*)>", book)
        counted = _attributes(properties[1]).get("date1904", "") if properties else ""
        return found, counted in ("1", "true")

    def _list(self, name: str) -> str:
        data = self.part(name)
        if len(data) > _LIST_AT_MOST or b"<!DOCTYPE" in data:
            raise Refused(f"the workbook's list of sheets cannot be read ({name})")
        return data.decode("utf-8", errors="replace")

    def _look_at_texts(self, sheet: bytes) -> None:
        """Refuse a sheet whose cells point to long shared texts so often that they cannot all be laid out."""
        shared = next((info for info in self.zip.infolist() if info.filename.lower() == "xl/sharedstrings.xml"), None)
        uses = sheet.count(b"<v>")
        # The whole list is at least as long as its longest text.
        if shared is None or shared.file_size * uses <= TEXT_AT_MOST:
            return
        lengths = np.array([len(match[0]) for match in _SHARED.finditer(self.part(shared.filename))], np.int64)
        used = np.array([int(use[2]) for use in _USE.finditer(sheet) if _OF_SHARED.search(use[1])], np.int64)
        size = int(lengths[used[used < len(lengths)]].sum())
        if size > TEXT_AT_MOST:
            raise Refused(f"the texts of a sheet's cells come to {size:,} bytes; at most {TEXT_AT_MOST:,} are read")

    def facts(self, part: str) -> SheetFacts:
        """Return what one sheet holds: its extent, and the cells that its reader would pass over."""
        data = self.part(part)
        rows = columns = 0
        for letters, number in set(_CELL_PLACE.findall(data)) if len(data) < 1 << 20 else _corners(data):
            rows, columns = max(rows, int(number)), max(columns, column_of(letters))
        if rows * columns > CELLS_AT_MOST:
            message = (
                f"a sheet reaches to row {rows:,} and column {columns:,}; at most {CELLS_AT_MOST:,} cells are opened"
            )
            raise Refused(message, "delete what stands far from the table, or save the sheet as CSV in UTF-8")
        self._look_at_texts(data)
        silent = {}
        if _ERROR.search(data) or re.search(rb"<(?:[A-Za-z0-9]+:)?f[\s>/]", data):
            for cell in _CELL.finditer(data):
                attributes, body = cell[1], cell[2] or b""
                place = _CELL_PLACE.search(b" " + attributes)
                text = _silent_text(attributes, body)
                if place and text:
                    silent[int(place[2]), column_of(place[1])] = text
        return SheetFacts(rows, columns, silent)


def _corners(data: bytes) -> set[tuple[bytes, bytes]]:
    """Return the cell places of a large sheet that can be its last row or column."""
    found: set[tuple[bytes, bytes]] = set()
    widest: dict[bytes, bytes] = {}
    last = b"0"
    for match in _CELL_PLACE.finditer(data):
        letters, number = match.groups()
        if letters not in widest:
            widest[letters] = number
        if len(number) > len(last) or number > last:
            last = number
    found.update(widest.items())
    found.add((b"A", last))
    return found


def column_of(letters: bytes) -> int:
    """Return the number of a column.

    Examples
    --------
    >>> column_of(b"A"), column_of(b"AA"), column_of(b"XFD")
    (1, 27, 16384)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number


def _silent_text(attributes: bytes, body: bytes) -> str:
    """Return what to show of a cell that its reader shows as empty; nothing for any other."""
    value = _VALUE.search(body)
    written = value[1] if value and value[1] else b""
    if _ERROR.search(attributes):
        return html.unescape(written.decode("utf-8", errors="replace")) or "#ERROR"
    formula = _FORMULA.search(body)
    if formula and not written and not re.search(rb"""\bt\s*=\s*["']str["']""", attributes):
        return "=" + html.unescape((formula[1] or b"").decode("utf-8", errors="replace"))
    return ""


def _attributes(text: str) -> dict[str, str]:
    return {
        match[1]: html.unescape(match[2] if match[2] is not None else match[3]) for match in _ATTRIBUTE.finditer(text)
    }
