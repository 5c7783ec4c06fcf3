"""Materials of the tissues in the specs of cases and supports."""

from __future__ import annotations

from fem.material import Elastic
from workflow.specs import Spec
from workflow.tooth_specs import elastic_regions


def elastic(constants: Spec) -> Elastic:
    """Material of a row or of anything else that holds its two constants."""
    return Elastic(constants["youngs_modulus_MPa"], constants["poisson_ratio"])


def materials(spec: Spec) -> dict[str, Elastic]:
    """Material of every elastic region of a support spec."""
    return {name: elastic(row) for name, row in elastic_regions(spec).items()}
