"""Deliberate faults in the code, each with the check that must notice it.

A check that passes proves little unless it fails when what it checks is broken. Each fault is one
change of one line, tried in a copy of the project.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
_COPIED = ("geometry", "fem", "workflow", "configs")


@dataclass(frozen=True)
class Fault:
    """One change of the code and the check that must fail then.

    Attributes
    ----------
    what
        The mistake in plain words.
    file
        Path from the project's folder.
    right, wrong
        Text as it is, found once in the file, and as the fault has it.
    check
        Id of the check that must fail.
    """

    what: str
    file: str
    right: str
    wrong: str
    check: str

    def planted(self, text: str) -> str:
        """The text of the file with the fault.

        Raises
        ------
        ValueError
            If the text to change does not stand there once.
        """
        if (n := text.count(self.right)) != 1:
            raise ValueError(
                f"{self.file}: {self.right!r} of fault {self.what!r} stands there {n} times; "
                "write a piece of the code that is there once"
            )
        return text.replace(self.right, self.wrong)


@dataclass(frozen=True)
class Caught:
    """What a check said of a fault.

    Attributes
    ----------
    fault
        The fault.
    failed
        Whether the check failed, as it must.
    error
        Its error; None if it raised.
    said
        What it raised, if it did.
    """

    fault: Fault
    failed: bool
    error: float | None
    said: str

    def record(self) -> dict[str, Any]:
        """Entry of ``faults.json``."""
        fault = self.fault
        return {
            "what": fault.what,
            "file": fault.file,
            "right": fault.right,
            "wrong": fault.wrong,
            "check": fault.check,
            "caught": self.failed,
            "error": self.error,
            "said": self.said,
        }


def try_fault(fault: Fault) -> Caught:
    """Run the check of a fault in a copy of the project that has it.

    Raises
    ------
    RuntimeError
        If the check could not be run at all, as where the fault breaks the import.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in _COPIED:
            shutil.copytree(
                ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "*.pyc")
            )
        file = copy / fault.file
        file.write_text(fault.planted(file.read_text(encoding="utf-8")), encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-m", "workflow.verification", "--json", fault.check],
            cwd=copy,
            env=os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"},
            capture_output=True,
            text=True,
            check=False,
        )
    try:
        (record,) = json.loads(done.stdout)
    except ValueError:
        raise RuntimeError(f"fault {fault.what!r}: {done.stderr.strip()[-500:]}") from None
    return Caught(fault, not record["passed"], record["error"], record["note"])


FAULTS: tuple[Fault, ...] = (
    Fault(
        "strain energy of shear paired with the wrong derivative",
        "fem/assembly.py",
        "parts += shear[:, None] * products[:, :, :, :, i]",
        "parts += shear[:, None] * products[:, :, :, i, :]",
        "nodal_forces",
    ),
    Fault(
        "dilatation of the wrong directions in a layer",
        "fem/assembly.py",
        "local[..., :2]], axis=2)",
        "local[..., 1:]], axis=2)",
        "quadratic_fields_along_layers",
    ),
    Fault(
        "weights of a projected dilatation a fifth too small",
        "fem/assembly.py",
        "weights = np.repeat(space.volumes[rows] / 4, 4)",
        "weights = np.repeat(space.volumes[rows] / 5, 4)",
        "lame_cylinder_layered",
    ),
    Fault(
        "shape function of an edge with one corner twice",
        "fem/space.py",
        "table[:, edge, b] = 4 * barycentric[:, a]",
        "table[:, edge, b] = 4 * barycentric[:, b]",
        "patch_test",
    ),
    Fault(
        "shear strain 2 % too small",
        "fem/space.py",
        "strain[:, component] = 0.5 * (jacobian[:, i, j] + jacobian[:, j, i])",
        "strain[:, component] = 0.49 * (jacobian[:, i, j] + jacobian[:, j, i])",
        "nafems_le1",
    ),
    Fault(
        "sign of the stiffness of stress",
        "fem/sweep_solid.py",
        'A += np.einsum("...JL,ij->...JijL", S, np.eye(3))',
        'A -= np.einsum("...JL,ij->...JijL", S, np.eye(3))',
        "tangent_from_forces",
    ),
    Fault(
        "torsion spread over the wrong second moments",
        "fem/sweep_solid.py",
        "np.outer(by_z, e2)) / (I_2 + I_3)",
        "np.outer(by_z, e2)) / (I_2 + I_2)",
        "macneal_harder_twist",
    ),
    Fault(
        "first Lamé constant with a wrong sign of ν",
        "fem/material.py",
        "nu / ((1 + nu) * (1 - 2 * nu))",
        "nu / ((1 - nu) * (1 - 2 * nu))",
        "lame_sphere",
    ),
    Fault(
        "constrained modulus with one shear modulus missing",
        "fem/material.py",
        "return self.lame_MPa + 2 * self.shear_modulus_MPa",
        "return self.lame_MPa + self.shear_modulus_MPa",
        "winkler_bodies",
    ),
    Fault(
        "mean stress of the ligament a tenth too small",
        "fem/support.py",
        "values[:, :3] += material.lame_MPa * dilatation[:, None]",
        "values[:, :3] += 0.9 * material.lame_MPa * dilatation[:, None]",
        "stress_does_the_reactions_work",
    ),
    Fault(
        "shear factor of a rectangle",
        "fem/section.py",
        "10 * (1 + nu) / (12 + 11 * nu)",
        "10 * (1 + nu) / (12 + 10 * nu)",
        "shear_factors",
    ),
    Fault(
        "correction of the rod's element halved",
        "fem/rod.py",
        "return (A / stiffness) @ np.swapaxes(A, 1, 2) / 12",
        "return (A / stiffness) @ np.swapaxes(A, 1, 2) / 24",
        "rod_order_elastica",
    ),
    Fault(
        "stress resultants at one end of a piece a tenth too large",
        "fem/rod.py",
        "ends * np.array([-1.0, 1.0])[None, :, None]",
        "ends * np.array([-1.0, 1.1])[None, :, None]",
        "stress_at_the_mouth",
    ),
    Fault(
        "transformation that never ends",
        "fem/uniaxial.py",
        "target = np.where(loading, 1.0, 0.0)",
        "target = np.where(loading, 1.0, 0.01)",
        "superelastic_loop",
    ),
    Fault(
        "friction a tenth too small",
        "fem/friction.py",
        "drag = -way * coefficient * along",
        "drag = -0.9 * way * coefficient * along",
        "rough_bar_friction",
    ),
    Fault(
        "angle of a wire in its slot",
        "fem/slot.py",
        "asin(slot_mm / diagonal) - atan(wire_mm / contact_mm)",
        "asin(slot_mm / diagonal) - asin(wire_mm / contact_mm)",
        "torsional_play_printed",
    ),
    Fault(
        "centre of stiffness by the wrong matrix",
        "fem/resistance.py",
        "np.trace(A) * np.eye(3) - A, _vee",
        "np.trace(A) * np.eye(3) + A, _vee",
        "centre_of_even_springs",
    ),
    Fault(
        "σ² upside down",
        "fem/resistance.py",
        "return float(translation / rotation)",
        "return float(rotation / translation)",
        "rotation_parameter_of_planar_roots",
    ),
    Fault(
        "teeth of a unit shifted the wrong way",
        "fem/unit.py",
        "shift_stiffness(in_patient, tooth.place, origin)",
        "shift_stiffness(in_patient, origin, tooth.place)",
        "centre_of_joined_teeth",
    ),
    Fault(
        "friction that helps while activating",
        "fem/friction.py",
        "slip_back) = rubbing(drag), rubbing(-drag)",
        "slip_back) = rubbing(-drag), rubbing(drag)",
        "friction_on_a_slope",
    ),
    Fault(
        "a unit that one of two wires feels twice as stiff",
        "fem/mirror.py",
        "K * _SYMMETRIC / 2",
        "K * _SYMMETRIC",
        "two_mirrored_wires",
    ),
    Fault(
        "moments of the contacts about the wrong point",
        "fem/appliance.py",
        "shift_wrench(c.wrench, c.point, point)",
        "shift_wrench(c.wrench, point, c.point)",
        "action_and_reaction",
    ),
    Fault(
        "oscillating grids treated as monotone",
        "fem/grid_convergence.py",
        "parts = np.expm1(logs) if sign > 0 else np.exp(logs) + 1.0",
        "parts = np.expm1(logs)",
        "grid_index_order",
    ),
    Fault(
        "extrapolated away from the limit",
        "fem/grid_convergence.py",
        "float(f[0] - (f[1] - f[0]) / np.expm1",
        "float(f[0] + (f[1] - f[0]) / np.expm1",
        "grid_index_extrapolated",
    ),
    Fault(
        "safety factor of the index",
        "fem/grid_convergence.py",
        "SAFETY_OF_THREE = 1.25",
        "SAFETY_OF_THREE = 1.5",
        "grid_index_nparc",
    ),
    Fault(
        "a quarter of the rod's elements",
        "fem/cantilever.py",
        "pieces=(TUBE_PIECES, BEND_PIECES, wire.elements)",
        "pieces=(TUBE_PIECES, BEND_PIECES, wire.elements // 4)",
        "mesh_error_rod",
    ),
)
