"""Changing single dimensions of a tooth while the rest of it follows.

The table gives means; a person's tooth differs. A changed width or length carries with it what
hangs on it (cusps on the crown, roots on the cervix), so that the tooth stays one shape.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from geometry.dimensions import Cusp, Root, ToothDimensions

# What a whole tooth may be given, and the least and greatest sensible value.
_RANGES: Mapping[str, tuple[float, float]] = {
    "crown_length_mm": (3.0, 16.0),
    "root_length_mm": (4.0, 25.0),
    "crown_md_mm": (3.0, 16.0),
    "crown_bl_mm": (3.0, 16.0),
    "cervix_md_mm": (2.0, 14.0),
    "cervix_bl_mm": (2.0, 14.0),
    "trunk_mm": (1.5, 12.0),
    "squareness": (1.8, 4.0),
    "taper": (1.0, 4.0),
}
# What each of several roots may be given, after its name and an underscore.
_ROOT_RANGES: Mapping[str, tuple[float, float]] = {
    "length_mm": (4.0, 25.0),
    "md_mm": (1.5, 14.0),
    "bl_mm": (1.5, 14.0),
    "mesial_tilt_deg": (-35.0, 35.0),
    "buccal_tilt_deg": (-35.0, 35.0),
}
_LEAST_FREE_ROOT_MM = 1.5  # of a root below the furcation


def override_keys(dimensions: ToothDimensions) -> tuple[str, ...]:
    """Return the names of the dimensions of a tooth that `with_overrides` can change."""
    whole = [key for key in _RANGES if key != "trunk_mm" or dimensions.roots]
    parts = [f"{root.name}_{key}" for root in dimensions.roots for key in _ROOT_RANGES]
    return (*whole, *parts)


def with_overrides(dimensions: ToothDimensions, overrides: Mapping[str, float]) -> ToothDimensions:
    """Return a tooth with some of its dimensions changed.

    Widths of the crown take the cusps with them, the crown's length their heights; widths at the
    cervix take the widths and places of several roots, the root's length their lengths. What is
    stated for a single root is taken as stated.

    Parameters
    ----------
    dimensions : ToothDimensions
    overrides : mapping of str to float
        New values by name (see `override_keys`), mm or degrees.

    Raises
    ------
    ValueError
        If a name is unknown, a value is no number or not sensible, or a root would end at the
        furcation.
    """
    for key, value in overrides.items():
        _check(dimensions, key, value)
    whole = {key: float(value) for key, value in overrides.items() if key in _RANGES}

    def ratio(key: str) -> float:
        return whole[key] / float(getattr(dimensions, key)) if key in whole else 1.0

    cusps = tuple(_scaled_cusp(cusp, ratio) for cusp in dimensions.cusps)
    roots = tuple(_own(_scaled_root(root, ratio), overrides) for root in dimensions.roots)
    if roots and "root_length_mm" not in whole:
        whole["root_length_mm"] = max(root.length_mm for root in roots)
    changed = replace(dimensions, **whole, cusps=cusps, roots=roots)  # type: ignore[arg-type]
    _check_free_roots(changed)
    return changed


def _scaled_cusp(cusp: Cusp, ratio: Callable[[str], float]) -> Cusp:
    m, b, o = ratio("crown_md_mm"), ratio("crown_bl_mm"), ratio("crown_length_mm")
    return Cusp(
        cusp.mesial_mm * m,
        cusp.buccal_mm * b,
        cusp.drop_mm * o,
        cusp.mesial_slope * o / m,
        cusp.buccal_slope * o / b,
    )


def _scaled_root(root: Root, ratio: Callable[[str], float]) -> Root:
    m, b = ratio("cervix_md_mm"), ratio("cervix_bl_mm")
    return replace(
        root,
        md_mm=root.md_mm * m,
        bl_mm=root.bl_mm * b,
        offset_mm=(root.offset_mm[0] * m, root.offset_mm[1] * b),
        length_mm=root.length_mm * ratio("root_length_mm"),
    )


def _own(root: Root, overrides: Mapping[str, float]) -> Root:
    """Give a root the values stated under its own name."""
    own = {key: overrides.get(f"{root.name}_{key}") for key in _ROOT_RANGES}
    tilt = tuple(
        old if new is None else float(new)
        for old, new in zip(
            root.tilt_deg, (own.pop("mesial_tilt_deg"), own.pop("buccal_tilt_deg")), strict=True
        )
    )
    sizes = {key: float(value) for key, value in own.items() if value is not None}
    return replace(root, tilt_deg=tilt, **sizes)  # type: ignore[arg-type]


def _check(dimensions: ToothDimensions, key: str, value: float) -> None:
    tooth = f"tooth {dimensions.number}: dimension {key!r}"
    keys = override_keys(dimensions)
    if key not in keys:
        near = difflib.get_close_matches(key, keys, n=1)
        hint = f"did you mean {near[0]!r}? " if near else ""
        raise ValueError(f"{tooth} is unknown; {hint}known: {', '.join(keys)}")
    names = [root.name for root in dimensions.roots if key.startswith(f"{root.name}_")]
    part = key.removeprefix(f"{names[0]}_") if names and key not in _RANGES else key
    low, high = _RANGES[part] if key in _RANGES else _ROOT_RANGES[part]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(f"{tooth} is {value!r}; give a number from {low:g} to {high:g}")
    if not low <= value <= high:
        raise ValueError(f"{tooth} is {value:g}; it must lie from {low:g} to {high:g}")


def _check_free_roots(dimensions: ToothDimensions) -> None:
    for root in dimensions.roots:
        free = root.length_mm - (dimensions.trunk_mm or 0.0)
        if free < _LEAST_FREE_ROOT_MM:
            raise ValueError(
                f"tooth {dimensions.number}: its {root.name} root of {root.length_mm:g} mm leaves "
                f"{free:.2f} mm below the furcation at {dimensions.trunk_mm:g} mm, less than "
                f"{_LEAST_FREE_ROOT_MM} mm; lengthen the root or lessen 'trunk_mm'"
            )
