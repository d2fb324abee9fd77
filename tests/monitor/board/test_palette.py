from __future__ import annotations

import re

import pytest

from monitor.board.rendering import style
from monitor.board.svg_chart import COLOURS, LINES_ON, WORDS_ON, Scheme, colour, contrast


def test_contrast_is_reckoned_as_the_guidelines_do() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the well-known grey that just fails
    assert contrast("#336699", "#336699") == 1.0


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize("ground", ["paper", "leaf", "band"])
@pytest.mark.parametrize(("name", "least"), WORDS_ON + LINES_ON)
def test_words_and_lines_stand_out_from_what_they_lie_on(scheme: Scheme, ground: str, name: str, least: float) -> None:
    assert contrast(colour(name, scheme), colour(ground, scheme)) >= (min(least, 3.0) if ground == "band" else least)


def test_no_colour_means_good_or_bad_by_a_traffic_light() -> None:
    for shades in COLOURS.values():
        for shade in shades:
            red, green, blue = (int(shade[i : i + 2], 16) for i in (1, 3, 5))
            strong = max(red, green, blue) - min(red, green, blue) > 60
            assert not (strong and green > 1.2 * max(red, blue)), f"{shade} is green"
            assert not (strong and red > 1.5 * max(green, blue)), f"{shade} is red"
            assert not (strong and red > 1.2 * blue and green > 1.2 * blue), f"{shade} is amber"


def test_every_colour_of_the_style_comes_from_the_palette() -> None:
    rules = style().split("*,::before{box-sizing", 1)[1]
    rules, forced = rules.split("@media (forced-colors:active)", 1)
    assert set(re.findall(r"--(\w+):(\w+)", forced.split("}")[0])) >= {("ink", "CanvasText"), ("leaf", "Canvas")}
    assert "#" not in rules.replace("url(#", "").replace("#tools", "").replace("#roster", "")
    used = {part.split(")")[0] for part in rules.split("var(--")[1:]}
    assert used <= set(COLOURS)


def test_the_own_band_has_edges_that_can_be_seen_and_severities_differ_by_shape() -> None:
    rules = style()
    band = re.search(r"\.band\{([^}]*)\}", rules)
    assert band
    assert "stroke:var(--rule)" in band[1], "and its fill is only faint"
    shapes = [re.search(rf"\.mark\.is-{word}::before\{{([^}}]*)\}}", rules) for word in ("stop", "caution", "note")]
    assert len({shape[1] for shape in shapes if shape}) == 3
    assert not any("gradient" in shape[1] for shape in shapes if shape), "forced colours take pictures away"
