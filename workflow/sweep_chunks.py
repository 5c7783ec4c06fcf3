"""How the teeth of a study are dealt out to jobs, and what its report says of them.

A job of the workflow takes about four seconds to start, as long as a coarse tooth takes to mesh and
solve, and one tooth has two of them. Where a study has more than a few dozen teeth, they are dealt
out in chunks instead, see `workflow.tooth_chunks`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from workflow.records import read_json
from workflow.specs import Spec

MOST_ALONE = 60  # teeth of a study that are made one job each
CHUNK = 20  # teeth of a job


def in_chunks(teeth: int, asked: bool | None) -> bool:
    """Whether a study's teeth are made many a job: as it asks, or by their number."""
    return teeth > MOST_ALONE if asked is None else asked


def chunks_of(specs: Mapping[str, Spec]) -> list[dict[str, Spec]]:
    """Teeth of each job, in their order, so that more teeth change the last job alone."""
    items = list(specs.items())
    return [dict(items[k : k + CHUNK]) for k in range(0, len(items), CHUNK)]


def read_chunks(paths: Iterable[str | Path]) -> list[dict[str, Any]]:
    """Records of all teeth of a study."""
    return [record for path in paths for record in read_json(path)]


def teeth_text(records: Sequence[Mapping[str, Any]]) -> str:
    """What a report says of teeth made in chunks: how many, at what cost, and which failed."""
    made = [record for record in records if not record["reason"]]
    lines = [
        f"- {len(records)} different teeth: {len(made)} made, {len(records) - len(made)} that "
        "could not be; made in chunks and kept for all studies"
    ]
    if made:
        wall, processor = (np.array([r[k] for r in made]) for k in ("wall_s", "processor_s"))
        lines.append(
            f"- Mesh and support: mean {wall.mean():.1f} s wall time and {processor.mean():.1f} s "
            f"processor time a tooth, longest {wall.max():.1f} s"
        )
    return "\n".join([*lines, *_failures(records)])


def _failures(records: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    for record in records:
        if record["reason"]:
            yield f"- Tooth {record['tooth']} ({record['support']}): {record['reason']}"
