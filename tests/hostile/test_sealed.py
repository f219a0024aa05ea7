"""A run needs no network, starts nothing but itself, and writes nowhere but where it is told.

The system cuts the network off (a network namespace of its own with nothing in it, where that may
be had), and the interpreter reports what is asked of it (audit events: Python documentation, "Audit
events table").
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from tests.cli.running import COMMAND, SAMPLES

MOTIF = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path d="M10 45C10 10 110 10 110 45S10 80 10 45z"/></svg>'
)
WATCHED = """
import json, os, sys
seen = {"asked": [], "started": [], "written": []}
def watch(event, given):
    if event.startswith(("socket.", "urllib.", "http.", "ftplib.", "smtplib.", "webbrowser.")):
        seen["asked"].append(event)
        raise PermissionError(event)
    if event in ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.startfile"):
        seen["started"].append(os.fsdecode(given[0] or ""))
    named = event == "open" and not isinstance(given[0], int)
    if named and (given[2] or 0) & (os.O_WRONLY | os.O_RDWR):
        seen["written"].append(os.path.abspath(os.fsdecode(given[0])))
    if event in ("os.remove", "os.rename", "os.rmdir", "os.mkdir", "os.link", "os.symlink"):
        named = [os.fsdecode(path) for path in given[:2] if isinstance(path, (str, bytes))]
        seen["written"] += map(os.path.abspath, named)
sys.addaudithook(watch)
from trace2pop.cli import main
try:
    main()
finally:
    print(json.dumps(seen), file=sys.stderr)
"""


def _cut_off() -> list[str] | None:
    """Return what cuts a command off from the network, None where the system doesn't let us."""
    tool = shutil.which("unshare")
    if tool is None:
        return None
    for command in ([tool, "-rn"], [tool, "-n"]):
        if subprocess.run([*command, "true"], capture_output=True, check=False).returncode == 0:
            return command
    return None


CUT_OFF = _cut_off()


@pytest.mark.skipif(CUT_OFF is None, reason="no network namespace may be made here")
@pytest.mark.parametrize("picture", ["motif.svg", "scan.pdf"])
def test_a_card_is_made_without_a_network(picture: str, tmp_path: Path) -> None:
    assert CUT_OFF is not None
    (tmp_path / "motif.svg").write_text(MOTIF)
    with Image.open(SAMPLES / "lily" / "cutout.png") as motif:
        ground = Image.new("RGB", motif.size, "white")
        ground.paste(motif, mask=motif.getchannel("A"))
        ground.save(tmp_path / "scan.pdf", resolution=300)
    asks = "import socket; socket.create_connection(('192.0.2.1', 80))"  # RFC 5737: no one's
    told = subprocess.run(
        [*CUT_OFF, sys.executable, "-c", asks], capture_output=True, text=True, check=False
    )
    assert "unreachable" in told.stderr
    done = subprocess.run(
        [*CUT_OFF, COMMAND, "make", picture, "--out", "card"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "card" / "guide.pdf").exists()


def test_a_run_asks_for_no_network_and_starts_only_itself(tmp_path: Path) -> None:
    (tmp_path / "motif.svg").write_text(MOTIF)
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, "make", "motif.svg", "--out", "cards/card"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stderr.splitlines()[-1])
    assert seen["asked"] == []
    assert {Path(started).name for started in seen["started"]} <= {Path(sys.executable).name}
    outside = [
        path
        for path in seen["written"]
        if not Path(path).is_relative_to(tmp_path / "cards") and path != "/dev/null"
    ]
    assert outside == []
    assert len(seen["written"]) > 20


def test_the_watch_would_see_a_connection(tmp_path: Path) -> None:
    asks = "import socket\ndef main(): socket.gethostbyname('a.invalid')"
    probe = WATCHED.replace("from trace2pop.cli import main", asks)
    done = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=False
    )
    assert json.loads(done.stderr.splitlines()[0])["asked"] == ["socket.gethostbyname"]
