"""What README.md promises of files, streams and the exit status, under attack."""

import json
import os
import resource
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from mesh_files import stl_bytes, write
from shaft_case import write_case
from specimens import tube

import trajplan
from trajplan.cli import main
from trajplan.files import read_plan

AXES = "id,kind,technique,x,y,z,to_x,to_y,to_z\nA,HA4.5,lag,-30,0,50,30,0,50\n"
#: Room for a table, and for no picture: bytes.
LITTLE_ROOM = 40_000


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """A folder with a case that is planned."""
    folder = tmp_path_factory.mktemp("planned")
    case = write_case(folder)
    text = case.read_text().replace("candidates = 400", "candidates = 100")
    case.write_text(text.replace("draws = 50", "draws = 0"))
    (folder / "axes.csv").write_text(AXES)
    words = ["plan", str(case), "--no-picture", "--out", str(folder / "out")]
    assert main(words) in (0, 1)
    return folder


@pytest.fixture
def plan(planned, folder):
    """The plan of a copy of that folder, in which a test may work."""
    shutil.copytree(planned, folder, dirs_exist_ok=True)
    return folder / "out" / "plan.json"


def contents(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def refused(answer, *said):
    """Status 2 and one line that says what and how to mend it."""
    assert answer.status == 2, answer
    (line,) = answer.err.splitlines()
    assert line.startswith("trajplan: ")
    assert "; " in line
    for words in said:
        assert words in line


def shell(*words, prepare=None, out=subprocess.PIPE, **settings):
    return subprocess.run(
        [sys.executable, "-m", "trajplan", *map(str, words)],
        stdout=out, stderr=subprocess.PIPE, check=False, timeout=300, preexec_fn=prepare,
        env=os.environ | settings,
    )  # fmt: skip


# files that are there


@pytest.mark.parametrize(
    "words",
    [
        ("export", "out/plan.json", "--screws", "bone.stl"),
        ("export", "out/plan.json", "--drills", "bone.stl"),
        ("export", "out/plan.json", "--axes", "axes.csv"),
        ("drill", "out/plan.json", "-o", "case.toml"),
        ("drill", "out/plan.json", "-o", "out/plan.json"),
        ("drill", "out/plan.json", "-o", "out/source.json"),
        ("report", "out/plan.json", "-o", "letter.html"),
        ("plan", "case.toml", "--out", ".", "--no-picture"),
        ("check", "case.toml", "axes.csv", "--out", "."),
        ("fracture", "case.toml", "--split", "--out", "."),
        ("batch", "case.toml", "--out", "."),
    ],
)
def test_nothing_is_written_over_what_is_read_or_not_our_own(run, plan, folder, words):
    for name in ("letter.html", "plan.csv", "check.json", "fragment2.stl", "cases.csv"):
        write(folder / name, "somebody's own")
    before = contents(folder)
    refused(run(*words), "file")
    assert contents(folder) == before


def test_a_link_to_an_input_is_that_input(run, plan, folder):
    (folder / "screws.stl").symlink_to("bone.stl")
    os.link(folder / "out" / "plan.json", folder / "steps.txt")
    before = contents(folder)
    refused(run("export", "out/plan.json", "--screws", "screws.stl"), "screws.stl")
    refused(run("drill", "out/plan.json", "-o", "steps.txt"), "steps.txt")
    assert contents(folder) == before


def test_force_writes_over_a_file_of_somebody_else(run, plan, folder):
    write(folder / "axes.csv", "somebody's own")
    refused(run("export", plan, "--axes", "axes.csv"), "axes.csv", "--force")
    assert run("export", plan, "--axes", "axes.csv", "--force").status in (0, 1)
    assert (folder / "axes.csv").read_text().startswith("id,kind,technique")


def test_our_own_files_are_written_again_and_changed_ones_are_not(run, plan, folder):
    again = ("plan", "case.toml", "--no-picture", "--out", "out")
    assert run(*again).status in (0, 1)
    assert run("export", plan, "--axes", "mine.csv").status in (0, 1)
    assert run("export", plan, "--axes", "mine.csv").status in (0, 1)
    with (folder / "mine.csv").open("a") as stream:
        stream.write("# a remark\n")
    refused(run("export", plan, "--axes", "mine.csv"), "changed since trajplan wrote it")
    (folder / "out" / "plan.csv").write_text("looked through")
    refused(run(*again), "plan.csv", "changed since")


@pytest.mark.parametrize(
    "words",
    [
        ("export", "out/plan.json", "--screws", "s.stl", "--drills", "s.stl"),
        ("export", "out/plan.json", "--screws", "s.stl", "--drills", "out/../s.stl", "--force"),
        ("export", "out/plan.json", "--axes", "new.csv", "--sections", "new.csv"),
    ],
)
def test_two_things_are_not_written_to_one_place(run, plan, folder, words):
    before = contents(folder)
    refused(run(*words), "two things are to be written here")
    assert contents(folder) == before
    assert not (folder / "new.csv").exists()


@pytest.mark.parametrize("force", [(), ("--force",)])
def test_a_folder_under_the_name_of_a_file_stops_a_command_at_once(run, plan, folder, force):
    (folder / "made" / "plan.png").mkdir(parents=True)
    answer = run("plan", "case.toml", "--out", "made", *force)
    assert (answer.status, answer.out) == (2, "")
    refused(answer, "plan.png: this is a folder")
    assert [path.name for path in (folder / "made").iterdir()] == ["plan.png"]


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "case.toml", "--out", "", "--no-picture"),
        ("check", "case.toml", "axes.csv", "--out="),
        ("export", "out/plan.json", "--sections", " "),
        ("inspect", ""),
        ("batch", ""),
    ],
)
def test_an_empty_name_is_not_this_folder(run, plan, folder, words):
    """A script's variable that is not set: files would lie among whatever is here."""
    before = contents(folder)
    refused(run(*words), "the name is empty")
    assert contents(folder) == before


def test_a_name_of_a_folder_is_no_name_for_a_file(run, plan, folder):
    refused(run("drill", plan, "-o", "steps/"), "steps/ names a folder, not a file")
    assert not (folder / "steps").exists()


def test_the_list_of_our_files_is_one_that_sha256sum_checks(plan, folder):
    tool = shutil.which("sha256sum")
    done = subprocess.run(
        [tool, "-c", ".trajplan"], cwd=plan.parent, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines() == ["plan.csv: OK", "plan.json: OK", "source.json: OK"]


def test_a_file_of_another_kind_under_the_name_of_the_list(run, plan, folder):
    write(folder / ".trajplan", "notes of mine")
    refused(run("drill", plan, "-o", "steps.txt"), ".trajplan", "rename it")
    assert (folder / ".trajplan").read_text() == "notes of mine"


# all or nothing


def little_room():
    """Let no file grow past a size, as a full disk would not (setrlimit(2), RLIMIT_FSIZE)."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (LITTLE_ROOM, LITTLE_ROOM))


@pytest.mark.parametrize(
    "words",
    [
        ("export", "out/plan.json", "--axes", "a.csv", "--scene", "s.glb"),
        ("study", "case.toml", "tilt", "0", "5", "--out", "new/deep"),
    ],
)
def test_a_disk_that_is_full_half_way_leaves_nothing(plan, folder, words):
    before = contents(folder)
    done = shell(*words, prepare=little_room)
    assert (done.returncode, done.stdout) == (2, b""), done.stderr
    assert done.stderr.count(b"\n") == 1
    assert b"File too large" in done.stderr
    assert contents(folder) == before
    assert not (folder / "new").exists()


# streams


def test_a_reader_that_stops_early_changes_no_status(run, plan, folder):
    verdict = {"fail": 1}.get(read_plan(plan).verdict, 0)
    axes = AXES + "".join(f"B{i},HA4.5,lag,-30,{i},150,30,{i},150\n" for i in range(30))
    (folder / "axes.csv").write_text(axes)  # lines beside the bone: they fail
    for words, status in (
        (("drill", "out/plan.json"), verdict),
        (("check", "case.toml", "axes.csv", "--json", "--out", "checked"), 1),
        (("--help",), 0),
    ):
        near, far = os.pipe()
        os.close(near)
        done = shell(*words, out=far)
        os.close(far)
        assert (done.returncode, done.stderr) == (status, b"")
    assert (folder / "checked" / "check.json").is_file()


def test_a_full_place_for_what_is_printed_is_2_and_leaves_no_file(plan, folder):
    before = contents(folder)
    with Path("/dev/full").open("wb") as full:
        done = shell("check", "case.toml", "axes.csv", "--out", "checked", out=full)
    assert done.returncode == 2
    assert b"what is printed cannot be written (No space left on device)" in done.stderr
    assert done.stderr.count(b"\n") == 1
    assert contents(folder) == before


def test_letters_that_the_terminal_lacks_are_2_and_leave_no_file(plan, folder):
    text = (folder / "case.toml").read_text()
    (folder / "case.toml").write_text(f'title = "Schenkel, Bruch über 2 mm"\n{text}')
    before = contents(folder)
    words = ("check", "case.toml", "axes.csv", "--out", "checked")
    done = shell(*words, PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stdout) == (2, b"")
    assert b"PYTHONIOENCODING=utf-8" in done.stderr
    assert done.stderr.count(b"\n") == 1
    assert contents(folder) == before


def test_nothing_from_a_file_is_obeyed_by_a_terminal(run, plan, folder):
    text = (folder / "case.toml").read_text()
    (folder / "case.toml").write_text(f'title = "red \\u001b[31m"\n{text}')
    refused(run("fracture", "case.toml"), "title", "U+001B")
    (folder / "case.toml").write_text(text.replace("unit", '"\\u001b[2J" = 1\nunit', 1))
    refused(run("fracture", "case.toml"), "\\u001b[2J")
    (folder / "bone.stl").rename(folder / "b\x1b[31m.stl")
    answer = run("inspect", "b\x1b[31m.stl")
    assert answer.status == 0
    assert "\x1b" not in answer.out
    assert "b\\u001b[31m.stl" in answer.out


@pytest.mark.parametrize("sign", ["\0", "\x1b", "\x9b", "\x7f", "\u202e"])
def test_an_id_holds_no_sign_that_is_obeyed(run, plan, folder, sign):
    (folder / "axes.csv").write_text(AXES.replace("\nA,", f"\nA{sign}b,"), encoding="utf-8")
    refused(run("check", "case.toml", "axes.csv"), "row 2", f"U+{ord(sign):04X}; take it out")


# what is no file


def fifo(path):
    os.mkfifo(path)


def listening(path):
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(path.name)  # the name is short below the folder of the test


def itself(path):
    path.symlink_to(path.name)


def zeros(path):
    path.symlink_to("/dev/zero")


def nothing(path):
    assert not path.exists()


PLACES = {"fifo": fifo, "socket": listening, "link to itself": itself, "device": zeros}
READS = {
    "bone.stl": [("inspect", "bone.stl"), ("fracture", "case.toml"), ("drill", "out/plan.json")],
    "case.toml": [
        ("fracture", "case.toml"), ("view", "out/plan.json", "--shot", "x.png"),
        ("batch", "case.toml", "-o", "many"),
    ],
    "axes.csv": [("check", "case.toml", "axes.csv"), ("batch", "axes.csv", "-o", "many")],
    "out/plan.json": [("report", "out/plan.json")],
    "out/source.json": [("drill", "out/plan.json")],
    "own.toml": [("screws", "--catalogue", "own.toml")],
}  # fmt: skip


@pytest.mark.parametrize("make", PLACES.values(), ids=PLACES)
@pytest.mark.parametrize("name", READS)
def test_only_regular_files_are_read(run, plan, folder, name, make):
    path = folder / name
    path.unlink(missing_ok=True)
    make(path)
    for words in READS[name]:
        refused(run(*words))


@pytest.mark.parametrize("name", ["x" * 300, "x" * 5000, "a\0b"], ids=["long", "path", "null"])
def test_names_that_no_system_takes(run, plan, folder, name):
    calls = [
        ("inspect", f"{name}.stl"),
        ("plan", f"{name}.toml"),
        ("plan", "case.toml", "--out", name),
        ("check", "case.toml", f"{name}.csv"),
        ("drill", f"{name}.json"),
        ("drill", "out/plan.json", "-o", name),
        ("drill", "out/plan.json", "--case", name),
        ("export", "out/plan.json", "--sections", name),
        ("export", "out/plan.json", "--axes", f"{name}.csv"),
        ("report", "out/plan.json", "--out", f"{name}.html"),
        ("batch", name),
        ("batch", "case.toml", "-o", name),
        ("screws", "--catalogue", name),
    ]
    before = contents(folder)
    for words in calls:
        refused(run(*words))
    assert contents(folder) == before


def test_a_name_that_is_as_long_as_a_system_takes(run, plan, folder):
    name = "x" * 251 + ".txt"
    assert run("drill", plan, "-o", name).status in (0, 1)
    assert (folder / name).is_file()


def test_a_signalling_number_that_is_none_is_refused_in_one_line(run, folder):
    content = bytearray(stl_bytes(tube()))
    content[84 + 12 : 84 + 16] = (0x7F800001).to_bytes(4, "little")  # IEEE 754: quiet bit not set
    write(folder / "bone.stl", bytes(content))
    refused(run("inspect", "bone.stl"), "is not a finite number")
    content[:5] = b"solid"  # read by another way
    write(folder / "bone.stl", bytes(content))
    refused(run("inspect", "bone.stl"), "is not a finite number")


def test_a_batch_names_what_is_no_file_and_goes_on(plan, folder):
    os.mkfifo(folder / "pipe.toml")
    (folder / "bad.toml").write_text((folder / "case.toml").read_text().replace("bone.", "bad."))
    os.mkfifo(folder / "bad.stl")
    ends = {outcome.id: outcome for outcome in trajplan.batch(folder, workers=1, timeout=100)}
    assert ends["case"].status == "done"
    assert "this is a pipe, not a file" in ends["pipe"].error
    assert "this is a pipe, not a file" in ends["bad"].error


@pytest.mark.parametrize("make", [fifo, zeros], ids=["fifo", "device"])
def test_a_list_or_a_file_of_ours_that_is_no_file(run, plan, folder, make):
    make(folder / ".trajplan")
    refused(run("drill", plan, "-o", "steps.txt"), ".trajplan", "rename it")
    (folder / "out" / "plan.csv").unlink()
    make(folder / "out" / "plan.csv")
    refused(run("plan", "case.toml", "--out", "out", "--no-picture"), "plan.csv", "name another")


# a plan that was edited


def edited(plan, change):
    data = json.loads(plan.read_text(encoding="utf-8"))
    change(data)
    plan.write_text(json.dumps(data), encoding="utf-8")


#: What a hand may change, each still a plan by its schema.
EDITS = {
    "longer": lambda data: data["screws"][0].update(length=300.0),
    "a hair": lambda data: data["screws"][0].update(gauge=data["screws"][0]["gauge"] + 1e-9),
    "verdict": lambda data: data.update(verdict="pass"),
    "findings": lambda data: data["screws"][0].update(findings=[]),
    "cautions": lambda data: data.update(cautions=[]),
    "title": lambda data: data.update(title="of somebody else"),
    "no digest": lambda data: data.pop("digest"),
    "another digest": lambda data: data.update(digest="0" * 64),
}


@pytest.mark.parametrize("change", EDITS.values(), ids=EDITS)
def test_an_edited_plan_is_refused_with_the_way_to_plan_again(run, plan, folder, change):
    edited(plan, change)
    before = contents(folder)
    for words in (
        ("drill", plan), ("report", plan), ("export", plan, "--axes", "a.csv"),
        ("view", plan, "--shot", "a.png"),
    ):  # fmt: skip
        refused(run(*words), "plan.json, digest", "digest", "plan the case again")
    assert contents(folder) == before


def test_a_plan_that_is_laid_out_anew_is_the_same(run, plan):
    edited(plan, lambda data: data.update(created="2020-01-01T00:00:00+00:00"))
    assert run("drill", plan).status in (0, 1)
