"""Supports of teeth against published centres of resistance and measured movement."""

import numpy as np
import pytest

from fem.bilinear import BilinearLaw
from fem.material import Elastic
from fem.nonlinear_support import BilinearLayer, unit_at_rest
from fem.resistance import textbook_depth_mm
from fem.support import rigid_body_support
from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.tooth_mesh import ToothSpec, build_tooth_mesh

MESIAL, BUCCAL, OCCLUSAL = np.eye(3)
CREST_MM = 1.5
SINGLE = [n for n in known_teeth() if n // 10 in (2, 3) and tooth_dimensions(n).root_count == 1]


def ligament(number, **options):
    return build_tooth_mesh(ToothSpec(tooth_dimensions(number), **options)).submesh(["ligament"])


def fractions(number, material):
    """Depth of the textbook centre below the crest over the embedded root, by direction."""
    length = tooth_dimensions(number).root_length_mm
    point = np.array([0.0, 0.0, -CREST_MM])
    support = rigid_body_support(ligament(number, root_size_mm=0.8), material, point)
    depths = [textbook_depth_mm(support.stiffness, point, f, OCCLUSAL) for f in (MESIAL, BUCCAL)]
    return np.array(depths) / (length - CREST_MM)


@pytest.mark.parametrize("number", SINGLE)
def test_centre_of_single_rooted_teeth(number):
    """0.33 to 0.42 of the embedded root below the crest: Poppe et al. 2002; Papageorgiou 2005."""
    found = fractions(number, Elastic(0.05, 0.30))
    print(f"tooth {number}: mesiodistal {found[0]:.3f}, buccolingual {found[1]:.3f}")
    assert (found > 0.33).all()
    assert (found < 0.42).all()


def test_centre_of_the_lower_first_molar():
    """0.48 ± 0.05 of the root from the crest: Oh et al. 2019, AJODO 156:365-374."""
    mesiodistal, _ = fractions(36, Elastic(0.05, 0.30))
    assert mesiodistal == pytest.approx(0.48, abs=0.05)


LAWS = {  # Poppe et al. 2002; Dong-Xu et al. 2011; Papageorgiou et al. 2017
    "Poppe 2002": BilinearLaw(0.05, 0.28, 0.075, 0.30),
    "Dong-Xu 2011": BilinearLaw(0.04, 0.16, 0.073, 0.30),
    "Papageorgiou 2017": BilinearLaw(0.05, 0.20, 0.070, 0.30),
}


@pytest.mark.parametrize("name", LAWS)
def test_upper_incisor_moves_as_measured_in_the_mouth(name):
    """0.39 N on upper incisors moved crowns by 12 to 133 µm: Jones et al. 2001, J Orthod 28:29.

    Labial force at the middle of the crown, rigid tooth and bone; the paper's own place of load
    and measurement was not seen.
    """
    crown = tooth_dimensions(21).crown_length_mm / 2
    layer = BilinearLayer(ligament(21, root_size_mm=0.8), LAWS[name], np.array([0, 0, crown]))
    load = np.array([0.0, 0.39, 0, 0, 0, 0])
    rest = unit_at_rest([layer], [np.eye(6)], load)
    moved_um = 1e3 * rest.motion[1]
    print(f"{name}: {moved_um:.0f} µm, largest strain {rest.teeth[0].largest_strain:.3f}")
    assert 12 < moved_um < 133
