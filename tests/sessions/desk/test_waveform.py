from __future__ import annotations

import re

import numpy as np

from sessions.casebook.store import Casebook
from sessions.desk import waveform


def test_each_column_holds_the_highest_and_the_lowest_sample_of_all_channels() -> None:
    samples = np.zeros((1000, 2))
    samples[350, 1], samples[351, 0] = 0.75, -0.5
    found = waveform.peaks(samples, 10)
    assert len(found) == 10
    assert found[3] == (-0.5, 0.75)
    assert found[:3] + found[4:] == [(0.0, 0.0)] * 9
    assert waveform.peaks(np.zeros((0, 2)), 10) == []


def test_a_passage_has_a_row_for_each_setup_and_the_loudest_fills_it(casebook: Casebook) -> None:
    drawn = waveform.picture(casebook, "drums 1")
    assert re.findall(r"<title>(\w+)</title>", drawn) == ["sallow", "bracken"]
    tops = [float(y) for y in re.findall(r"M[\d.]+ ([\d.]+)V", drawn)]
    bottoms = [float(y) for y in re.findall(r"V([\d.]+)", drawn)]
    reach = [
        max(abs(y - waveform.HEIGHT * (row + 0.5)) for y in (*tops, *bottoms) if row * 44 <= y <= (row + 1) * 44)
        for row in (0, 1)
    ]
    assert max(reach) == waveform.HEIGHT / 2 - 2
