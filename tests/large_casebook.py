"""A casebook far larger than a reviewer's usual one, for what must not slow down with it."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from sessions.casebook import catalogue, hash_chain
from sessions.casebook.catalogue import Passage
from sessions.casebook.recordings import Recording
from sessions.casebook.store import Casebook, create
from sessions.plans import plan_rows
from sessions.plans.plan import Plan


def large(folder: Path, like: Casebook, *, tracks: int = 20, plans: int = 60) -> Casebook:
    """A casebook of 40 setups, ten passages a track, and plans, with one match sheet and one check of all of it."""
    plan = json.loads(plan_rows.every_sealed(like)[0].plan.text)
    sheet = json.loads(like.query("SELECT document FROM match_sheets")[0]["document"])
    check = json.loads(like.query("SELECT document FROM checks")[0]["document"])
    book = create(folder)
    with book.writing():
        ada = catalogue.add_listener(book, "Ada")
        setups = [catalogue.add_setup(book, f"setup {number}") for number in range(40)]
        passages = []
        for number in range(tracks):
            track = catalogue.keep(book, catalogue.new_track(book, f"track {number}"))
            for setup in setups:
                own = Recording("r" + setup.id + track.id, track.id, "x.flac", "0" * 64, 48000, 2, 10**7, "", setup.id)
                book.insert("recordings", asdict(own))
            for place in range(10):
                name, at = f"passage {number}-{place}", 480_000 * place
                row = Passage(f"p{number}-{place}", track.id, name, at, 480_000, 48_000, "", book.now())
                passages.append(catalogue.keep(book, row))
        part = sheet["passages"][0]
        file, matched = part["prepared"]["setups"][0], part["setups"][0]
        files = [file | {"setup": one.id, "source": "0" * 64} for one in setups]
        read = [matched | {"setup": one.name, "id": one.id} for one in setups]
        parts = [
            part
            | {"passage": one.name, "setups": read, "prepared": part["prepared"] | {"passage": one.id, "setups": files}}
            for one in passages
        ]
        book.append("match_sheets", "sheet", {"document": json.dumps(sheet | {"passages": parts})})
        every = {"setups": [one.id for one in setups], "passages": [one.id for one in passages]}
        book.append("checks", "check", {"document": json.dumps(check | every)})
        for number in range(plans):
            own = plan | {"plan": f"plan-{number}", "name": f"plan {number}"}
            own["listeners"] = [{"listener": ada.id, "name": "Ada"}]
            own["setups"] = [{"setup": one.id, "name": one.name, "kind": "files"} for one in setups[number % 30 :][:2]]
            text = hash_chain.canonical(Plan(own).document)
            content = {"name": own["name"], "document": text, "seal": f"{number:064d}"}
            book.append("plans", "plan", content, row_id=own["plan"])
    return book
