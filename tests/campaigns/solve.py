"""Accepted cases solved on teeth on springs, and their teeth meshed: what fails must say why."""

from __future__ import annotations

import signal
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fem.appliance import EquilibriumError
from tests.sweeps import write_support
from workflow.case_units import case_units
from workflow.digest import spec_id
from workflow.equilibrium import engage_case
from workflow.plan import teeth_of
from workflow.tooth_meshes import build_mesh
from workflow.tooth_specs import support_spec

MOST_S = 60

# What only solving can tell, by a part of its message.
MECHANICAL = (
    "no equilibrium",
    "no offset",
    "activation",
    "force left",
    "at rest in its tube",
    "slips",
    "yield",
    "cannot reach",
)


class TooSlowError(Exception):
    """A solution was given up."""


@contextmanager
def limited(seconds: int) -> Iterator[None]:
    def stop(*_: Any) -> None:
        raise TooSlowError

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def stand_ins(case: Any, folder: Path) -> dict[int, str]:
    """Support files of a case's teeth: straight roots in a uniform bed."""
    files = {}
    for tooth in teeth_of(case):
        spec = support_spec(case, tooth)
        place = folder / spec_id(spec)
        if not place.is_dir():
            place.mkdir(parents=True)
            write_support(place, spec)
        files[tooth] = str(place / "support.json")
    return files


def solved(case: Any, folder: Path) -> tuple[str, str]:
    """Outcome (solved, mechanical, too slow, input) of engaging the wire of a case, and why."""
    try:
        files = stand_ins(case, folder)
        with limited(MOST_S):
            engage_case(case, case_units(case, files))
    except EquilibriumError as error:
        return "mechanical", str(error)
    except TooSlowError:
        return "too slow", f"more than {MOST_S} s"
    except ValueError as error:
        if any(words in str(error) for words in MECHANICAL):
            return "mechanical", str(error)
        return "input", traceback.format_exc(limit=-3)
    except Exception:
        return "input", traceback.format_exc(limit=-3)
    return "solved", ""


def meshed(case: Any, number: int) -> tuple[str, str]:
    """Outcome (meshed, no mesh, too slow, input) of meshing one tooth of a case, and why."""
    teeth = teeth_of(case)
    tooth = teeth[number % len(teeth)]
    try:
        with limited(MOST_S):
            build_mesh(support_spec(case, tooth))
    except TooSlowError:
        return "too slow", f"more than {MOST_S} s"
    except ValueError as error:
        return "no mesh", str(error)
    except Exception:
        return "input", traceback.format_exc(limit=-3)
    return "meshed", ""
