"""Materials of the tissues in the specs of cases and supports."""

from __future__ import annotations

from fem.material import Elastic
from workflow.specs import Spec


def elastic(constants: Spec) -> Elastic:
    """Material of a row or of anything else that holds its two constants."""
    return Elastic(constants["youngs_modulus_MPa"], constants["poisson_ratio"])


def materials(spec: Spec) -> dict[str, Elastic]:
    """Material of every elastic region of a support spec."""
    found = {"ligament": elastic(spec)}
    for part in ("tooth_body", "bone"):
        rows = (spec[part] or {}).items()
        found |= {name: elastic(row) for name, row in rows if isinstance(row, dict)}
    if "dentine" in found and "enamel" not in found:
        found["tooth"] = found.pop("dentine")
    return found
