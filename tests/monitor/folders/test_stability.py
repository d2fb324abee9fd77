"""When a file counts as quiet: all times are given, nothing is waited for."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.folders.stability import StabilityTracker
from monitor.values import Listing, Seen

WALL = 1_790_000_000.0


def seen(
    name: str = "run.fit", size: int = 10, age: float = 0.0, inode: int = 1, part_age: float | None = None
) -> Seen:
    """A file last changed `age` seconds before WALL."""
    part = None if part_age is None else int((WALL - part_age) * 1e9)
    return Seen(name, size, int((WALL - age) * 1e9), 1, inode, part)


def ready(tracker: StabilityTracker) -> list[str]:
    return [file.relative for _, file in tracker.ready()]


def test_a_fresh_file_is_ready_after_five_quiet_seconds_and_a_second_look() -> None:
    tracker = StabilityTracker()
    file = seen()
    tracker.observe("runa", Listing((file,)), {}, 100.0)
    assert tracker.next_due(100.0) == 105.0
    assert ready(tracker) == [], "no second look has been taken"
    assert tracker.to_look_at(104.9) == {}
    assert tracker.to_look_at(105.0) == {"runa": ["run.fit"]}
    tracker.observe("runa", Listing((file,)), {}, 105.0, only=["run.fit"])
    assert tracker.ready() == [("runa", file)]
    assert tracker.next_due(105.0) == 105.0


def test_a_file_closed_or_moved_into_place_is_ready_after_one_second() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(),)), {}, 100.0, {"run.fit"})
    assert tracker.next_due(100.0) == 101.0
    tracker.observe("runa", Listing((seen(),)), {}, 101.0)
    assert ready(tracker) == ["run.fit"]


def test_a_close_that_is_heard_of_later_shortens_the_wait() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(),)), {}, 100.0)
    tracker.observe("runa", Listing((seen(),)), {}, 102.0, {"run.fit"})
    assert ready(tracker) == ["run.fit"]


def test_every_change_of_size_time_or_inode_starts_the_wait_anew() -> None:
    for changed in (seen(size=11), seen(age=-1), seen(inode=2)):
        tracker = StabilityTracker()
        tracker.observe("runa", Listing((seen(),)), {}, 100.0)
        tracker.observe("runa", Listing((changed,)), {}, 104.0)
        tracker.observe("runa", Listing((changed,)), {}, 105.0)
        assert ready(tracker) == []
        assert tracker.next_due(105.0) == 109.0


def test_a_file_that_was_closed_and_is_written_on_waits_the_long_time_again() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(),)), {}, 100.0, {"run.fit"})
    tracker.observe("runa", Listing((seen(size=20),)), {}, 101.0)
    assert tracker.next_due(101.0) == 106.0


def test_a_file_old_at_first_sight_is_ready_at_once() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen("old.fit", age=5), seen("young.fit", age=4))), {}, 100.0, wall=WALL)
    assert ready(tracker) == ["old.fit"]
    assert tracker.next_due(100.0) == 100.0
    tracker.taken("runa", [seen("old.fit", age=5)])
    assert tracker.next_due(100.0) == 101.0


def test_a_time_from_the_future_says_nothing_of_age() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(age=-86400),)), {}, 100.0, wall=WALL)
    assert tracker.next_due(100.0) == 105.0


def test_a_known_file_is_never_ready_again_until_it_changes() -> None:
    tracker = StabilityTracker()
    known = {"run.fit": seen(age=100).stamp}
    tracker.observe("runa", Listing((seen(age=100),)), known, 100.0, wall=WALL)
    assert tracker.next_due(100.0) is None
    tracker.observe("runa", Listing((seen(age=50),)), known, 200.0, wall=WALL)
    assert ready(tracker) == ["run.fit"]


def test_what_was_taken_stays_away_until_the_store_was_asked_anew() -> None:
    tracker = StabilityTracker()
    file = seen(age=100)
    tracker.observe("runa", Listing((file,)), {}, 100.0, wall=WALL)
    tracker.taken("runa", [file])
    tracker.observe("runa", Listing((file,)), {}, 200.0, wall=WALL)
    assert ready(tracker) == []
    assert tracker.unconfirmed("runa", {})
    assert not tracker.unconfirmed("runa", {"run.fit": file.stamp})
    tracker.forget("runa")
    tracker.observe("runa", Listing((file,)), {}, 300.0, wall=WALL)
    assert ready(tracker) == ["run.fit"]


def test_a_file_changed_while_it_was_being_taken_comes_again() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(age=100),)), {}, 100.0, wall=WALL)
    tracker.observe("runa", Listing((seen(size=99, age=50),)), {}, 101.0, wall=WALL)
    tracker.taken("runa", [seen(age=100)])
    tracker.observe("runa", Listing((seen(size=99, age=50),)), {}, 106.0, wall=WALL)
    assert ready(tracker) == ["run.fit"]


def test_a_file_with_a_partial_sibling_waits_until_the_sibling_is_gone_or_given_up() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(age=60, part_age=1),)), {}, 100.0, wall=WALL)
    assert ready(tracker) == []
    assert tracker.next_due(100.0) == 105.0
    tracker.observe("runa", Listing((seen(age=60),)), {}, 105.0, wall=WALL + 5)
    assert ready(tracker) == ["run.fit"]
    tracker.observe("hal", Listing((seen(age=6000, part_age=601),)), {}, 100.0, wall=WALL)
    assert [athlete for athlete, _ in tracker.ready()] == ["hal", "runa"]


def test_an_empty_file_is_passed_on_once_quiet_for_the_intake_to_decide() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(size=0),)), {}, 100.0)
    tracker.observe("runa", Listing((seen(size=0),)), {}, 105.0)
    assert ready(tracker) == ["run.fit"]


def test_a_file_that_vanished_is_dropped_by_the_look_that_covers_it() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen("a/x.fit"), seen("b.fit"))), {}, 100.0)
    tracker.observe("runa", Listing(), {}, 101.0, only=["c.fit"])
    assert tracker.waiting() == 2
    tracker.observe("runa", Listing(), {}, 101.0, only=["a"])
    assert tracker.waiting() == 1
    tracker.observe("runa", Listing(missing="gone"), {}, 102.0)
    assert tracker.next_due(102.0) is None


def test_athletes_do_not_disturb_each_other() -> None:
    tracker = StabilityTracker()
    tracker.observe("runa", Listing((seen(age=9),)), {}, 100.0, wall=WALL)
    tracker.observe("hal", Listing(), {}, 100.0)
    tracker.drop("hal")
    assert [athlete for athlete, _ in tracker.ready()] == ["runa"]


def test_five_thousand_files_at_once_are_all_ready_in_order() -> None:
    tracker = StabilityTracker()
    files = tuple(seen(f"{number:04}.fit") for number in range(5000))
    tracker.observe("runa", Listing(files), {}, 100.0)
    tracker.observe("runa", Listing(files), {}, 105.0)
    assert [file for _, file in tracker.ready()] == list(files)


@given(st.lists(st.tuples(st.floats(0.01, 4), st.integers(0, 3), st.booleans()), min_size=1, max_size=30))
def test_a_ready_file_has_always_been_unchanged_for_a_second_at_least(looks: list[tuple[float, int, bool]]) -> None:
    tracker = StabilityTracker()
    now, changed_at, last_size = 0.0, 0.0, -1
    for pause, size, closed in looks:
        now += pause
        if size != last_size:
            changed_at, last_size = now, size
        tracker.observe("runa", Listing((seen(size=size),)), {}, now, {"run.fit"} if closed else ())
        for _, file in tracker.ready():
            assert file.size == size
            assert now - changed_at >= 1.0 - 1e-9  # sums of floats
