"""Write the sample project folders anew: `python tests/sample_folders/make.py`. Same bytes on every machine."""

from __future__ import annotations

import importlib
from pathlib import Path

from faults import Fault
from paper import Folder

SAMPLE_INPUTS = Path(__file__).resolve().parents[2] / "sample_inputs"
FOLDERS = {
    "larkspur-yard": "larkspur_yard", "cutbank-terminal": "cutbank_terminal", "alder-crossing": "alder_crossing",
    "ridgeback-landfill": "ridgeback_landfill", "thornfield-pipeline": "thornfield_pipeline",
    "marrowgate-plating": "marrowgate_plating", "quillback-wharf": "quillback_wharf",
    "bramblegate-dyeworks": "bramblegate_dyeworks",
}  # fmt: skip


def build(name: str) -> tuple[Folder, tuple[Fault, ...]]:
    """A folder and the faults planted in it."""
    module = importlib.import_module(FOLDERS[name])
    folder: Folder = module.build()
    faults: tuple[Fault, ...] = module.FAULTS
    return folder, faults


if __name__ == "__main__":
    for folder_name in FOLDERS:
        build(folder_name)[0].write(SAMPLE_INPUTS)
