"""`stemline simulate` as its own process."""

from __future__ import annotations

import json
from pathlib import Path

from tests.process import RunStemline

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
SMALL = ("--minutes", "2", "--days", "3", "--learners", "2")


def test_json_of_the_demo_is_the_same_for_the_same_seed(stemline: RunStemline) -> None:
    reports = []
    for seed in ("4", "4", "5"):
        done = stemline("simulate", DEMO, *SMALL, "--seed", seed, "--json")
        assert (done.returncode, done.stderr) == (0, "")
        report = json.loads(done.stdout)
        assert report["decisions"] == 490
        assert report["policies"][-1]["name"] == "planner"
        for policy in report["policies"]:
            assert policy.pop("plan_ms") > 0
            assert set(policy["yield"]) == {"3"}
        reports.append({key: value for key, value in report.items() if key != "seed"})
    assert reports[0] == reports[1]
    assert reports[0] != reports[2]


def test_the_table_names_what_is_compared(stemline: RunStemline) -> None:
    done = stemline("simulate", DEMO, *SMALL)
    assert done.returncode == 0
    assert "2 simulated players, 2 minutes a day" in done.stdout
    assert "review index × value" in done.stdout


def test_what_a_jump_takes(stemline: RunStemline) -> None:
    done = stemline("simulate", DEMO, *SMALL, "--jump", "2.5")
    assert (done.returncode, done.stderr) == (0, "")
    assert "seed 1, 2.5 s for each question that begins cold." in done.stdout
    for wrong in ("-1", "61", "soon", "nan"):
        refused = stemline("simulate", DEMO, *SMALL, "--jump", wrong)
        assert refused.returncode == 2
        assert f"“{wrong}” is no number from 0 to 60" in refused.stderr


def test_what_cannot_be_simulated_is_told(stemline: RunStemline, tmp_path: Path) -> None:
    empty = tmp_path / "empty.pgn"
    empty.write_text("")
    done = stemline("simulate", empty, *SMALL)
    assert done.returncode != 0
    assert "nothing" in done.stderr or "no " in done.stderr
    assert "Traceback" not in done.stderr
    wrong = stemline("simulate", DEMO, "--days", "0")
    assert wrong.returncode == 2
    assert "whole number" in wrong.stderr


def test_a_base_weighs_the_replies(stemline: RunStemline, tmp_path: Path) -> None:
    base = tmp_path / "demo.base"
    built = stemline("base", "build", base, DEMO.with_name("demo-games.pgn"))
    assert built.returncode == 0
    without, weighed = (
        json.loads(stemline("simulate", DEMO, *SMALL, *more, "--json").stdout)
        for more in ((), ("--base", base))
    )
    # Replies that are not prepared end lines, so perfect memory gives less.
    assert 0 < weighed["depth"] < without["depth"]
    missing = stemline("simulate", DEMO, *SMALL, "--base", tmp_path / "none.base")
    assert missing.returncode == 1
    assert "none.base" in missing.stderr
