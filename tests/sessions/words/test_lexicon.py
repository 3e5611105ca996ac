"""The words that come with the program, and a reviewer's changes to them."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import fields, replace
from pathlib import Path

import pytest

from sessions.casebook import store
from sessions.casebook.store import Casebook
from sessions.errors import CatalogueError
from sessions.results import verification
from sessions.words import lexicon, lexicon_changes, lexicon_rows
from sessions.words.folding import folded
from sessions.words.lexicon import COLUMNS, LANGUAGES, Entry, entry_of, row_of, shipped
from sessions.words.lexicon_changes import Change, changed
from sessions.words.word_bands import band_of
from tests.command_line import Done, earwitness


@pytest.fixture
def casebook(tmp_path: Path) -> Casebook:
    return store.create(tmp_path / "book")


def test_no_word_is_folded_into_two_headwords() -> None:
    owners: dict[str, set[str]] = {}
    for entry in shipped().entries.values():
        for name in (entry.word, *entry.synonyms, *entry.translations.values()):
            owners.setdefault(folded(name), set()).add(entry.word)
    assert {name: words for name, words in owners.items() if len(words) > 1} == {}


def test_where_a_word_is_said_to_lie_reads_as_one_says_it_and_has_room_in_the_list(casebook: Casebook) -> None:
    words = shipped().entries
    for word, says in (
        ("off-centre", "channels unalike, 0.2 to 16 kHz"),
        ("phasey", "channels cancel, 20 to 300 Hz"),
        ("coloured", "less even, 0.1 to 10 kHz"),
        ("smooth", "more even, 1 to 16 kHz"),
        ("loose", "longer decay, 20 to 250 Hz"),
        ("neutral", "within 0.05 to 16 kHz"),
    ):
        assert words[word].where == says
    told = earwitness(casebook.folder, "lexicon", "list").stdout.splitlines()
    assert max(map(len, told[:-1])) < 80


def test_every_word_that_is_shipped_has_a_definition_a_family_a_source_and_its_translations() -> None:
    lacking = [
        entry.word
        for entry in shipped().entries.values()
        if not (entry.definition and entry.family and entry.source and set(entry.translations) == set(LANGUAGES))
    ]
    assert (len(shipped().entries), lacking) == (87, [])


def test_a_side_is_that_of_the_first_kind_of_data_which_a_word_shows_in() -> None:
    words = shipped().entries
    ends = [(one, words[one.opposite]) for one in words.values() if one.opposite in words and one.shows_in]
    alike = [(one.word, other.word) for one, other in ends if one.says and one.shows_in[0] in other.shows_in[:1]]
    assert len(alike) > 10
    same = {two for two in alike if words[two[0]].says == words[two[1]].says}
    assert same == {("tinny", "full")}  # one of the treble and one of the bass
    # by the definitions: a clear sound has little distortion, a compressed one much compression
    asked = {"clear": "distortion", "congested": "distortion", "dynamic": "compression", "compressed": "compression"}
    assert {word: words[word].shows_in[0] for word in asked} == asked
    assert [words[word].says for word in asked] == ["less", "more", "less", "more"]
    assert [words[word].says for word in ("punchy", "powerful")] == ["less", "less"]  # of compression


def test_headwords_that_are_opposites_name_each_other_or_share_an_end() -> None:
    words = shipped().entries
    both = [(one.word, one.opposite) for one in words.values() if one.opposite in words]
    assert both
    ends = Counter(end for _, end in both)
    assert [pair for pair in both if words[pair[1]].opposite != pair[0] and ends[pair[1]] < 2] == []


def test_a_word_of_liking_is_known_as_one_and_describing_words_are_not() -> None:
    liking = {word for word, entry in shipped().entries.items() if entry.likes}
    assert liking >= {"natural", "accurate", "musical", "pleasant", "good", "fatiguing"}
    assert liking == {word for word, entry in shipped().entries.items() if entry.family == "liking"}
    assert {shipped().entries[word].opposite for word in liking} == liking  # praise and blame alike


# praise and blame of everyday, common practice, no source
def test_everyday_praise_and_blame_ask_what_was_heard() -> None:
    said = """best, fantastic, amazing, wonderful, lovely, gorgeous, enjoyable, bad, worse, worst, awful, terrible,
    horrible, poor, ugly, nasty, unpleasant, boring, disappointing, unmusical, artificial, unnatural, relaxing,
    inaccurate, schlecht, mauvais, malo, langweilig"""
    assert [term for term in said.split(",") if not shipped().likes(term)] == []


def test_forms_of_a_word_count_as_it_and_no_other_words_do() -> None:
    """As people compare: brighter, boomiest, harshness; and as German words stand before a noun."""
    forms = {
        "bright": "Brighter, brightest, brightness, helle, heller, helles",
        "boomy": "boomier, boominess, dröhnende, dröhnenden",
        "thin": "thinner, thinnest",
        "smooth": "smoother, smoothly",
        "harsh": "harsher, harshness",
    }
    lexicon = shipped()
    for word, said in forms.items():
        assert [term for term in said.split(", ") if lexicon.headword(term) != word] == []
    for other in ("brights", "brightener", "under", "number", "helly", "boome", "thines", "best sound", "er"):
        assert lexicon.find(other) is None
    own = changed(lexicon, Change("add", "brighter", entry=Entry("brighter", definition="Brighter than last week")))
    assert (own.headword("brighter"), own.headword("brightest")) == ("brighter", "bright")


def test_an_entry_survives_being_written_as_a_row() -> None:
    for entry in (
        *shipped().entries.values(),
        Entry("knurrig", synonyms=("a", "b"), low_hz=31.25, high_hz=63, own=True),
    ):
        assert entry_of(row_of(entry)) == entry
    assert {one.name for one in fields(Entry)} - {"translations"} <= set(COLUMNS)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"word": " "}, "1 to 60 characters"),
        ({"word": "x" * 61}, "1 to 60 characters"),
        ({"word": "loud", "low_hz": "20"}, "one end only"),
        ({"word": "loud", "low_hz": "200", "high_hz": "20"}, "lower end first"),
        ({"word": "loud", "low_hz": "nan", "high_hz": "20"}, "lower end first"),
        ({"word": "loud", "low_hz": "low", "high_hz": "20"}, "no number of Hz"),
        ({"word": "loud", "says": "much"}, "give 'more', 'less' or nothing"),
        ({"word": "loud", "definition": "x" * 3000}, "longer than 2000"),
    ],
)
def test_a_row_that_is_no_word_is_refused(row: dict[str, str], says: str) -> None:
    with pytest.raises(CatalogueError, match=says):
        entry_of(row)


def test_what_was_said_under_an_old_name_counts_for_the_new_one() -> None:
    begun = shipped()
    after = changed(begun, Change("rename", "boomy", "droning"))
    assert [after.headword(term) for term in ("boomy", "Thumpy", "dröhnend", "droning")] == ["droning"] * 4
    assert begun.headword("boomy") == "boomy"
    merged = changed(after, Change("merge", "droning", "muddy"))
    assert {merged.headword(term) for term in ("boomy", "droning", "tubby", "dröhnend", "murky")} == {"muddy"}
    assert "droning" not in merged.entries


def test_sources_go_on_naming_the_word_that_they_speak_of() -> None:
    after = changed(shipped(), Change("rename", "hard", "sparkly"))
    assert after.named("sparkly").source.startswith("of 'hard': about 6 kHz: Holt 1993")


def test_a_rename_only_of_its_case_keeps_one_name() -> None:
    after = changed(shipped(), Change("rename", "boomy", "Boomy"))
    assert after.named("BOOMY").word == "Boomy"
    assert "boomy" not in after.named("boomy").synonyms


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (Change("rename", "boomy", "Murky"), "under 'muddy'; merge them instead"),
        (Change("rename", "bomy", "droning"), "did you mean 'boomy'"),
        (Change("rename", "boomy", " "), "1 to 60 characters"),
        (Change("merge", "boomy", "thumpy"), "one word of the lexicon already"),
        (Change("add", "droning", entry=Entry("droning", synonyms=("Tubby",))), "under 'boomy'"),
        (Change("merge", "bass-light", "boomy"), "opposite things"),
        (Change("merge", "dark", "bright"), "opposite things"),
        (Change("take up", "99"), "this version of earwitness has 1 to 2"),
    ],
)
def test_a_change_that_would_make_a_word_stand_for_two_things_is_refused(change: Change, says: str) -> None:
    with pytest.raises(CatalogueError, match=says):
        changed(shipped(), change)


def test_a_change_folds_its_own_words_and_not_the_whole_lexicon_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    begun, asked = shipped(), list[str]()

    def counted(name: str) -> str:
        asked.append(name)
        return folded(name)

    monkeypatch.setattr(lexicon, "folded", counted)
    after = changed(begun, Change("add", "knurrig", entry=Entry("knurrig", synonyms=("growly",))))
    after = changed(changed(after, Change("rename", "knurrig", "snarling")), Change("merge", "boxy", "honky"))
    assert len(asked) < len(begun.entries)
    assert {name: after.headword(name) for name in ("Growly", "knurrig", "cardboard-like", "tutend", "boomy")} == {
        "Growly": "snarling",
        "knurrig": "snarling",
        "cardboard-like": "honky",
        "tutend": "honky",
        "boomy": "boomy",
    }


def test_changes_are_kept_in_the_chain_with_the_number_they_were_made_to(casebook: Casebook) -> None:
    own = Entry("knurrig", family="timbre/bass", definition="Like a dog asleep", low_hz=40, high_hz=90, says="more")
    lexicon_rows.keep(casebook, [Change("add", "knurrig", entry=own), Change("merge", "chesty", "boxy")])
    lexicon_rows.keep(casebook, [Change("rename", "boxy", "box-like")])
    found = lexicon_rows.in_force(casebook)
    assert found.named("knurrig") == replace(own, own=True)
    assert found.headword("barrel-chested") == "box-like"
    assert [one.kind for one in lexicon_rows.changes(casebook)] == ["take up", "add", "merge", "rename"]
    assert verification.verify(casebook).broken == []


def test_light_is_a_word_of_its_own_and_stays_what_it_was_where_a_lexicon_was_changed_before(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the trade it is said of little bass and of much treble alike: folded into one it would say the contrary."""
    light = shipped().named("light")
    assert (light.word, light.low_hz, light.says) == ("light", None, None)
    assert shipped().headword("lightweight") == "thin"
    with monkeypatch.context() as before:
        before.setattr(lexicon_rows, "NEWEST", 1)
        lexicon_rows.keep(casebook, [Change("merge", "chesty", "boxy")])
    assert lexicon_rows.in_force(casebook).headword("light") == "bright"
    assert lexicon_rows.in_force(casebook).number == 1


@pytest.mark.parametrize("number", ["1", "2"])
def test_changes_of_a_casebook_that_was_brought_in_take_none_of_ones_own_back(number: str) -> None:
    own = [Change("take up", "1"), Change("merge", "chesty", "boxy"), Change("rename", "boomy", "Boomy2")]
    theirs = [
        Change("take up", number),
        Change("merge", "chesty", "boxy"),  # made here already
        Change("rename", "light", "featherweight"),  # there a word of its own, here folded into bright
        Change("merge", "honky", "nasal"),
    ]
    after = lexicon_changes.laid_over([*own, *(one for one in theirs if number == "2" or one.word != "light")])
    asked = ("boomy", "chesty", "honky", "bright", "light")
    assert [after.headword(word) for word in asked] == ["Boomy2", "boxy", "nasal", "bright", "bright"]
    with pytest.raises(CatalogueError, match="one word of the lexicon already"):
        lexicon_changes.laid_over([*own, own[1]])


def test_a_headword_that_comes_as_a_synonym_is_refused_with_what_can_be_typed() -> None:
    """A word cannot be merged into one that is not there yet."""
    arid = Entry("arid", synonyms=("boxy",))
    with pytest.raises(CatalogueError, match=r"add 'arid' without it, then: earwitness lexicon merge boxy arid$"):
        changed(shipped(), Change("add", "arid", entry=arid))
    there = changed(shipped(), Change("add", "arid", entry=replace(arid, synonyms=())))
    with pytest.raises(CatalogueError, match=r"to fold it into another: earwitness lexicon merge boxy arid$"):
        changed(there, Change("add", "arid", entry=arid))
    assert changed(there, Change("merge", "boxy", "arid")).headword("boxy") == "arid"


def test_names_with_braces_are_told_as_they_stand(casebook: Casebook) -> None:
    with pytest.raises(CatalogueError, match=r"lexicon rename hard '\{glass\}'$"):
        lexicon_rows.keep(casebook, [Change("rename", "glassy", "{glass}")])
    braced = changed(shipped(), Change("add", "{dry}", entry=Entry("{dry}")))
    with pytest.raises(CatalogueError, match=r"lexicon merge '\{dry\}' arid$"):
        changed(braced, Change("add", "arid", entry=Entry("arid", synonyms=("{dry}",))))


def test_a_word_is_not_renamed_to_what_it_is_called_already(casebook: Casebook) -> None:
    lexicon_rows.keep(casebook, [Change("merge", "chesty", "boxy")])
    with pytest.raises(CatalogueError, match="'chesty' counts as 'boxy' already; there is nothing to rename"):
        lexicon_rows.keep(casebook, [Change("rename", "chesty", "boxy")])
    with pytest.raises(CatalogueError, match="'boxy' is called so already"):
        lexicon_rows.keep(casebook, [Change("rename", "boxy", " boxy")])
    assert [one.kind for one in lexicon_rows.changes(casebook)] == ["take up", "merge"]
    assert lexicon_rows.keep(casebook, [Change("rename", "boxy", "Boxy")]).headword("chesty") == "Boxy"


def test_a_change_that_cannot_be_made_keeps_none_of_those_it_came_with(casebook: Casebook) -> None:
    with pytest.raises(CatalogueError, match="did you mean"):
        lexicon_rows.keep(casebook, [Change("merge", "chesty", "boxy"), Change("merge", "bomy", "boxy")])
    assert lexicon_rows.changes(casebook) == []


def test_a_band_is_found_by_synonym_and_in_the_reviewers_own_words() -> None:
    thumpy = band_of("THUMPY")
    assert thumpy is not None
    assert (thumpy.low_hz, thumpy.high_hz) == (60, 250)
    own = Entry("knurrig", low_hz=40, high_hz=90, says="more", drawn=True, source="own use")
    mine = band_of("knurrig", changed(shipped(), Change("add", "knurrig", entry=own)))
    assert mine is not None
    assert mine.source == "own use"
    assert band_of("muddy") is None  # its sources lie octaves apart


class TestCommands:
    @pytest.fixture
    def book(self, casebook: Casebook) -> Path:
        casebook.close()
        return casebook.folder

    @staticmethod
    def run(book: Path, *words: str, status: int = 0) -> Done:
        done = earwitness(book, "lexicon", *words)
        assert done.returncode == status, done
        return done

    def test_a_word_is_shown_with_its_meaning_and_that_its_band_is_a_hypothesis(self, book: Path) -> None:
        said = self.run(book, "show", "dröhnend").stdout
        assert said.startswith("boomy: Some bass notes swell")
        assert "60 to 250 Hz" in said
        assert "hypothesis" in said
        assert "nothing measurable" in self.run(book, "show", "depth").stdout
        assert "Which word says what you heard?" in self.run(book, "show", "nice").stdout

    def test_what_is_exported_is_taken_in_elsewhere_and_says_what_it_left(self, book: Path, tmp_path: Path) -> None:
        self.run(
            book, "add", "Knurrig", "--means", "Like, a dog; asleep", "--from", "40", "--to", "90", "--says", "more"
        )
        self.run(book, "add", "@zisch", "--means", "=1+1, so to say", "--also", "-zz")
        self.run(book, "rename", "boxy", "box-like")
        out = tmp_path / "mine.csv"
        self.run(book, "export", "--out", str(out))
        other = store.create(tmp_path / "other")
        other.close()
        said = self.run(other.folder, "import", str(out)).stdout
        assert not re.search(r'(^|,)"?[=+@-]', out.read_text(encoding="utf-8"), re.MULTILINE)  # no spreadsheet runs it
        assert "Taken in: 2 words" in said
        with store.open_casebook(other.folder) as there:
            entry = lexicon_rows.in_force(there).find("@zisch")
        assert entry is not None
        assert (entry.word, entry.definition, entry.synonyms) == ("@zisch", "=1+1, so to say", ("-zz",))
        assert "box-like (here: boxy)" in said
        again = self.run(other.folder, "export").stdout
        rows = {row["word"]: row for row in csv.DictReader(io.StringIO(again))}
        assert rows["Knurrig"]["definition"] == "Like, a dog; asleep"
        assert rows["Knurrig"]["own"] == "yes"

    def test_a_synonym_is_moved_alone_and_a_headword_never_by_the_name_of_one(self, book: Path) -> None:
        for change, into in (("merge", "shrill"), ("rename", "shardlike")):
            refused = self.run(book, change, "glassy", into, status=2).stderr
            assert "'glassy' is folded into 'hard' (hard, steely, " in refused
            assert "lexicon add glassy --own; " in refused
            assert refused.rstrip().endswith(f"lexicon {change} hard {into}")
        assert self.run(book, "add", "glassy", status=2).stderr.rstrip().endswith("lexicon add glassy --own")
        assert "no longer under hard" in self.run(book, "add", "glassy", "--own").stdout
        assert self.run(book, "show", "glassy").stdout.startswith("glassy:")
        assert "glassy counts as shrill now." in self.run(book, "merge", "glassy", "shrill").stdout
        assert self.run(book, "show", "glassy").stdout.startswith("shrill:")
        assert self.run(book, "show", "brittle").stdout.startswith("hard:")
        assert "it is a word of its own already" in self.run(book, "add", "hard", "--own", status=2).stderr
        said = self.run(book, "merge", "hard", "shrill").stdout
        assert "hard counts as shrill now, and steely, " in said

    def test_a_column_that_is_not_known_is_refused_with_the_names_there_are(self, book: Path, tmp_path: Path) -> None:
        file = tmp_path / "mine.csv"
        file.write_text("word,Means,from_hz,family\nknurrig,like a dog,40,timbre\n", encoding="utf-8")
        refused = self.run(book, "import", str(file), status=2).stderr
        assert "means, from_hz" in refused
        assert "definition" in refused
        assert "low_hz" in refused
        assert "no word 'knurrig'" in self.run(book, "show", "knurrig", status=2).stderr

    def test_as_there_takes_renames_and_merges_along(self, book: Path, tmp_path: Path) -> None:
        """A new casebook comes to the very same lexicon, words of one's own that were merged among them."""
        self.run(book, "add", "tinsel", "--means", "Glittering cymbals", "--also", "spangle")
        self.run(book, "rename", "bright", "brilliant")
        self.run(book, "merge", "tinsel", "brilliant")
        self.run(book, "merge", "bassy", "boomy")
        self.run(book, "add", "airy", "--means", "As open as the sky")
        out = tmp_path / "mine.csv"
        self.run(book, "export", "--out", str(out))
        other = store.create(tmp_path / "other")
        other.close()
        said = self.run(other.folder, "import", str(out), "--as-there").stdout
        assert "As it is there: 3 words" in said
        theirs, mine = (
            {row["word"]: row for row in csv.DictReader(io.StringIO(self.run(at, "export").stdout))}
            for at in (other.folder, book)
        )
        assert theirs.keys() == mine.keys()
        for word, row in mine.items():
            assert {**theirs[word], "synonyms": set(theirs[word]["synonyms"].split("|"))} == {
                **row,
                "synonyms": set(row["synonyms"].split("|")),
            }
        assert "As it is there: 0 words" in self.run(other.folder, "import", str(out), "--as-there").stdout

    def test_as_there_never_turns_a_word_into_its_contrary(self, book: Path, tmp_path: Path) -> None:
        out = tmp_path / "odd.csv"
        out.write_text("word,synonyms\nbright,dark\n", encoding="utf-8")
        assert "say opposite things" in self.run(book, "import", str(out), "--as-there", status=2).stderr
        assert self.run(book, "show", "dark").stdout.startswith("dark")

    def test_a_word_said_anew_keeps_what_was_not_given(self, book: Path) -> None:
        self.run(book, "add", "boomy", "--means", "One note rules")
        entry = lexicon_rows.in_force(store.open_casebook(book)).named("boomy")
        assert entry.definition == "One note rules"
        assert (entry.synonyms, entry.low_hz) == (shipped().named("boomy").synonyms, 60)
        assert entry.source == shipped().named("boomy").source

    def test_a_band_of_ones_own_never_stands_under_a_published_source(self, book: Path) -> None:
        self.run(book, "add", "bright", "--from", "100", "--to", "200", "--says", "less")
        assert lexicon_rows.in_force(store.open_casebook(book)).named("bright").source == "own use"

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("term\nx\n", "lacks the column 'word'"),
            ("word,low_hz\ndroning,40\n", "line 2: the band of 'droning' has one end only"),
            ("word\ndroning,40\n", "line 2: more cells than the header"),
            ("word,says\ndroning,much\n", "line 2: the word 'droning' says 'much'"),
        ],
    )
    def test_a_table_that_does_not_fit_is_refused_whole_with_its_line(
        self, book: Path, tmp_path: Path, text: str, says: str
    ) -> None:
        file = tmp_path / "table.csv"
        file.write_text(f"{text}", encoding="utf-8")
        assert says in self.run(book, "import", str(file), status=2).stderr
        assert lexicon_rows.changes(store.open_casebook(book)) == []


def test_a_word_that_is_nearly_a_synonym_is_proposed_by_that_synonym() -> None:
    with pytest.raises(CatalogueError, match=r"did you mean 'shouty'\? It counts as 'barky'$"):
        changed(shipped(), Change("rename", "shouty", "barky")).named("shoutyy")
    with pytest.raises(CatalogueError, match=r"did you mean 'boomy'\?$"):
        shipped().named("bomy")
