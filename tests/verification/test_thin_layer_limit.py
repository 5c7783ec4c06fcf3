"""How finite elements of a paraboloid root part from thin-layer theory, by the thickness.

The differences and their bounds: `workflow.verification.layers_root`. They have two causes:

* the layer's curvature: theory on the root's surface leaves out that the layer widens outwards.
  With the integrals taken half-way through the layer that share is gone, to the first order;
* the free rim, where the ligament bulges out and is softer than the confined modulus, over a width
  of about one thickness and the more the nearer ν is to 1/2. With the rim held flat
  (u_z = 0) it is gone as well, and what is left is of second order.

The apex, where the radius of curvature is smallest (R²/2h = 0.41 mm), is in both.
"""

import numpy as np
import pytest

from workflow.verification.layers_meshes import paraboloid_layer
from workflow.verification.layers_root import differences
from workflow.verification.layers_thin import paraboloid


@pytest.fixture(scope="module", params=[0.3, 0.45])
def found(request):
    return differences(request.param)


def test_theory_surface():
    """t times the area half-way through the layer is the volume of the mesh but for its facets and
    its plane rim, within 1 %."""
    volume = paraboloid_layer(15.0, 3.5, 0.4).volumes_mm3().sum()
    assert 0.4 * paraboloid(15.0, 3.5, 0.2).areas.sum() == pytest.approx(volume, rel=1e-2)


def test_meets_the_theory_on_the_root(found):
    """The difference shrinks at every halving of the thickness.

    Curvature stiffens and the rim softens, both of first order; where they nearly cancel (tilt at
    ν = 0.45) the rate is seen only between the thinner layers, so it is asserted there.
    """
    root = np.abs(found["root"])
    assert (np.diff(root, axis=0) < 0).all()
    assert (np.log2(root[-2] / root[-1]) > 0.8).all()


def test_what_curvature_leaves_is_softer(found):
    """Against the mid-surface the layer is softer, by the rim, and by less at each halving."""
    for difference in (found["middle"][:, 0], found["middle"][:, 2]):
        assert (difference < 0).all()
        assert (np.diff(difference) > 0).all()
    assert np.abs(found["middle"]).max(axis=1)[-1] < np.abs(found["root"]).max(axis=1)[-1]


def test_rim_held_flat_takes_most_of_the_difference(found):
    held, free = np.abs(found["held"][:, 0]), np.abs(found["middle"][:, 0])
    assert (held < 0.7 * free).all()
