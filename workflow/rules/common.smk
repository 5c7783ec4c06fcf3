"""The cases of this run, read when the workflow is read, and what the rules ask of them."""

from math import ceil

from fem.cost import predicted_cost
from workflow.case import CaseError
from workflow.digest import code_digest
from workflow.records import read_json
from workflow.selection import CasePlans

CASE_FOLDER = Path("configs/cases")
STAGES = [
    "tooth_mesh",
    "tooth_support",
    "wire_rod",
    "wire_solid",
    "equilibrium",
    "response",
    "bilinear",
    "force_activation",
    "course",
]

try:
    PLANS = CasePlans(CASE_FOLDER, config.get("cases", "lower_molar_uprighting"))
except CaseError as error:
    raise WorkflowError(str(error)) from None


wildcard_constraints:
    support="[0-9a-f]{12}",
    wire="[0-9a-f]{12}",
    case="[A-Za-z][A-Za-z0-9_-]*",
    tooth="[1-4][1-8]",


def of_teeth(pattern):
    """Files of the supports of a case's teeth, in the order of the teeth."""

    def files(wildcards):
        return expand(pattern, support=list(PLANS[wildcards.case].supports.values()))

    return files


def of_wire(pattern):
    """File of the wire of a case."""

    def file(wildcards):
        return pattern.format(wire=PLANS[wildcards.case].wire)

    return file


def cost_of_support(wildcards, input):
    """Foretold from the mesh, so not known before that is made."""
    spec = PLANS.supports[wildcards.support]
    hard = any(spec[part] is not None for part in ("tooth_body", "bone"))
    return predicted_cost(
        3 * read_json(input.meshed)["quadratic_nodes"], hard_tissue=hard
    )


def memory_of_support(wildcards, input, attempt):
    """Memory (MB), with room for the error of what is foretold."""
    return round(1.3 * attempt * cost_of_support(wildcards, input).memory_MB)


def minutes_of_support(wildcards, input, attempt):
    """Limit of time for queues that want one: ten times what two cores are foretold to take."""
    return ceil(10 * attempt * cost_of_support(wildcards, input).seconds / 60)


def case_of(wildcards):
    return PLANS[wildcards.case].case


def teeth_of(wildcards):
    return list(PLANS[wildcards.case].supports)
