"""What the support of a meshed tooth will take: one foretelling for the plan and for the job."""

from __future__ import annotations

from fem.cost import Cost, predicted_cost
from workflow.specs import Spec

UNKNOWN_COST = Cost(memory_MB=1000.0, seconds=60.0)  # of a mesh whose record cannot be read


def cost_of_support(spec: Spec, meshed: Spec) -> Cost:
    """Foretold cost of a support.

    Parameters
    ----------
    spec
        Of the support.
    meshed
        Content of ``mesh.json``.
    """
    hard = any(spec[part] is not None for part in ("tooth_body", "bone"))
    return predicted_cost(3 * meshed["quadratic_nodes"], hard_tissue=hard)
