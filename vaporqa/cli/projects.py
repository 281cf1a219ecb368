"""Project folders below a path."""

from __future__ import annotations

import os
from pathlib import Path

PROJECT_FILE = "project.yaml"
#: An earlier run's folder is known by this file.
_RUN_FILE = "review.json"


def projects_below(folder: Path) -> list[Path]:
    """Return every folder below `folder` that holds project.yaml, sorted; none where `folder` holds one itself.

    Hidden folders and earlier runs' are not entered. A folder that is a link counts where it leads to a project folder
    that was not found otherwise, and is never entered, so that no link leads in a circle. What cannot be read is
    passed over.
    """
    if not folder.is_dir() or (folder / PROJECT_FILE).exists():
        return []
    found: list[Path] = []
    links: list[Path] = []
    for home, inside, files in os.walk(folder):
        here = Path(home)
        if here != folder and _RUN_FILE in files:
            inside.clear()
            continue
        inside[:] = [name for name in inside if not name.startswith(".")]
        links += [here / name for name in inside if (here / name).is_symlink()]
        if PROJECT_FILE in files:
            found.append(here)
    known = {path.resolve() for path in found}
    for link in sorted(links):
        there = link.resolve()
        if there not in known and (there / PROJECT_FILE).is_file() and not (there / _RUN_FILE).exists():
            known.add(there)
            found.append(link)
    return sorted(found)
