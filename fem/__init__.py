"""Mechanics only: elasticity, supports, rods, contacts and the equilibrium of the appliance."""
