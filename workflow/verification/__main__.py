"""Run checks from the command line: ``python -m workflow.verification [--json] [NAME ...]``."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence

from workflow.case_errors import nearest
from workflow.verification.check import Check
from workflow.verification.programme import AREAS, all_checks, checks_of


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the named checks or areas; 0 if all pass, 1 if one fails, 2 if a name is unknown."""
    parser = argparse.ArgumentParser(prog="python -m workflow.verification", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="id of a check, or an area; all")
    parser.add_argument("--json", action="store_true", help="write records instead of lines")
    given = parser.parse_args(arguments)
    checks = all_checks()
    chosen: list[Check] = []
    for name in given.names or AREAS:
        if name not in checks and name not in AREAS:
            print(f"no check or area {name}: {nearest(name, [*checks, *AREAS])}", file=sys.stderr)
            return 2
        chosen += [checks[name]] if name in checks else checks_of(name)
    rows = []
    for check in chosen:
        rows.append(row := check.attempt())
        if not given.json:
            verdict = "passed" if row.passed else "FAILED"
            print(
                f"{verdict}  {check.id}: {check.what}: {row.computed:.9g} for {row.reference:.9g}, "
                f"error {row.error:.2g} of at most {check.tolerance:.2g} {row.worst} {row.note}",
                flush=True,
            )
    if given.json:
        print(json.dumps([row.record() for row in rows]))
    return 0 if all(row.passed for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
