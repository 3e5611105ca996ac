"""A draft that would more likely miss what it looks for than find it says so, with the number that would do."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from sessions.commands.power import power
from sessions.plans import planned_test
from sessions.results import sentences
from tests.calibration.plans import plan


@pytest.mark.parametrize(
    ("method", "trials", "says"),
    [
        ("hidden-reference", 3, "CANNOT show it, .* alpha 0.05 is within reach from 5 trials on"),
        ("multi-stimulus", 4, "CANNOT show it, .* within reach from 7 trials on"),
        ("round-robin", 6, "CANNOT show it, .* within reach from 9 trials on"),
        ("abx", 4, "CANNOT show it, .* within reach from 5 trials on"),
    ],
)
def test_what_cannot_reach_alpha_says_so_and_what_would_do(method: str, trials: int, says: str) -> None:
    made = plan(method, trials)
    assert float(made.power) == 0
    said = planned_test.warnings(made.method, made.document)
    assert len(said) == 2
    with pytest.raises(ValueError, match=says):
        raise ValueError(said[0])
    enough = int(said[1].split("found. ")[1].split(" trials")[0])
    assert planned_test.warnings(made.method, plan(method, enough).document) == []
    assert float(plan(method, enough).power) >= 0.8


def test_a_plan_that_would_find_it_is_not_warned_of() -> None:
    made = plan("abx", 30)
    assert float(made.power) > 0.5
    assert planned_test.warnings(made.method, made.document) == []


def test_the_number_for_each_of_several_listeners_keeps_to_whole_rounds() -> None:
    made = plan("round-robin", 3)
    document = {**made.document, "listeners": [{"listener": "a", "name": "Ada"}, {"listener": "b", "name": "Bo"}]}
    said = planned_test.warnings(made.method, document)
    assert "30 trials for each of the 2 listeners" in said[-1]  # 57 in all are needed: 10 rounds of 3 each


def test_a_simulated_power_states_its_error_in_the_plan() -> None:
    made = plan("multi-stimulus", 12)
    assert made.document["power_by"] == "simulation"
    assert 0 < float(made.document["power_error"]) < 0.03


def test_the_power_of_many_setups_says_what_it_is_that_of() -> None:
    """For one pair of setups, though the test is of all of them: said in words and to programs, wherever it stands."""
    says = "for one pair of setups at the strictest level of Holm's correction, alpha over the pairs"
    told = "for one pair of setups, held to the strict limit that a pair meets among all of them"
    made = plan("multi-stimulus", 12)
    assert made.document["power_of"] == says
    assert any(f"finds it with probability {float(made.power):.2f}, {told}" in line for line in sentences.planned(made))
    asked = ["multi-stimulus", "--trials", "12", "--effect", "1"]
    said = CliRunner().invoke(power, asked, catch_exceptions=False).output
    assert said.count(told) == 2
    assert says not in said
    assert json.loads(CliRunner().invoke(power, [*asked, "--json"]).output)["power_of"] == says
    assert "power_of" not in plan("hidden-reference", 12).document


def test_the_command_answers_with_the_number_needed() -> None:
    said = CliRunner().invoke(power, ["round-robin", "--proportion", "0.75"], catch_exceptions=False).output
    assert "Power 0.8 needs 57 trials of 3 setups" in said
    said = CliRunner().invoke(power, ["hidden-reference", "--trials", "3", "--effect", "5"]).output
    assert "3 trials CANNOT reach alpha 0.05" in said
    assert "begins with 5 trials" in said
