"""Whether keeping it is greener, apart from what it costs."""

import streamlit as st

from ...errors import MendpointError
from ..answer import Answer
from ..carbon_answer import carbon_answer
from ..carbon_words import carbon_grounds, carbon_headline, carbon_said
from ..charts_carbon import carbon_chart
from ..words import Words
from .parts import draw, labelled, say_text, unfolding


def say_carbon(words: Words, found: Answer) -> None:
    """Say which way emits less, and what that rests on."""
    with unfolding("carbon", words.say("carbon_door.head")) as is_open:
        if not is_open:
            return
        try:
            carbon = carbon_answer(found)
        except MendpointError as fault:
            for sentence in words.explain(fault, words.currency):
                st.text(sentence)
            return
        say_text("carbon_first", carbon_headline(words, carbon))
        draw(carbon_chart(words, carbon), "carbon_kilograms")
        for index, sentence in enumerate(carbon_said(words, found, carbon)):
            say_text(f"carbon_{index}", sentence)
        st.markdown(f"**{words.say('carbon_door.grounds')}**")
        for index, ground in enumerate(carbon_grounds(words, found, carbon)):
            with labelled(f"carbon_{index}", ground.label):
                st.text(
                    f"{ground.value}, {words.say('door.range', range=ground.range)}" if ground.range else ground.value
                )
                say_text(f"small_carbon_{index}", f"{ground.status}: {ground.source}")
