"""A Slurm of one controller and two node daemons on this machine alone, for tests."""

from __future__ import annotations

import os
import secrets
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PROGRAMS = ("sbatch", "slurmctld", "slurmd", "munged")
CONF = """\
ClusterName=loop
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={ports[0]}
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket
SlurmUser=root
SlurmdUser=root
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool-%n
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd-%n.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd-%n.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
ReturnToService=2
SchedulerParameters=sched_interval=1,bf_interval=1
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
KillWait=2
MessageTimeout=4
SlurmdTimeout=6
MinJobAge=30
NodeName=n1 NodeHostname={host} NodeAddr=127.0.0.1 Port={ports[1]} CPUs=1
NodeName=n2 NodeHostname={host} NodeAddr=127.0.0.1 Port={ports[2]} CPUs=1
PartitionName=main Nodes=n1,n2 Default=YES MaxTime=INFINITE State=UP
"""


def missing() -> str:
    """Why there can be no such Slurm here; empty where there can."""
    absent = [name for name in PROGRAMS if shutil.which(name, path=_path()) is None]
    if absent:
        return f"not installed: {', '.join(absent)}"
    return "" if os.geteuid() == 0 else "its daemons need root"


@contextmanager
def loopback_slurm(folder: Path) -> Iterator[dict[str, str]]:
    """Start it in a folder; yields the environment its commands need, and stops it afterwards."""
    env = {**os.environ, "PATH": _path(), "SLURM_CONF": str(folder / "slurm.conf")}
    (folder / "state").mkdir(parents=True)
    folder.chmod(0o711)
    host = socket.gethostname().partition(".")[0]
    (folder / "slurm.conf").write_text(CONF.format(host=host, ports=_ports(3), folder=folder))
    started: list[subprocess.Popen[bytes]] = []

    def start(*command: str) -> None:
        log = (folder / f"{command[0]}-{len(started)}.out").open("wb")
        started.append(subprocess.Popen(command, env=env, stdout=log, stderr=log))

    try:
        key = folder / "munge.key"
        key.write_bytes(secrets.token_bytes(1024))
        key.chmod(0o400)
        files = [f"--{what}-file={folder}/munge.{what}" for what in ("key", "pid", "log", "seed")]
        start("munged", "--foreground", "--force", f"--socket={folder}/munge.socket", *files)
        _wait(lambda: (folder / "munge.socket").exists(), "munged")
        start("slurmctld", "-D", "-f", env["SLURM_CONF"])
        for node in ("n1", "n2"):
            start("slurmd", "-D", "-N", node, "-f", env["SLURM_CONF"])
        _wait(lambda: _idle(env), "the two nodes")
        yield env
    finally:
        for process in reversed(started):
            process.terminate()
        for process in started:
            try:
                process.wait(timeout=10.0)
            except subprocess.TimeoutExpired:
                process.kill()


def _path() -> str:
    """Daemons stand in folders of the administrator."""
    return os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/sbin"])


def _ports(count: int) -> list[int]:
    held = [socket.socket() for _ in range(count)]
    for one in held:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in held]
    for one in held:
        one.close()
    return ports


def _idle(env: dict[str, str]) -> bool:
    command = ["sinfo", "--noheader", "--Node", "--format=%T"]
    told = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    return told.stdout.split() == ["idle", "idle"]


def _wait(ready, what: str, most: float = 30.0) -> None:
    end = time.monotonic() + most
    while not ready():
        if time.monotonic() > end:
            message = f"{what} did not start within {most:g} s"
            raise TimeoutError(message)
        time.sleep(0.1)
