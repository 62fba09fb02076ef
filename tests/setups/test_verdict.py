"""The verdict against the trade's own rules, stated in words beside each case (common practice, no source).

The rules: rider sag right but static sag too small, the spring is too soft and lives on preload; too large,
too stiff;
rider sag out but the pair right once preload is changed, only the preload is wrong. The straight spring
below is worked
by hand from F = k(s + p): it shares no code with what is tested.
"""

from __future__ import annotations

import re

import pytest

from setups.measured import Band, Targets
from setups.verdict import Adjuster, Reached, Sags, hedged, judge

TARGETS = Targets(static=Band(30, 45), rider=Band(90, 105))


class Hand:
    """A straight spring under two loads, N, worked by hand: s = F/k − p, never below zero."""

    def __init__(self, rate, preload, static_n, rider_n):
        self.rate, self.preload, self.static_n, self.rider_n = rate, preload, static_n, rider_n

    def sag(self, load, preload=None):
        return max(0.0, load / self.rate - (self.preload if preload is None else preload))

    def reach(self, wanted):
        preload = max(0.0, self.rider_n / self.rate - wanted)
        return Reached(
            preload - self.preload, self.sag(self.static_n, preload), self.sag(self.rider_n, preload)
        )

    def judged(self, end="rear", adjuster=None):
        sags = Sags(self.sag(self.static_n), self.sag(self.rider_n), measured=False)
        return judge(end, sags, TARGETS, self.reach, adjuster)


# Rear loads of 350 and 950 N at the spring: the pair (37.5, 97.5) needs 600/60 = 10 N/mm exactly.
RIGHT, SOFT, STIFF = 10.0, 8.0, 14.0


@pytest.mark.parametrize(
    ("rate", "preload", "code", "action", "why"),
    [
        (RIGHT, -2.5, "suits", "none", "static 37.5, rider 97.5: both in band"),
        (SOFT, 21.0, "too_soft", "change_spring", "static 22.75, rider 97.75: rider right, static too small"),
        (
            STIFF,
            -29.6,
            "too_stiff",
            "change_spring",
            "static 54.6, rider 97.5: rider right, static too large",
        ),
    ],
)
def test_with_the_rider_sag_right_the_static_sag_tells_the_rate(rate, preload, code, action, why):
    verdict = Hand(rate, preload, 350, 950).judged()
    assert (verdict.code, verdict.action) == (code, action), why


@pytest.mark.parametrize(
    ("preload", "code", "verb"),
    [(0.0, "wind_preload", "wind on"), (30.0, "back_off_preload", "back off")],
)
def test_a_right_rate_with_the_wrong_preload_is_set_by_so_many_millimetres(preload, code, verb):
    """1100 N for the rider and 500 N alone on 10 N/mm: preload 12.5 gives 97.5 and 37.5, the middles
    of both bands.
    """
    hand = Hand(RIGHT, preload, 500, 1100)
    verdict = hand.judged()
    assert (verdict.code, verdict.action) == (code, "set_preload")
    [said] = re.findall(rf"{verb} ([\d.]+) mm", verdict.text)
    turned = preload + float(said) * (1 if code == "wind_preload" else -1)
    assert 90 <= hand.sag(1100, turned) <= 105
    assert 30 <= hand.sag(500, turned) <= 45


@pytest.mark.parametrize(
    ("rate", "preload", "code", "word"),
    [
        (
            SOFT,
            0.0,
            "too_soft",
            "over",
        ),  # rider 118.75; wound on to 105 static is 43.75 − 13.75 = 30: just; see below
        (7.0, 0.0, "too_soft", "over"),  # rider 135.7; wound on to 105 static falls to 19.3
        (7.0, 60.0, "too_soft", "under"),  # rider 75.7; backed off to 105 static is still only 19.3
        (STIFF, 0.0, "too_stiff", "under"),  # rider 67.9, and no preload left to back off
        (20.0, 10.0, "too_stiff", "under"),
    ],
)
def test_a_wrong_rate_is_told_from_a_wrong_preload(rate, preload, code, word):
    hand = Hand(rate, preload, 350, 950)
    verdict = hand.judged()
    if rate == SOFT:  # 105 and 30 mm lie exactly on both bands' edges: the spring can just be set
        assert verdict.code == "wind_preload"
        return
    assert (verdict.code, verdict.action) == (code, "change_spring")
    assert f" is {word} 90 to 105 mm" in verdict.text


@pytest.mark.parametrize("end", ["front", "rear"])
@pytest.mark.parametrize("rate", [5.0, 7.0, 8.5, 10.0, 11.5, 14.0, 20.0])
@pytest.mark.parametrize("preload", [0.0, 5.0, 20.0, 60.0])
def test_every_verdict_is_one_sentence_with_its_numbers_and_units(end, rate, preload):
    verdict = Hand(rate, preload, 350, 950).judged(end)
    assert verdict.text.endswith(".")
    assert ". " not in verdict.text
    assert "!" not in verdict.text
    assert "mm" in verdict.text
    assert ("fork springs" if end == "front" else "shock spring") in verdict.text


def test_a_stiffer_spring_never_gets_a_softer_verdict():
    """From soft to stiff, with the preload set as well as it goes, the verdicts come in the trade's order."""
    order = {"too_soft": 0, "wind_preload": 1, "suits": 1, "back_off_preload": 1, "too_stiff": 2}
    found = [order[Hand(rate / 10, 0.0, 380, 980).judged().code] for rate in range(50, 201)]
    assert found == sorted(found)
    assert set(found) == {0, 1, 2}


def test_the_adjusters_end_is_named_where_it_stops_short():
    hand = Hand(RIGHT, 0.0, 500, 1100)  # needs 12.5 mm
    verdict = hand.judged(adjuster=Adjuster(0.0, (0.0, 6.0)))
    assert verdict.code == "wind_preload"
    assert "the adjuster ends at 6 mm" in verdict.text
    assert "adjuster" not in hand.judged(adjuster=Adjuster(0.0, (0.0, 40.0))).text


def nothing(wanted):
    return None


@pytest.mark.parametrize(
    ("static", "rider", "targets"),
    [(None, None, TARGETS), (40, None, TARGETS), (None, 98, TARGETS), (40, 98, None)],
)
def test_without_both_sags_and_bands_there_is_no_verdict(static, rider, targets):
    verdict = judge("front", Sags(static, rider, True), targets, nothing)
    assert (verdict.code, verdict.action) == ("unknown", "measure")
    for value in (static, rider):
        if value is not None:
            assert f"{value} mm" in verdict.text


@pytest.mark.parametrize(("static", "inside"), [(29.94, False), (29.96, True), (45.04, True), (45.06, False)])
def test_a_sag_is_judged_as_it_is_shown(static, inside):
    """29.96 mm is shown as 30 mm, and must not be called under 30 mm."""
    assert (judge("rear", Sags(static, 97, True), TARGETS, nothing).code == "suits") is inside


@pytest.mark.parametrize(
    ("static", "shown"),
    [(29.4, "29"), (29.8, "29.8"), (30.4, "30"), (36.5, "37"), (44.6, "45"), (45.3, "45.3"), (45.6, "46")],
)
def test_a_sag_is_said_in_whole_millimetres_unless_they_would_contradict_the_verdict(static, shown):
    """A tape tells 1 mm (common practice, no source); 29.8 mm is under 30 mm, and must not read "30 mm is under"."""
    verdict = judge("rear", Sags(static, 97.3, True), TARGETS, nothing)
    assert f"static sag {shown} mm" in verdict.text
    assert "rider sag 97 mm" in verdict.text


@pytest.mark.parametrize("loads", [(500, 1100), (507, 1113), (523, 1131), (489, 1087)])
def test_preload_is_set_to_half_a_millimetre(loads):
    """As a collar or a spacer is (common practice, no source)."""
    [said] = re.findall(r"wind on ([\d.]+) mm", Hand(RIGHT, 0.0, *loads).judged().text)
    assert (2 * float(said)).is_integer()


def test_a_soft_spring_with_too_little_rider_sag_says_what_holds_it_up():
    """7 N/mm with 60 mm of preload: rider 75.7 mm, and backed off to 105 mm static is still only 19.3 mm."""
    assert "too soft and held up by preload: rider sag 76 mm is under" in Hand(7.0, 60.0, 350, 950).judged().text
    assert "held up" not in Hand(7.0, 0.0, 350, 950).judged().text


def test_a_doubt_stays_in_the_same_sentence_and_changes_no_verdict():
    plain = Hand(RIGHT, -2.5, 350, 950).judged()
    doubtful = hedged(plain, ["the scale was not zeroed", "the tape is torn"])
    assert (doubtful.code, doubtful.action) == (plain.code, plain.action)
    assert doubtful.text.endswith("; but the scale was not zeroed; and the tape is torn.")
    assert ". " not in doubtful.text
    assert hedged(plain, []) == plain
