"""Serial days of workbooks: dates that a cell holds as a plain number because it has no date format."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

from vaporqa.intake.numbers import NUMBER, cast_numbers, matching, trimmed
from vaporqa.tables.values import Bool

#: Serial days of 1980-01-01 and 2100-01-01 (from 1899-12-30): a number outside them is no date of this trade.
FIRST_SERIAL, LAST_SERIAL = 29221, 73051
#: Days between the two calendars that workbooks have.
DAYS_1904 = 1462
_EPOCH = dt.datetime(1899, 12, 30)


def serial_times(texts: Any, *, from_1904: bool, times_alone: bool) -> tuple[list[str], Bool]:
    """Read plain numbers among distinct texts (a pyarrow string array of k) as serial days.

    Parameters
    ----------
    from_1904 : bool
        The workbook counts from 1904-01-01.
    times_alone : bool
        The text is one part of a joined time: a number under 1 is a time of day.

    Returns
    -------
    iso : list of str (k,)
        ISO 8601 where a number was read, else the text.
    read : bool (k,)
    """
    bare = trimmed(texts)
    plain = matching(bare, NUMBER)
    written = texts.to_pylist()
    read = np.zeros(len(written), np.bool_)
    if not plain.any():
        return written, read
    numbers = cast_numbers(bare, plain)
    for at in np.flatnonzero(plain):
        number = float(numbers[at]) + (DAYS_1904 if from_1904 and numbers[at] >= 1 else 0)
        if FIRST_SERIAL <= number < LAST_SERIAL:
            # A second is 0.0000116 of a day: the number is nearest to a whole second or to nothing.
            moment = _EPOCH + dt.timedelta(seconds=round(number * 86_400))
            written[at] = moment.date().isoformat() if number.is_integer() else moment.isoformat(sep=" ")
            read[at] = True
        elif times_alone and 0 <= number < 1:
            written[at] = (_EPOCH + dt.timedelta(seconds=round(number * 86_400))).time().isoformat()
            read[at] = True
    return written, read
