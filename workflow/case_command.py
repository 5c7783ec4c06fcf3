"""Checking case files from the command line: ``python -m workflow.case FILE...``."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from workflow.case_errors import CaseError
from workflow.case_places import load_placed_case


def main(arguments: Sequence[str] | None = None) -> int:
    """Check the files named on the command line; 0 if all are right, 1 if not."""
    parser = argparse.ArgumentParser(
        prog="python -m workflow.case", description="Check case files without computing anything."
    )
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="case file, as configs/cases/x.yaml"
    )
    status = 0
    for name in parser.parse_args(arguments).files:
        try:
            print(f"OK {load_placed_case(name)['case']}")
        except CaseError as error:
            print(error, file=sys.stderr)
            status = 1
    return status
