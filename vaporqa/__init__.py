"""vaporqa: rule-based QA/QC validation of soil-gas field and laboratory data.

::

    checked = vaporqa.check("my_project")      # reads the folder, applies the rules
    checked.flags["results"]                   # a DataFrame: every row with its standing, qualifier and reasons
    checked.write("report")                    # report.html, flags/, findings.csv, review.json
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from vaporqa.errors import FolderError, OutputError, RulebookError, UsageError, VaporqaError
    from vaporqa.folders import check_folders
    from vaporqa.judging import Decision
    from vaporqa.library import Checked, JudgedFinding, check, judge
    from vaporqa.programme import Programme
    from vaporqa.review.values import Review

__version__ = "0.1.0"

__all__ = [
    "Checked",
    "Decision",
    "FolderError",
    "JudgedFinding",
    "OutputError",
    "Programme",
    "Review",
    "RulebookError",
    "UsageError",
    "VaporqaError",
    "__version__",
    "check",
    "check_folders",
    "judge",
]

_HOMES = {
    "Checked": "vaporqa.library",
    "Decision": "vaporqa.judging",
    "FolderError": "vaporqa.errors",
    "JudgedFinding": "vaporqa.library",
    "OutputError": "vaporqa.errors",
    "Programme": "vaporqa.programme",
    "Review": "vaporqa.review.values",
    "RulebookError": "vaporqa.errors",
    "UsageError": "vaporqa.errors",
    "VaporqaError": "vaporqa.errors",
    "check": "vaporqa.library",
    "check_folders": "vaporqa.folders",
    "judge": "vaporqa.library",
}


def __getattr__(name: str) -> Any:
    # Start-up time: `import vaporqa` and the small commands need neither pandas nor numpy.
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
