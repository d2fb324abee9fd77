from __future__ import annotations

import xml.etree.ElementTree as ET

from monitor.board.svg_chart import FINE, WIDE, Chart


def _tree(chart: Chart) -> ET.Element:
    return ET.fromstring(chart.markup())


def test_a_chart_has_a_title_and_a_description_and_is_one_picture() -> None:
    root = _tree(Chart("Minutes", "A bar a day.", 100))
    assert root.attrib["role"] == "img"
    assert [(each.tag, each.text) for each in root] == [("title", "Minutes"), ("desc", "A bar a day.")]


def test_words_are_escaped_and_what_hides_in_them_is_shown() -> None:
    chart = Chart("<script>", "a & b", 100)
    chart.text(0.5, 10, "</text><script>\u202e\x07", "tick")
    written = chart.markup()
    assert "<script>" not in written
    assert _tree(chart).findall("text")[0].text == "</text><script>\\u202e\\x07"


def test_shapes_are_stretched_and_letters_are_not() -> None:
    chart = Chart("t", "d", 100)
    chart.level(50, "limit", 0.14)
    chart.text(0.14, 50, "45 min", "limit-word")
    root = _tree(chart)
    inner = root.find("svg")
    assert inner is not None
    assert inner.attrib["viewBox"] == f"0 0 {WIDE} {100 * FINE}"
    assert inner.attrib["preserveAspectRatio"] == "none"
    assert inner[0].attrib["d"] == "M140 500H1000"
    assert root.findall("text")[0].attrib == {"class": "limit-word", "x": "14%", "y": "50"}


def test_a_line_is_its_first_point_and_the_steps_between_the_others() -> None:
    chart = Chart("t", "d", 100)
    chart.line([[(0.1, 10.0), (0.2, 12.5), (0.3, 5.0)], [(0.9, 50.0)]], "trace")
    inner = _tree(chart).find("svg")
    assert inner is not None
    assert inner[0].attrib["d"] == "M100 100l100 25 100 -75M900 500h1"


def test_a_chart_without_lines_has_no_inner_picture() -> None:
    assert _tree(Chart("t", "d", 10)).find("svg") is None
