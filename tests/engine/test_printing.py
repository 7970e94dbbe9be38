"""What the command prints, and where: for a person, for a program, and nothing at all; progress only on a terminal."""

import fcntl
import json
import os
import pty
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest
from click.testing import CliRunner

from audit.cli import main
from plugins.outputs.findings_json import FINDING_KEYS, OBSERVATION_KEYS

HOME = Path(__file__).parents[2]
CLAIMS = "claim_id,product,quantity,relation,value,value_to\nA,Sedge,duv,within,0,0.003\nB,Sedge,ra,at_least,90,\n"
REPORT = "serial,Ra,Duv,standing\n1,93.0,0.0012,accredited report\n2,92.0,0.0011,accredited report\n"
# A reader that takes its time, so that there is progress to show.
SLOW = """
import time
from audit import Reader, Refusal, hookimpl

def read(document):
    time.sleep(1.5)
    raise Refusal("it is empty")

@hookimpl
def register_readers():
    return [Reader("slow", "slow", lambda document, head: float(document.path.endswith(".slow")), read)]
"""


@pytest.fixture
def folder(tmp_path):
    papers = tmp_path / "papers"
    papers.mkdir()
    (papers / "claims.csv").write_text(CLAIMS, encoding="utf-8")
    (papers / "report.csv").write_text(REPORT, encoding="utf-8")
    return papers


def invoked(*arguments: object):
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def on_a_terminal(width: int, *arguments: object, **environment: str) -> str:
    """Return all that the command shows on a terminal of this width."""
    leader, follower = pty.openpty()
    fcntl.ioctl(follower, termios.TIOCSWINSZ, struct.pack("HHHH", 40, width, 0, 0))
    names = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "COLUMNS", "FORCE_COLOR")}
    command = [sys.executable, "-c", "from audit.cli import main; main()", *map(str, arguments)]
    process = subprocess.Popen(
        command, cwd=HOME, env=names | {"TERM": "xterm", **environment}, stdout=follower, stderr=follower
    )
    os.close(follower)
    shown = b""
    while True:
        try:
            more = os.read(leader, 65536)
        except OSError:  # the other end is closed
            break
        if not more:
            break
        shown += more
    os.close(leader)
    process.wait()
    return shown.decode("utf-8")


def test_json_lines_are_findings_then_observations_and_nothing_else(folder, tmp_path):
    result = invoked("audit", folder, "--out", tmp_path / "out", "--json")
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    kinds = [line.pop("kind") for line in lines]
    assert kinds == sorted(kinds)
    assert kinds.count("finding") == 2
    whole = json.loads((tmp_path / "out" / "findings.json").read_bytes())
    assert lines == whole["findings"] + whole["observations"]
    assert tuple(lines[0]) == FINDING_KEYS
    assert kinds[-1] == "observation"
    assert tuple(lines[-1]) == OBSERVATION_KEYS
    assert (result.exit_code, result.stderr) == (0, "")


def test_json_lines_hold_no_line_end_and_no_escape_of_a_document(folder, tmp_path):
    (folder / "x\x1b[2J\u2028.csv").write_text("nothing,\x1b[2J\u2028\n", encoding="utf-8")
    result = invoked("audit", folder, "--out", tmp_path / "out", "--json")
    assert all(json.loads(line) for line in result.stdout.split("\n")[:-1])
    assert not {"\x1b", "\u2028", "\r"} & set(result.stdout)


def test_quiet_is_the_status_alone_and_errors(folder, tmp_path):
    result = invoked("audit", folder, "--out", tmp_path / "out", "--quiet")
    assert (result.exit_code, result.output) == (0, "")
    assert (tmp_path / "out" / "report.html").is_file()
    result = invoked("audit", tmp_path / "gone", "--quiet")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is no folder" in result.stderr


def test_quiet_and_json_exclude_each_other(folder):
    result = invoked("audit", folder, "--quiet", "--json")
    assert result.exit_code == 2
    assert "choose one of them" in result.stderr


def test_a_habit_changes_what_people_read_and_no_data(folder, tmp_path):
    outs, texts = {}, {}
    for habit in ("", "eu", "us"):
        out = tmp_path / f"out{habit}"
        texts[habit] = invoked("audit", folder, "--out", out, *(["--habit", habit] if habit else [])).stdout
        outs[habit] = {path.name: path.read_bytes() for path in out.iterdir()}
    assert outs[""]["findings.json"] == outs["eu"]["findings.json"] == outs["us"]["findings.json"]
    assert "0.00120" in texts[""]
    assert "0,00120" in texts["eu"]
    assert [b"size: A4" in outs[habit]["report.html"] for habit in ("", "eu", "us")] == [True, True, False]
    assert b"size: letter" in outs["us"]["report.html"]


@pytest.mark.parametrize("width", [60, 80, 120])
def test_a_terminal_of_any_width_is_not_overrun(folder, tmp_path, width):
    shown = on_a_terminal(width, "audit", folder, "--out", tmp_path / "out", NO_COLOR="1")
    assert "\x1b[3" not in shown
    lines = [line for line in shown.splitlines() if not line.startswith("Report: ")]
    assert max(map(len, lines)) <= width
    assert any(line.startswith("A ") and "supported" in line for line in lines)


def test_progress_is_shown_on_a_terminal_once_it_takes_long(folder, tmp_path):
    (folder / "one\u202e.slow").write_text("1", encoding="utf-8")
    (tmp_path / "slow.py").write_text(SLOW, encoding="utf-8")
    arguments = ("audit", folder, "--out", tmp_path / "out", "--plugin", tmp_path / "slow.py")
    shown = on_a_terminal(80, *arguments)
    assert "reading one?.slow" in shown
    assert "reading one" not in on_a_terminal(80, *arguments, "--quiet")
    assert "reading one" not in on_a_terminal(80, *arguments, TERM="dumb")
    result = invoked(*arguments)
    assert "reading one" not in result.output


def test_short_work_shows_no_progress(folder, tmp_path, monkeypatch):
    from audit import progress

    begun = []
    monkeypatch.setattr(progress.sys, "stderr", type("Screen", (), {"isatty": lambda self: True})())
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(progress.Progress, "_show", lambda self: begun.append(1))
    with progress.Progress() as shown:
        shown.tell("reading", 0, 1)
    assert begun == []


def test_without_room_for_temporary_files_it_says_so(folder, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    result = invoked("audit", folder, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "the workbook can't be made (No such file or directory)" in result.stderr
    assert "TMPDIR" in result.stderr
