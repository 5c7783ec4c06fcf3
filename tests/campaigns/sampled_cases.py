"""Random cases that a person could have written: what stands where first, then all else upon it.

Numbers that only the wire depends on are drawn freely. What the support of a tooth depends on
(shape, bone, ligament) has few levels, so that a thousand cases share a few hundred teeth.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.closed_form import TwoPointCantilever
from workflow.case import resolved, validate_case
from workflow.case_errors import CaseError
from workflow.case_places import place_problems
from workflow.catalogue import Section, load_catalogue
from workflow.plan import cantilever_sites, wire_design
from workflow.specs import Spec
from workflow.units import GF_PER_N

Rng = np.random.Generator
Content = dict[str, Any]

ROOT_SIZE_mm = 1.1  # coarser, the thin roots of lower incisors cannot be meshed
ROOTS_mm = {1: 13.0, 2: 13.5, 3: 16.5, 4: 14.0, 5: 14.5, 6: 13.0, 7: 12.0}  # another root length
LIGAMENTS: tuple[tuple[float, Content], ...] = (
    (0.6, {}),
    (0.15, {"law": "tanne_type"}),
    (0.15, {"law": "poppe_2002_initial", "bilinear_law": "dong_xu_2011"}),
    (0.1, {"profile_mm": [0.20, 0.14, 0.19]}),
)
CONTACTS = {"bar": 0.4, "tied": 0.2, "peg": 0.12, "dead_force": 0.12, "bracket": 0.16}
PULLS = {"apical": 0.4, "occlusal": 0.3, "buccal": 0.15, "lingual": 0.15}
WAYS = {"offset_mm": 0.5, "couple_Nmm": 0.1, "couple_gfmm": 0.15, "force_N": 0.1, "force_gf": 0.15}
OFFSETS = (0.03, 0.3)  # of the span
HELD_TWICE = (0.03, 0.1)  # the same where the wire is held over shorter ways
ALIGNED = 0.15  # of what teeth are out of place, where the wire is held twice
# Of the larger side of a bent wire. The rod, a straight beam by its law, is too soft in a tighter
# corner, and the check of rod against solid says so (1.5 to 4 %).
LEAST_CORNER = 2.5
MOST_LOOPED_mm = 0.5
_MOST_OF_LIMIT = 0.6  # of the load that a straight wire bears elastically
_MOST_OVER_LIMIT = 1.5  # the offset, of that at which a straight wire yields; not if superelastic
_OF_LOOPED = 0.3  # of what a straight wire gives: loops make it that much softer
_ON_PLATEAU = 0.4  # of the load that a superelastic wire would give if it stayed elastic
SIDES = ("gingival", "occlusal", "buccal", "lingual")


@dataclass(frozen=True)
class Sampled:
    """A case that validation accepts.

    ``content`` is what its file holds, ``case`` the same resolved; ``refused`` draws went before.
    """

    content: Content
    case: Spec
    refused: int


def sampled_cases(count: int, seed: int, few_teeth: bool = False) -> Iterator[Sampled]:
    """Cases one after the other; with few teeth all on one side, with one kind of tissues."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        refused = 0
        while True:
            content = _content(rng, f"random_{number}", few_teeth)
            case = accepted(content)
            if case is not None:
                yield Sampled(content, case, refused)
                break
            refused += 1


def accepted(content: Content) -> Spec | None:
    """The resolved case, if validation has nothing against it."""
    try:
        case = resolved(validate_case(content, "sampled"))
        return None if list(place_problems("sampled", case)) else case
    except CaseError:
        return None


def _content(rng: Rng, name: str, few_teeth: bool) -> Content:
    quadrant = 3 if few_teeth else int(rng.integers(1, 5))
    content = _set_up(rng, 10 * quadrant)
    content |= {"schema_version": 1, "case": name, "title": "A random case"}
    content["wire"] = _wire(rng, content)
    content["mesh"] = {"root_size_mm": ROOT_SIZE_mm}
    content["teeth"] = _teeth(rng, content, few_teeth)
    if not few_teeth:
        shares = [share for share, _ in LIGAMENTS]
        content["ligament"] = dict(LIGAMENTS[int(rng.choice(len(shares), p=shares))][1])
        if rng.random() < 0.03:
            content["tooth_body"] = {"elastic": True}
    return _activated(rng, content)


def _weighted(rng: Rng, shares: dict[str, float]) -> str:
    return list(shares)[int(rng.choice(len(shares), p=list(shares.values())))]


def _between(rng: Rng, low: float, high: float) -> float:
    return float(f"{rng.uniform(low, high):.4g}")


def _set_up(rng: Rng, side: int) -> Content:
    """Units and what holds the wire: a tube far back, a hook further forward, perhaps more."""
    back = int(rng.choice([7, 7, 6, 6, 5]))
    ahead = int(rng.integers(1, back - 1))
    one = list(range(ahead, min(back - 1, ahead + int(rng.integers(1, 4))) + 1))
    one = [n for n in one if n < back]
    two = [back] if rng.random() < 0.7 or back == 7 else [back, back + 1]
    roles = ("target", "anchor") if rng.random() < 0.5 else ("anchor", "target")
    units: dict[str, Content] = {
        "rear": {"teeth": [side + n for n in two], "role": roles[0]},
        "front": {"teeth": [side + n for n in one], "role": roles[1]},
    }
    for unit in units.values():
        if rng.random() < 0.08:
            unit["support"] = "fixed"
        if len(unit["teeth"]) > 1 and rng.random() < 0.2:
            unit["joined_by"] = {"alloy": "stainless_steel", "section": _section(rng)}
    content: Content = {"units": units, "two_point": {"unit": "rear", "tooth": side + back}}
    content["one_point"] = _one_point(rng, units["front"]["teeth"])
    gap = list(range(max(one) + 1, back))
    held = int(rng.choice(gap)) if gap and rng.random() < 0.15 else None
    if held is not None:
        units["middle"] = {"teeth": [side + held], "role": str(rng.choice(["target", "anchor"]))}
        contact = str(rng.choice(["bar", "bracket"]))
        content["further"] = [{"unit": "middle", "tooth": side + held, "contact": contact}]
    lost = [side + n for n in gap if n != held and rng.random() < 0.3]
    if lost:
        content["missing"] = lost
    if 1 in one and len(one) < 3 and rng.random() < 0.5:
        _across_the_midline(content, side, one)
    _attached(rng, content["two_point"])
    for holder in (content["two_point"], content["one_point"]):
        if rng.random() < 0.5 and not _held_twice(content):
            holder["height_fraction"] = _between(rng, 0.3, 0.7)
            holder["stand_off_mm"] = _between(rng, 1.0, 2.5)
    return content


def _across_the_midline(content: Content, side: int, one: list[int]) -> None:
    """Front teeth of both sides, with the mirror image of the wire."""
    other = {10: 20, 20: 10, 30: 40, 40: 30}[side]
    front = content["units"]["front"]
    front["teeth"] = [other + n for n in reversed(one)] + front["teeth"]
    front.pop("joined_by", None)
    content["mirror_image"] = True


def _one_point(rng: Rng, teeth: list[int]) -> Content:
    contact = _weighted(rng, CONTACTS)
    found: Content = {"unit": "front", "contact": contact}
    if len(teeth) > 1 and contact != "bracket" and rng.random() < 0.6:
        k = int(rng.integers(len(teeth) - 1))
        found["between"] = [teeth[k], teeth[k + 1]]
    else:
        found["tooth"] = int(rng.choice(teeth))
    if contact in ("bar", "peg") and rng.random() < 0.4:
        found["friction"] = _between(rng, 0.05, 0.3)
    if contact == "bracket" and rng.random() < 0.5:
        found["bracket_width_mm"] = _between(rng, 2.0, 4.0)
    return found


def _attached(rng: Rng, two_point: Content) -> None:
    if rng.random() < 0.3:
        two_point["attachment"] = str(rng.choice(list(load_catalogue().attachments)))
    elif rng.random() < 0.4:
        two_point["tube_length_mm"] = _between(rng, 2.5, 6.0)


def _section(rng: Rng) -> str:
    return str(rng.choice(list(load_catalogue().sections)))


def _wire(rng: Rng, content: Content) -> Content:
    wire: Content = {
        "alloy": str(rng.choice(list(load_catalogue().alloys))),
        "section": _section(rng),
        "activation": _activation(rng),
    }
    way = rng.random()
    if rng.random() < 0.2:
        wire["bend_radius_mm"] = _between(rng, 0.6, 2.0)
    if way < 0.35 or _held_twice(content):
        wire["along_arch"] = True
    elif way < 0.6:
        wire["run"] = _run(rng, load_catalogue().sections[wire["section"]])
    if rng.random() < 0.15:
        wire["inelastic"] = False
    if rng.random() < 0.1:
        wire["elements"] = int(rng.integers(16, 80))
    return wire


def _activation(rng: Rng) -> Content:
    """An offset to begin with; what else is wished for is known once the wire has its place."""
    found: Content = {"offset_mm": 1.0, "pulls": _weighted(rng, PULLS)}
    if rng.random() < 0.15:
        found["trial_share"] = _between(rng, 1.0, 1.5)
    return found


def _activated(rng: Rng, content: Content) -> Content:
    """The case with an activation in proportion to its span, told in one of the five ways.

    A wire that yields is not activated far beyond its limit. Couples and forces are those of a
    straight wire at that offset, and such as it bears elastically: what nobody could wish of a
    wire is not asked of it. What some wires give, no formula tells beforehand: they are told
    their offset.
    """
    way = "offset_mm" if _unforeseen(content) else _weighted(rng, WAYS)
    share = rng.uniform(*(HELD_TWICE if _held_twice(content) else OFFSETS))
    case = accepted(content)
    if case is None:
        return content
    sites, design = cantilever_sites(case), wire_design(case)
    simple = TwoPointCantilever(design.section, design.material, sites.span_mm, sites.base_mm)
    limit = case["wire"]["alloy"]["yield_strength_MPa"] / simple.peak_stress_MPa(1.0)
    limit *= design.section.height_mm / max(design.section.height_mm, design.section.width_mm)
    offset = share * sites.span_mm
    if not case["wire"]["alloy"]["superelastic"]:
        offset = min(offset, _MOST_OVER_LIMIT * limit / simple.stiffness_N_per_mm)
    plateau = _ON_PLATEAU if case["wire"]["alloy"]["superelastic"] else 1.0
    plateau *= _OF_LOOPED if "run" in content["wire"] else 1.0
    force = min(plateau * simple.stiffness_N_per_mm * offset, _MOST_OF_LIMIT * limit)
    told = {
        "offset_mm": offset,
        "couple_Nmm": simple.couple_Nmm(force),
        "couple_gfmm": simple.couple_Nmm(force) * GF_PER_N,
        "force_N": force,
        "force_gf": force * GF_PER_N,
    }
    activation = content["wire"]["activation"]
    del activation["offset_mm"]
    activation[way] = float(f"{told[way]:.4g}")
    return content


def _run(rng: Rng, section: Section) -> list[Content]:
    """One to three features, each after a straight leg; loops of what loops are bent of."""
    side = max(section.height_mm, section.width_mm)
    radius = max(1.0, round(LEAST_CORNER * side, 3))
    features = (_bend, _step, *(LOOPS if side < MOST_LOOPED_mm else ()))
    found: list[Content] = []
    for _ in range(int(rng.integers(1, 4))):
        feature = features[int(rng.integers(len(features)))](rng)
        for part in feature.values():
            part |= {"radius_mm": radius, "towards": str(rng.choice(SIDES))}
        found += [{"straight_mm": _between(rng, 1.0, 4.0)}, feature]
    return found


def _bend(rng: Rng) -> Content:
    return {"bend": {"angle_deg": _between(rng, 3.0, 25.0)}}


def _step(rng: Rng) -> Content:
    return {"step": {"offset_mm": _between(rng, 0.5, 2.0)}}


def _helix(rng: Rng) -> Content:
    return {"helix": {"turns": int(rng.integers(1, 4))}}


def _u_loop(rng: Rng) -> Content:
    return {"u_loop": {"height_mm": _between(rng, 3.0, 7.0), "width_mm": _between(rng, 2.6, 4.0)}}


def _box_loop(rng: Rng) -> Content:
    return {"box_loop": {"height_mm": _between(rng, 3.0, 7.0), "width_mm": _between(rng, 2.6, 4.0)}}


def _l_loop(rng: Rng) -> Content:
    head = {"head_length_mm": 5.5, "head_height_mm": 2.6, "gap_mm": 2.6}
    return {"l_loop": {"height_mm": _between(rng, 5.5, 8.0)} | head}


def _t_loop(rng: Rng) -> Content:
    head = {"head_width_mm": 8.0, "head_height_mm": 2.6, "gap_mm": 2.6}
    return {"t_loop": {"height_mm": _between(rng, 5.5, 8.0)} | head}


LOOPS = (_helix, _u_loop, _box_loop, _l_loop, _t_loop)


def _held_twice(content: Content) -> bool:
    """Whether the wire lies in a bracket besides its tube, or is held on its way."""
    return "further" in content or content["one_point"]["contact"] == "bracket"


def _unforeseen(content: Content) -> bool:
    """Held twice, rolling in its tube, or led across the arch where it is bent along it."""
    wire = content["wire"]
    rolls = "attachment" in content["two_point"] and wire["section"].startswith("round")
    across = wire["activation"]["pulls"] in ("buccal", "lingual") and "along_arch" in wire
    return _held_twice(content) or rolls or across


def _teeth(rng: Rng, content: Content, few_teeth: bool) -> Content:
    """Places as they come, shapes and bone of one other kind."""
    found: Content = {}
    scale = ALIGNED if _held_twice(content) else 1.0
    for tooth in [tooth for unit in content["units"].values() for tooth in unit["teeth"]]:
        own: Content = {}
        for key, most in (("mesial_tip_deg", 25), ("buccal_tip_deg", 12), ("mesial_in_deg", 15)):
            if rng.random() < 0.25:
                own[key] = _between(rng, -scale * most, scale * most)
        for key, most in (("mesial_mm", 0.5), ("buccal_mm", 2.0), ("occlusal_mm", 2.0)):
            if rng.random() < 0.15:
                own[key] = _between(rng, -scale * most, scale * most)
        if not few_teeth and rng.random() < 0.1:
            own["dimensions"] = {"root_length_mm": ROOTS_mm[tooth % 10]}
        elif not few_teeth and rng.random() < 0.1:
            own["crest_depth_mm"] = 3.0
        if own:
            found[str(tooth)] = own
    return found
