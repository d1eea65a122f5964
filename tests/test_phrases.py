"""A text that nothing says is found: every key stands in the code, whole, or with gaps that the code has words for.

One that is left behind is missed where its section is said with gaps and its last steps are words of the code; of the
keys that stand whole, two of three would be found.
"""

import ast
import re

from conftest import ROOT
from test_languages import keyed

from decide.answers.pocket import CONDITIONS
from decide.show.pocket.page import PER_UNIT
from decide.show.text.phrases import DEFAULT_LANGUAGE

IN_PIECES = (
    r"language\.name|locale\..*|derived\..*_of_runs|shop_settings\.paper\.a4|bands\.on_limit_.*|trade\..*|"
    r"checks\.pays_.*|people\.deed\..*|unit\.(.+/)?(therm|gal|litre)(/year)?"
)
"""Keys that are looked up or put together step by step."""


def unused(keys: set[str]) -> set[str]:
    """Those of the keys that nothing says. What fills a gap is a name or word of the code, or a cell of the tables."""
    nodes = [node for path in (ROOT / "decide").rglob("*.py") for node in ast.walk(ast.parse(path.read_text("utf-8")))]
    texts = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    known = {word for text in texts - keys for word in (text.replace(" ", "_"), *text.split("."))}
    known |= {node.arg for node in nodes if isinstance(node, ast.arg | ast.keyword) and node.arg}
    known |= {ast.unparse(node.target) for node in nodes if isinstance(node, ast.AnnAssign)}
    beside = (ROOT / "decide/show" / name for name in ("charts/pictures.toml", "screens/state/fields.toml"))
    for path in (*(ROOT / "data").rglob("*.csv"), *beside):
        text = path.read_text("utf-8")
        known.update((*re.split(r"[,;\n ]", text), *re.split(r"[,\n]", text), *re.findall('"(.*?)"', text)))
    page = "".join((ROOT / "decide/show/pocket" / name).read_text("utf-8") for name in ("page.js", "page.html"))
    named = {*re.findall(r'"(\w+)"', page), *CONDITIONS}
    named |= {unit for units in PER_UNIT.values() for unit, _ in units.values()}
    texts |= {f"pocket.{word}" for word in named}
    gaps = {rf"pocket\.{head}(.+)" for head in re.findall(r"`(\w+_)\$\{", page)}
    for sentence in (node.values for node in nodes if isinstance(node, ast.JoinedStr)):
        pieces = [re.escape(part.value) if isinstance(part, ast.Constant) else "(.+)" for part in sentence]
        if r"\." in pieces[0]:
            gaps.add("".join(pieces).replace("(.+)(.+)", "(.+)"))
    heads = {word for word in known if word.endswith("_")}

    def fills(part: str) -> bool:
        steps = ({step, re.sub("^(electricity|gas|water)(?=_)", "", step)} for step in part.split("."))
        rests = {part.removeprefix(head) for head in heads if part.startswith(head)}
        return part in known or bool(rests & known) or all(step & known for step in steps)

    def is_used(key: str) -> bool:
        found = (re.fullmatch(gap, key) for gap in gaps)
        return key in texts or any(match and all(map(fills, match.groups())) for match in found)

    return {key for key in keys if not re.fullmatch(IN_PIECES, key) and not is_used(key)}


def test_every_text_is_said_somewhere_and_one_that_is_not_is_found() -> None:
    left_behind = {"nowhere.at_all", "door.said_by_none"}
    assert unused({*keyed(DEFAULT_LANGUAGE), *left_behind}) == left_behind
