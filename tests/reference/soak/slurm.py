"""A show's frames as a job array of Slurm, on this machine alone: every slice once, one task killed and requeued.

    python tests/reference/soak/slurm.py RUSHLIGHT SHOW

Needs Debian's slurm-wlm and munge, and root: it starts a cluster of one node in a temporary folder, with a key and ports of
its own, and ends it. Exit 0: nothing was lost, doubled or made again; or Slurm is missing, which is said.
"""

import json
import os
import pathlib
import shutil
import socket
import subprocess
import sys
import tempfile
import time

from shows import has_module

TASKS, FRAMES = 4, 48


def missing():
    programs = [p for p in ("munged", "slurmctld", "slurmd", "sbatch", "scontrol", "squeue") if not shutil.which(p)]
    if programs:
        return f"no {', '.join(programs)} (Debian: slurm-wlm, munge)"
    if os.geteuid() != 0:
        return "a cluster is started by root"
    return None if has_module("numpy") and has_module("tifffile") else "numpy and tifffile are missing"


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


# Long enough for a machine that has other work.
def wait(what, done, seconds=300):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if done():
            return
        time.sleep(0.1)
    sys.exit(f"FAIL waited {seconds} s for {what}")


class Cluster:
    """munged, slurmctld and slurmd, each started and ended here."""

    def __init__(self, folder):
        self.folder, self.programs = folder, []
        key = folder / "munge.key"
        key.write_bytes(os.urandom(128))
        key.chmod(0o400)
        host = socket.gethostname().split(".")[0]
        for name in ("state", "spool"):
            (folder / name).mkdir()
        (folder / "slurm.conf").write_text(
            f"""ClusterName=one
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={free_port()}
SlurmdPort={free_port()}
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket
CredType=cred/munge
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
MpiDefault=none
SchedulerType=sched/builtin
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
ReturnToService=2
JobRequeue=1
KillWait=2
NodeName={host} NodeAddr=127.0.0.1 CPUs={os.cpu_count()} State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
"""
        )
        (folder / "cgroup.conf").write_text("CgroupAutomount=no\n")
        self.environment = {**os.environ, "SLURM_CONF": str(folder / "slurm.conf")}
        self.start("munged", "--foreground", "--force", f"--key-file={key}", f"--socket={folder}/munge.socket",
                   f"--pid-file={folder}/munged.pid", f"--log-file={folder}/munged.log", f"--seed-file={folder}/munged.seed")
        wait("munged", (folder / "munge.socket").exists)
        self.start("slurmctld", "-D", "-i", "-L", folder / "slurmctld.log")
        self.start("slurmd", "-D", "-L", folder / "slurmd.log")
        wait("the node", lambda: "idle" in self.ask("sinfo", "-h", "-o", "%t"))

    def start(self, *command):
        log = open(self.folder / f"{command[0]}.out", "wb")
        command = [str(c) for c in command]
        self.programs.append(subprocess.Popen(command, env=self.environment, stdout=log, stderr=log))

    def ask(self, *command):
        command = [str(c) for c in command]
        return subprocess.run(command, env=self.environment, capture_output=True, text=True).stdout.strip()

    def end(self):
        # Else tasks go on without it.
        self.ask("scancel", "--signal=KILL", "--full", "--user=root")
        self.ask("scancel", "--user=root")
        for _ in range(100):
            if not self.ask("squeue", "-h"):
                break
            time.sleep(0.1)
        for program in reversed(self.programs):
            program.terminate()
            try:
                program.wait(10)
            except subprocess.TimeoutExpired:
                program.kill()
                program.wait()


def main(binary, show):
    import numpy as np
    import tifffile

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = pathlib.Path(name)
        shot = folder / "shot"
        shot.mkdir()
        gradient = np.linspace(0.05, 0.9, 640 * 360 * 3).reshape(360, 640, 3)
        for n in range(1, FRAMES + 1):
            tifffile.imwrite(shot / f"in.{n:04}.tif", (gradient * 65535 - n).astype(np.uint16), photometric="rgb")
        job = folder / "apply.sh"
        # What README.md shows.
        job.write_text(f"""#!/bin/bash
#SBATCH --array=1-{TASKS}
#SBATCH --requeue
#SBATCH --open-mode=append
exec {binary} apply {show} --look night --camera a --display onset --exact --jobs 1 --json --resume \\
  --slice "$SLURM_ARRAY_TASK_ID/$SLURM_ARRAY_TASK_COUNT" \\
  {shot}/in.####.tif {shot}/out.####.png
""")
        cluster = Cluster(folder)
        try:
            array = cluster.ask("sbatch", "--parsable", "--chdir", folder, "-o", folder / "task-%a.json", job)
            assert array.isdigit(), "sbatch gave no job"
            second = range(FRAMES // TASKS + 1, 2 * FRAMES // TASKS + 1)
            made = lambda: [n for n in second if (shot / f"out.{n:04}.png").exists()]
            wait("frames of the second task", lambda: len(made()) >= 2)
            # Killed outright: no time to tidy up.
            cluster.ask("scancel", "--signal=KILL", "--full", f"{array}_2")
            before = {n: (shot / f"out.{n:04}.png").stat().st_mtime_ns for n in made()}
            assert len(before) < len(second), "the task was over before it was killed"
            state = lambda: cluster.ask("squeue", "-h", "-t", "all", "-j", f"{array}_2", "-o", "%T")
            wait("the task's end", lambda: state() in ("FAILED", "CANCELLED", "COMPLETING", "PENDING"))
            wait("the task to be requeued", lambda: cluster.ask("scontrol", "requeue", f"{array}_2") is not None and state() != "FAILED")

            def turn():
                # Slurm lets a requeued task wait for two minutes; then for a processor.
                if "BeginTime" in cluster.ask("squeue", "-h", "-t", "all", "-j", f"{array}_2", "-o", "%r"):
                    cluster.ask("scontrol", "update", f"JobId={array}_2", "StartTime=now")
                return state() in ("RUNNING", "COMPLETED")

            wait("the task's turn", turn, 600)
            wait("every task", lambda: not cluster.ask("squeue", "-h", "-j", array, "-t", "PENDING,RUNNING,COMPLETING", "-o", "%i"), 600)
        except SystemExit:
            for log in folder.glob("*.log"):
                print(log.name, log.read_text(errors="replace")[-1500:])
            raise
        finally:
            cluster.end()
        done, kept = [], []
        for task in range(1, TASKS + 1):
            text = (folder / f"task-{task}.json").read_text()
            report = json.loads(text[text.index("{") :])
            done += report["done"]
            kept += report["skipped"]
        there = sorted(p.name for p in shot.glob("out.*.png"))
        assert there == [f"out.{n:04}.png" for n in range(1, FRAMES + 1)], there
        assert len(set(done)) == len(done) and len(done) + len(kept) == FRAMES, (len(done), len(kept))
        assert len(kept) >= len(before), "the second run of the task found nothing there: was it killed?"
        for n, written in before.items():
            assert (shot / f"out.{n:04}.png").stat().st_mtime_ns == written, f"frame {n} was made again"
        left = [p.name for p in shot.iterdir() if p.name.startswith(".")]
        assert not left, left
        print(f"ok   {TASKS} tasks, {FRAMES} frames: task 2 killed after {len(before)} of its {len(second)}, requeued, none lost or doubled")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    if missing():
        print(f"skipped: {missing()}")
        sys.exit(0)
    main(*(pathlib.Path(a).resolve() for a in sys.argv[1:]))
