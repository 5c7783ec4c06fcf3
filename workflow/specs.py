"""Specs are plain dictionaries: what a stage depends on, and nothing else."""

from typing import Any

Spec = dict[str, Any]
