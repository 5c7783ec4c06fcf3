"""Appliances: statics of one couple, two couples, bent wires, and courses of movement."""

from __future__ import annotations

from workflow.verification import (
    appliances_courses,
    appliances_rates,
    appliances_statics,
    appliances_two_couples,
    appliances_v_bends,
    appliances_wires,
)

CHECKS = (
    *appliances_statics.CHECKS,
    *appliances_rates.CHECKS,
    *appliances_wires.CHECKS,
    *appliances_two_couples.CHECKS,
    *appliances_v_bends.CHECKS,
    *appliances_courses.CHECKS,
)
