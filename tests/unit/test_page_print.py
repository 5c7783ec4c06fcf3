"""Printing a page: what is said where no Chromium is, or where it prints nothing."""

from pathlib import Path

import pytest

from workflow.page_print import print_page


def test_a_missing_browser_is_named_with_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(RuntimeError, match="install the package chromium"):
        print_page(tmp_path / "page.html", tmp_path / "page.pdf")


@pytest.mark.parametrize("end", ["exit 0", "echo no room >&2; exit 3"])
def test_a_browser_that_prints_nothing_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: str
) -> None:
    program = tmp_path / "chromium"
    program.write_text(f"#!/bin/sh\n{end}\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin")
    with pytest.raises(RuntimeError, match="did not print"):
        print_page(tmp_path / "page.html", tmp_path / "page.pdf")
