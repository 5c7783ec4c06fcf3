"""What a support will take before it is solved: memory and time, from the size of its model.

    ``memory = m₀ + m₁ n^p``,  ``seconds = s₁ n^q``

with n the degrees of freedom of what deforms, those that are held among them: for the multigrid of
a tooth or bone that deforms, and for the direct solution of a ligament alone. Times are fits
to what ``tests/benchmarks/elasticity.py`` prints for teeth 21, 33 and 37 at several sizes, on two
cores of a 2024 server; another machine is faster or slower by one factor. Memory is that of the
stage, fitted to peaks of its runs; the benchmark loads the mesher too, some 100 MB more. Not valid
where multigrid gives up: the direct method that takes over needs several times as much of both.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Cost:
    """Foretold cost of one support.

    Attributes
    ----------
    memory_MB
        Largest resident set of a process that does nothing else.
    seconds
        From the mesh to the six answers.
    """

    memory_MB: float
    seconds: float


@dataclass(frozen=True)
class _Law:
    base_MB: float
    per_100k_MB: float
    memory_power: float
    per_100k_s: float
    time_power: float

    def of(self, freedoms: int) -> Cost:
        size = freedoms / 1e5
        memory = self.base_MB + self.per_100k_MB * size**self.memory_power
        return Cost(memory, self.per_100k_s * size**self.time_power)


_MULTIGRID = _Law(100.0, 370.0, 1.0, 2.3, 1.1)
_DIRECT = _Law(80.0, 380.0, 1.0, 1.1, 1.2)


def predicted_cost(freedoms: int, *, hard_tissue: bool) -> Cost:
    """Cost of the six unit motions or loads of a tooth (see the head of the module).

    Parameters
    ----------
    freedoms
        Three times the nodes of the quadratic elements of all that deforms.
    hard_tissue
        Whether tooth or bone deform besides the ligament.
    """
    return (_MULTIGRID if hard_tissue else _DIRECT).of(freedoms)
