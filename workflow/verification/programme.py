"""All areas of the verification programme, and how one of them is run."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from pathlib import Path
from time import perf_counter
from types import ModuleType

import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.records import write_json
from workflow.verification.check import Check, Picture

AREAS = (
    "continuum",
    "benchmarks",
    "rods",
    "sections",
    "inelastic",
    "layers",
    "resistance",
    "appliances",
    "solution",
    "validation",
    "peers",
)


def checks_of(area: str) -> tuple[Check, ...]:
    """Checks of one area: what its module calls ``CHECKS``."""
    checks: tuple[Check, ...] = _module(area).CHECKS
    return checks


def pictures_of(area: str) -> tuple[Picture, ...]:
    """Figures of one area; most have none."""
    return getattr(_module(area), "PICTURES", ())


def all_checks(areas: Iterable[str] = AREAS) -> dict[str, Check]:
    """Every check by its id.

    Raises
    ------
    ValueError
        If two checks have one id.
    """
    checks: dict[str, Check] = {}
    for area in areas:
        for check in checks_of(area):
            if check.id in checks:
                raise ValueError(f"two checks are called {check.id}; rename the one in {area}.py")
            checks[check.id] = check
    return checks


def run_area(area: str) -> list[dict[str, object]]:
    """Records of all checks of an area, with the time each took.

    A check that raises is a row that failed: it must not hide the others.
    """
    records = []
    for check in checks_of(area):
        started = perf_counter()
        record = check.attempt().record()
        records.append({"area": area} | record | {"seconds": perf_counter() - started})
        print(f"{check.id}: {'passed' if record['passed'] else 'FAILED'}")
    return records


def write_area(area: str, records_path: str, folder: str) -> None:
    """Write the records of an area and its figures, each beside the table it is drawn from."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    pictures = []
    for picture in pictures_of(area):
        stem = Path(folder) / picture.name
        write_table(picture.table(), str(stem.with_suffix(".csv")))
        table = pd.read_csv(stem.with_suffix(".csv"))
        files = [str(stem.with_suffix(suffix)) for suffix in (".svg", ".png")]
        title = f"Verification: {picture.name.replace('_', ' ')}"
        save_figure(picture.draw(table), *files, title=title, description=picture.caption)
        pictures.append({"name": picture.name, "caption": picture.caption})
    write_json(records_path, {"checks": run_area(area), "pictures": pictures})


def _module(area: str) -> ModuleType:
    return import_module(f"workflow.verification.{area}")
