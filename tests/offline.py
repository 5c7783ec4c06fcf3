"""Programs run with the network closed, and every attempt to use it written down.

Where the system allows it, a program gets a network of its own without any way out (`unshare`),
which binds compiled libraries and other programs too. In every process of Python a hook besides
refuses and notes what leads out, so that an attempt which the code forgives is seen as well.
"""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from tests.campaigns.runs import CoarseProject

_HOOK = """
import os
import sys

LOCAL = ("", "localhost", "::1", "0.0.0.0")
PLACES = {"socket.connect": 1, "socket.sendto": 1, "socket.sendmsg": 1, "socket.getaddrinfo": 0,
          "socket.gethostbyname": 0, "socket.gethostbyaddr": 0}


def note(*words):
    with open(os.environ["NETWORK_LOG"], "a", encoding="utf-8") as stream:
        stream.write(" ".join(map(str, words)) + "\\n")


def watch(event, arguments):
    if event not in PLACES:
        return
    place = arguments[PLACES[event]]
    host = place[0] if isinstance(place, tuple) else place if PLACES[event] == 0 else None
    host = host.decode() if isinstance(host, bytes) else host
    if host is None or host in LOCAL or host.startswith("127."):
        return  # of this machine; a path is that of a local socket
    note("asked", host, *sys.argv)
    raise OSError(f"{host}: the network is closed")


note("started", *sys.orig_argv)
sys.addaudithook(watch)
"""


def _closed():
    """Words before a command that give it a network without a way out; none if that is refused."""
    ways = (["unshare", "--net", "--map-root-user"], ["unshare", "--net"])
    for way in ways if shutil.which("unshare") else ():
        if subprocess.run([*way, "true"], capture_output=True, check=False).returncode == 0:
            return way
    return []


CLOSED = _closed()


class Offline:
    """What programs do with the network, closed to them."""

    def __init__(self, folder, closed=CLOSED):
        """Write the hook into a folder of its own; `closed` comes before every command."""
        self.closed = closed
        self.hooks = Path(tempfile.mkdtemp(prefix="hook-", dir=folder))
        (self.hooks / "sitecustomize.py").write_text(_HOOK, encoding="utf-8")
        self.notes = self.hooks / "network.log"

    def command(self, *words):
        return [*self.closed, *words]

    def environment(self, given):
        path = os.pathsep.join([str(self.hooks), *filter(None, [given.get("PYTHONPATH")])])
        return dict(given) | {"PYTHONPATH": path, "NETWORK_LOG": str(self.notes)}

    def run(self, *words):
        """Run a program to its end."""
        given = self.environment(os.environ)
        words = self.command(*words)
        return subprocess.run(words, env=given, capture_output=True, text=True, check=False)

    def _noted(self, word):
        lines = self.notes.read_text(encoding="utf-8").splitlines()
        return [line.removeprefix(f"{word} ") for line in lines if line.startswith(f"{word} ")]

    @property
    def started(self):
        """Commands of the processes of Python that were watched."""
        return self._noted("started")

    @property
    def asked(self):
        """Hosts that were asked for, and by whom."""
        return self._noted("asked")


class OfflineProject(CoarseProject):
    """A copy of the project that runs without a network."""

    def __init__(self, folder):
        super().__init__(folder / "project")
        self.offline = Offline(folder)

    def command(self, *arguments, **options):
        return self.offline.command(*super().command(*arguments, **options))

    @property
    def environment(self):
        return self.offline.environment(super().environment)
