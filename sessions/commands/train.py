"""`train`: named artefacts, made larger and smaller on the music of a plan, with feedback; a rehearsal."""

from __future__ import annotations

from contextlib import ExitStack
from functools import partial

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener
from ..errors import CatalogueError
from .at_terminal import BUSY_TIMEOUT_MS, check_terminal, when_free
from .context import Context, give, json_option, say, table
from .number_types import NumberRange

CAUTION = (
    "Start quiet and turn up slowly; then leave the volume as it is, also where you hear no change: a band may get up "
    "to 12 dB more, and much bass moves woofers far."
)


@click.command()
@click.argument("plan", required=False)
@click.option("--artefact", help="What is changed, such as lift-4000, cut-250, level, delay, reflection, hiss.")
@click.option("--passage", default="", help="The passage that plays; otherwise the plan's first.")
@click.option("--listener", help="Who trains; needed where the plan has several.")
@click.option("--device", help="The playback device, by name; otherwise the system's.")
@click.option("--dba", type=NumberRange(30, 110), help="The level at your ears as a meter reads it, for the dose.")
@json_option
@click.pass_obj
def train(
    context: Context,
    plan: str | None,
    artefact: str | None,
    passage: str,
    listener: str | None,
    device: str | None,
    dba: float | None,
    as_json: bool,
) -> None:
    """Train on the music of PLAN, sealed or not: which of three is changed, and whether you were right.

    The change grows smaller while you find it: each right answer makes it smaller until your first wrong one, from then
    on two right ones in a row do; a wrong one makes it larger. It never counts; how much was trained before a plan's
    trials stands beside its verdict. Without a PLAN: what can be trained.
    """
    from audio.artefacts import ARTEFACTS, named

    if plan is None:
        if as_json:
            give({"artefacts": [{"artefact": one.key, "said": one.said} for one in ARTEFACTS]})
            return
        rows = [
            [one.key, one.said, f"{one.in_words(one.sizes[-1])} to {one.in_words(one.sizes[0])}"] for one in ARTEFACTS
        ]
        say(table(["artefact", "what is changed", "sizes"], rows))
        return
    wanted = named(artefact or "")
    if wanted is None:
        given = f"no artefact {artefact!r}" if artefact else "say what to train with --artefact"
        raise click.UsageError(f"{given}; there are {', '.join(one.key for one in ARTEFACTS)}")

    from ..chair.training_chair import summary
    from ..listening import players, threshold_listening, threshold_run, training_ground, training_sounds
    from ..measured import own_training
    from . import asked_device, threshold_screen, training_page

    with context.open() as casebook:
        ground = training_ground.of(casebook, plan)
        who = _listener(ground.listeners, listener, plan)
        heard = ground.passage(passage)
        check_terminal()
        chain = ground.setup.chain
        by = players.playing_on(chain, device)

        def played_at(rate_hz: int) -> int:
            return asked_device.free_rates([chain], device, {rate_hz}, as_json)[rate_hz]

        say(f"One moment: all sizes of it are made ready. {CAUTION}", as_json)
        sounds = training_sounds.of_passage(casebook, ground.plan, ground.setup, heard, wanted, by, dba, played_at)
        person = catalogue.find(casebook, Listener, who)
        with (
            threshold_run.begin(casebook, person, ground.setup, sounds.sought, anew=True) as run,
            ExitStack() as things,
        ):
            casebook.set_busy_timeout(BUSY_TIMEOUT_MS)
            player = players.player_on([chain], device)
            things.push(player.__exit__)
            listening = threshold_listening.ThresholdListening(run, player, sounds)
            title = f"{who}: {wanted.said} (TRAINING)"
            try:
                page = training_page.TrainingPage(listening, title, message=CAUTION, words=training_page.WORDS)
                threshold_screen.run(page)
            finally:
                listening.leave()
                when_free(listening.write_out)
                if not run.over:
                    when_free(partial(run.mark, "stopped"))
            found = own_training.trained(run.sought, run.given)
    if as_json:
        stated = {"plan": ground.plan, "listener": who, "artefact": wanted.key, "rehearsal": True}
        give(stated | documents.plain(found))
        return
    say(f"TRAINING: {summary(found)}")


def _listener(there: tuple[str, ...], name: str | None, plan: str) -> str:
    if name in there or (name is None and len(there) == 1):
        return name or there[0]
    given = f"{name!r} is no listener of plan {plan!r}" if name else "say who trains with --listener NAME"
    raise CatalogueError(f"{given}; its listeners are {', '.join(there) or 'none yet'}")


COMMANDS = {"train": train}
