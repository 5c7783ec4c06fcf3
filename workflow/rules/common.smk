"""The cases of this run, read when the workflow is read, and what the rules ask of them."""

from workflow.case import CaseError
from workflow.digest import code_digest
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


def memory_of_support(wildcards, attempt):
    """Memory (MB): an elastic tooth or bone adds its interior to the direct solution."""
    spec = PLANS.supports[wildcards.support]
    elastic = sum(spec[part] is not None for part in ("tooth_body", "bone"))
    return (2500, 4000, 6000)[elastic] * attempt


def case_of(wildcards):
    return PLANS[wildcards.case].case


def teeth_of(wildcards):
    return list(PLANS[wildcards.case].supports)
