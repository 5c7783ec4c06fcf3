"""No network at run time: with every way out closed the workflow runs, and none is tried."""

import sys

import pytest

from tests.campaigns.runs import REPORT
from tests.offline import CLOSED, Offline, OfflineProject
from tests.project import CASE

OF_CASE = f"results/cases/{CASE}"
FORGIVEN = """
from contextlib import suppress
from urllib.request import urlopen
with suppress(OSError):
    urlopen("http://{host}/", timeout=5)
"""
NOWHERE = "192.0.2.1"  # RFC 5737: an address for examples, which is nobody's


@pytest.fixture
def project(tmp_path):
    return OfflineProject(tmp_path)


def watched(project):
    """Scripts of the workflow whose processes were watched."""
    ran = [line.split("/")[-1] for line in project.offline.started if "/scripts/" in line]
    return {name.split(".")[-2] for name in ran}


def test_a_wire_and_its_teeth_are_computed_without_a_network(project):
    project.edit(project.case_file, "teeth: [35, 34, 33]", "teeth: [35]")
    project.edit(project.case_file, "between: [34, 35]", "tooth: 35")
    status, said, _ = project.run(f"{OF_CASE}/equilibrium.json")
    assert status == 0, said
    assert project.offline.asked == []
    assert {"tooth_mesh", "tooth_support", "equilibrium"} <= watched(project)


@pytest.mark.slow
def test_sheet_study_and_report_are_made_without_a_network(project):
    status, said, _ = project.run(f"{OF_CASE}/sheet.html", REPORT)
    assert status == 0, said
    assert {"response", "sheet", "sweep_runs", "sweep_report"} <= watched(project)
    status, said, _ = project.run("--report", "results/report.zip")
    assert status == 0, said
    assert (project.folder / "results" / "report.zip").stat().st_size > 1e6
    assert project.offline.asked == []


def test_a_stage_that_asks_the_network_is_noticed_though_it_forgives_the_failure(project):
    script = project.folder / "workflow" / "scripts" / "wire_rod.py"
    text = script.read_text(encoding="utf-8")
    script.write_text(FORGIVEN.format(host=NOWHERE) + text, encoding="utf-8")
    status, said, _ = project.run("--until", "wire_rod")
    assert status == 0, said
    (asked,) = project.offline.asked
    assert asked.startswith(NOWHERE)
    assert "wire_rod" in asked


@pytest.mark.parametrize("host", [NOWHERE, "example.org", "[2001:db8::1]"])
def test_the_hook_notes_names_and_addresses(tmp_path, host):
    offline = Offline(tmp_path)
    done = offline.run(sys.executable, "-c", FORGIVEN.format(host=host))
    assert done.returncode == 0, done.stderr
    assert offline.asked[0].split()[0] == host.strip("[]")


def test_the_hook_lets_this_machine_be(tmp_path):
    offline = Offline(tmp_path, closed=[])
    serve = (
        "import socket; s = socket.create_server(('127.0.0.1', 0)); "
        "socket.create_connection(('localhost', s.getsockname()[1])); "
        "a, b = socket.socketpair(); a.send(b'x'); assert b.recv(1) == b'x'"
    )
    done = offline.run(sys.executable, "-c", serve)
    assert done.returncode == 0, done.stderr
    assert offline.asked == []


@pytest.mark.skipif(not CLOSED, reason="no network of its own may be made here")
def test_other_programs_have_no_way_out(tmp_path):
    listed = Offline(tmp_path).run("cat", "/proc/net/dev").stdout
    interfaces = [line.split(":")[0].strip() for line in listed.splitlines() if ":" in line]
    assert interfaces == ["lo"]
