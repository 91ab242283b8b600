"""The package as it is delivered: the wheel in an empty environment, and the set-up scripts."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest

from trainer import __version__

ROOT = Path(__file__).resolve().parents[2]
BASE_PYTHON = Path(getattr(sys, "_base_executable", sys.executable))
# What the set-up needs of a machine besides Python; apt-get and sudo are left out on purpose.
COMMANDS = ["sh", "awk", "cat", "cksum", "dirname", "find", "grep", "id", "mkdir", "rm", "sed"]
COMMANDS += ["sort", "tail", "tr", "uname"]


def run(
    command: Sequence[str | os.PathLike[str]], environment: Mapping[str, str], cwd: Path
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        env=dict(environment),
        cwd=cwd,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )


def make_environment(folder: Path, *extra_paths: Path) -> Path:
    """A virtual environment that finds our dependencies where they are installed now.

    So no network is needed. The checkout is found only where it is among `extra_paths`: the path
    file of the present environment, which names the checkout, is not read for a nested entry.
    """
    subprocess.run([BASE_PYTHON, "-m", "venv", "--without-pip", folder], check=True)
    packages = next(folder.glob("lib/python*/site-packages"))
    installed = {Path(entry) for entry in sys.path if Path(entry).name == "site-packages"}
    lines = [str(path) for path in (*extra_paths, *sorted(installed))]
    (packages / "dependencies.pth").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder / "bin" / "python"


# --- the wheel -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build: list[str | Path] = [
        sys.executable,
        "-m",
        "build",
        "--wheel",
        "--no-isolation",
        "--outdir",
        folder,
        ROOT,
    ]
    done = run(build, os.environ, folder)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The command `stemline` of an environment in which only the wheel was installed."""
    folder = tmp_path_factory.mktemp("empty") / "environment"
    python = make_environment(folder)
    # fmt: off
    install: list[str | Path] = [
        sys.executable, "-m", "pip", "--python", python, "install", "--no-deps", "--no-index",
        "--disable-pip-version-check", "--force-reinstall", wheel,
    ]
    # fmt: on
    done = run(install, os.environ, folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "bin" / "stemline"


def test_wheel_holds_the_shipped_files_and_nothing_of_the_checkout(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("resources", "repertoires"):
        shipped = {path for path in (ROOT / folder).rglob("*") if path.is_file()}
        assert shipped
        missing = {f"trainer/_data/{path.relative_to(ROOT)}" for path in shipped} - names
        assert not missing
    metadata = f"stemline-{__version__}.dist-info/"
    strays = {name for name in names if not name.startswith(("trainer/", metadata))}
    assert not strays
    assert f"{metadata}licenses/LICENSE" in names


def test_installed_wheel_says_its_version(
    installed: Path, tmp_path: Path, process_environment: dict[str, str]
) -> None:
    done = run([installed, "--version"], process_environment, tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, f"stemline {__version__}\n", "")


def test_installed_wheel_finds_its_own_files(
    installed: Path, tmp_path: Path, process_environment: dict[str, str]
) -> None:
    script = (
        "from trainer.resources import repertoire_path, resource_path\n"
        "import trainer\n"
        "print(trainer.__file__, resource_path('pieces', 'white-king.svg'),"
        " repertoire_path('kings-indian-attack.pgn'), sep='\\n')"
    )
    python = installed.parent / "python"
    done = run([python, "-P", "-c", script], process_environment, tmp_path)
    assert done.returncode == 0, done.stderr
    found = [Path(line) for line in done.stdout.splitlines()]
    assert len(found) == 3
    for path in found:
        assert path.is_file()
        assert path.is_relative_to(installed.parent.parent.resolve())


def test_installed_wheel_checks_the_demo(
    installed: Path, tmp_path: Path, process_environment: dict[str, str]
) -> None:
    packages = next((installed.parent.parent / "lib").glob("python*/site-packages"))
    demo = packages / "trainer" / "_data" / "repertoires" / "kings-indian-attack.pgn"
    done = run([installed, "check", demo, "--json"], process_environment, tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    assert report["side"].lower() == "white"
    assert report["decisions"] >= 150
    assert report["skipped"] == []


def test_installed_wheel_paints_its_window(
    installed: Path, tmp_path: Path, process_environment: dict[str, str]
) -> None:
    from tests.benchmarks.bench_startup import TRAINER

    python = installed.parent / "python"
    done = run([python, "-P", "-c", TRAINER], process_environment, tmp_path)
    assert (done.returncode, done.stdout) == (0, "painted\n"), done.stderr


# --- the set-up scripts --------------------------------------------------------------------


@pytest.fixture
def machine(tmp_path: Path, process_environment: dict[str, str]) -> dict[str, str]:
    """A machine with our Python and the usual commands, on which nothing can be installed."""
    commands = tmp_path / "commands"
    commands.mkdir()
    for name in COMMANDS:
        found = shutil.which(name)
        assert found, f"{name} is needed by the set-up"
        (commands / name).symlink_to(found)
    (commands / "python3").symlink_to(BASE_PYTHON)
    return process_environment | {"PATH": str(commands)}


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A copy of the checkout, not yet set up."""
    folder = tmp_path / "a checkout"
    folder.mkdir()
    shutil.copytree(ROOT / "packaging", folder / "packaging")
    for name in ("trainer", "resources", "repertoires"):
        (folder / name).symlink_to(ROOT / name)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, folder / name)
    return folder


def call(checkout: Path, environment: Mapping[str, str], function: str) -> str:
    """What a function of packaging/lib.sh prints."""
    done = run(
        ["sh", "-c", 'root=$1; . "$1/packaging/lib.sh"; eval "$2"', "sh", checkout, function],
        environment,
        checkout,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture
def ready_checkout(checkout: Path, machine: dict[str, str]) -> Path:
    """A copy of the checkout that is set up."""
    make_environment(checkout / ".venv", checkout)
    call(checkout, machine, "write_stamps run")
    return checkout


def test_run_passes_arguments_through_from_any_folder(
    ready_checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    # A module of the player's that is named like ours must not be taken for it.
    (tmp_path / "trainer.py").write_text("raise SystemExit('the wrong module')\n")
    picture = tmp_path / "a picture.svg"
    fen = "4k3/8/8/8/8/8/8/4K2R w K - 0 1"
    script = ready_checkout / "packaging" / "run"
    done = run(["sh", script, "picture", "--fen", fen, "--out", picture.name], machine, tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert "<svg" in picture.read_text(encoding="utf-8")


def test_run_hands_on_the_exit_status(
    ready_checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    done = run(["sh", ready_checkout / "packaging" / "run", "no-such-command"], machine, tmp_path)
    assert done.returncode == 2


def test_run_without_a_display_says_so_and_drills_in_the_terminal(
    ready_checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    bare = {name: value for name, value in machine.items() if name != "QT_QPA_PLATFORM"}
    done = run(["sh", ready_checkout / "packaging" / "run"], bare, tmp_path)
    first, *others = done.stderr.splitlines()
    assert first.startswith("stemline: there is no display")
    assert not any("Traceback" in line for line in others)
    assert "Qt" not in done.stdout + done.stderr
    assert done.stdout.strip(), "the terminal drill says something even to an empty input"


def test_run_says_which_system_packages_are_missing_and_goes_on(
    ready_checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    library = ready_checkout / "packaging" / "lib.sh"
    text = library.read_text(encoding="utf-8")
    assert "\nlibcairo.so.2 libcairo2\n" in text
    text = text.replace("\nlibcairo.so.2 libcairo2\n", "\nlibabsent.so.9 libabsent9\n")
    library.write_text(text, encoding="utf-8")
    (ready_checkout / ".venv" / ".missing-libraries").touch()
    done = run(["sh", ready_checkout / "packaging" / "run", "--version"], machine, tmp_path)
    assert (done.returncode, done.stdout) == (0, f"stemline {__version__}\n")
    (sentence,) = done.stderr.splitlines()
    assert "libabsent9" in sentence
    assert "sudo apt-get install -y" in sentence
    assert "libcairo2" not in sentence


def test_libraries_of_this_machine_are_complete(checkout: Path, machine: dict[str, str]) -> None:
    assert call(checkout, machine, f"missing_libraries '{BASE_PYTHON}'") == ""


def test_set_up_passes_over_a_python_that_does_not_run(
    checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    # A version manager's stand-in for a Python that is not selected fails like this.
    shims = tmp_path / "shims"
    shims.mkdir()
    for name in ("python3.13", "python3.14", "python3"):
        shim = shims / name
        shim.write_text(f"#!/bin/sh\necho 'manager: {name}: command not found' >&2\nexit 127\n")
        shim.chmod(0o755)
    machine["PATH"] = f"{shims}:{machine['PATH']}"
    lines = call(checkout, machine, "suitable_pythons").splitlines()
    (line,) = lines
    major, minor, micro, state, path = line.split(" ", 4)
    assert (int(major), int(minor), int(micro)) == sys.version_info[:3]
    assert state == "whole"
    assert Path(path).samefile(BASE_PYTHON)


def test_set_up_tries_the_newest_python_first(
    checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    # Stand-ins for other versions: they answer the question that the set-up asks.
    for name, answer in (("3.12", "3 12 9 whole /twelve"), ("3.99", "3 99 0 whole /last")):
        stand_in = tmp_path / "commands" / f"python{name}"
        stand_in.write_text(f"#!/bin/sh\necho '{answer}'\n")
        stand_in.chmod(0o755)
    lines = call(checkout, machine, "suitable_pythons").splitlines()
    versions = [tuple(int(part) for part in line.split()[:3]) for line in lines]
    assert lines[0] == "3 99 0 whole /last"
    assert versions == sorted(versions, reverse=True)
    assert sys.version_info[:2] in {version[:2] for version in versions}


def test_run_without_a_suitable_python_says_what_to_install(
    checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    (tmp_path / "commands" / "python3").unlink()
    done = run(["sh", checkout / "packaging" / "run", "--version"], machine, tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    (sentence,) = done.stderr.splitlines()
    assert "Python 3.11 or later" in sentence
    assert "sudo apt-get install -y python3 python3-venv" in sentence


def test_set_up_that_fails_shows_the_end_of_its_log_and_is_made_anew(
    checkout: Path, machine: dict[str, str], tmp_path: Path
) -> None:
    offline = machine | {"PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull}
    done = run(["sh", checkout / "packaging" / "run", "--version"], offline, tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert str(checkout / ".venv" / "setup.log") in done.stderr
    assert "No matching distribution found for hatchling" in done.stderr
    assert (checkout / ".venv" / ".unfinished").exists()
    usable = call(checkout, machine, "usable && echo usable || echo anew")
    assert usable == "anew\n"


@pytest.mark.parametrize("change", ["pyproject.toml", "a lost module", "another folder"])
def test_change_makes_the_set_up_stale(
    ready_checkout: Path, machine: dict[str, str], change: str
) -> None:
    question = "ready run && echo ready || echo stale"
    assert call(ready_checkout, machine, question) == "ready\n"
    if change == "pyproject.toml":
        with (ready_checkout / "pyproject.toml").open("a", encoding="utf-8") as file:
            file.write("# one more line\n")
    elif change == "a lost module":
        (ready_checkout / "trainer").unlink()
    else:
        ready_checkout = ready_checkout.rename(ready_checkout.with_name("moved"))
    assert call(ready_checkout, machine, question) == "stale\n"
