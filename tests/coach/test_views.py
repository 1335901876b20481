"""Views without HTML: what is said, in which order."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from barwright.analysis.profiles.points import LoadVelocityPoint
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.readiness.day_max import DayMax
from barwright.analysis.readiness.today import Readiness, Verdict
from barwright.coach.numbers import Display
from barwright.coach.views.devices import devices_view
from barwright.coach.views.today import LoadToday, planned_row, today_view
from barwright.coach.views.wall import wall_view
from barwright.storage.athletes import Athlete, AthleteFacts
from barwright.storage.device_history import RecordingSeen
from barwright.storage.devices import Device, DeviceFacts
from barwright.storage.plans import Plan, PlannedSet
from barwright.storage.platforms import LatestSet
from barwright.workflows.check_readiness import AthleteToday, ClubToday, LiftToday
from barwright.workflows.look_over_devices import DeviceSeen
from barwright.workflows.refresh_profile import Seen
from barwright.workflows.watch_platform import PlatformNow, SeenRep

KG = Display("kg", UTC)
ON = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def athlete(name: str, verdict: Verdict | None, planned: bool = True, **facts: object) -> AthleteToday:
    """One athlete on a day, with one lift."""
    one = Athlete(f"ath_{name}", AthleteFacts(name, **facts), NOW, None)  # type: ignore[arg-type]
    plan = Plan("p", one.id, ON, (PlannedSet("snatch", percent=80.0),), None, NOW) if planned else None
    if verdict is None:
        return AthleteToday(one, ON, (), None, plan)
    known = verdict is not Verdict.NOT_ENOUGH_DATA
    change = Estimate(-4.0, 1.5, "%") if known else unknown("%", "no warm-up set yet")
    found = DayMax(ON.toordinal(), Estimate(80.0, 2.0, "kg"), (78.6, 81.4), (76.1, 84.0), 2)
    readiness = Readiness(
        "snatch", ON.toordinal(), verdict, change, 0.93 if known else None, 2.0, Estimate(0.0, 0.1, "m/s"), found,
        Estimate(83.0, 1.0, "kg"), 2, ("a reason",),
    )  # fmt: skip
    points = (LoadVelocityPoint(55.0, Estimate(2.0, 0.02, "m/s"), ON.toordinal()),) if known else ()
    lift = LiftToday("snatch", readiness, None, Seen(points, (), ()))
    return AthleteToday(one, ON, (lift,), lift, plan)


def names(*items: AthleteToday, waiting: dict[str, int] | None = None) -> list[str]:
    return [row.name for row in today_view(ClubToday(ON, items), {}, waiting or {}, KG).rows]


def test_who_needs_the_coach_comes_first():
    everybody = [
        athlete("A usual", Verdict.USUAL), athlete("B unknown", Verdict.NOT_ENOUGH_DATA), athlete("C up", Verdict.UP),
        athlete("D waits", Verdict.USUAL), athlete("E down", Verdict.DOWN), athlete("F nothing", None),
    ]  # fmt: skip
    assert names(*everybody, waiting={"ath_D waits": 2}) == [
        "E down", "C up", "D waits", "A usual", "B unknown", "F nothing",
    ]  # fmt: skip


def test_only_those_are_expected_who_have_something_today():
    idle, planned = athlete("Idle", Verdict.NOT_ENOUGH_DATA, planned=False), athlete("Planned", None)
    warm, remote = athlete("Warm", Verdict.USUAL, planned=False), athlete("Remote", None, planned=False)
    view = today_view(ClubToday(ON, (idle, planned, warm, remote)), {}, {"ath_Remote": 1}, KG)
    assert {row.name for row in view.rows} == {"Planned", "Warm", "Remote"}
    assert view.others == (("Idle", "/athletes/ath_Idle"),)
    assert view.summary == "3 athletes expected: 1 remote to look at"


def test_a_row_says_how_sure_what_and_why():
    view = today_view(ClubToday(ON, (athlete("Imke", Verdict.DOWN, birth_year=2010, level="novice"),)), {}, {}, KG)
    (row,) = view.rows
    assert (row.tag.sign, row.tag.words) == ("▼", "Below usual")
    assert row.odds == "9 in 10 that it is real"
    assert row.note == "novice, under 18"
    assert row.maxima[0].value == "80 ± 2 kg"
    assert row.maxima[0].interval == "76 to 84 kg"
    assert row.maxima[0].done == "55 kg"
    assert row.reasons == ("a reason",)
    assert "not an instruction" in view.caution
    assert (view.weekday, view.day) == ("Monday", "2 Mar 2026")


def test_a_load_of_the_coach_goes_before_the_suggestion_and_says_so():
    load = LoadToday(2, "snatch", 2, 3, "80 %", 62.0, ((20.0, 1), (1.0, 1)), ("why",), "Looked slow", 64.0)
    row = planned_row("ath_1", load, KG)
    assert row.load == "62 kg"
    assert row.instead_of == "instead of 64 kg"
    assert row.what == "Snatch, 3\u00a0×\u00a02\u00a0at\u00a080\u00a0%"
    assert row.plates_said == "20 + 1 each side"


def test_a_reason_is_said_once_for_sets_that_share_it():
    loads = [LoadToday(n, "snatch", 2, 3, "80 %", 62.0, (), ("same",)) for n in (1, 2)]
    loads.append(LoadToday(3, "snatch", 2, 3, "80 %", 62.0, (), ("other",)))
    view = today_view(ClubToday(ON, (athlete("Imke", Verdict.USUAL),)), {"ath_Imke": loads}, {}, KG)
    assert [row.why for row in view.rows[0].planned] == ["same", "", "other"]


def test_without_a_known_maximum_no_load_is_made_up():
    row = planned_row("ath_1", LoadToday(1, "snatch", 1, 1, "80 %", None, (), ("nothing is known",)), KG)
    assert (row.load, row.plates_said, row.why) == ("–", "", "nothing is known")


def wall(*velocities: float | None, limit: float | None = None, outcomes: tuple[str, ...] = ()):
    reps = tuple(
        SeenRep(n, outcomes[n] if outcomes else "made", True, None if v is None else Estimate(v, 0.012, "m/s"))
        for n, v in enumerate(velocities)
    )
    latest = LatestSet("d", "rack", "s", "t", "a", "Rana", "back_squat", 80.0, "open", NOW)
    device = Device("d", DeviceFacts("rack", "imu"), NOW)
    return wall_view(PlatformNow(device, latest, reps, "", limit, "heavy"), KG)


def test_the_wall_counts_loss_from_the_fastest_so_far():
    view = wall(0.50, 0.60, 0.54, limit=0.08)
    assert view.velocity == "0.54"
    assert view.u == "± 0.01 m/s"
    assert view.loss == "10 % slower than the fastest"
    assert [bar.loss for bar in view.bars] == ["", "", "−10 %"]
    assert [bar.over for bar in view.bars] == [False, False, True]
    assert [bar.width for bar in view.bars] == ["833", "1000", "900"]
    assert view.limit_x == "920"


def test_the_wall_says_what_does_not_count_and_what_is_not_known():
    view = wall(0.60, 0.40, None, outcomes=("made", "failed", "made"))
    assert view.bars[1].loss == ""
    assert view.bars[1].tag.words == "Failed"
    assert view.velocity == ""
    assert view.bars[2].velocity == "–"


def test_the_wall_of_a_set_without_reps_waits():
    view = wall()
    assert (view.athlete, view.rep, view.bars) == ("Rana", "", ())


def test_devices_are_judged_by_their_latest_recordings():
    seen = tuple(
        RecordingSeen("d", NOW - timedelta(days=n), verdict, 8e-4) for n, verdict in enumerate(("good", "poor", "good"))
    )
    old = DeviceSeen(Device("d", DeviceFacts("bar 3", "imu"), NOW), seen, NOW - timedelta(days=400))
    string = DeviceSeen(Device("e", DeviceFacts("string 1", "encoder"), NOW), (), None)
    first, second = devices_view([old, string], NOW, KG).devices
    assert first.said == "Last 3 recordings: 2 good, 1 poor"
    assert first.noise == "82 µg/√Hz"  # 8e-4 m/s2 over 9.80665 m/s2
    assert first.calibration == "1 year ago"
    assert first.calibration_old
    assert "may be mirrored" in first.mounting
    assert (second.last_seen, second.noise, second.calibration) == ("never", "–", "not for this kind")
