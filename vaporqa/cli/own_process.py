"""What only a process of our own may do to itself, so that a command answers sooner."""

from __future__ import annotations

import sys

#: Set by the command line's entry point; never where somebody else's process calls us.
OURS: list[bool] = []


def leave_pandas_out() -> None:
    """Let pyarrow believe that pandas is not installed: no command needs it, and its import costs a fifth of a second.

    pyarrow looks for pandas once, at the first array that it makes, and remembers the answer. Nothing else is kept from
    importing it afterwards.
    """
    if not OURS or "pandas" in sys.modules:
        return
    import pyarrow as pa

    refuse = _RefusePandas()
    sys.meta_path.insert(0, refuse)
    try:
        pa.scalar("")
    finally:
        sys.meta_path.remove(refuse)


class _RefusePandas:
    """An import finder that knows of no pandas."""

    def find_spec(self, name: str, path: object = None, target: object = None) -> None:
        """Refuse pandas, and leave everything else to the other finders."""
        if name == "pandas":
            raise ModuleNotFoundError(name)
