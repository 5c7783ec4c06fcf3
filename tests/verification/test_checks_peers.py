import importlib.util

import pytest

from tests.programme import assert_passes, checks_as_parameters
from workflow.verification import peers_felupe, peers_ngsolve
from workflow.verification.peers_models import RATIOS, tooth_materials, tooth_model

NO_WHEEL = "NGSolve has no wheel for this Python and machine"


@pytest.mark.parametrize("check", checks_as_parameters("peers"))
def test_check(check):
    if check.source == "ngsolve" and not peers_ngsolve.has_wheel():
        pytest.skip(NO_WHEEL)
    assert_passes(check)


def test_missing_peer_is_said(monkeypatch):
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    arguments = tooth_model(), tooth_materials(RATIOS[0])
    with pytest.raises(ModuleNotFoundError, match="FElupe is not installed"):
        peers_felupe.solve_tooth(*arguments)
    with pytest.raises(ModuleNotFoundError, match="NGSolve is not installed"):
        peers_ngsolve.solve_tooth(*arguments, "crown", "socket")


@pytest.mark.skipif(not peers_ngsolve.has_wheel(), reason=NO_WHEEL)
def test_missing_facets_are_named():
    with pytest.raises(ValueError, match="no facet set 'bone_far'"):
        peers_ngsolve.solve_tooth(tooth_model(), tooth_materials(RATIOS[0]), "crown", "bone_far")
