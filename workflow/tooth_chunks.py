"""Many teeth in one job, each kept as soon as it is made.

Every tooth is made by the functions that the rules of single teeth call.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any, TextIO

import numpy as np

from workflow.records import read_json
from workflow.specs import Spec
from workflow.supports import compute_support, save_support
from workflow.tooth_meshes import build_mesh, save_mesh
from workflow.tooth_store import MadeTooth, ToothStore


def make_teeth(
    specs: Mapping[str, Spec], store: ToothStore, progress: TextIO | None = None
) -> list[dict[str, Any]]:
    """Make what is missing of some teeth, one after the other.

    Parameters
    ----------
    specs
        Spec of each support by its id.
    store
        Where they are kept.
    progress
        Where to say how far it is, beside standard output.

    Returns
    -------
    list
        Of each tooth what the store knows of it, and ``made_here``: whether it was missing.
    """
    store.clear()
    records = []
    for support, spec in specs.items():
        known = store.find(support)
        made = known or make_tooth(support, spec, store)
        records.append(asdict(made) | {"made_here": known is None})
        said = made.reason or f"{made.wall_s:.1f} s" + (" when it was made" if known else "")
        line = f"{len(records)} of {len(specs)}: tooth {made.tooth} ({support}): {said}"
        print(line)
        if progress is not None:
            print(line, file=progress, flush=True)
    return records


def make_tooth(support: str, spec: Spec, store: ToothStore) -> MadeTooth:
    """Mesh a tooth, compute its support and keep both; what cannot be made is kept as its reason.

    A reason is kept as an answer is: the same code on the same tooth fails again.
    """
    started = time.perf_counter(), time.process_time()
    made, reason = None, ""
    try:
        mesh, built = build_mesh(spec)
        made = mesh, built, compute_support(mesh, spec)
    except (ValueError, RuntimeError, np.linalg.LinAlgError) as error:
        reason = " ".join(str(error).split()) or type(error).__name__
    spent = time.perf_counter() - started[0], time.process_time() - started[1]

    def write(folder: Path) -> None:
        assert made is not None
        mesh, built, solved = made
        meshed = folder / "mesh.json"
        save_mesh(folder / "mesh.vtu", meshed, spec, mesh, built)
        save_support(folder, mesh, solved, spec, read_json(meshed))

    return store.add(MadeTooth(support, spec["tooth"], store.code, *spent, reason, {}), write)
