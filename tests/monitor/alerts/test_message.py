from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alerts.message import MOST_LETTERS, Message, advice, compose
from monitor.alerts.outbox_editor import DayTold, Item, ItemKind, from_text, item, reader_of, to_text
from monitor.news import Daily, DigestRow, FilesUnreadable, MorningDigest, News, PastRead, Reader, StageBegins, Trouble
from monitor.plain_text import clean
from monitor.roster import Page
from rules.catalogue import cautions
from rules.findings import Severity
from rules.history import OF_RUNNING
from tests.monitor.alerts.scene import NOON, contact, finding, roster

OSLO = ZoneInfo("Europe/Oslo")
COACH = Reader("coach", "runa", "Runa Vik", "Runa", OSLO)
ATHLETE = Reader("athlete", "runa", "Runa Vik", "Runa", OSLO, "Coach Ida")
JOG = {"label": "walking", "running_minutes": 9.2}
RUN = finding(evidence=JOG)
ABOVE = {"ceiling_bpm": 121, "highest_minute_bpm": 139}
HEART = finding(
    "intensity_ceiling", Severity.CAUTION, summary="6 min 20 s above 121 bpm", observed=380.0, limit=120.0, unit="s",
    evidence=ABOVE,
)  # fmt: skip
LONG = finding(
    "duration_cap", Severity.CAUTION, summary="71 min", observed=71.0, limit=45.0, evidence={"of": "day", "day": [1]}
)
REST = DayTold(
    date(2026, 10, 9),
    "walking only until Mon 05:40",
    ("Walking only until Mon 05:40.",),
    ((RUN.id, "65 h of rest after a stop."), ("", "Pain 5 of 10.")),
    ("It ends with a check-in with pain under 4 of 10.",),
)


def both(kind: ItemKind = "first", day: DayTold | None = None) -> Item:
    return replace(item(kind, "s", [HEART, RUN]), day=day)


def told(one: Item, reader: Reader = COACH, now: datetime = NOON) -> Message:
    return compose([one], reader, now)


def test_the_coach_reads_how_grave_who_and_what_on_a_locked_telephone() -> None:
    assert told(item("first", "s", [LONG])).title == "Caution – Runa: 71 min, 26 over the day's 45 (day 5)"


def test_the_first_line_says_what_the_day_allows_now() -> None:
    assert told(both(day=REST), ATHLETE).body.splitlines()[0] == "Walking only until Mon 05:40."
    assert told(both(day=REST), COACH).body.splitlines()[0] == "Runa now: walking only until Mon 05:40."


def test_what_a_day_allowed_is_not_told_on_the_next() -> None:
    body = told(both(day=REST), ATHLETE, NOON + timedelta(days=1)).body
    assert "Mon 05:40" not in body
    assert body.splitlines()[0] == "The stage had no running on that day; the test runs will come."


def test_why_the_day_allows_no_more_is_told_where_the_message_is_about_something_else() -> None:
    body = told(both(day=REST), ATHLETE).body
    assert "Pain 5 of 10. It ends with a check-in with pain under 4 of 10." in body
    assert "65 h of rest after a stop" not in body


def test_without_a_decision_the_first_line_is_the_advice() -> None:
    assert told(both(), ATHLETE).body.splitlines()[0] == "Do no more today; rest."
    assert told(both(), COACH).body.startswith("Ran in the days off.")


def test_the_coach_reads_what_a_coach_can_do_and_never_your() -> None:
    body = told(both(day=REST)).body
    assert "Ask about pain in one spot" in body
    assert "Tell your coach" not in body
    assert "your usual" not in body


def test_the_athletes_text_ends_with_the_usual_cautions_and_whom_to_ask() -> None:
    assert told(both(), ATHLETE).body.splitlines()[-3:] == [
        *cautions(Severity.STOP),
        f"Details: ask Coach Ida, or fallow explain {RUN.id}",
    ]
    assert "Runa" not in told(both(), ATHLETE).title


def test_who_has_no_coach_never_reads_of_one() -> None:
    alone = replace(ATHLETE, coach="")
    for rule in ("no_running", "no_speed_work", "not_judged", "duration_cap"):
        for severity in Severity:
            for days in (0, 1):
                one = item("first", "s", [finding(rule, severity, evidence={})])
                assert "coach" not in told(one, alone, NOON + timedelta(days=days)).body.lower()


def test_an_athlete_with_a_coach_among_the_contacts_has_one() -> None:
    known = roster(contact(), contact("runa", role="athlete"))
    assert reader_of(known, "runa", known.contacts[1]).coach == known.contacts[0].name
    alone = roster(contact("runa", role="athlete"))
    assert not reader_of(alone, "runa", alone.contacts[0]).coached


def test_advice_on_a_day_that_is_over_is_in_the_past_tense() -> None:
    late = told(item("first", "s", [LONG]), ATHLETE, NOON + timedelta(days=1)).body
    assert late.startswith("That day was longer than planned; nothing has to be made up for.")
    assert "nothing has to be made up for tomorrow" not in late


def test_a_finding_without_advice_still_says_what_to_do() -> None:
    one = replace(RUN, rule="of_another_version", advice=())
    assert told(item("first", "s", [one]), ATHLETE).body.startswith("Do no more today; rest.")


def test_a_title_is_not_said_again_in_the_text() -> None:
    message = told(both(day=REST), ATHLETE)
    assert message.title == "STOP – part of the walk was a jog, 9 min (day 5)"
    assert "jog, 9 min" not in message.body
    assert "Fri 9 Oct 12:00–12:40: The days off have no running." in message.body
    assert "Also caution: 6 min above 121 bpm. This stage's ceiling; the highest minute was at 139." in message.body


def test_a_finding_of_another_version_says_its_own_summary() -> None:
    assert told(item("first", "s", [finding(evidence={})])).title.startswith("STOP – Runa: running 9 min in a session")


def test_what_the_numbers_rest_on_is_named() -> None:
    guess = replace(HEART, evidence={**ABOVE, "assumed": ["the highest heart rate, from age (Tanaka 2001)", 3]})
    assert "Assumes: the highest heart rate, from age (Tanaka 2001)." in told(item("first", "s", [guess])).body


def test_an_update_says_so() -> None:
    message = told(both("update"))
    assert message.title.startswith("Update: STOP – Runa: ")
    assert "This adds to what you were told before." in message.body


def test_a_correction_says_what_was_told_before() -> None:
    short = replace(LONG, observed=48.0)
    message = told(item("correction", "s", [LONG], [short]), ATHLETE)
    assert message.title == "Correction: Caution – 71 min, 26 over the day's 45 (day 5)"
    assert "You were told: 48 min, 3 over the day's 45." in message.body


def test_what_is_taken_back_does_not_shout() -> None:
    message = told(item("taken_back", "s", [RUN]))
    assert message.title == "Taken back: Runa: part of the walk was a jog, 9 min (day 5)"
    assert message.body.startswith("Nothing more to do about it")
    assert "STOP" not in message.title + message.body
    assert item("taken_back", "s", [RUN]).severity == Severity.NOTE


def test_several_alerts_in_one_message_are_told_worst_first() -> None:
    message = compose([item("first", "a", [LONG]), both(day=REST)], COACH, NOON)
    assert message.title == "STOP – Runa: part of the walk was a jog, 9 min (day 5), and 1 more"
    assert message.body.startswith("Runa now: walking only until Mon 05:40.")
    assert "\n2. Caution, Fri 9 Oct 12:00–12:40: 71 min, 26 over the day's 45." in message.body


def test_the_cautions_stand_once_in_a_message_of_several() -> None:
    assert compose([both(), both()], ATHLETE, NOON).body.count(cautions(Severity.STOP)[0]) == 1


def test_what_does_not_fit_is_counted_and_pointed_to_and_the_advice_stays_whole() -> None:
    many = [item("first", str(number), [replace(LONG, date=date(2026, 10, 1))]) for number in range(40)]
    body = compose([both(day=REST), *many], ATHLETE, NOON).body
    assert len(body) <= MOST_LETTERS
    shown = sum(line[:1].isdigit() for line in body.splitlines())
    assert f"And {40 - shown + 0} more: fallow findings runa" in body
    assert "still there when you wake." in body


def test_a_title_fits_a_lock_screen() -> None:
    long = finding(summary="Running " + "on and on " * 40, evidence={})
    title = told(item("first", "s", [long])).title
    assert len(title) <= 100
    assert title.endswith("… (day 5)")


@pytest.mark.parametrize(
    ("about", "athlete", "coach"),
    [
        ("emergency", "STOP – call for help now: chest pain (day 5)", "STOP – Runa: phone now: chest pain (day 5)"),
        ("same_day", "STOP – no training, to a doctor today: chest pain (day 5)", None),
        ("before_sport", None, "STOP – Runa: phone today: chest pain (day 5)"),
    ],
)
def test_a_sign_for_a_doctor_begins_with_what_to_do(about: str, athlete: str | None, coach: str | None) -> None:
    flags = [{"flag": "chest_pain", "name": "chest pain", "told": "my chest hurts", "class": about}]
    one = item("first", "b", [finding("see_a_doctor", kind="checkin", evidence={"flags": flags})])
    assert athlete is None or told(one, ATHLETE).title == athlete
    assert coach is None or told(one, COACH).title == coach
    assert told(one, COACH).body.startswith("Phone ")


def test_silence_is_told_to_the_coach_with_what_a_coach_can_do() -> None:
    ever = {"since": NOON.isoformat(), "ever": True}
    silent = finding("gone_quiet", Severity.CAUTION, kind="silence", observed=96.0, evidence=ever)
    assert told(item("first", "q", [silent])).title == "Caution – Runa: nothing came for 4 days"
    assert told(item("first", "q", [silent])).body.startswith("Call: silence in a plan is either")
    never = replace(silent, evidence={**ever, "ever": False})
    assert told(item("first", "q", [never])).title == "Caution – Runa: nothing ever came"
    assert "whether the exports land in the folder" in told(item("first", "q", [never])).body.splitlines()[0]


def test_distances_climbs_and_paces_are_in_the_readers_units() -> None:
    hill = {"ascent_m": 157.0, "descent_m": 167.0, "distance_m": 6000, "steepest_slope": 0.12}
    steep = item("first", "s", [finding("steep_ground", Severity.CAUTION, evidence=hill)])
    assert "157 m up and 167 m down" in told(steep).title
    assert "In 6.0 km, up to 12 % up." in told(steep).body
    miles = replace(ATHLETE, units="imperial")
    assert "515 feet up and 548 feet down" in told(steep, miles).title
    assert "In 3.7 miles, up to 12 % up." in told(steep, miles).body
    fast = {
        "kind": "repeats", "bout_seconds": [60, 60], "speed_mps": 4.0, "over_reference": 0.1,
        "threshold_mps": 3.6, "threshold_confidence": "high",
    }  # fmt: skip
    work = item("first", "s", [finding("no_speed_work", observed=4.0, limit=3.6, evidence=fast)])
    assert "At 4:10/km, 10 % faster than the threshold pace." in told(work).body
    assert "At 6:42/mile, 10 % faster than your threshold pace." in told(work, miles).body


def test_clocks_have_twelve_hours_where_that_is_wanted() -> None:
    assert "Fri 9 Oct 12:00–12:40 pm: " in told(both(), replace(ATHLETE, face="12h")).body


def test_two_athletes_of_one_first_name_are_told_apart() -> None:
    known = roster()
    (runa,) = known.athletes
    other = replace(runa, athlete=replace(runa.athlete, id="runa2", name="Runa Dal"))
    both_of_them = replace(known, athletes=(runa, other))
    assert reader_of(known, "runa", contact()).called == "Runa"
    assert reader_of(both_of_them, "runa", contact()).called == "Runa Vik"


def test_a_name_written_from_right_to_left_does_not_turn_the_rest() -> None:
    reader = reader_of(roster(name="רוני כהן"), "runa", contact())
    assert told(both(), reader).title.startswith("STOP – \u2068רוני\u2069: part of")
    assert reader_of(roster(name="Runa Vik"), "runa", contact()).name == "Runa Vik"


@pytest.mark.parametrize(
    "name", ["Runa\r\nVik", "\x1b[31mRuna Vik", "Runa\u202eVik\u2066", "Runa\u2028Vik", "<b>Runa</b> Vik"]
)
def test_a_name_can_neither_break_a_line_nor_carry_markup(name: str) -> None:
    message = told(both(), reader_of(roster(name=name), "runa", contact()))
    plain = told(both())
    assert len(message.body.splitlines()) == len(plain.body.splitlines())
    assert not set("\x1b\u202e\u2066\u2028<>\r") & set(message.title + message.body)


JOINED = "👩🏽‍🚒"  # four letters that are one


@pytest.mark.parametrize("most", range(2, 12))
def test_joined_emoji_stay_whole_or_go_whole(most: int) -> None:
    assert clean(JOINED) == JOINED
    cut = clean(f"ab{JOINED}cd{JOINED}ef", most).rstrip("…")
    assert cut.replace(JOINED, "").isascii()


def test_a_flag_of_two_letters_is_not_cut_in_two() -> None:
    assert clean("a🇳🇴🇳🇴🇳🇴", 5) == "a🇳🇴…"


@given(st.text(max_size=600))
def test_cleaned_text_is_one_printable_line(text: str) -> None:
    cleaned = clean(text)
    assert len(cleaned) <= 400
    assert cleaned.replace("\u200d", "").replace("\u200c", "").isprintable()
    assert clean(cleaned) == cleaned


def test_items_come_back_from_the_store_as_they_were() -> None:
    whole = (both(day=REST), Item("text", Severity.NOTE, "k", title="Today", body="Rest."))
    assert from_text(to_text(whole)) == whole


def test_times_are_those_of_the_athletes_clock() -> None:
    late = finding(start=datetime(2026, 10, 9, 22, 50, tzinfo=NOON.tzinfo), minutes=30)
    assert "Sat 10 Oct 00:50–01:20" in told(item("first", "s", [late])).body
    assert late.subject_end - late.subject_start == timedelta(minutes=30)


PAGES = "https://fallow.example.org"
DAY = date(2026, 10, 12)


@pytest.mark.parametrize("reader", [COACH, ATHLETE])
def test_where_there_are_pages_a_message_ends_with_that_of_its_finding_and_names_no_command(reader: Reader) -> None:
    body = told(both(day=REST), replace(reader, url=PAGES)).body
    assert body.splitlines()[-1] == f"Details: {PAGES}/f/{RUN.id}"
    assert "fallow explain" not in body
    assert told(both(day=REST), reader).body.splitlines()[-1].endswith(f"fallow explain {RUN.id}")


def test_what_is_taken_back_leads_to_the_day_and_not_to_what_is_gone() -> None:
    body = told(both("taken_back"), replace(ATHLETE, url=PAGES)).body
    assert body.splitlines()[-1] == f"Your page: {PAGES}/"


def test_many_findings_with_a_page_fit_into_a_message_and_the_page_is_not_cut() -> None:
    many = [replace(item("first", str(number), [replace(RUN, id=f"{number:010x}")]), day=REST) for number in range(40)]
    body = compose(many, replace(COACH, url=PAGES), NOON).body
    assert len(body) <= MOST_LETTERS
    assert body.splitlines()[-1].startswith(f"Details: {PAGES}/f/")
    assert "fallow" not in body.replace(PAGES, "")


@pytest.mark.parametrize(
    "news",
    [
        Daily(9, "cross_training", "60 min easy"),
        MorningDigest((DigestRow("Runa", 4, "days_off", "walking only"),)),
        FilesUnreadable(("a.fit",), 1),
        PastRead(3, 2, 7),
        StageBegins("cross_training", DAY, DAY, DAY, 8, 21, "none", 60, None, 146, "free", "none"),
    ],
    ids=lambda one: type(one).__name__,
)
def test_the_day_s_messages_end_with_the_reader_s_page(news: News) -> None:
    told_of = Item("news", Severity.NOTE, "", news=news)
    body = compose([told_of], replace(COACH, url=PAGES), NOON).body
    assert body.splitlines()[-1] == f"Your page: {PAGES}/"
    assert "fallow " not in body


def test_what_ails_the_program_is_for_who_runs_it_and_leads_to_no_page() -> None:
    told_of = Item("news", Severity.NOTE, "", news=Trouble("`fallow doctor` says what"))
    assert PAGES not in compose([told_of], replace(COACH, url=PAGES), NOON).body


def test_a_reader_s_pages_are_those_of_the_roster() -> None:
    known = roster(contact())
    page = Page("127.0.0.1", 8722, PAGES)
    assert reader_of(replace(known, page=page), "runa", contact()).url == PAGES
    assert reader_of(replace(known, page=page), "", contact()).url == PAGES
    assert reader_of(known, "runa", contact()).url == ""


def test_several_findings_on_running_need_one_piece_of_advice() -> None:
    today, rules = NOON.date(), sorted(OF_RUNNING)
    assert len(rules) >= 2
    several = [finding(rule, Severity.STOP) for rule in rules]
    for reader in (ATHLETE, COACH):
        one = advice(several[:1], reader, today)
        assert one
        assert advice(several[:2], reader, today) == advice(several, reader, today) == one
        assert advice([*several[:1], finding("pain", Severity.STOP, kind="day")], reader, today) != one
