"""How stiff wires are beside each other: Burstone's cross-section and material numbers.

Wires of one length, equally deflected, carry loads as their wire stiffness

    ``W_s = M_s C_s``,   ``C_s = I / I(0.004 in round)``,   ``M_s = E / E(steel)``

(Burstone 1981, Am J Orthod 80:1–16). Small deflection, bending alone, and a straight line from
load to deflection: nothing here holds for superelastic wire once it transforms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from fem.section import Section, round_section
from workflow.catalogue import MM_PER_INCH

UNIT_SECTION = round_section(0.004 * MM_PER_INCH)


def section_numbers(section: Section) -> dict[str, float]:
    """Cross-section numbers for bending in the plane of the height and in that of the width."""
    unit = UNIT_SECTION.I_height_mm4
    return {
        "height": section.I_height_mm4 / unit,
        "width": section.I_width_mm4 / unit,
    }


def stiffness_table(
    sections: Mapping[str, Section],
    moduli_MPa: Mapping[str, float],
    reference: tuple[str, str],
    published: Mapping[str, float],
) -> pd.DataFrame:
    """Cross-section, material and wire stiffness numbers of all sections in all alloys.

    Parameters
    ----------
    sections
        Sections by name.
    moduli_MPa
        Young's moduli by alloy.
    reference
        Alloy whose material number is 1, and the section that with it counts as 1.
    published
        Material numbers in print, by alloy; blank where there is none.

    Returns
    -------
    DataFrame
        One row an alloy, section and plane of bending, ``relative_load`` at equal deflection over
        that of the reference wire bent in the plane of its height.
    """
    alloy, section = reference
    one = section_numbers(sections[section])["height"]
    return pd.DataFrame(
        [
            {
                "alloy": name,
                "section": size,
                "plane_of_bending": plane,
                "cross_section_number": number,
                "material_number": modulus / moduli_MPa[alloy],
                "material_number_published": published.get(name, np.nan),
                "wire_stiffness_number": number * modulus / moduli_MPa[alloy],
                "relative_load": number * modulus / moduli_MPa[alloy] / one,
            }
            for name, modulus in moduli_MPa.items()
            for size, shape in sections.items()
            for plane, number in section_numbers(shape).items()
        ]
    )


def ladder(table: pd.DataFrame, sections: Sequence[str], alloys: Sequence[str]) -> pd.DataFrame:
    """Relative loads, one row a section from soft to stiff, one column an alloy; height alone."""
    chosen = table["section"].isin(sections) & (table["plane_of_bending"] == "height")
    wide = table[chosen].pivot(index="section", columns="alloy", values="relative_load")
    return wide[list(alloys)].sort_values(alloys[0])
