"""Kill runs at random moments, finish them by the plain command, and compare every table.

``python -m tests.campaigns.kills --count 100 --seed 1 --output kills.json`` kills the default run
and a small study, both on coarse meshes, up to five times in a row each before they may finish.
Most kills take the whole process group, one in five the run alone, so that its jobs outlive it.
Ends with status 1 if a table differs from that of an undisturbed run, or a run does not finish.
"""

import argparse
import json
import random
import shutil
import sys
import tempfile
from pathlib import Path

from tests.campaigns.runs import TARGETS, CoarseProject, different, new_folder

MOST_IN_A_ROW = 5
ALONE = 0.2  # share of kills that leave jobs behind
LEAST_S = 0.2


def undisturbed(folder):
    """Tables of each kind of run, and the seconds it takes."""
    reference = {}
    for kind, targets in TARGETS.items():
        project = CoarseProject(new_folder(folder, f"undisturbed_{kind}"))
        status, said, seconds = project.run(*targets)
        if status:
            raise RuntimeError(f"the undisturbed run of {kind} fails:\n{said}")
        reference[kind] = (project.tables(), seconds)
    return reference


def disturbed(folder, kind, kills, reference, rng):
    """One run that is killed some times and then finished: what happened, as a record."""
    tables, seconds = reference[kind]
    project = CoarseProject(new_folder(folder, "disturbed"))
    moments = []
    for _ in range(kills):
        after_s, whole_group = rng.uniform(LEAST_S, 1.2 * seconds / kills), rng.random() > ALONE
        if project.run_and_kill(after_s, *TARGETS[kind], whole_group=whole_group):
            moments.append({"after_s": round(after_s, 2), "whole_group": whole_group})
    status, said, _ = project.run(*TARGETS[kind])
    again, idle, _ = project.run(*TARGETS[kind])
    differing = different(project.tables(), tables)
    record = {
        "kind": kind,
        "kills": moments,
        "status": status,
        "status_again": again,
        "differing": differing,
        "passed": not (status or again or differing) and "Nothing to be done" in idle,
    }
    return record if record["passed"] else record | {"said": said[-4000:], "idle": idle[-2000:]}


def campaign(count, seed, folder, kinds=tuple(TARGETS)):
    """Records of runs until so many kills have met a run at work."""
    rng, records, done = random.Random(seed), [], 0
    reference = undisturbed(folder)
    while done < count:
        kills = min(rng.randint(1, MOST_IN_A_ROW), count - done)
        kind = kinds[len(records) % len(kinds)]
        record = disturbed(folder, kind, kills, reference, rng)
        records.append(record)
        done += len(record["kills"])
        said = "the same tables" if record["passed"] else f"FAILED {record['differing']}"
        print(f"{done} of {count} kills: {kind}: {said}", flush=True)
    return records


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.kills", description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--output", type=Path, required=True, help="JSON")
    given = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="kills-"))
    try:
        records = campaign(given.count, given.seed, folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    failed = sum(not record["passed"] for record in records)
    kills = sum(len(record["kills"]) for record in records)
    summary = {"seed": given.seed, "kills": kills, "runs": len(records), "failed": failed}
    text = json.dumps(summary | {"records": records}, indent=1)
    given.output.write_text(text + "\n", encoding="utf-8")
    print(f"{kills} kills in {len(records)} runs, {failed} of them with other tables or an error")
    sys.exit(failed > 0)


if __name__ == "__main__":
    main()
