"""A project to run the workflow in, and one finished run of the default case."""

import pytest

from tests.project import Project


@pytest.fixture(scope="session")
def new_project():
    """Make a copy of the project in a folder."""
    return Project


@pytest.fixture
def project(tmp_path):
    return Project(tmp_path / "project")


@pytest.fixture(scope="session")
def finished(tmp_path_factory):
    """The default case, run from nothing; tests must leave it as they found it."""
    project = Project(tmp_path_factory.mktemp("run") / "project")
    project.snakemake()
    return project


@pytest.fixture
def copy_of_finished(finished, tmp_path):
    """A copy of the finished run to edit; keeps times, so nothing is out of date."""
    return finished.copy(tmp_path / "project")
