"""What becomes of one file: refused in good form, accepted and carried on, or a fault of ours."""

from __future__ import annotations

import re
import time
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel

from tests.corpus.scans import NAME
from workflow.case import resolved
from workflow.case_errors import CaseError, Problem
from workflow.case_places import load_placed_case
from workflow.case_teeth import Scan
from workflow.catalogue import (
    Alloy,
    Attachment,
    BilinearLigament,
    HardTissue,
    Ligament,
    Row,
    Section,
    load_catalogue,
    read_rows,
)
from workflow.choice_config import Choice
from workflow.choice_file import load_choice
from workflow.choice_setups import candidate_case, candidates
from workflow.comparison import Comparison
from workflow.comparison_file import load_comparison
from workflow.figure_ranges import FigureRanges, load_ranges
from workflow.plan import MOST_BAR_ANGLE_DEG, bar_angle_deg, cantilever_sites, make_plan
from workflow.reproduction_config import Reproduction, load_reproduction
from workflow.search_config import Search, count_of, load_search
from workflow.simplified import SimplifiedStudy, load_simplified_study
from workflow.study import SupportStudy, load_support_study
from workflow.sweep_config import ParameterStudy, load_parameter_study
from workflow.sweep_design import design_points
from workflow.sweep_runs import make_run
from workflow.sweep_supports import study_supports
from workflow.wire_specs import fibre_section, wire_material, wire_section
from workflow.wire_study import WireStudy, load_wire_study
from workflow.yaml_nodes import parse

SCANNED = Path("configs/cases/lower_molar_uprighting.yaml")
SLOWEST_S = 5.0
_FEW_RUNS = 20
_REMEDY = re.compile(
    r"\b(give|write|drop|use|add|keep|choose|change|save|copy|name|check|rename|leave|put|look|mend|"
    r"make|must|needs?|set|flatten|delete|indent|correct|place|lengthen|shorten|lessen|known|"
    r"did you mean|at most|at least|belongs|export|state|reduce|fits)\b",
    re.I,
)


@dataclass(frozen=True)
class Verdict:
    """What became of one file.

    ``outcome`` is refused, accepted, traceback (something else than a refusal was raised), slow,
    form (a message lacks something) or late (accepted, and refused further on for a reason that
    could have been seen). ``note`` says why where it is one of the last four; ``seconds`` is the
    time of the processor for validation alone, so that a busy machine does not count.
    """

    outcome: str
    seconds: float
    note: str = ""
    spec: Any = None


def _case(path: Path) -> Any:
    return load_placed_case(path)


def _carry_case(case: Any) -> str:
    make_plan(case)
    return ""


def _carry_study(loaded: Any) -> str:
    """Teeth of a study of ordinary size, and some runs: not all may be refused."""
    points = design_points(loaded.study)
    step = max(len(points) // _FEW_RUNS, 1)
    runs = [make_run(loaded, point) for point in points[::step]]
    if len(points) <= 200 and not any(run.case for run in runs):
        runs = [make_run(loaded, point) for point in points]
        if not any(run.case for run in runs):
            return f"no run of the study makes a case: {runs[0].note}"
    if len(points) <= 2000:
        study_supports(loaded)
    return ""


def _carry_search(found: Any) -> str:
    search, _ = found
    count_of(search)
    return ""


def _carry_choice(choice: Any) -> str:
    """Every set-up is a case, and some of them has its places."""
    said = []
    for candidate in candidates(choice)[:40]:
        case = resolved(candidate_case(choice, candidate, choice.first_couple_Nmm))
        try:
            angle = bar_angle_deg(cantilever_sites(case))
        except ValueError as error:
            said.append(str(error))
            continue
        if angle is None or angle <= MOST_BAR_ANGLE_DEG:
            return ""
        said.append(f"meets the bar at {angle:.0f}°")
    return f"no set-up has its places: {said[:1]}"


def _carry_comparison(comparison: Any) -> str:
    gone = [name for name in comparison.cases if not Path(f"configs/cases/{name}.yaml").is_file()]
    return f"no such cases: {gone}" if gone else ""


def _nothing(found: Any) -> str:
    return ""


def _rows(model: type[Row]) -> Callable[[Path], Any]:
    return lambda path: read_rows(path, model)


def _carry_wires(rows: Any) -> str:
    """Every section and every alloy makes a wire."""
    known = load_catalogue()
    alloy, section = known.alloys["beta_titanium"], known.sections["round_0.018_in"]
    for row in rows.values():
        pair = (alloy, row) if isinstance(row, Section) else (row, section)
        specs = [part.model_dump(mode="json") for part in pair]
        fibre_section(*specs)
        wire_section(specs[1])
        wire_material(specs[0])
    return ""


KINDS: dict[str, tuple[Callable[[Path], Any], Callable[[Any], str]]] = {
    "case": (_case, _carry_case),
    "parameter study": (load_parameter_study, _carry_study),
    "study of supports": (load_support_study, _nothing),
    "study of wires": (load_wire_study, _nothing),
    "study of simple models": (load_simplified_study, _nothing),
    "search": (load_search, _carry_search),
    "choice": (load_choice, _carry_choice),
    "comparison": (load_comparison, _carry_comparison),
    "scanned case": (_case, _carry_case),
    "ranges of figures": (load_ranges, _nothing),
    "figures to reproduce": (load_reproduction, _nothing),
    "alloys": (_rows(Alloy), _carry_wires),
    "sections": (_rows(Section), _carry_wires),
    "attachments": (_rows(Attachment), _nothing),
    "ligaments": (_rows(Ligament), _nothing),
    "bilinear_ligaments": (_rows(BilinearLigament), _nothing),
    "hard_tissues": (_rows(HardTissue), _nothing),
}
# Models of the kinds that are no cases, whose keys are tried.
MODELS: dict[str, type[BaseModel]] = {
    "search": Search, "choice": Choice, "comparison": Comparison, "ranges of figures": FigureRanges,
    "figures to reproduce": Reproduction, "scanned case": Scan, "alloys": Alloy,
    "sections": Section, "attachments": Attachment, "ligaments": Ligament,
    "bilinear_ligaments": BilinearLigament, "hard_tissues": HardTissue,
    "study of supports": SupportStudy, "study of wires": WireStudy,
    "parameter study": ParameterStudy, "study of simple models": SimplifiedStudy,
}  # fmt: skip


def shipped() -> list[tuple[str, Path]]:
    """Kind and path of every file that is mutated."""
    own = {"supports": "study of supports", "wires": "study of wires",
           "simplified": "study of simple models"}  # fmt: skip
    found = [("case", path) for path in sorted(Path("configs/cases").glob("*.yaml"))]
    for path in sorted(Path("configs/studies").glob("*.yaml")):
        found.append((own.get(path.stem, "parameter study"), path))
    for folder, kind in (
        ("searches", "search"),
        ("choices", "choice"),
        ("comparisons", "comparison"),
    ):
        found += [(kind, path) for path in sorted(Path("configs", folder).glob("*.yaml"))]
    tables = [kind for kind in KINDS if Path(f"configs/catalogue/{kind}.yaml").is_file()]
    found += [(kind, Path(f"configs/catalogue/{kind}.yaml")) for kind in tables]
    found.append(("ranges of figures", Path("configs/figures.yaml")))
    found.append(("figures to reproduce", Path("configs/reproduction.yaml")))
    return [*found, ("scanned case", SCANNED)]


def text_of(kind: str, path: Path) -> str:
    """What is mutated of a file; the scanned case is one of the project with a scan in it."""
    return _with_a_scan(path) if kind == "scanned case" else path.read_text(encoding="utf-8")


def _with_a_scan(path: Path) -> str:
    content = yaml.safe_load(path.read_text(encoding="utf-8"))
    scan = {"file": NAME, "unit": "mm", "long_axis": [0, 0, 1], "buccal": [0, 1, 0]}
    return yaml.safe_dump(content | {"teeth": {37: {"scan": scan}}}, sort_keys=False)


def judged(kind: str, path: Path) -> Verdict:
    """Read a file and carry it on as far as is cheap."""
    read, carry = KINDS[kind]
    start = time.process_time()
    try:
        found = read(path)
    except CaseError as error:
        taken = time.process_time() - start
        faults = list(form_faults(error.problems, path))
        if taken > SLOWEST_S:
            return Verdict("slow", taken, str(error)[:300])
        return Verdict("form", taken, faults[0]) if faults else Verdict("refused", taken)
    except Exception:  # whatever it is, it is ours
        return Verdict("traceback", time.process_time() - start, traceback.format_exc(limit=-4))
    taken = time.process_time() - start
    if taken > SLOWEST_S:
        return Verdict("slow", taken)
    try:
        late = carry(found)
    except Exception:
        late = traceback.format_exc(limit=-4)
    return Verdict("late" if late else "accepted", taken, late, found)


def form_faults(problems: Iterable[Problem], path: Path) -> Iterable[str]:
    """What the messages of a file lack: the file, a line, a key, a remedy, one line of text."""
    tops = _tops(path)
    for problem in problems:
        text = str(problem)
        of_file = problem.source == str(path)
        if not (of_file or problem.source.startswith("configs/")):
            yield f"no file: {text}"
        if not text.isprintable():
            yield f"more than one visible line: {text!r}"
        if not problem.key and not re.search(_OF_FILE, problem.message):
            yield f"no key: {text}"
        top = re.split(r"[.\[]", problem.key)[0]
        if of_file and top in tops and problem.line is None:
            yield f"no line: {text}"
        if not _REMEDY.search(problem.message):
            yield f"no remedy: {text}"


_OF_FILE = (
    r"the file|UTF-8|holds a|KiB|a key must|a key \w+ is read|written twice|YAML|tags|aliases"
)


def _tops(path: Path) -> set[str]:
    """Keys of the top level of a file, whose problems must have a line."""
    try:
        return {key.split(".")[0].split("[")[0] for key in parse(path.read_text("utf-8-sig")).lines}
    except (OSError, ValueError, yaml.YAMLError, RecursionError):
        return set()
