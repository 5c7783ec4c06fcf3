"""The page of the study of simplified models: limits of use first, then one chapter a formula."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from workflow.pages import data_uri, page
from workflow.simplified_chapter import Chapter
from workflow.simplified_words import bending_chapter, loops_chapter, tube_chapter
from workflow.simplified_words_planar import planar_chapter
from workflow.simplified_words_teeth import (
    centre_chapter,
    layer_chapter,
    rigidity_chapter,
    winkler_chapter,
)


@dataclass(frozen=True)
class Maps:
    """The error maps.

    Attributes
    ----------
    bending, tube, play, centre, teeth, winkler, planar
        Tables of this study.
    small, far
        Tables of the study of wires: stiffness, and a straight wire bent far.
    thin_layer, rigidity
        Tables of the study of supports.
    """

    bending: pd.DataFrame
    tube: pd.DataFrame
    play: pd.DataFrame
    centre: pd.DataFrame
    teeth: pd.DataFrame
    winkler: pd.DataFrame
    planar: pd.DataFrame
    small: pd.DataFrame
    far: pd.DataFrame
    thin_layer: pd.DataFrame
    rigidity: pd.DataFrame

    @classmethod
    def read(cls, files: Mapping[str, str]) -> Maps:
        """Read the tables, one file each."""
        return cls(**{name: pd.read_csv(path) for name, path in files.items()})


def chapters(
    maps: Maps, study: Mapping[str, Any], yield_strains: Mapping[str, float]
) -> tuple[Chapter, ...]:
    """All chapters, their words and limits computed from the maps.

    Parameters
    ----------
    study
        The study's settings.
    yield_strains
        Yield strength over Young's modulus, by alloy.
    """
    limit, span_mm = study["limit_percent"], study["tube"]["play_span_mm"]
    return (
        bending_chapter(maps.bending, maps.small, maps.far, yield_strains, limit),
        tube_chapter(maps.tube, maps.play, span_mm, limit),
        loops_chapter(maps.small, limit),
        centre_chapter(maps.teeth, maps.centre, limit),
        layer_chapter(maps.thin_layer, limit),
        winkler_chapter(maps.winkler, maps.thin_layer, limit),
        rigidity_chapter(maps.rigidity, limit),
        planar_chapter(maps.planar, study["planar"], limit),
    )


def limits_table(found: Sequence[Chapter]) -> pd.DataFrame:
    """All limits of use, one row each."""
    return pd.DataFrame(
        [
            {
                "chapter": chapter.name,
                "formula": limit.formula,
                "you_may_use_it_when": limit.when,
                "error_on_the_map": limit.beyond,
            }
            for chapter in found
            for limit in chapter.limits
        ]
    )


def page_html(
    title: str, limit: float, found: Sequence[Chapter], figures: Mapping[str, Sequence[str]]
) -> str:
    """The page as text, its pictures inside.

    Parameters
    ----------
    figures
        Files of the SVG pictures of each chapter, by its name.
    """
    pictures = {name: [data_uri(file) for file in files] for name, files in figures.items()}
    return page(
        "simplified.html.j2", title=title, limit=f"{limit:g}", chapters=found, pictures=pictures
    )
