"""A plan that cannot succeed says so wherever it is shown, tells what helps, and is sealed only on purpose."""

from __future__ import annotations

import io
import json
import sys

import pytest

from sessions.casebook.store import Casebook
from sessions.commands.comparison_chair import Chair, seal_and_listen
from sessions.commands.context import Context
from sessions.plans import drafting, next_steps, overview, plan_rows
from sessions.plans.plan_rows import Wish
from tests.answered_plans import sealed_plan
from tests.command_line import Keyboard, earwitness

PAIR = ("sallow", "bracken")
CANNOT = "These trials CANNOT show it, however plain it is"


def drafted(casebook: Casebook, **wish: object) -> str:
    """A draft of a preference whose four trials cannot reach 5 %: 2/16 is the least two-sided p."""
    asked = Wish(**{"method": "preference", "setups": PAIR, "listeners": ("Ada",), "trials": 4} | wish)  # type: ignore[arg-type]
    return drafting.draft(casebook, asked, "few").name


def test_the_usual_number_of_trials_can_show_something(casebook: Casebook) -> None:
    """Six trials: 2/2^6 is the first two-sided p below 5 % (by hand); an even number plays both passages alike."""
    done = earwitness(casebook.folder, "plan", "multi-stimulus", "--listener", "Ada", "--json")
    document = json.loads(done.stdout)
    assert document["trials"] == 6
    assert not any(CANNOT in line for line in document["warnings"])
    two = earwitness(casebook.folder, "plan", "multi-stimulus", "--listener", "Ada", "--listener", "Bo", "--json")
    assert json.loads(two.stdout)["trials"] == 4  # eight of both
    named = earwitness(casebook.folder, "plan", "multi-stimulus", "--listener", "Ada", "--trials", "4")
    assert named.stdout.splitlines()[-1].endswith("edit draft multi-stimulus-3 --trials N")
    assert "can show nothing" in named.stdout.splitlines()[-1]


def test_it_is_sealed_only_where_somebody_says_so(casebook: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    drafted(casebook)
    monkeypatch.setattr(sys, "stdin", Keyboard("\n"))
    left = earwitness(casebook.folder, "seal", "few", "--elsewhere")
    assert (left.returncode, plan_rows.sealed(casebook, "few")) == (1, None)
    assert CANNOT in left.stdout
    assert "[y/N]" in left.stdout
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    refused = earwitness(casebook.folder, "seal", "few", "--elsewhere")
    assert refused.returncode == 2
    assert refused.stderr.strip().endswith("seal few --anyway")
    assert earwitness(casebook.folder, "seal", "few", "--elsewhere", "--anyway").returncode == 0
    assert CANNOT in earwitness(casebook.folder, "plan", "show", "few").stdout


def test_a_plan_that_leaves_a_sealed_ballot_without_hope_is_sealed_only_on_purpose(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand: of four words all 8 trials give 4 · 2/2⁸ = 0.031, twice that 0.0625."""
    sealed_plan(casebook, "ballot", method="words", trials=8, words=("bright", "boomy", "thin", "wide"))
    drafted(casebook, method="triangle", trials=8)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    refused = earwitness(casebook.folder, "seal", "few", "--elsewhere")
    assert (refused.returncode, plan_rows.sealed(casebook, "few")) == (2, None)
    assert "no word of ballot can hold any more" in refused.stderr
    assert refused.stderr.strip().endswith("seal few --anyway")
    monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
    left = earwitness(casebook.folder, "seal", "few", "--elsewhere")
    assert (left.returncode, plan_rows.sealed(casebook, "few")) == (1, None)
    assert "Planned --exploratory it takes nothing from them" in " ".join(left.stdout.split())
    assert "More trials" not in left.stdout
    assert "--trials N" not in left.stdout
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    done = earwitness(casebook.folder, "seal", "few", "--elsewhere", "--anyway")
    assert done.returncode == 0, done.stderr
    assert "no word of ballot can hold any more" in " ".join(done.stdout.split())


def test_more_trials_of_a_ballot_are_not_advised_where_they_would_leave_another_without_hope(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = {"method": "words", "words": ("bright", "boomy", "thin", "wide")}
    sealed_plan(casebook, "ballot", trials=8, **words)
    drafted(casebook, trials=12, **words)
    monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
    left = earwitness(casebook.folder, "seal", "few", "--elsewhere")
    assert (left.returncode, plan_rows.sealed(casebook, "few")) == (1, None)
    assert "Sealed once ballot is begun" in " ".join(left.stdout.split())
    assert "--trials N" not in left.stdout


@pytest.mark.parametrize(
    "wish",
    [
        {},
        {"method": "abx"},  # 1/2^4 is above 5 %
        {"method": "words", "words": ("bright", "dull", "thin"), "listeners": ("Ada", "Bo"), "trials": 2},
    ],
)
def test_status_proposes_trials_for_a_draft_that_seal_refuses(casebook: Casebook, wish: dict[str, object]) -> None:
    drafted(casebook, **wish)
    [draft] = [one for one in overview.gather(casebook).plans if one.name == "few"]
    [step, *_] = next_steps.of_plan(overview.gather(casebook), draft)
    assert (draft.lacks, step.words) == ((), ("edit", "draft", "few", "--trials", "N"))
    assert "can show nothing" in step.what
    assert earwitness(casebook.folder, "seal", "few", "--elsewhere").returncode == 2
    assert earwitness(casebook.folder, "edit", "draft", "few", "--trials", "12").returncode == 0
    assert next_steps.waiting(overview.gather(casebook))[0].words == ("seal", "few")


def test_enough_trials_are_sealed_unasked(casebook: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    drafted(casebook, trials=6)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    assert earwitness(casebook.folder, "seal", "few", "--elsewhere").returncode == 0


def test_compare_does_not_propose_to_seal_it(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    name = drafted(casebook)
    made = drafting.drafted(casebook, name)
    assert made is not None
    folder = casebook.folder
    chair = Chair(Context(), folder, "earwitness", "Ada", None, "earwitness compare", False, True, False)
    monkeypatch.setattr(sys, "stdin", Keyboard("\n"))
    monkeypatch.setattr("sessions.commands.asked_device.fitted_or_kept", lambda _, plan, *rest: plan)
    seal_and_listen(casebook, made, chair, lambda _: {})
    said = capsys.readouterr().out
    assert CANNOT in said
    assert "Seal this plan? [y/N]" in said
    assert "Ada listens, and a sealed plan keeps that name. For somebody else answer n, and name them:\n" in said
    assert f"  earwitness listener add NAME\n  earwitness edit draft {name} --listener NAME\n" in said
    assert said.index("--listener NAME") < said.index("Seal this plan?")
    assert plan_rows.sealed(casebook, name) is None


def test_a_draft_is_not_rehearsed_and_what_can_be_heard_before_its_seal_is_said(casebook: Casebook) -> None:
    name = drafted(casebook)
    for way in (("--hears", "0.5"), ("--listener", "Ada")):
        refused = earwitness(casebook.folder, "rehearse", name, *way)
        assert refused.returncode == 2
        assert "listen --free --setup sallow --setup bracken" in refused.stderr
        assert refused.stderr.strip().endswith(f"seal {name}")


def test_what_would_be_void_is_told_once_with_what_helps(rendered_alone: Casebook) -> None:
    done = earwitness(rendered_alone.folder, "plan", "abx", "--listener", "Ada", "--name", "few")
    assert done.stdout.count("were not level-matched") == 1
    last = done.stdout.splitlines()[-1]
    for way in ("match files --setup sallow --setup bracken", "giveaways --mend", "--anyway"):
        assert way in last
    assert "--accept" not in last  # nothing is found yet


@pytest.fixture
def rendered_alone(casebook: Casebook) -> Casebook:
    """The casebook with a passage that nothing was matched or checked on."""
    added = earwitness(casebook.folder, "passage", "add", "drums", "--from", "0:01", "--to", "0:03", "--name", "new")
    assert added.returncode == 0, added.stderr
    return casebook
