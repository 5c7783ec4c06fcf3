"""Specs of supports by id, those of parameter studies read only once one of them is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from workflow.specs import Spec


class LateSpecs(dict[str, Spec]):
    """Specs of supports by id; those of studies join them once one of theirs is asked for."""

    def __init__(self, known: Mapping[str, Spec], more: Callable[[], Mapping[str, Spec]]) -> None:
        """Take over specs.

        Parameters
        ----------
        known
            Those of the cases.
        more
            Gives those of all studies.
        """
        super().__init__(known)
        self._more = more

    def __missing__(self, support: str) -> Spec:
        """Spec of a support that only a study has."""
        for name, spec in self._more().items():
            self.setdefault(name, spec)
        if support not in self:
            raise KeyError(support)
        return self[support]
