"""What lies in a page's folder: whole, the same when made again, and without anything that tells a key."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import wav_bytes
from audio.resample import resample
from sessions.casebook.store import Casebook, open_casebook
from sessions.errors import ViewersError
from sessions.plans import viewers_rows, viewers_test
from sessions.plans.viewers_rows import SealedTest
from sessions.viewers import making, page_folder, page_sounds
from tests.command_line import earwitness
from tests.sessions.viewers.conftest import MadePage, seal_plan

from . import planted

SCRIPT = re.compile(r'earwitnessSound\("([0-9a-f]{32})","([A-Za-z0-9+/=]+)"\);\n')


def told(folder: Path) -> dict[str, object]:
    """What the HTML tells the page."""
    html = (folder / "index.html").read_text("utf-8")
    found = re.search(r'<script id="test" type="application/json">(.*?)</script>', html, re.DOTALL)
    assert found
    document: dict[str, object] = json.loads(found[1])
    return document


def body_of(text: str) -> bytes:
    found = SCRIPT.fullmatch(text)
    assert found
    return base64.b64decode(found[2])


def test_all_sounds_have_one_size_names_that_tell_nothing_and_bytes_of_their_own(made_page: MadePage) -> None:
    files = sorted((made_page.folder / "sounds").iterdir())
    assert len(files) == 4 + 2 * 4  # A and B of two passages; two for each of four slots
    assert len({path.stat().st_size for path in files}) == 1
    names = []
    for path in files:
        found = SCRIPT.fullmatch(path.read_text("ascii"))
        assert found
        names.append(found[1])
        assert path.name == f"{found[1]}.js"
    assert [path.stat().st_mtime_ns for path in files] == sorted(path.stat().st_mtime_ns for path in files)
    bodies = [body_of(path.read_text("ascii")) for path in files]
    assert len({hashlib.sha256(one).digest() for one in bodies}) == len(files)
    for one, two in combinations(bodies, 2):
        a, b = (np.frombuffer(each[44:], np.uint8)[:12000] for each in (one, two))
        assert np.mean(a == b) < 0.9  # fresh dither moves the lowest bytes, also of one setup's sound


def test_the_html_holds_no_setup_no_secret_and_nothing_of_elsewhere(made_page: MadePage) -> None:
    html = (made_page.folder / "index.html").read_text("utf-8")
    test, secret = made_page.sealed.test, made_page.secret
    for hidden in (*test.setups, *test.sources, test.id, test.plan, test.plan_name, secret.hex(), "Ada"):
        assert hidden not in html
    for audio in (value for passage in test.passages for value in passage.audio.values()):
        assert audio not in html
    assert made_page.sealed.seal in html
    assert not re.findall(r"https?://|//[a-z]+\.[a-z]+|\bfetch\(|XMLHttp|localStorage|document\.cookie|import\(", html)
    assert [path.name for path in made_page.folder.iterdir() if path.name != "sounds"] == ["index.html"]


def test_what_the_page_is_told_does_not_depend_on_the_setups_sounds(made_page: MadePage, page_home: Path) -> None:
    """But for the checksums: with the setups' sounds exchanged, all the rest is the same."""
    with open_casebook(made_page.book) as casebook:
        sounds = making.sounds_of(casebook, made_page.sealed.test, made_page.secret)
    tones = [
        page_folder.tone_gain(made_page.sealed.test, {place: one[::way] for place, one in sounds.items()})
        for way in (1, -1)
    ]
    assert tones[0] == pytest.approx(tones[1], rel=0.02)  # they are equally loud
    given = told(made_page.folder)
    allowed = {
        "seal", "tag", "method", "question", "trials", "labels", "needed", "answers", "rate_hz", "pause", "fade",
        "ramp", "weighting", "tone", "send", "passages", "slots", "crc32", "megabytes",
    }  # fmt: skip
    assert set(given) == allowed
    checksums = given["crc32"]
    assert isinstance(checksums, dict)
    assert list(checksums) == sorted(checksums)


def test_neither_order_nor_names_nor_checksums_go_with_the_coins() -> None:
    """Over 400 tests of four slots: how often the first of two names, and of two checksums, is the smaller one."""
    test = planted.document(4)
    noise = np.random.default_rng(3).normal(0, 0.1, (2, 64, 1)).astype(np.float32)
    smaller = np.zeros((2, 2, 2))  # names or checksums; the coin; whether the first is the smaller
    for number in range(400):
        secret = hashlib.sha256(b"page %d" % number).digest()
        crc32 = {one.name: one.crc32 for one in page_sounds.made(test, secret, {0: noise, 1: noise}, 48_000)}
        for slot in range(1, 5):
            coin = viewers_test.coin(test, secret, slot)
            files = [viewers_test.file_name(secret, one) for one in page_sounds.slot_files(test, secret, slot)]
            smaller[0, coin, int(files[0] < files[1])] += 1
            smaller[1, coin, int(crc32[files[0]] < crc32[files[1]])] += 1
    for table in smaller:
        shares = table[:, 1] / table.sum(axis=1)
        assert np.all(np.abs(shares - 0.5) < 4 * 0.5 / np.sqrt(table.sum(axis=1)))


def test_each_file_is_the_setups_sound_that_the_rule_says(made_page: MadePage) -> None:
    test, secret = made_page.sealed.test, made_page.secret
    with open_casebook(made_page.book) as casebook:
        sounds = making.sounds_of(casebook, test, secret)
    for slot in range(1, test.trials + 1):
        place = viewers_test.passage_of(test, secret, slot)
        files = page_sounds.slot_files(test, secret, slot)
        first = viewers_test.coin(test, secret, slot)
        for which, setup in zip(files, (first, 1 - first), strict=True):
            path = made_page.folder / "sounds" / f"{viewers_test.file_name(secret, which)}.js"
            written = wav_bytes.samples(body_of(path.read_text("ascii")))
            wanted = resample(Clip(sounds[place][setup].astype(float), 48_000), 16_000).samples
            np.testing.assert_allclose(written, wanted, rtol=0, atol=1.6 * 2.0**-23)


def test_a_page_that_was_lost_is_written_again_to_the_byte_and_nothing_is_written_over(
    made_page: MadePage, tmp_path: Path
) -> None:
    with open_casebook(made_page.book) as casebook:
        sounds = making.sounds_of(casebook, made_page.sealed.test, made_page.secret)
    page_folder.write(made_page.sealed, made_page.secret, sounds, tmp_path / "again", "Write it below the video.")
    for path in sorted(made_page.folder.rglob("*.*")):
        assert (tmp_path / "again" / path.relative_to(made_page.folder)).read_bytes() == path.read_bytes()
    with pytest.raises(ViewersError, match="is not empty"):
        page_folder.write(made_page.sealed, made_page.secret, sounds, tmp_path / "again")


def test_a_preference_has_no_open_sounds_and_loads_both_files(casebook: Casebook, tmp_path: Path) -> None:
    seal_plan(casebook, "preference")
    ready = making.drawn_up(casebook, "evening", "page", 4, {"rate_hz": 8000})
    sealed: SealedTest = viewers_rows.keep(casebook, ready.test, ready.secret)
    written = page_folder.write(sealed, ready.secret, ready.sounds, tmp_path / "page")
    given = told(tmp_path / "page")
    assert (given["labels"], given["needed"], written.files) == (["1", "2"], ["1", "2"], 9)
    assert written.viewer_bytes == sum(path.stat().st_size for path in (tmp_path / "page" / "sounds").iterdir())


def test_the_command_makes_what_the_rule_says_and_what_fails_leaves_no_test_behind(
    casebook: Casebook, tmp_path: Path
) -> None:
    seal_plan(casebook)
    casebook.close()
    make = ("viewers", "page", "evening")
    outside = earwitness(casebook.folder, *make, str(tmp_path / "page"), "--rate", "4000")
    assert (outside.returncode, "give 8000 to 96000 Hz" in outside.stderr) == (2, True)
    (tmp_path / "file").touch()
    refused = earwitness(casebook.folder, *make, str(tmp_path / "file" / "page"), "--rate", "8000", "--trials", "4")
    assert (refused.returncode, "cannot write the page" in refused.stderr) == (2, True)
    assert json.loads(earwitness(casebook.folder, "viewers", "list", "--json").stdout) == []
    done = earwitness(casebook.folder, *make, str(tmp_path / "page"), "--rate", "8000", "--trials", "4", "--json")
    document = json.loads(done.stdout)
    assert (document["orders"], document["files"]) == (64, 13)
    assert f"seal {document['seal']} (earwitness, viewers' rule 1)" in done.stderr
    waits = earwitness(casebook.folder, "status").stdout
    assert "page of evening: answers awaited; when they are in: earwitness" in waits
    assert "not noted as published" in waits
    noted = earwitness(casebook.folder, "witness", document["seal"][:16], "--by", "the first comment")
    assert noted.returncode == 0
    assert "published: the first comment" in earwitness(casebook.folder, "status").stdout
    again = earwitness(casebook.folder, *make, str(tmp_path / "again"), "--test", document["test"])
    assert again.returncode == 0
    assert (tmp_path / "again/index.html").read_bytes() == (tmp_path / "page/index.html").read_bytes()
    assert earwitness(casebook.folder, "verify").returncode == 0
