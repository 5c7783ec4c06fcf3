"""The cases of this run, read when the workflow is read, and what the rules ask of them."""

from math import ceil

from workflow import report_story as story
from workflow.case import CaseError
from workflow.digest import code_digest
from workflow.figure_ranges import load_ranges
from workflow.records import read_json
from workflow.selection import CasePlans
from workflow.support_cost import UNKNOWN_COST, cost_of_support

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
    FIGURE_RANGES = load_ranges().model_dump()
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


def cost_foretold(wildcards, input):
    """Foretold from the mesh, so not known before that is made."""
    try:
        meshed = read_json(input.meshed)
    except ValueError:
        return UNKNOWN_COST  # the job refuses the damaged record by name
    return cost_of_support(PLANS.supports[wildcards.support], meshed)


def memory_of_support(wildcards, input, attempt):
    """Memory (MB), with room for the error of what is foretold and for what a queue counts too.

    A queued job is a Snakemake that starts another, up to 160 MB each.
    """
    foretold_MB = cost_foretold(wildcards, input).memory_MB
    return round(attempt * (1.3 * foretold_MB + 350))


def minutes_of_support(wildcards, input, attempt):
    """Limit of time for queues that want one: ten times what two cores are foretold to take."""
    return ceil(10 * attempt * cost_foretold(wildcards, input).seconds / 60)


def case_of(wildcards):
    return PLANS[wildcards.case].case


def teeth_of(wildcards):
    return list(PLANS[wildcards.case].supports)


def ranges_of(figures):
    """Ranges that the user fixed for some figures, None where the figures find their own."""
    return FIGURE_RANGES[figures]


# What the report shows of a folder of figures.
FIGURES_IN_FOLDER = ["{figure}.{kind,svg|csv}"]


def title_of(wildcards):
    return story.name_of_case(case_of(wildcards))


def reported(path, result, of=title_of, numbers=False, **rest):
    """A result with its place, its name and its words in the report.

    `result` is an entry of `story.RESULTS`, `of` says whose it is, `numbers` that the file is the
    table which a figure is drawn from.
    """
    told = story.RESULTS[result]

    # The report asks it by the names of its arguments.
    def labels(wildcards, input, output):
        return {"Result": told.label(wildcards, input, output, numbers)}

    return report(
        path,
        category=story.CHAPTERS[told.chapter],
        subcategory=of,
        labels=labels,
        caption=f"../report/captions/{result}.rst",
        **rest,
    )


def numbers_of(path, result, of=title_of):
    return reported(path, result, of, numbers=True)
