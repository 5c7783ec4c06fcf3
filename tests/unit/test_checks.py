"""The checks of a case fail when the numbers are wrong."""

import numpy as np
import pytest

from workflow.checks import Check, balance_checks
from workflow.records import read_json, write_json


def units(force=(0.1, -0.2, -0.5), error=0.0):
    """Two units loaded by one wire: force and couple at a tube, the opposite force at a hook."""
    force = np.array(force)
    hook, centre_a, centre_b = (
        np.array([20.0, 3, 0]),
        np.array([1.0, 0, -9]),
        np.array([21.0, 2, -8]),
    )
    couple = -np.cross(hook, force)
    return {
        "tube": {
            "force_N": -force,
            "moment_at_attachment_Nmm": couple + error,
            "moment_at_resistance_Nmm": couple + error + np.cross(-centre_a, -force),
            "resistance_centre_mm": centre_a,
        },
        "hook": {
            "force_N": force,
            "moment_at_attachment_Nmm": np.zeros(3),
            "moment_at_resistance_Nmm": np.cross(hook - centre_b, force),
            "resistance_centre_mm": centre_b,
        },
    }


def test_balanced_loads_pass():
    assert all(check.passed for check in balance_checks(units()))


def test_a_couple_off_by_a_millionth_fails():
    force, moment = balance_checks(units(error=1e-5))
    assert force.passed
    assert not moment.passed


def test_a_nan_never_passes():
    check = Check("x", "x", float("nan"), 1.0, float("nan"), 1.0, "none")
    assert not check.passed
    assert check.record()["passed"] is False


def test_records_keep_every_digit_and_refuse_nan(tmp_path):
    path = tmp_path / "record.json"
    value = np.array([0.1 + 0.2, np.float64(1) / 3])
    write_json(path, {"a": value, "b": {1: (np.int64(3), True, None)}})
    assert read_json(path) == {"a": [0.1 + 0.2, 1 / 3], "b": {"1": [3, True, None]}}
    with pytest.raises(ValueError, match="JSON compliant"):
        write_json(path, {"a": float("inf")})
