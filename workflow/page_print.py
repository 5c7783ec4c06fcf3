"""A page printed to PDF by the Chromium of the system."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

_PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
_LONGEST_S = 120


def print_page(page: str | Path, pdf: str | Path) -> None:
    """Print a page as its style for paper says, without a screen and with the network closed.

    Raises
    ------
    RuntimeError
        If the system has no Chromium, or if it prints nothing.
    """
    with tempfile.TemporaryDirectory() as profile:
        done = subprocess.run(
            [
                _chromium(),
                "--headless=new",
                f"--user-data-dir={profile}",
                "--host-resolver-rules=MAP * ~NOTFOUND",
                "--disable-background-networking",
                "--disable-dev-shm-usage",
                "--enable-unsafe-swiftshader",
                "--no-pdf-header-footer",
                f"--print-to-pdf={Path(pdf).resolve()}",
                *(["--no-sandbox"] if os.geteuid() == 0 else []),
                Path(page).resolve().as_uri(),
            ],
            capture_output=True,
            text=True,
            timeout=_LONGEST_S,
            check=False,
        )
    if done.returncode or not Path(pdf).exists():
        raise RuntimeError(f"Chromium did not print {page}: {done.stderr.strip()[-500:]}")


def _chromium() -> str:
    for name in _PROGRAMS:
        if found := shutil.which(name):
            return found
    raise RuntimeError(
        "printing needs Chromium, which is not on this machine: install the package chromium "
        "(Debian: apt install chromium), or open sheet.html in a browser and print it there"
    )
