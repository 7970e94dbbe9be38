"""Colour held for life through whole audits: TM-21 per channel, head-room, the target of another claim, faulty papers.

Chromaticities of the channels: Gaussian channels (COMPUTED); rates of loss are chosen, no published pair was found.
"""

import math
import re

import pytest

import audit

CHANNELS = {"R": (0.7064, 0.2935, 292), "G": (0.1476, 0.7657, 677), "B": (0.1432, 0.0337, 30.7)}
RED_FAST = {"R": 9e-6, "G": 3e-6, "B": 3e-6}
CLAIMS = "claim_id,product,quantity,relation,value,value_to,unit,hours,cct_setting_K,definition,note"
OPEN = "C1,Sedge 80,chromaticity_shift,at_most,0.004,,,25000,,,"
CLOSED = "C1,Sedge 80,chromaticity_shift,at_most,0.002,,,25000,5000,closed loop,"


def audited(folder, claims, rates=RED_FAST, drives=None, units=10, hours=range(0, 6001, 1000), channels=CHANNELS):
    """Audit claims beside a report of the channels when new and one of their flux maintenance."""
    (folder / "claims.csv").write_text("\n".join([CLAIMS, *claims]) + "\n", encoding="utf-8")
    setting = "5000" if drives else ""
    rows = ["serial,channel,hours,CCT setting (K),level (%),x,y,luminous flux (lm),standing"]
    for name, (x, y, lumens) in channels.items():
        rows.append(f"N1,{name},0,{setting},{(drives or {}).get(name, '')},{x},{y},{lumens},accredited report")
    (folder / "LR-1 channels.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    rows = ["serial,channel,hours,luminous flux maintenance (%),standing"]
    for name, rate in rates.items():
        for unit in range(units):
            own = rate * (1 + 0.02 * (unit - (units - 1) / 2))
            rows += [f"U{unit},{name},{at},{100 * math.exp(-own * at):.3f},accredited report" for at in hours]
    (folder / "LR-2 maintenance.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return audit.run(folder)


def test_contradicted_inside_the_limit_of_tm21(tmp_path):
    (finding,) = audited(tmp_path, [OPEN]).findings
    assert finding["verdict"] == "contradicted", finding["message"]
    assert finding["value"] == pytest.approx(0.0138, abs=5e-5)  # 'red fast' at 50,000 h, colour_drift_vectors.csv
    assert float(re.search(r"R TM-21 fit, α = (\S+)/h", finding["method"])[1]) == pytest.approx(9e-6, rel=2e-3)
    assert "to 33,000 h" in finding["method"]  # 5.5 times 6,000 h with ten units (TM-21, rule R11)
    for left_out in ("own spectrum", "driver", "sensor", "temperature"):
        assert left_out in finding["method"]
    assert finding["strongest"] == []


def test_past_that_limit_nothing_is_judged(tmp_path):
    (finding,) = audited(tmp_path, [OPEN.replace("25000", "40000")]).findings
    assert (finding["verdict"], finding["reasons"]) == ("overreaching", ["past test duration"])
    assert "known to 33,000 h only" in finding["message"]


def test_fewer_units_age_by_their_readings_only(tmp_path):
    (finding,) = audited(tmp_path, [OPEN], units=3).findings
    assert finding["verdict"] == "overreaching"
    assert "known to 6,000 h only" in finding["message"]


def test_equal_rates_are_never_support(tmp_path):
    (finding,) = audited(tmp_path, [OPEN.replace("0.004", "0.02")], dict.fromkeys("RGB", 3e-6)).findings
    assert (finding["verdict"], finding["side"]) == ("overreaching", "")
    assert finding["value"] == pytest.approx(0, abs=1e-6)
    assert "no evidence that supports" in finding["ask"]


def test_for_life_without_hours_and_limit_stays_overreaching(tmp_path):
    words = "C1,Sedge 80,chromaticity_shift,at_most,,,,,,,holds its colour for life"
    (folder := tmp_path / "measured").mkdir()
    (folder / "claims.csv").write_text(f"{CLAIMS}\n{words}\n", encoding="utf-8")
    (folder / "LR-3.csv").write_text("serial,hours,u',v'\n1,0,0.25,0.52\n1,6000,0.251,0.52\n", encoding="utf-8")
    (finding,) = audit.run(folder).findings
    assert (finding["verdict"], finding["reasons"]) == ("overreaching", ["no limit stated"])


def test_a_rising_output_is_not_projected(tmp_path):
    (finding,) = audited(tmp_path, [OPEN], {"R": -2e-6, "G": 3e-6, "B": 3e-6}).findings
    assert finding["verdict"] == "overreaching"
    assert "R by its readings (its output rises), to 6,000 h" in finding["method"]


def test_alingap_by_name_takes_the_logarithmic_law_inside_its_test(tmp_path):
    channels = {"red AlInGaP": CHANNELS["R"], "G": CHANNELS["G"]}
    (finding,) = audited(tmp_path, [OPEN], {"red AlInGaP": 9e-6, "G": 3e-6}, channels=channels).findings
    assert finding["verdict"] == "overreaching"
    assert "logarithmic loss" in finding["method"]
    assert "known to 6,000 h only" in finding["message"]


def test_head_room_of_a_closed_loop(tmp_path):
    (finding,) = audited(tmp_path, [CLOSED], drives={"R": 70, "G": 80, "B": 50}).findings
    assert (finding["verdict"], finding["side"]) == ("overreaching", "")
    # R keeps exp(-9e-6 x 25,000) = 79.9 %: it takes 70 / 0.799 = 88 % of full drive
    assert "R 88 %" in finding["message"]
    assert "channel R may have had at most 80 % of full drive when new" in finding["message"]


def test_a_closed_loop_that_runs_out_of_head_room(tmp_path):
    (finding,) = audited(tmp_path, [CLOSED], drives={"R": 95, "G": 80, "B": 50}).findings
    assert finding["verdict"] == "contradicted"
    # 95 % of full drive are spent when exp(-9e-6 t) = 0.95: at 5,699 h
    until = re.search(r"the flux when new can be held until (\d),(\d+) h", finding["message"])
    assert int(until[1] + until[2]) == pytest.approx(5699, abs=10)
    assert "with the colour kept 84.1 % is left (R sets the pace)" in finding["message"]  # 79.9 / 95


def test_the_flux_to_hold_is_that_of_a_claim_on_maintenance(tmp_path):
    maintained = "C2,Sedge 80,flux_ratio,at_least,80,,%,25000,5000,,"
    finding, _ = audited(tmp_path, [CLOSED, maintained], drives={"R": 95, "G": 80, "B": 50}).findings
    assert (finding["verdict"], finding["side"]) == ("overreaching", "")
    assert "80 % of the flux when new (claim C2) can be held to 25,000 h" in finding["message"]


def test_drives_that_are_not_stated_are_asked_for(tmp_path):
    (finding,) = audited(tmp_path, [CLOSED]).findings
    assert finding["verdict"] == "overreaching"
    assert "share of full drive" in finding["ask"]
    assert "at most 80 %" in finding["message"]


def test_every_level_zero_is_asked_about(tmp_path):
    (finding,) = audited(tmp_path, [CLOSED], drives={"R": 0, "G": 0, "B": 0}).findings
    assert finding["verdict"] == "unevidenced"
    assert "not all of them 0" in finding["ask"]


def test_a_channel_that_was_not_followed_is_told_and_asked(tmp_path):
    outcome = audited(tmp_path, [OPEN], {"R": 9e-6, "G": 3e-6})
    (finding,) = outcome.findings
    assert finding["verdict"] == "unevidenced"
    assert "flux maintenance of channel B" in finding["ask"]
    (told,) = [row for row in outcome.observations if row["rule"] == "channel_not_followed"]
    assert "not of B" in told["message"]


def of_share(folder, limit, percent, rates=RED_FAST):
    audited(folder, [OPEN], rates)
    heading = CLAIMS.replace("definition", "population_percent")
    claim = OPEN.replace("0.004", limit).replace(",25000,,,", f",25000,,{percent},")
    (folder / "claims.csv").write_text(f"{heading}\n{claim}\n", encoding="utf-8")
    (finding,) = audit.run(folder).findings
    return finding


def test_a_share_of_production_is_judged_by_the_simulated_units(tmp_path):
    # the nominal shift is 0.0138: hardly a unit stays inside 0.004
    finding = of_share(tmp_path, "0.004", 90)
    assert (finding["verdict"], finding["unit"], finding["limit"]) == ("contradicted", "% of units", 90)
    assert finding["value"] < 5
    assert finding["margin"] == pytest.approx(finding["value"] - 90, abs=1)
    assert "of simulated units are inside" in finding["message"]
    assert "MEMORY (chosen)" in finding["method"]


def test_simulated_units_that_keep_the_limit_support_no_share(tmp_path):
    finding = of_share(tmp_path, "0.1", 90)
    assert (finding["verdict"], finding["side"], finding["value"]) == ("overreaching", "", 100)
    assert finding["strongest"] == []


def figure(run):
    return next(each for each in run.report.figures if each.name == "chromaticity-shift-held")


def test_the_figure_shows_both_loops_and_the_band_of_units(tmp_path):
    run = audited(tmp_path, [OPEN, CLOSED.replace("C1", "C2")], drives={"R": 60, "G": 80, "B": 40})
    shown = figure(run)
    lines = {mark.title: mark for mark in shown.marks if mark.kind == "line"}
    free, held = lines["open loop: drives unchanged"], lines["closed loop, as claimed"]
    assert (free.x[0], free.y[0], free.x[-1]) == (0, 0, 25000)
    assert free.y[-1] == pytest.approx(0.0138, abs=5e-5)  # colour_drift_vectors.csv, as above
    assert max(held.y) < free.y[-1]
    (band,) = (mark for mark in shown.marks if mark.kind == "band")
    assert band.x[-1] == 25000
    assert all(low <= high for low, high in zip(band.y, band.to_y, strict=True))
    assert {mark.y[0] for mark in shown.marks if mark.role == "limit"} == {0.004, 0.002}
    assert shown.claims == ("C1", "C2")


def test_the_figure_ends_where_the_channels_are_known(tmp_path):
    shown = figure(audited(tmp_path, [OPEN.replace("25000", "40000")]))
    assert max(mark.x[-1] for mark in shown.marks if mark.role == "computed") == pytest.approx(33000)
    assert "33,000 h" in shown.alternative


def test_without_channels_there_is_no_figure(tmp_path):
    (tmp_path / "claims.csv").write_text(f"{CLAIMS}\n{OPEN}\n", encoding="utf-8")
    (tmp_path / "LR-3.csv").write_text("serial,hours,u',v'\n1,0,0.25,0.52\n1,6000,0.251,0.52\n", encoding="utf-8")
    assert not [each for each in audit.run(tmp_path).report.figures if each.name.endswith("-held")]


def test_hours_that_differ_between_channels(tmp_path):
    audited(tmp_path, [OPEN], {"G": 3e-6, "B": 3e-6})
    rows = ["serial,channel,hours,luminous flux maintenance (%),standing"]
    for unit in range(10):
        rows += [f"V{unit},R,{at},{100 * math.exp(-9e-6 * at):.3f},accredited report" for at in range(0, 8001, 800)]
    (tmp_path / "LR-4 red.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (finding,) = audit.run(tmp_path).findings
    assert finding["verdict"] == "contradicted"
    assert "G TM-21" in finding["method"]


@pytest.mark.parametrize(("whole", "verdict"), [("0.3457,0.3585", "contradicted"), ("0.4400,0.4030", "overreaching")])
def test_a_sum_that_is_not_the_light_measured_contradicts_nothing(tmp_path, whole, verdict):
    """The channels' sum is x = 0.3457, y = 0.3585 (colour_drift_channels.csv)."""
    audited(tmp_path, [OPEN], drives={"R": 70, "G": 80, "B": 50})
    rows = ["serial,hours,CCT setting (K),x,y,standing", f"N1,0,5000,{whole},accredited report"]
    (tmp_path / "LR-5 whole.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (finding,) = audit.run(tmp_path).findings
    assert finding["verdict"] == verdict
    assert ("one is missing?" in finding["message"]) == (verdict == "overreaching")
