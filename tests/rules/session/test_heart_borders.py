"""What leaps, climbs by itself or starts false in a heart rate: each step just below, at and just above its limit."""

from __future__ import annotations

import numpy as np
import pytest

from rules.session import heart as hearts
from rules.session.heart import _Edge
from rules.session.timeline import Floats, Stretch
from tests.rules.session.rows import FAR, LIMITS, NAN, REACH, ramp, rows, spans

# Small measures.


@pytest.mark.parametrize(("inside", "outside", "rise"), [(9, 20, 0), (10, 20, 30), (20, 9, 0), (20, 10, 30)])
def test_ten_seconds_on_both_sides_tell_a_rise(inside: int, outside: int, rise: float) -> None:
    assert hearts._rise(rows((inside, 130)), rows((outside, 100), (30, NAN)), LIMITS) == rise


@pytest.mark.parametrize(
    ("edge", "leap"),
    [
        (rows((5, 100), (6, 130)), 30),
        (rows((6, 130), (5, 100)), 30),
        (rows((5, 100), (5, 130)), 0),  # ten seconds, which have no two that lie ten apart
        (rows((12, 100), (1, 130), (12, 100)), 0),  # a single second is no leap
        (rows((12, 100), (2, 130), (12, 100)), 30),
        (np.concatenate((rows((10, 100)), ramp(20, 100, 140), rows((10, 140)))), 20),
    ],
)
def test_a_leap_is_the_greatest_change_within_ten_seconds(edge: Floats, leap: float) -> None:
    assert hearts._leap(edge, LIMITS.cleaning.leap_s) == leap


@pytest.mark.parametrize(
    ("values", "turns"),
    [
        (rows((40, 100), (40, 101), (40, 100)), 0.5),
        (rows((10, 100), (10, 101), (10, 100)), 1.0),  # of less than a minute as of one
        (rows((60, 100), (60, 101), (60, 103)), 0.0),
        (rows((30, 100), (30, 102), (30, 101), (30, 102)), 1.0),
    ],
)
def test_reversals_are_turns_a_minute(values: Floats, turns: float) -> None:
    assert hearts._reversals(values) == turns


@pytest.mark.parametrize(
    ("before", "after", "breaks"),
    [
        ((12, 140), (8, 140), False),
        ((12, 140), (7, 143), True),
        ((12, 140), (7, 142.9), False),
        ((12, 140), (7, 137), True),
        ((12, 140), (8, 143), False),
        ((13, 143), (7, 140), True),
        ((12, 143), (7, 140), False),
        ((13, 142.9), (7, 140), False),
        ((13, 137), (7, 140), True),
    ],
)
def test_a_flat_line_breaks_where_eight_seconds_beside_it_differ_by_three_beats(
    before: tuple[int, float], after: tuple[int, float], *, breaks: bool
) -> None:
    """The flat line is rows 20 to 119: held against row 12 and row 127."""
    until, level = before
    later, other = after
    filled = rows((until, level), (120 + later - until, 140), (30, other))
    assert hearts._breaks(filled, 20, 120, LIMITS.cleaning.unstuck_bpm, 8) == breaks


def test_near_an_end_a_flat_line_is_held_against_the_first_or_last_second() -> None:
    assert hearts._breaks(rows((1, 144), (100, 140)), 3, 101, 3, 8)
    assert hearts._breaks(rows((100, 140), (1, 144)), 0, 98, 3, 8)
    assert not hearts._breaks(rows((100, 140)), 0, 100, 3, 8)


@pytest.mark.parametrize(
    ("effort", "moves"),
    [
        (rows((200, 2.0), (200, 2.75)), True),  # 18 bpm at 24 bpm per m/s
        (rows((200, 2.0), (200, 2.74)), False),
        (rows((200, 2.0), (61, 2.75), (200, 2.0)), True),  # held for as long as the mean is
        (rows((200, 2.0), (59, 2.75), (200, 2.0)), False),
        (rows((30, 5.0), (100, NAN), (200, 2.0)), True),
        (rows((29, 5.0), (100, NAN), (200, 2.0)), False),  # half a minute must be known
        (rows((200, NAN)), False),
    ],
)
def test_effort_moves_where_a_heart_would_have_by_eighteen_beats(effort: Floats, *, moves: bool) -> None:
    assert hearts._effort_moves(effort, LIMITS) == moves


# Edges that no heart has.


@pytest.mark.parametrize(
    ("values", "edges"),
    [
        (rows((50, 100), (50, 130)), [(42, 57, True)]),
        (rows((50, 100), (50, 129)), []),
        (rows((50, 130), (50, 100)), [(42, 57, False)]),
        (rows((50, 130), (50, 101)), []),
        (np.concatenate((rows((51, 100)), ramp(4, 100, 130), rows((50, 130)))), [(46, 58, True)]),
        # climbs by 5 a second for half a minute, and by 12 between seconds 60 and 61
        (
            np.concatenate((rows((51, 100)), ramp(10, 100, 150), ramp(1, 150, 162), ramp(19, 162, 257))),
            [(53, 68, True)],
        ),
        (rows((50, 100), (50, 130), (50, 100)), [(42, 57, True), (92, 107, False)]),
        (rows((8, 100)), []),
    ],
)
def test_an_edge_lies_eight_seconds_around_the_steepest_second(
    values: Floats, edges: list[tuple[int, int, bool]]
) -> None:
    assert [(one.start, one.end, one.up) for one in hearts._edges(values, REACH, FAR)] == edges


@pytest.mark.parametrize(
    ("seconds", "change", "found"),
    [(9, 40, False), (10, 29, False), (10, 30, True), (20, 39, False), (20, 40, True), (60, 79, False), (60, 80, True)],
)
def test_over_a_gap_a_heart_may_change_by_a_beat_more_for_each_second_over_ten(
    seconds: int, change: float, *, found: bool
) -> None:
    values = rows((20, 60), (seconds - 1, NAN), (20, 60 + change), (seconds - 1, NAN), (20, 60))
    ups, downs = (19, 19 + seconds, True), (38 + seconds, 38 + 2 * seconds, False)
    edges = hearts._edges_over_gaps(values, np.arange(float(len(values))), LIMITS)
    assert [(one.start, one.end, one.up) for one in edges] == ([ups, downs] if found else [])


def test_over_more_than_a_minute_a_heart_may_be_anywhere() -> None:
    values = rows((20, 60), (60, NAN), (20, 200))
    assert hearts._edges_over_gaps(values, np.arange(100.0), LIMITS) == []


# Spikes, dips, false starts.


@pytest.mark.parametrize(
    ("values", "masked"),
    [
        (rows((300, 120), (50, 160), (250, 120)), [(292, 358)]),
        (rows((400, 120), (50, 80), (250, 120)), [(392, 458)]),
        (rows((400, 120), (50, 80), (450, 120)), [(392, 458)]),
        (rows((300, 120), (400, 160)), [(292, 308)]),  # up for good: the edge alone
        (rows((550, 120), (50, 160)), [(542, 600)]),  # up to the end
        (rows((550, 120), (50, 160), (9, NAN)), [(542, 600)]),
        (rows((60, 170), (600, 120)), [(0, 68)]),
        (rows((60, 140), (600, 120)), [(0, 68)]),  # a false start is told by a fall of 20
        (rows((60, 139), (600, 120)), []),
        (rows((5, NAN), (60, 140), (600, 120)), [(5, 73)]),
        (rows((600, NAN)), []),
    ],
)
def test_a_spike_a_dip_and_a_false_start_are_masked_with_their_edges(values: Floats, masked: list[Stretch]) -> None:
    unknown = np.full(len(values), NAN)
    assert spans(hearts._jumps(values, np.arange(float(len(values))), unknown, LIMITS)) == masked


@pytest.mark.parametrize(
    ("after", "masked"), [(135, (0, 278)), (135.1, (172, 278)), (150, (172, 278)), (164.9, (172, 278)), (165, (0, 278))]
)
def test_a_dip_in_the_first_minutes_says_nothing_of_what_was_before(after: float, masked: Stretch) -> None:
    """The heart is back where it was; elsewhere the fall may have been the end of a false start."""
    values = rows((180, 150), (90, 100), (600, after))
    assert spans(hearts._jumps(values, np.arange(float(len(values))), np.full(len(values), NAN), LIMITS)) == [masked]


def spike(
    seconds: int, inside: float = 140, after: float = 120, *, harder: float = NAN, known: float = 1.0, end: bool = False
) -> bool:
    """Of a heart that was at 120: is this masked between its edges? `harder` is what the effort rose by in it."""
    values = rows((100, 120), (seconds, inside), (100, after))
    effort = rows((100, 3.0), (seconds, 3.0 + harder), (100, 3.0))
    effort[100 + round(known * seconds) : 100 + seconds] = NAN
    at = 100 + seconds
    up = inside > after if not end else inside > 120
    second = _Edge(at, at, up=False) if end else _Edge(at, at + 1, up=not up)
    return hearts._is_spike(values, effort, _Edge(99, 100, up), second, LIMITS)


@pytest.mark.parametrize(("seconds", "masked"), [(99, True), (100, True), (101, False)])
def test_up_to_a_hundred_seconds_are_a_spike_whatever_the_effort_says(seconds: int, *, masked: bool) -> None:
    assert spike(seconds, harder=1.0) == masked


@pytest.mark.parametrize(("seconds", "masked"), [(299, True), (300, True), (301, False)])
def test_up_to_five_minutes_where_nothing_explains_it(seconds: int, *, masked: bool) -> None:
    assert spike(seconds) == masked
    assert spike(seconds, harder=0.0) == masked


@pytest.mark.parametrize(
    ("inside", "after", "masked"),
    [
        (134.9, 120, False),
        (135, 120, True),
        (150, 135, True),
        (150, 135.1, False),
        (105.1, 120, False),
        (105, 120, True),
    ],
)
def test_a_long_spike_or_dip_stands_out_from_both_sides_by_fifteen(
    inside: float, after: float, *, masked: bool
) -> None:
    assert spike(200, inside, after) == masked


@pytest.mark.parametrize(("harder", "masked"), [(0.37, True), (0.375, False), (-1.0, True)])
def test_effort_that_raises_a_heart_by_nine_explains_a_long_spike(harder: float, *, masked: bool) -> None:
    assert spike(200, harder=harder) == masked


@pytest.mark.parametrize(("harder", "masked"), [(-0.37, True), (-0.375, False), (1.0, True)])
def test_effort_that_lets_a_heart_fall_by_nine_explains_a_long_dip(harder: float, *, masked: bool) -> None:
    assert spike(200, 100, harder=harder) == masked


@pytest.mark.parametrize(("known", "masked"), [(0.5, True), (0.505, False)])
def test_effort_known_for_more_than_half_of_it_is_heard(known: float, *, masked: bool) -> None:
    assert spike(200, harder=1.0, known=known) == masked


@pytest.mark.parametrize(("inside", "masked"), [(134.9, False), (135, True)])
def test_what_lasts_to_the_end_is_held_against_what_was_before_however_short(inside: float, *, masked: bool) -> None:
    assert spike(50, inside, 60, end=True) == masked


def around(at: int, first: int, second: int) -> Floats:
    """A heart at 150 between two edges, and known beside them only for ten seconds from `at` on, at 120."""
    values = np.full(800, NAN)
    values[first:second] = 150
    values[at : at + 10] = 120
    return values


@pytest.mark.parametrize(("off", "masked"), [(-1, False), (0, True), (1, True)])
def test_a_long_spike_is_held_against_the_minute_on_either_side(off: int, *, masked: bool) -> None:
    first, second = _Edge(299, 300, up=True), _Edge(500, 501, up=False)
    before, behind = around(299 - 60 + off, 300, 500), around(501 + 60 - 10 - off, 300, 500)
    both = np.where(np.isfinite(before), before, behind)
    assert hearts._is_spike(both, np.full(800, NAN), first, second, LIMITS) == masked
    last = _Edge(500, 500, up=False)
    assert hearts._is_spike(before, np.full(800, NAN), first, last, LIMITS) == masked


@pytest.mark.parametrize(("off", "told"), [(-1, False), (0, True), (1, True)])
def test_what_lies_thirty_seconds_around_a_dip_says_whether_the_heart_is_as_before(off: int, *, told: bool) -> None:
    """Of fewer than ten seconds no usual value is taken, and it is taken to be as it was."""
    first, second = _Edge(299, 300, up=False), _Edge(400, 401, up=True)
    values = around(299 - 30 + off, 0, 0)
    values[401 + 30 - 10 - off : 401 + 30 - off] = 150
    assert hearts._as_before(values, first, second, LIMITS) != told


def since(values: Floats, fall: _Edge, *edges: _Edge, slower: float = NAN) -> int:
    effort = np.where(np.arange(len(values)) < fall.start, 3.0, 3.0 - slower)
    return hearts._false_since(values, effort, fall, list(edges), LIMITS)


@pytest.mark.parametrize(("off", "explained"), [(-1, False), (0, True), (1, True)])
def test_an_effort_that_ends_within_thirty_seconds_explains_a_fall(off: int, *, explained: bool) -> None:
    values, effort, fall = rows((80, 170), (100, 120)), np.full(180, NAN), _Edge(78, 82, up=False)
    effort[78 - 30 + off : 78 - 20 + off], effort[82 + 20 - off : 82 + 30 - off] = 4.0, 3.0
    assert (hearts._false_since(values, effort, fall, [], LIMITS) == fall.end + 1) == explained


FALL = _Edge(78, 82, up=False)
NONE = 83


@pytest.mark.parametrize(
    ("values", "begins"),
    [
        (rows((80, 170), (100, 120)), 0),
        (rows((5, NAN), (75, 170), (100, 120)), 5),
        (rows((40, 134.9), (40, 170), (60, 120)), 40),  # calm at first: from where it stood 15 over what came after
        (rows((40, 135), (40, 170), (60, 120)), 0),
        (rows((5, NAN), (40, 125), (35, 170), (60, 120)), 45),
        (rows((80, 170), (60, NAN)), 78),  # nothing after it to be false against
    ],
)
def test_a_false_start_begins_where_it_stood_out(values: Floats, begins: int) -> None:
    assert since(values, FALL) == begins


@pytest.mark.parametrize(("end", "found"), [(359, True), (360, True), (361, False)])
@pytest.mark.parametrize("missing", [0, 5])
def test_a_start_is_false_for_six_minutes_at_the_most(end: int, missing: int, *, found: bool) -> None:
    values = rows((missing, NAN), (end, 170), (100, 120))
    at = end + missing
    assert since(values, _Edge(at - 4, at, up=False)) == (missing if found else at + 1)


@pytest.mark.parametrize(("slower", "begins"), [(0.37, 0), (0.375, NONE)])
def test_a_fall_that_the_end_of_an_effort_explains_ends_no_false_start(slower: float, begins: int) -> None:
    assert since(rows((80, 170), (100, 120)), FALL, slower=slower) == begins


@pytest.mark.parametrize(("edge", "begins"), [(_Edge(70, 78, up=True), NONE), (_Edge(71, 79, up=True), 0)])
def test_a_fall_that_ends_a_spike_ends_no_false_start(edge: _Edge, begins: int) -> None:
    assert since(rows((80, 170), (100, 120)), FALL, edge) == begins
    assert since(rows((80, 170), (100, 120)), FALL, _Edge(70, 78, up=False)) == 0


def test_a_rise_and_a_fall_at_once_are_no_false_start() -> None:
    values = rows((80, 170), (100, 120))
    assert since(values, _Edge(78, 82, up=True)) == NONE
    assert since(rows((4, 170), (100, 120)), _Edge(0, 4, up=False)) == 5
    assert since(rows((4, 170), (100, 120)), _Edge(1, 4, up=False)) == 0


@pytest.mark.parametrize(("edge", "missing", "begins"), [(112, 0, 0), (112, 1, 78)])
def test_what_comes_within_half_a_minute_tells_a_false_start(edge: int, missing: int, begins: int) -> None:
    """Known is one second alone, the last of the thirty after the fall or the one behind them."""
    values = rows((80, 170), (100, NAN))
    values[edge - 1 + missing] = 120
    assert since(values, FALL) == begins


# A heart that climbs while nothing is done.


def climb(
    by: float = 40, over: int = 60, *, before: float = 0.0, back: int = 600, effort: Floats | None = None
) -> list[Stretch]:
    """At 120 up to second 300, then up by so much; `before` is what it rose in the two minutes before."""
    values = np.concatenate((rows((301, 120)), ramp(over, 120, 120 + by), rows((400, 120 + by))))[:700]
    values[:200] -= before
    values[back:] = 120
    return spans(hearts._rises_by_itself(values, rows((700, 3.0)) if effort is None else effort, LIMITS))


def test_a_climb_by_itself_is_masked_from_where_it_stands_out_until_it_is_gone() -> None:
    """Two beats in three seconds: 15 above after 22."""
    assert climb() == [(322, 600)]
    assert climb(back=700) == [(322, 700)]


@pytest.mark.parametrize(("by", "over", "found"), [(39, 60, False), (40, 60, True), (40, 120, True), (40, 122, False)])
def test_forty_beats_in_two_minutes_are_a_climb_by_itself(by: float, over: int, *, found: bool) -> None:
    assert bool(climb(by, over)) == found


@pytest.mark.parametrize(("before", "found"), [(8.9, True), (9.0, False)])
def test_a_heart_that_rose_already_climbs_with_something(before: float, *, found: bool) -> None:
    assert bool(climb(over=120, before=before)) == found


@pytest.mark.parametrize(
    ("effort", "masked"),
    [
        (rows((550, 3.0), (150, 3.75)), [(322, 550)]),  # half of it in the mean of a minute: 9 beats
        (rows((550, 3.0), (150, 2.0)), [(322, 600)]),  # slower explains no climb
        (rows((310, 3.0), (390, 3.37)), [(322, 600)]),
        (rows((310, 3.0), (390, 3.38)), []),
        (rows((310, 3.0), (390, 2.62)), []),
        (rows((700, NAN)), []),
        (rows((290, 3.0), (1, NAN), (409, 3.0)), []),
    ],
)
def test_only_even_effort_that_is_known_throughout_says_that_nothing_was_done(
    effort: Floats, masked: list[Stretch]
) -> None:
    assert climb(effort=effort) == masked


@pytest.mark.parametrize(("seconds", "told"), [(1, False), (239, False), (240, False), (241, True)])
def test_more_than_four_minutes_tell_a_climb_by_itself(seconds: int, *, told: bool) -> None:
    values = rows((121, 120), (seconds, 160))[:seconds]
    assert hearts._rises_by_itself(values, rows((seconds, 3.0)), LIMITS).any() == told


@pytest.mark.parametrize("quiet", [140, 200, 600])
def test_a_climb_is_told_as_well_beside_the_beginning_and_up_to_the_end(quiet: int) -> None:
    values = np.concatenate((rows((quiet, 120)), ramp(60, 120, 175), rows((180, 175))))
    masked = spans(hearts._rises_by_itself(values, np.full(len(values), 2.8), LIMITS))
    assert masked == [(quiet + 15, len(values))]  # from where it is 15 above


def test_an_effort_that_is_not_known_from_the_first_minute_on_tells_none() -> None:
    values = np.concatenate((rows((140, 120)), ramp(60, 120, 175), rows((180, 175))))
    effort = np.full(len(values), 2.8)
    effort[20] = NAN
    assert not hearts._rises_by_itself(values, effort, LIMITS).any()


@pytest.mark.parametrize(("unknown", "found"), [(18, True), (19, False)])
def test_effort_is_known_from_where_its_first_whole_minute_begins(unknown: int, *, found: bool) -> None:
    """Forty above from second 258 on, in the middle of fifteen; four minutes before it is second 18."""
    values = np.concatenate((rows((219, 120)), ramp(40, 120, 160), rows((180, 160))))
    effort = np.full(len(values), 2.8)
    effort[:unknown] = NAN
    assert hearts._rises_by_itself(values, effort, LIMITS).any() == found


# What is over this athlete's own.


@pytest.mark.parametrize(
    ("peak", "masked"),
    [(190, []), (191, [(100, 130)])],
)
def test_what_is_over_the_athletes_own_is_masked_with_the_climb_to_it(peak: float, masked: list[Stretch]) -> None:
    """From 15 below on: 175 is left, 176 belongs to it."""
    values = rows((100, 175), (10, 176), (10, peak), (10, 176), (100, 175))
    assert spans(hearts._beyond_this_heart(values, 190, LIMITS)) == masked
