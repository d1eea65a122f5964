"""Whether keeping it is greener, apart from what it costs."""

from ...answers.answer import Answer
from ...answers.carbon import carbon_answer
from ...errors import MendpointError
from ..charts.carbon import carbon_chart
from ..text.carbon_words import CarbonGround, carbon_grounds, carbon_headline, carbon_text
from ..text.words import Words
from .html import LabelledRow, rows
from .widgets import draw, say_text, show, unfolding


def say_carbon(words: Words, found: Answer) -> None:
    """Say which way emits less, and what that rests on."""
    with unfolding("carbon", words.say("carbon_door.head")) as is_open:
        if not is_open:
            return
        try:
            carbon = carbon_answer(found)
        except MendpointError as error:
            say_text("sentence", *words.explain(error, words.currency))
            return
        say_text("sentence", carbon_headline(words, carbon))
        draw(carbon_chart(words, carbon), "carbon_kilograms")
        say_text("sentence", *carbon_text(words, found, carbon))
        say_text("name", words.say("carbon_door.grounds"))
        show(rows("lines", (_ground(words, ground) for ground in carbon_grounds(words, found, carbon))))


def _ground(words: Words, ground: CarbonGround) -> LabelledRow:
    value = f"{ground.value}, {words.say('door.range', range=ground.range)}" if ground.range else ground.value
    return LabelledRow(ground.label, value, f"{ground.status}: {ground.source}")
