"""Where the report of each folder stands below that of the programme."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path, PurePosixPath

from vaporqa.errors import Problem, UsageError


def names_of(folders: Sequence[Path]) -> list[str]:
    """Return the folder's own name, or as much of its path as tells it from others of that name.

    Raises
    ------
    UsageError
        A folder is named twice, or one report would stand inside another.

    Examples
    --------
    >>> names_of([Path("/a/north"), Path("/b/north"), Path("/b/south")])
    ['a/north', 'b/north', 'south']
    """
    paths = [folder.resolve().parts[1:] for folder in folders]
    twice = [parts for parts, count in Counter(paths).items() if count > 1]
    if twice:
        raise UsageError(Problem("", 0, 0, f"the folder '{'/'.join(twice[0])}' is named twice", "name it once"))
    depth = [1] * len(paths)
    while True:
        names = ["/".join(parts[-deep:]) for parts, deep in zip(paths, depth, strict=True)]
        counts = Counter(names)
        shared = [at for at, name in enumerate(names) if counts[name] > 1]
        if not shared:
            break
        for at in shared:
            depth[at] += 1
    known = set(names)
    for name in names:
        outer = next((str(one) for one in PurePosixPath(name).parents if str(one) in known), "")
        if outer or not name:
            message = f"the report of '{name}' would stand inside that of '{outer}'" if name else "a folder has no name"
            raise UsageError(Problem("", 0, 0, message, "rename a folder, or check them one by one"))
    return names
