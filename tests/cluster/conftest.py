"""A Slurm of one node, started for the tests: no accounting, no root needed."""

import os
import shutil
import socket
import subprocess
import time

import pytest

PROGRAMS = ("munged", "slurmctld", "slurmd", "sbatch", "squeue", "sinfo")
CONFIGURATION = """
ClusterName=one
SlurmctldHost={host}(127.0.0.1)
SlurmUser={user}
SlurmdUser={user}
AuthType=auth/munge
AuthInfo=socket={folder}/munge/socket
CryptoType=crypto/munge
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
SlurmctldPort={ports[0]}
SlurmdPort={ports[1]}
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
MpiDefault=none
ReturnToService=2
MinJobAge=3600
NodeName={host} NodeAddr=127.0.0.1 CPUs={cpus} RealMemory={memory} State=UNKNOWN
PartitionName=main Nodes={host} Default=YES MaxTime=INFINITE State=UP
"""


def free_ports(n):
    sockets = [socket.socket() for _ in range(n)]
    for one in sockets:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in sockets]
    for one in sockets:
        one.close()
    return ports


def wait_for(condition, seconds, what):
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            raise TimeoutError(what)
        time.sleep(0.2)


def own_srun(folder):
    """Folder of an srun that finds this Slurm: jobs lose where its configuration lies."""
    path = folder / "bin" / "srun"
    path.parent.mkdir()
    real = shutil.which("srun")
    path.write_text(f'#!/bin/sh\nSLURM_CONF={folder}/slurm.conf exec {real} "$@"\n')
    path.chmod(0o755)
    return path.parent


@pytest.fixture(scope="session")
def slurm(tmp_path_factory):
    """Environment in which sbatch and squeue reach a running Slurm."""
    missing = [name for name in PROGRAMS if not shutil.which(name)]
    if missing:
        text = f"{', '.join(missing)} missing; Debian: apt-get install slurmctld slurmd munge"
        if os.environ.get("ONECOUPLE_CLUSTER") == "required":
            pytest.fail(text)
        pytest.skip(text)
    folder = tmp_path_factory.mktemp("slurm")
    environment = os.environ | {
        "SLURM_CONF": str(folder / "slurm.conf"),
        "PATH": f"{own_srun(folder)}:{os.environ['PATH']}",
    }
    daemons = []

    def start(*command):
        with (folder / f"{command[0]}.out").open("w") as out:
            daemons.append(
                subprocess.Popen(command, env=environment, stdout=out, stderr=subprocess.STDOUT)
            )

    def ready():
        told = subprocess.run(
            ["sinfo", "--noheader", "--format=%T"],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        return told.stdout.strip() == "idle"

    for name in ("munge", "state", "spool"):
        (folder / name).mkdir(mode=0o700)
    key = folder / "munge" / "key"
    key.write_bytes(os.urandom(1024))
    key.chmod(0o400)
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2**20
    (folder / "slurm.conf").write_text(
        CONFIGURATION.format(
            host=socket.gethostname().split(".")[0],
            user=subprocess.check_output(["id", "-un"], text=True).strip(),
            folder=folder,
            ports=free_ports(2),
            cpus=os.cpu_count(),
            memory=int(0.8 * memory),
        )
    )
    try:
        options = ("socket", "pid-file", "log-file", "seed-file")
        files = [f"--{name}={folder}/munge/{name.split('-')[0]}" for name in options]
        start("munged", "--foreground", "--force", f"--key-file={key}", *files)
        wait_for((folder / "munge" / "socket").exists, 20, "munged")
        start("slurmctld", "-D", "-f", str(folder / "slurm.conf"))
        start("slurmd", "-D", "-f", str(folder / "slurm.conf"))
        wait_for(ready, 60, f"no idle node; see {folder}/slurmctld.log")
        yield environment
    finally:
        for daemon in reversed(daemons):
            daemon.terminate()
        for daemon in daemons:
            daemon.wait(20)
