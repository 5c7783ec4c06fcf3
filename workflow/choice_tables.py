"""What is written about a choice: ranking, page, parts of the figure, cases of the best."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pandas as pd
import yaml

from workflow.case import validate_case
from workflow.cautions import CAUTION
from workflow.choice import BEST, Ranked
from workflow.choice_config import Choice
from workflow.choice_score import aims_of, leading_aim, reasons, shares
from workflow.choice_setups import case_content
from workflow.figures import couple_text, force_text
from workflow.pages import page
from workflow.units import GF_PER_N


def ranking_table(choice: Choice, ranked: Sequence[Ranked]) -> pd.DataFrame:
    """One row a set-up, the best first."""
    aims, lines = aims_of(choice), []
    for place, r in enumerate(ranked, start=1):
        line: dict[str, Any] = {
            "rank": None if r.disqualified else place,
            "set_up": r.candidate.name,
            "agreement": None if r.outcome is None else r.agreement,
            "solved": "at this couple" if r.exact else "scaled",
        }
        if r.outcome is not None:
            line |= {
                "couple_Nmm": r.outcome.couple_Nmm,
                "force_N": r.outcome.force_N,
                "force_gf": r.outcome.force_N * GF_PER_N,
                "yield_ratio": r.outcome.yield_ratio,
            }
            for aim in aims:
                line[f"{aim.unit}_{aim.component}"] = r.outcome.movements[aim.unit][aim.component]
        line |= {"reasons": _why(choice, r), "disqualified": r.disqualified}
        lines.append(line)
    table = pd.DataFrame(lines).astype({"rank": "Int64"})
    words = ["reasons", "disqualified"]
    return table[[name for name in table if name not in words] + words]


def parts_table(choice: Choice, ranked: Sequence[Ranked]) -> pd.DataFrame:
    """One row a wish and set-up: how much of all movement that counts it is."""
    aims = aims_of(choice)
    return pd.DataFrame(
        [
            {
                "set_up": r.candidate.label,
                "agreement": r.agreement,
                "disqualified": bool(r.disqualified),
                "unit": aim.unit,
                "movement": aim.word,
                "wish": "wanted" if aim.wanted else "unwanted",
                "share": share,
            }
            for r in ranked
            if r.outcome is not None
            for aim, share in zip(aims, shares(aims, r.outcome.movements), strict=True)
        ]
    )


def ranking_html(choice: Choice, ranked: Sequence[Ranked]) -> str:
    """The ranking as a page; everything from the file is escaped."""
    aims = aims_of(choice)
    lead = leading_aim(aims)
    return page(
        "choice.html.j2",
        title=choice.title,
        lead=f"{lead.word} of {lead.unit}",
        lever_mm=f"{choice.lever_mm:g}",
        first_couple=couple_text(choice.first_couple_Nmm, " "),
        wishes=[
            (
                aim.unit,
                aim.word,
                _wish_text(aim.amount_um, aim.lever_um_per_mrad),
                f"{aim.weight:g}",
            )
            for aim in aims
        ],
        choices=[_line(choice, r) for r in ranked if not r.disqualified],
        refused=[
            (r.candidate.words, _why(choice, r), r.disqualified) for r in ranked if r.disqualified
        ],
        caution=CAUTION,
    )


def best_cases(choice: Choice, ranked: Sequence[Ranked]) -> dict[str, str]:
    """Case files of the best set-ups, text by name of the case.

    Raises
    ------
    CaseError
        If a case file would not be read.
    """
    files = {}
    for place, r in enumerate([r for r in ranked if not r.disqualified][:BEST], start=1):
        assert r.outcome is not None
        name = f"{choice.choice[:50]}_{place}"
        content = case_content(choice, r.candidate, r.outcome.couple_Nmm, name)
        validate_case(content, f"{name}.yaml", name)
        files[name] = yaml.safe_dump(_numbered(content), sort_keys=False, allow_unicode=True)
    return files


def write_best_cases(choice: Choice, ranked: Sequence[Ranked], folder: str | Path) -> None:
    """Write the case files of the best set-ups into a folder, which is made."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    for name, text in best_cases(choice, ranked).items():
        (Path(folder) / f"{name}.yaml").write_text(text, encoding="utf-8")


def write_text(text: str, path: str | Path) -> None:
    """Write a text as it is."""
    Path(path).write_text(text, encoding="utf-8")


def _numbered(value: Any) -> Any:
    """The content with tooth numbers as keys again, as a user writes them."""
    if isinstance(value, dict):
        return {
            int(key) if str(key).isdigit() else key: _numbered(inner)
            for key, inner in value.items()
        }
    return value


def _wish_text(amount_um: float, lever: float) -> str:
    return f"wanted, {amount_um / lever:.3g}" if amount_um > 0 else "unwanted"


def _line(choice: Choice, r: Ranked) -> dict[str, str]:
    assert r.outcome is not None
    return {
        "setup": r.candidate.words,
        "agreement": f"{r.agreement:.2f}",
        "force": force_text(r.outcome.force_N, " "),
        "couple": couple_text(r.outcome.couple_Nmm, " "),
        "yield": f"{100 * r.outcome.yield_ratio:.0f} %",
        "why": _why(choice, r),
        "solved": "yes" if r.exact else "scaled",
    }


def _why(choice: Choice, r: Ranked) -> str:
    if r.outcome is None:
        return ""
    teeth = {name: len(unit["teeth"]) for name, unit in choice.base["units"].items()}
    return "; ".join(reasons(aims_of(choice), r.outcome.movements, teeth))
